//! What a review of an invented chain says, digit by digit, as it was said when it was last looked
//! over. The digits are checked against nothing outside: these tests notice that one changed, and
//! those beside each part say what is right. Six digits are what any machine's logarithms agree on.

mod chain;

use std::fmt::Write;

use super::*;
use crate::calendar::DateSpan;
use crate::stats::{Interval, RatioSums};
use chain::{NIGHTS, chain, date};

fn figure(value: f64) -> String {
    format!("{value:.5e}")
}

fn optional(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), figure)
}

fn range(range: Interval) -> String {
    format!("{}..{}", figure(range.low), figure(range.high))
}

fn finding(sheet: &Sheet, found: &Finding) -> String {
    let word = |label| sheet.labels().word(label);
    let Evidence { before, after, against, nights_after, strength, beside, habit } = found.evidence;
    let rank = found.rank.map(|rank| format!("{}-{}/{}", rank.low, rank.high, rank.of));
    format!(
        "{} {} {} {} {} since {}: {} {} money {} rank {} | {} to {} {against:?} {nights_after} \
         strength {} beside {} {habit:?}",
        found.as_of,
        found.store.map_or("-", word),
        word(found.district),
        found.measure.word(),
        found.kind.word(),
        found.since,
        figure(found.size),
        range(found.range),
        optional(found.money_per_week),
        rank.as_deref().unwrap_or("-"),
        figure(before),
        figure(after),
        figure(strength),
        optional(beside),
    )
}

fn peers(peers: &Peers) -> String {
    let values = peers.values;
    format!(
        "{} of {} at {} ± {} z {}",
        peers.basis.word(),
        peers.stores,
        figure(values.centre()),
        figure(values.spread().value()),
        optional(peers.z)
    )
}

/// What was planted is what is told of it: by how much, within its own range.
#[test]
fn what_was_planted_is_told() {
    let sheet = chain();
    let all = detect(&sheet, DateSpan::new(date(14), date(NIGHTS - 1)).unwrap());
    let told = |of: &str, measure: Measure, kind: FindingKind| {
        let label = sheet.labels().find(of).unwrap();
        let is = move |found: &&Finding| {
            found.store.unwrap_or(found.district) == label
                && (found.measure, found.kind) == (measure, kind)
        };
        all.iter().filter(is).collect::<Vec<_>>()
    };
    for (of, measure, kind, planted) in [
        ("store 01", Measure::Use, FindingKind::Drift, 0.07),
        ("store 01", Measure::Use, FindingKind::Chronic, 0.07),
        ("store 02", Measure::Waste, FindingKind::Drift, 0.05),
        ("store 03", Measure::Yield, FindingKind::Drift, -0.06),
        ("store 04", Measure::Lateness, FindingKind::Drift, 0.15),
        ("store 05", Measure::Use, FindingKind::Chronic, 0.09),
        ("store 06", Measure::Waste, FindingKind::Chronic, 0.04),
        ("store 07", Measure::Use, FindingKind::Drift, 0.08),
    ] {
        let found = told(of, measure, kind);
        assert!(
            found.iter().any(|found| found.range.contains(planted)),
            "{of} {measure:?} {kind:?}"
        );
    }
    assert!(!told("store 07", Measure::Use, FindingKind::Recovered).is_empty());
    for (habit, of) in [
        (Habit::Copied, "store 12"),
        (Habit::Rounded, "store 13"),
        (Habit::Nothing, "store 14"),
        (Habit::RepeatedLines, "store 15"),
        (Habit::Amended, "store 17"),
        (Habit::Safety, "store 18"),
        (Habit::NoSpread(Measure::Yield), "store 19"),
        (Habit::WasteFallsUseRises, "store 20"),
    ] {
        let found = told(of, Measure::Habit, FindingKind::Habit);
        assert!(found.iter().any(|found| found.evidence.habit == Some(habit)), "{of} {habit:?}");
    }
    // A third of the chain moves what is in the middle of all: less than was planted is told of it.
    for (measure, planted) in [(Measure::Use, 0.05_f64), (Measure::Yield, -0.04)] {
        let found = told("district 1", measure, FindingKind::Shared);
        assert!(!found.is_empty(), "{measure:?}");
        for one in found {
            assert!(0.3 * planted.abs() < one.size * planted.signum(), "{measure:?} {}", one.size);
            assert!(one.size.abs() < planted.abs(), "{measure:?} {}", one.size);
        }
    }
}

