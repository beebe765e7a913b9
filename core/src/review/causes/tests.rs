use super::*;
use crate::calendar::BusinessDate;
use crate::stats::Interval;

fn change(size: f64, half: f64) -> Change {
    Change {
        before: 0.03,
        after: 0.03 + size,
        size,
        range: Interval { low: size - half, high: size + half },
    }
}

fn part(name: &str, size: f64, half: f64) -> PartChange {
    PartChange { name: name.to_owned(), change: change(size, half) }
}

fn order(explained: &Explained) -> Vec<Cause> {
    explained.causes.iter().map(|considered| considered.cause).collect()
}

/// Use rose by 5 points and recorded waste did not: portions come before waste and batches, and the
/// count stays first, with what speaks against it. Invented.
#[test]
fn what_waste_does_not_explain_is_looked_for_in_portions() {
    let clues = Clues {
        used: Some(change(0.05, 0.01)),
        wasted: Some(change(0.001, 0.004)),
        batches: Some(change(-0.002, 0.01)),
        alternates: Some((0.1, 20)),
        unsure_nights: (1, 22),
        items: vec![part("Potatoes", 0.04, 0.01), part("Cheese", 0.006, 0.004)],
        ..Clues::of_nothing(Measure::Use)
    };
    let explained = explain(&clues);
    assert_eq!(order(&explained), [Cause::Count, Cause::Portions, Cause::Batches, Cause::Waste]);
    let count = &explained.causes[0];
    assert_eq!(count.speaks_for, ["One item makes up most of it, Potatoes: how is it counted?"]);
    assert_eq!(count.speaks_against.len(), 2);
    let portions = &explained.causes[1];
    assert_eq!(
        portions.speaks_for,
        [
            "More is used that no recorded waste explains: +4.9 points, and from +3.8 to +6.0.",
            "It lies in Potatoes (+4.0 points, and from +3.0 to +5.0); Cheese (+0.6 points, and from \
             +0.2 to +1.0), as parts of all use."
        ]
    );
    assert_eq!(
        explained.look_at[1],
        "Five portions on the scale as they are served, at a busy hour."
    );
}

#[test]
fn a_poor_lot_and_what_changed_are_told() {
    let day = BusinessDate::new(2026, 6, 9).unwrap();
    let clues = Clues {
        batches: Some(change(-0.025, 0.008)),
        used: Some(change(0.03, 0.02)),
        wasted: Some(change(0.0, 0.004)),
        stages: vec![part("Potatoes, first fry", -0.03, 0.01), part("Potatoes, cut", 0.0, 0.01)],
        same_lots: Some((change(-0.02, 0.008), 9)),
        lots: Some(["L-1".to_owned(), "L-2".to_owned()]),
        changes: vec![(day, "another price of potato".to_owned())],
        ..Clues::of_nothing(Measure::Yield)
    };
    let explained = explain(&clues);
    let causes = order(&explained);
    assert_eq!(causes[0], Cause::Count);
    assert!(causes[1..4].contains(&Cause::Batches) && causes[1..4].contains(&Cause::Lot));
    let batches = explained.causes.iter().find(|c| c.cause == Cause::Batches).unwrap();
    assert_eq!(
        batches.speaks_for[1],
        "Less comes out of Potatoes, first fry (-3.0 points, and from -4.0 to -2.0), of what should."
    );
    let lot = explained.causes.iter().find(|c| c.cause == Cause::Lot).unwrap();
    let other = "Most nights since were cooked from lot L-2, most before from L-1.";
    assert_eq!(lot.speaks_for[0], other);
    assert!(
        lot.speaks_for[1]
            .starts_with("9 other stores that cooked from the same lots are worse as well")
    );
    let change = explained.causes.iter().find(|c| c.cause == Cause::Change).unwrap();
    assert_eq!(
        change.speaks_for,
        ["On 2026-06-09, within a week of when it may have begun: another price of potato."]
    );
    assert_eq!(*causes.last().unwrap(), Cause::Waste);
}

#[test]
fn late_tickets_are_looked_for_by_part_of_the_day() {
    let clues = Clues {
        dayparts: vec![part("Dinner", 0.12, 0.03), part("Lunch", 0.01, 0.03)],
        ..Clues::of_nothing(Measure::Lateness)
    };
    let explained = explain(&clues);
    assert_eq!(order(&explained), [Cause::Count, Cause::Daypart]);
    assert!(explained.causes[1].speaks_for[0].starts_with("Only Dinner changed beyond chance"));
    assert!(explained.look_at[0].contains("tickets"));
}

