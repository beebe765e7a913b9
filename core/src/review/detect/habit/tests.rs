//! Invented stores, one of which writes something down in a way worth asking about.

use crate::calendar::{BusinessDate, DateSpan};
use crate::review::{
    Baseline, Column, Figures, Finding, FindingKind, Habit, Labels, Measure, Sheet, Status,
    StoreNight, UnitCost, detect,
};

const STORES: usize = 24;
const NIGHTS: usize = 84;

/// Numbers from 0 up to 1 that look like chance.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 33) as f64 / (1u64 << 31) as f64
    }

    /// About normal, with a spread of 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

fn tenth(amount: f64) -> f64 {
    (10.0 * amount).round() / 10.0
}

/// Stores whose nights differ as kitchens do; the first one is changed.
fn sheet(change: impl Fn(usize, &mut Figures)) -> Sheet {
    let mut labels = Labels::default();
    let [district, format] = ["upper", "counter"].map(|word| labels.label(word));
    let mut chance = Chance(7);
    let mut rows = Vec::new();
    for at in 0..STORES {
        let store = labels.label(&format!("store {at:02}"));
        for night in 0..NIGHTS {
            let expected = tenth(240.0 + 25.0 * chance.normal());
            let wasted = tenth(8.0 * (0.35 * chance.normal()).exp());
            let explained = expected * (1.03 + 0.02 * chance.normal());
            let raw = tenth(expected * (0.9 + 0.1 * chance.next()));
            let first = explained + wasted + 4.0 * chance.normal();
            let amended = chance.next() < 0.5;
            let safe = if chance.next() < 0.1 { tenth(2.0 * chance.next()) } else { 0.0 };
            let mut figures = Figures::default()
                .with(Column::Expected, expected)
                .with(Column::Used, tenth(explained + wasted))
                .with(Column::Wasted, wasted)
                .with(Column::Safety, safe)
                .with(Column::Lines, 12.0)
                .with(Column::SameLines, f64::from(u8::from((at * 7 + night) % 19 == 0)))
                .with(Column::BatchIn, raw)
                .with(Column::BatchOut, tenth(raw * (0.67 + 0.02 * chance.normal())));
            if amended {
                figures.set(Column::FirstUsed, tenth(first));
            }
            if at == 0 {
                change(night, &mut figures);
            }
            rows.push(StoreNight {
                store,
                district,
                format,
                date: BusinessDate::new(2026, 3, 2).unwrap().plus_days(night as i64),
                status: Status::Open,
                lot: None,
                promotion: None,
                counted_by: None,
                figures,
            });
        }
    }
    Sheet::new(labels, UnitCost::KILOGRAM, &rows).unwrap()
}

/// What is asked on the last night, by store and habit.
fn asked(sheet: &Sheet) -> Vec<(String, Habit)> {
    let mut told: Vec<(String, Habit)> =
        findings(sheet).iter().map(|f| (word(sheet, f), f.evidence.habit.unwrap())).collect();
    told.sort();
    told
}

fn findings(sheet: &Sheet) -> Vec<Finding> {
    let last = sheet.span().to();
    let mut found = detect(sheet, DateSpan::new(last, last).unwrap());
    found.retain(|finding| finding.kind == FindingKind::Habit);
    found
}

fn word(sheet: &Sheet, finding: &Finding) -> String {
    sheet.labels().word(finding.store.unwrap()).to_owned()
}

fn get(figures: &Figures, column: Column) -> f64 {
    figures.get(column).unwrap()
}

#[track_caller]
fn asks(sheet: &Sheet, habits: &[Habit]) {
    let wanted: Vec<_> = habits.iter().map(|habit| ("store 00".to_owned(), *habit)).collect();
    assert_eq!(asked(sheet), wanted);
}

#[test]
fn stores_like_any_are_asked_nothing() {
    asks(&sheet(|_, _| {}), &[]);
}