/// Findings of every fifth night; what stands for a week is told at least once.
#[test]
fn what_is_found() {
    let sheet = chain();
    let all = detect(&sheet, DateSpan::new(date(14), date(NIGHTS - 1)).unwrap());
    let told = all.iter().filter(|found| date(14).days_until(found.as_of) % 5 == 0);
    let told: Vec<_> = told.map(|found| finding(&sheet, found)).collect();
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn what_is_listed() {
    let sheet = chain();
    let mut told = String::new();
    for night in [20, NIGHTS - 1] {
        for district in ["district 0", "district 1"] {
            let label = sheet.labels().find(district).unwrap();
            let reviewed = list(&sheet, label, date(night)).unwrap();
            writeln!(told, "{} {}", reviewed.window.from(), reviewed.window.to()).unwrap();
            for one in &reviewed.stores {
                let store = sheet.labels().word(one.store);
                let Listed { nights, is_new, rank, money_per_week, .. } = one;
                let money = money_per_week.map(|(money, of)| (figure(money), range(of)));
                writeln!(told, "{store} {nights:?} new {is_new} {rank:?} {money:?}").unwrap();
                for looked in &one.measures {
                    let ListedMeasure { measure, value, nights, .. } = looked;
                    let own = optional(*value);
                    let of = looked.range.map(range);
                    let among = looked.peers.as_ref().map(peers);
                    let past = looked.past.map(|past| {
                        (
                            figure(past.value),
                            past.weeks,
                            figure(past.values.centre()),
                            past.z.map(figure),
                        )
                    });
                    let out = looked.stands_out();
                    let word = measure.word();
                    writeln!(told, "  {word} {own} {of:?} {nights} {among:?} {past:?} {out}")
                        .unwrap();
                }
            }
        }
    }
    insta::assert_snapshot!(told);
}

#[test]
fn how_weeks_went() {
    let sheet = chain();
    let mut told = String::new();
    for (store, measure) in
        [("store 01", Measure::Use), ("store 10", Measure::Yield), ("store 11", Measure::Waste)]
    {
        let label = sheet.labels().find(store).unwrap();
        for week in course(&sheet, label, measure, date(NIGHTS - 1)) {
            let of = week.range.map(range);
            let among = week.peers.as_ref().map(peers);
            let (from, nights, own) = (week.span.from(), week.nights, optional(week.value));
            writeln!(told, "{store} {from} {nights} {own} {of:?} {among:?}").unwrap();
        }
        assert!(course(&sheet, label, Measure::Habit, date(NIGHTS - 1)).is_empty());
    }
    insta::assert_snapshot!(told);
}

/// Every kind of finding of each store and measure, in words.
#[test]
fn what_is_said() {
    let sheet = chain();
    let mut told = std::collections::BTreeMap::new();
    for found in detect(&sheet, DateSpan::new(date(14), date(NIGHTS - 1)).unwrap()) {
        let store = found.store.map_or(found.district, |store| store);
        let habit = found.evidence.habit;
        let key = (sheet.labels().word(store).to_owned(), found.measure, found.kind, habit);
        told.insert(key, found.sentence());
    }
    let told: Vec<_> = told.iter().map(|((of, ..), says)| format!("{of}: {says}")).collect();
    insta::assert_snapshot!(told.join("\n"));
}

fn change(of: &Change) -> String {
    let (before, after) = (figure(of.before), figure(of.after));
    format!("{before} to {after}: {} {} {}", figure(of.size), range(of.range), of.is_clear())
}

/// What is known around a night of five stores, and what it may come from.
#[test]
fn what_it_may_come_from() {
    let sheet = chain();
    let mut told = String::new();
    for (store, measure, since) in [
        ("store 01", Measure::Use, 84),
        ("store 02", Measure::Waste, 90),
        ("store 03", Measure::Yield, 70),
        ("store 04", Measure::Lateness, 100),
        ("store 16", Measure::Use, 105),
    ] {
        let label = sheet.labels().find(store).unwrap();
        let clues = Clues::of(&sheet, label, measure, date(since), date(since + 25));
        writeln!(told, "{store} {}", measure.word()).unwrap();
        for of in [&clues.used, &clues.wasted, &clues.batches] {
            writeln!(told, "  {:?}", of.as_ref().map(change)).unwrap();
        }
        let turns = clues.alternates.map(|(of, pairs)| (figure(of), pairs));
        let same = clues.same_lots.as_ref().map(|(of, stores)| (change(of), *stores));
        let Clues { unsure_nights, lots, weekdays, .. } = &clues;
        writeln!(told, "  {turns:?} {unsure_nights:?} {same:?} {lots:?}").unwrap();
        for part in weekdays {
            writeln!(told, "  {}: {}", part.name, change(&part.change)).unwrap();
        }
        let Explained { causes, look_at } = explain(&clues);
        for one in causes {
            let part = one.part.map(|(part, of)| (figure(part), range(of)));
            let (says, against) = (one.speaks_for, one.speaks_against);
            writeln!(told, "  {} {part:?} {says:?} {against:?}", one.cause.word()).unwrap();
        }
        writeln!(told, "  {look_at:?}").unwrap();
    }
    insta::assert_snapshot!(told);
}

/// Verdicts on what mended, what did not, and what cannot be told.
#[test]
fn what_came_of_it() {
    let sheet = chain();
    let label = |store: &str| sheet.labels().find(store).unwrap();
    let touched = ["store 05", "store 08", "store 12"].map(label);
    let mut told = String::new();
    for (store, measure, [from, done, to]) in [
        ("store 01", Measure::Use, [60, 84, 110]),
        ("store 07", Measure::Use, [55, 80, 104]),
        ("store 07", Measure::Waste, [55, 80, 104]),
        ("store 03", Measure::Yield, [40, 70, 95]),
        ("store 09", Measure::Yield, [70, 98, 130]),
        ("store 04", Measure::Lateness, [75, 100, 118]),
        ("store 11", Measure::Use, [20, 60, 118]),
        ("store 20", Measure::Use, [20, 33, 46]),
        ("store 00", Measure::Use, [20, 29, 46]),
        ("store 10", Measure::Use, [90, 105, 130]),
        ("store 02", Measure::Habit, [60, 90, 110]),
    ] {
        let windows = Windows {
            before: DateSpan::new(date(from), date(done - 1)).unwrap(),
            after: DateSpan::new(date(done), date(to)).unwrap(),
        };
        let outcome = judge(&sheet, label(store), measure, windows, 0.05, &touched);
        let effect = outcome.effect.map(|effect| {
            let Effect { nights_before, nights_after, peers, .. } = effect;
            let change = (figure(effect.change), range(effect.range));
            (change, nights_before, nights_after, peers)
        });
        let (word, says) = (outcome.verdict.word(), outcome.sentence(measure));
        writeln!(told, "{store} {word} {effect:?} {says}").unwrap();
    }
    insta::assert_snapshot!(told);
}

/// Rows in, the same rows out; and sums over nights are those of the rows.
#[test]
fn a_sheet_gives_back_what_it_was_given() {
    let sheet = chain();
    let rows: Vec<StoreNight> = sheet.rows().collect();
    let again = Sheet::new(sheet.labels().clone(), sheet.cost(), &rows).unwrap();
    let shown = |sheet: &Sheet| format!("{:?}", sheet.rows().collect::<Vec<_>>());
    assert_eq!(shown(&again), shown(&sheet));
    let store = sheet.labels().find("store 08").unwrap();
    let mut told = String::new();
    for measure in Measure::RATIOS {
        let sums = sheet.sums(*measure, store, date(50), date(70));
        let parts = rows.iter().filter(|row| {
            row.store == store
                && (date(50)..=date(70)).contains(&row.date)
                && row.status == Status::Open
        });
        let [over, under] = measure.columns();
        let due: RatioSums = parts
            .filter_map(|row| {
                let (over, under) = (row.figures.get(over)?, row.figures.get(under)?);
                Some((if *measure == Measure::Use { over - under } else { over }, under))
            })
            .collect();
        assert_eq!(sums, due, "{measure:?}");
        writeln!(told, "{} {}", measure.word(), optional(sums.value())).unwrap();
    }
    assert_eq!(sheet.sums(Measure::Use, store, date(0), date(500)), RatioSums::default());
    insta::assert_snapshot!(told);
}

/// The lot that most nights of a district were cooked from, counted row by row.
#[test]
fn the_main_lot_of_a_district() {
    let sheet = chain();
    let district = sheet.labels().find("district 2").unwrap();
    let main = |from: usize, to: usize| {
        sheet.main_lot(district, DateSpan::new(date(from), date(to)).unwrap())
    };
    for (from, to) in [(0, 13), (30, 60), (118, 132)] {
        let mut nights = std::collections::BTreeMap::new();
        let here = |row: &StoreNight| {
            row.district == district && (date(from)..=date(to)).contains(&row.date)
        };
        for lot in sheet.rows().filter(here).filter_map(|row| row.lot) {
            *nights.entry(lot).or_insert(0_u32) += 1;
        }
        let all: u32 = nights.values().sum();
        let (lot, share) = main(from, to).unwrap();
        assert_eq!(Some(&nights[&lot]), nights.values().max());
        assert_eq!((share.hits(), share.of()), (nights[&lot].into(), all.into()));
    }
    // Before and after the sheet there is none.
    assert!(main(200, 210).is_none());
}