#[test]
fn one_day_of_the_week_is_told_from_every_day() {
    let of = |others: f64| {
        let days = ["Sunday", "Monday", "Tuesday"];
        let weekdays = days.map(|day| part(day, if day == "Sunday" { 0.08 } else { others }, 0.02));
        let clues = Clues { weekdays: weekdays.to_vec(), ..Clues::of_nothing(Measure::Use) };
        explain(&clues).causes[1].clone()
    };
    let alone = of(0.01);
    assert_eq!(alone.cause, Cause::Weekday);
    assert_eq!(
        alone.speaks_for,
        ["Only Sunday changed beyond chance: +8.0 points, and from +6.0 to +10.0."]
    );
    let every = of(0.05);
    assert!(every.speaks_against[0].starts_with("It lies in no one day of the week: 3 of 3"));
}

/// Whatever is known: the count is first, there are three things to look at, nobody is accused, and no
/// size goes without its range.
#[test]
fn no_cause_accuses_and_none_is_without_its_uncertainty() {
    let sizes = [-0.04, 0.0, 0.04];
    for measure in Measure::ALL {
        for (used, wasted, batches) in triples(&sizes)
            .into_iter()
            .map(|[a, b, c]| (change(a, 0.01), change(b, 0.01), change(c, 0.01)))
        {
            for alternates in [None, Some((-0.5, 12)), Some((0.2, 12))] {
                let clues = Clues {
                    used: Some(used),
                    wasted: Some(wasted),
                    batches: Some(batches),
                    alternates,
                    unsure_nights: (3, 20),
                    same_lots: Some((batches, 7)),
                    items: vec![part("Potatoes", used.size, 0.01)],
                    stages: vec![part("Potatoes, cut", batches.size, 0.01)],
                    dayparts: vec![part("Dinner", used.size, 0.01)],
                    weekdays: vec![part("Monday", used.size, 0.01), part("Friday", 0.0, 0.01)],
                    changes: vec![(
                        BusinessDate::new(2026, 6, 9).unwrap(),
                        "a new blade".to_owned(),
                    )],
                    ..Clues::of_nothing(*measure)
                };
                let explained = explain(&clues);
                assert_eq!(explained.causes[0].cause, Cause::Count);
                assert_eq!(explained.look_at.len(), 3);
                for considered in &explained.causes {
                    for says in considered.speaks_for.iter().chain(&considered.speaks_against) {
                        for word in
                            ["steal", "theft", "cheat", "falsif", "fraud", "guilty", "blame"]
                        {
                            assert!(!says.to_lowercase().contains(word), "{word}: {says}");
                        }
                        assert_eq!(says.contains("points"), says.contains(", and from "), "{says}");
                    }
                }
            }
        }
    }
}

/// Every triple of some numbers.
fn triples(of: &[f64; 3]) -> Vec<[f64; 3]> {
    let pairs = of.iter().flat_map(|a| of.iter().map(move |b| [*a, *b]));
    pairs.flat_map(|[a, b]| of.iter().map(move |c| [a, b, *c])).collect()
}

/// The edges of what speaks for a fault of the count: nights that go against their neighbours by more
/// than 0.3, a tenth of the nights unsure, one item with more than half of the change.
#[test]
fn what_speaks_for_a_fault_of_the_count() {
    let speaks = |clues: &Clues| {
        let count = explain(clues).causes.remove(0);
        (count.speaks_for.len(), count.speaks_against.len())
    };
    let nothing = || Clues::of_nothing(Measure::Use);
    let turns = |by| speaks(&Clues { alternates: Some((by, 20)), ..nothing() });
    assert_eq!((turns(-0.31), turns(-0.3), turns(0.3)), ((1, 0), (0, 1), (0, 1)));
    let unsure = |nights| speaks(&Clues { unsure_nights: nights, ..nothing() });
    assert_eq!((unsure((2, 20)), unsure((1, 20)), unsure((0, 0))), ((1, 0), (0, 1), (1, 0)));
    let item = |size, used| {
        let items = vec![part("Potatoes", size, 0.01)];
        speaks(&Clues { items, used: Some(change(used, 0.01)), ..nothing() })
    };
    assert_eq!((item(0.051, 0.1), item(0.05, 0.1), item(0.1, 0.0)), ((1, 0), (0, 1), (0, 1)));
    assert_eq!(speaks(&nothing()), (1, 0));
}