#[test]
fn waste_in_whole_kilograms_where_others_weigh_tenths_is_asked_about() {
    let sheet = sheet(|_, night| night.set(Column::Wasted, get(night, Column::Wasted).round()));
    asks(&sheet, &[Habit::Rounded]);
    let evidence = findings(&sheet)[0].evidence;
    assert_eq!(
        (evidence.after, evidence.nights_after, evidence.against),
        (1.0, 42, Baseline::Peers(23))
    );
    assert!((0.1..0.3).contains(&evidence.before), "{evidence:?}");
}

#[test]
fn a_yield_that_is_always_the_same_is_asked_about() {
    let sheet = sheet(|_, night| {
        night.set(Column::BatchOut, 0.67 * get(night, Column::BatchIn));
    });
    asks(&sheet, &[Habit::NoSpread(Measure::Yield)]);
}

#[test]
fn copied_waste_and_none_are_asked_about() {
    let copied = sheet(|night, figures| {
        if night >= 60 {
            figures.set(Column::Wasted, 7.3);
        }
    });
    assert!(asked(&copied).contains(&("store 00".to_owned(), Habit::Copied)));
    // None is written down any more, and what was thrown away shows as use that nothing explains.
    let none = sheet(|night, figures| {
        if night >= 60 {
            figures.set(Column::Wasted, 0.0);
        }
    });
    asks(&none, &[Habit::Nothing, Habit::WasteFallsUseRises]);
}

#[test]
fn waste_that_falls_while_use_stays_is_a_finding_of_its_own() {
    let fall = |figures: &mut Figures| {
        figures.set(Column::Wasted, tenth(0.25 * get(figures, Column::Wasted)));
    };
    let hidden = sheet(|night, figures| {
        if night >= 60 {
            fall(figures);
        }
    });
    asks(&hidden, &[Habit::WasteFallsUseRises]);
    let found = findings(&hidden)[0];
    assert!(found.evidence.after < 0.6 * found.evidence.before, "{found:?}");
    assert!(found.evidence.beside.is_some() && found.sentence().contains("has not fallen with it"));
    // A store that truly throws away less uses less, and is asked nothing.
    let better = sheet(|night, figures| {
        if night >= 60 {
            let before = get(figures, Column::Wasted);
            fall(figures);
            let saved = before - get(figures, Column::Wasted);
            figures.set(Column::Used, get(figures, Column::Used) - saved);
        }
    });
    asks(&better, &[]);
}

#[test]
fn amendments_that_always_come_nearer_are_asked_about() {
    let sheet = sheet(|_, figures| {
        if figures.get(Column::FirstUsed).is_some() {
            let due = get(figures, Column::Expected);
            let off = get(figures, Column::Used) - due;
            figures.set(Column::FirstUsed, due + 2.0 * off);
        }
    });
    asks(&sheet, &[Habit::Amended]);
    assert!(findings(&sheet)[0].evidence.after == 1.0);
}

#[test]
fn an_unusual_share_thrown_away_for_safety_is_a_private_note() {
    let sheet = sheet(|night, figures| {
        if night % 3 == 0 {
            figures.set(Column::Safety, 12.0);
        }
    });
    asks(&sheet, &[Habit::Safety]);
    let found = findings(&sheet)[0];
    assert!(found.rank.is_none() && found.money_per_week.is_none());
    // Once is no habit, however much it is.
    let once = self::sheet(|night, figures| {
        if night == 80 {
            figures.set(Column::Safety, 300.0);
        }
    });
    asks(&once, &[]);
}

/// Of twelve lines four repeat the count before on the last twenty nights; of others' one in 228 does.
#[test]
fn counts_that_repeat_the_count_before_are_asked_about() {
    let sheet = sheet(|night, figures| {
        if night + 20 >= NIGHTS {
            figures.set(Column::SameLines, 4.0);
        }
    });
    asks(&sheet, &[Habit::RepeatedLines]);
    let found = findings(&sheet)[0];
    assert!((found.evidence.after - 1.0 / 3.0).abs() < 0.08, "{found:?}");
    assert!(found.evidence.before < 0.02, "{found:?}");
    assert!(found.since.days_until(found.as_of) < 22, "{found:?}");
}
