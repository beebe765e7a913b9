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