/// What is worse beside it speaks for a cause; what is better, or hidden by chance, against it.
#[test]
fn what_speaks_for_waste_batches_and_portions() {
    let of = |clues: Clues, cause: Cause| {
        let found = explain(&clues).causes.into_iter().find(|one| one.cause == cause).unwrap();
        (found.speaks_for, found.speaks_against)
    };
    let wasted = |size: f64| {
        let clues = Clues { wasted: Some(change(size, 0.01)), ..Clues::of_nothing(Measure::Use) };
        of(clues, Cause::Waste)
    };
    let says = |what: &str, size: &str| vec![format!("Recorded waste {what} {size}.")];
    let (none, worse) = (Vec::new(), "+2.0 points, and from +1.0 to +3.0");
    assert_eq!(wasted(0.02), (says("changed as well, by", worse), none.clone()));
    let better = "-2.0 points, and from -3.0 to -1.0";
    assert_eq!(wasted(-0.02), (none.clone(), says("became better, by", better)));
    let hidden = "+0.5 points, and from -0.5 to +1.5";
    assert_eq!(wasted(0.005), (none.clone(), says("did not change beyond chance:", hidden)));

    // Of stages only those count against it that fell.
    let stages = |sizes: [f64; 2]| {
        let stages = vec![part("Cut", sizes[0], 0.01), part("Fry", sizes[1], 0.01)];
        let batches = Some(change(-0.03, 0.01));
        of(Clues { batches, stages, ..Clues::of_nothing(Measure::Yield) }, Cause::Batches)
    };
    assert!(stages([-0.02, 0.02]).0[1].starts_with("Less comes out of Cut (-2.0"));
    assert!(!stages([-0.02, 0.02]).0[1].contains("Fry"));
    assert!(stages([0.02, 0.005]).1[0].starts_with("No stage changed beyond chance for the worse"));

    // 5 points of use with 2 of waste: 3 remain, known to √2 points.
    let rest = |wasted: f64| {
        let (used, wasted) = (Some(change(0.05, 0.01)), Some(change(wasted, 0.01)));
        of(Clues { used, wasted, ..Clues::of_nothing(Measure::Use) }, Cause::Portions)
    };
    let more = "More is used that no recorded waste explains: +3.0 points, and from +1.6 to +4.4.";
    assert_eq!(rest(0.02), (vec![more.to_owned()], none.clone()));
    let explained = "Recorded waste explains what changed: of the rest, +1.0 points, and from -0.4 to \
                     +2.4.";
    assert_eq!(rest(0.04), (none, vec![explained.to_owned()]));
}

/// What points at nothing by itself is not considered, and the rest leads by what speaks and how much.
#[test]
fn what_is_not_known_is_no_cause() {
    assert_eq!(order(&explain(&Clues::of_nothing(Measure::Use))), [Cause::Count]);
    let clues = Clues {
        used: Some(change(0.05, 0.01)),
        wasted: Some(change(0.01, 0.005)),
        batches: Some(change(-0.02, 0.01)),
        weekdays: vec![part("Monday", 0.02, 0.03), part("Friday", 0.01, 0.03)],
        ..Clues::of_nothing(Measure::Use)
    };
    let explained = explain(&clues);
    let expected = [Cause::Count, Cause::Portions, Cause::Batches, Cause::Waste, Cause::Weekday];
    assert_eq!(order(&explained), expected);
    assert_eq!(explained.look_at.len(), 3);
    let several = Clues {
        dayparts: vec![part("Dinner", 0.12, 0.03), part("Lunch", 0.05, 0.03)],
        ..Clues::of_nothing(Measure::Lateness)
    };
    let says = &explain(&several).causes[1].speaks_against[0];
    assert!(
        says.starts_with("Several parts of the day changed together (Dinner, Lunch)"),
        "{says}"
    );
    let none = Clues {
        dayparts: vec![part("Dinner", 0.02, 0.03), part("Lunch", -0.05, 0.03)],
        ..Clues::of_nothing(Measure::Lateness)
    };
    let says = &explain(&none).causes[1].speaks_against[0];
    assert!(
        says.starts_with("No part of the day changed beyond chance by itself; Dinner"),
        "{says}"
    );
}

/// A range that reaches nothing may be chance.
#[test]
fn a_change_is_clear_beyond_nothing() {
    let clear = |low: f64, high: f64| {
        Change { range: Interval { low, high }, ..change(0.0, 1.0) }.is_clear()
    };
    assert!(clear(0.01, 0.02) && clear(-0.02, -0.01));
    assert!(!clear(0.0, 0.02) && !clear(-0.02, 0.0) && !clear(-0.01, 0.01));
}
