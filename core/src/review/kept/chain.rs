//! An invented chain, in which what is out of the ordinary is known.

use crate::calendar::BusinessDate;
use crate::review::{Column, Figures, Labels, Sheet, Status, StoreNight, UnitCost};

const STORES: usize = 26;
pub(super) const NIGHTS: usize = 133;

/// Numbers from 0 up to 1 that look like chance.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (self.0 >> 33) as f64 / (1_u64 << 31) as f64
    }

    /// About normal, with a spread of 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

fn tenth(amount: f64) -> f64 {
    (10.0 * amount).round() / 10.0
}

/// What is out of the ordinary at a store on a night, each as a part of expected use, of what went
/// into batches, or of tickets.
#[derive(Default)]
struct Planted {
    used: f64,
    wasted: f64,
    lost: f64,
    late: f64,
}

/// Stores 1 to 4 drift in one measure each, 5 and 6 always differed, 7 moved and came back, 8 has
/// single nights, the second district moves together; the rest are like any.
fn planted(store: usize, night: usize) -> Planted {
    let mut planted = Planted::default();
    match store {
        1 if night >= 84 => planted.used = 0.07,
        2 if night >= 90 => planted.wasted = 0.05,
        3 if night >= 70 => planted.lost = 0.06,
        4 if night >= 100 => planted.late = 0.15,
        5 => planted.used = 0.09,
        6 => planted.wasted = 0.04,
        7 if (50..80).contains(&night) => planted.used = 0.08,
        8 if night == 60 || night == 110 => planted.used = 0.30,
        9 if night >= 98 => planted.lost = -0.03,
        _ => {}
    }
    if store % 3 == 1 && (105..125).contains(&night) {
        planted.used += 0.05;
        planted.lost += 0.04;
    }
    planted
}

/// How figures are written down: of store 12 the same waste every night, of 13 whole kilograms, of 14
/// none, of 15 the lines of the count before; 17 amends towards what was expected, 18 throws half away
/// for safety, of 19 every batch comes out alike, and 20 writes down less while it uses more.
fn written(store: usize, night: usize, chance: &mut Chance, figures: &mut Figures) {
    let (noise, amends) = (chance.normal(), chance.next());
    let Some(wasted) = figures.get(Column::Wasted) else { return };
    let (used, expected) = (figures.get(Column::Used), figures.get(Column::Expected));
    if let Some((used, expected)) = used.zip(expected).filter(|_| amends < 0.4) {
        let off = if store == 17 { 0.06 } else { 0.012 * noise };
        figures.set(Column::FirstUsed, tenth(used + off * expected));
    }
    match store {
        12 if night >= 80 => figures.set(Column::Wasted, 7.3),
        13 => figures.set(Column::Wasted, wasted.round()),
        14 if night >= 75 => figures.set(Column::Wasted, 0.0),
        15 if night >= 60 => figures.set(Column::SameLines, 9.0),
        18 => figures.set(Column::Safety, wasted),
        19 => {
            let raw = figures.get(Column::BatchIn).unwrap_or_default();
            figures.set(Column::BatchOut, 0.66 * raw);
        }
        20 if night >= 90 => {
            figures.set(Column::Wasted, tenth(wasted / 3.0));
            figures.set(Column::Used, used.map_or(f64::NAN, |used| tenth(1.03 * used)));
        }
        _ => {}
    }
}

/// Two formats, three districts, lots by the fortnight, promotions; closed, missing, short and
/// left-out nights, a store that opens late and one that is counted every third night.
pub(super) fn chain() -> Sheet {
    let mut labels = Labels::default();
    let mut chance = Chance(11);
    let mut rows = Vec::new();
    for at in 0..STORES {
        let [store, district, format] = [
            format!("store {at:02}"),
            format!("district {}", at % 3),
            if at % 5 < 3 { "counter".to_owned() } else { "kiosk".to_owned() },
        ]
        .map(|word| labels.label(&word));
        let volume = 120.0 + 17.0 * at as f64;
        for night in 0..NIGHTS {
            let lot = labels.label(&format!("lot {}", night / 14 + at % 2));
            let promotion = (night % 31 == 30 && at % 5 < 3).then(|| labels.label("two for one"));
            let extra = planted(at, night);
            let expected = tenth(volume * (1.0 + 0.12 * chance.normal()).max(0.4));
            let wasted = expected * (0.03 * (0.3 * chance.normal()).exp() + extra.wasted);
            let of_lot = 0.012 * ((night / 14 + at % 2) % 3) as f64;
            let shared = 0.02 * ((night * 5) % 9) as f64 / 9.0;
            let beyond = 0.02 + of_lot + shared + 0.018 * chance.normal() + extra.used;
            let raw = tenth(expected * (0.9 + 0.1 * chance.next()));
            let fried = raw * (0.68 - of_lot + 0.012 * chance.normal() - extra.lost);
            let tickets = (2.0 * volume * (1.0 + 0.1 * chance.normal())).round().max(40.0);
            let late = (tickets * (0.12 + 0.03 * chance.normal() + extra.late)).round().max(0.0);
            let seconds = 300.0 + 25.0 * chance.normal() + 300.0 * extra.late;
            let turn = chance.next();
            let status = match turn {
                _ if at == 10 && night < 100 => Status::NotYet,
                _ if (night + at) % 14 == 13 => Status::Closed,
                t if t < 0.01 => Status::Missing,
                t if t < 0.02 => Status::Short,
                t if t < 0.03 => Status::LeftOut,
                t if t < 0.035 => Status::Held,
                _ => Status::Open,
            };
            if status == Status::NotYet {
                continue;
            }
            let mut figures = Figures::default();
            if matches!(status, Status::Open | Status::Short | Status::LeftOut) {
                figures = figures
                    .with(Column::Portions, (expected * 2.5).round())
                    .with(Column::Sales, (expected * 9.0).round())
                    .with(Column::Wasted, tenth(wasted))
                    .with(Column::Safety, if turn > 0.9 { tenth(3.0 * turn) } else { 0.0 })
                    .with(Column::BatchIn, raw)
                    .with(Column::BatchOut, tenth(fried))
                    .with(Column::Tickets, tickets)
                    .with(Column::Late, late)
                    .with(Column::P90, seconds.round());
                let counted = at != 11 || night % 3 == 2;
                if counted {
                    let nights = if at == 11 { 3.0 } else { 1.0 };
                    figures = figures
                        .with(Column::Nights, nights)
                        .with(Column::Expected, nights * expected)
                        .with(Column::Used, tenth(nights * (expected * (1.0 + beyond) + wasted)))
                        .with(Column::Lines, 12.0)
                        .with(Column::SameLines, f64::from(u8::from(turn > 0.94)));
                }
            }
            written(at, night, &mut chance, &mut figures);
            rows.push(StoreNight {
                store,
                district,
                format,
                date: date(night),
                status,
                lot: Some(lot).filter(|_| turn < 0.97),
                promotion,
                counted_by: None,
                figures,
            });
        }
    }
    Sheet::new(labels, UnitCost::new(1.25).unwrap(), &rows).unwrap()
}

pub(super) fn date(night: usize) -> BusinessDate {
    BusinessDate::new(2026, 1, 5).unwrap().plus_days(night as i64)
}
