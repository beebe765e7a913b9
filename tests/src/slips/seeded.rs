//! One slip put into a count that was right.

use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use parings_core::calendar::{BusinessDate, CutOff, Zone, wall_time};
use parings_core::catalog::Typed;
use parings_core::checks::CheckKind;
use parings_core::night::{Count, CountLine};
use rust_decimal::Decimal;

use super::chance::Chance;
use super::kitchen::Stocked;
use super::nights::{Night, typed};

/// A kind of slip that is seeded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slip {
    /// Read on a scale that shows another unit, or the other unit picked.
    Unit,
    /// Packs for what they hold, or the other way.
    Case,
    /// The point one or two places off.
    Decimal,
    /// Weighed in the pan, and the pan not named.
    Tare,
    /// Most of the weights taken from the count before.
    Copied,
    /// Sent for another date.
    Date,
}

impl Slip {
    /// Every kind.
    pub const ALL: [Self; 6] =
        [Self::Unit, Self::Case, Self::Decimal, Self::Tare, Self::Copied, Self::Date];

    /// What it is, in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Unit => "unit (lb for kg …)",
            Self::Case => "case for each",
            Self::Decimal => "decimal point",
            Self::Tare => "tare forgotten",
            Self::Copied => "copied count",
            Self::Date => "wrong date",
        }
    }

    /// Whether a check of a kind names this slip.
    pub fn is_named(self, kind: CheckKind) -> bool {
        match self {
            Self::Unit => kind == CheckKind::UnitSlip,
            Self::Case => kind == CheckKind::PackSlip,
            Self::Decimal => kind == CheckKind::DecimalSlip,
            Self::Tare => kind == CheckKind::TareForgotten,
            Self::Copied => kind == CheckKind::CopiedCount,
            Self::Date => {
                matches!(
                    kind,
                    CheckKind::FutureDate | CheckKind::OldDate | CheckKind::AfterMidnight
                )
            }
        }
    }
}

/// A count with a slip in it, the date it was sent for, and the line that is wrong.
pub struct Slipped {
    pub count: Count,
    pub date: BusinessDate,
    pub line: Option<usize>,
    /// When it was sent, if not with the night's own count.
    pub sent: Option<DateTime<Utc>>,
}

/// Puts a slip into the count of a night; none where the night has nothing to slip on.
pub fn slipped(
    slip: Slip,
    night: &Night,
    before: &Night,
    (items, zone): (&[Stocked], &Zone),
    chance: &mut Chance,
) -> Option<Slipped> {
    match slip {
        Slip::Copied => Some(copied(night, before, chance)),
        Slip::Date => {
            let days = *chance.one_of(&[0, 1, -1, -1, -2, -7])?;
            // Counted on the morning after, and sent under that morning's date.
            let morning = NaiveTime::from_hms_opt(7, 30, 0)?;
            let next = night.date.succ();
            let sent = (days == 0).then(|| wall_time(next, morning, zone, CutOff::default()));
            let date = if days == 0 { next } else { night.date.plus_days(days) };
            Some(Slipped { count: night.count.clone(), date, line: None, sent })
        }
        _ => {
            // Of the lines that it can happen to, any one.
            let known = |line: &CountLine| items.iter().find(|item| item.id == line.item);
            let able: Vec<(usize, CountLine)> = night
                .count
                .lines
                .iter()
                .enumerate()
                .filter_map(|(n, line)| Some((n, mistyped(slip, line, known(line)?, chance)?)))
                .collect();
            let (at, wrong) = chance.one_of(&able)?.clone();
            let mut count = night.count.clone();
            count.lines[at] = wrong;
            Some(Slipped { count, date: night.date, line: Some(at), sent: None })
        }
    }
}

fn mistyped(
    slip: Slip,
    line: &CountLine,
    item: &Stocked,
    chance: &mut Chance,
) -> Option<CountLine> {
    let number = |value: Decimal| f64::try_from(value).ok().filter(|v| *v > 0.0);
    let value = number(line.quantity.value())?;
    let unit = line.quantity.unit().to_string();
    let of = |quantity: Typed| Some(CountLine { quantity, ..line.clone() });
    match slip {
        Slip::Unit => {
            let (times, other) = match unit.as_str() {
                "kg" => (2.204_622_6, "lb"),
                "lb" => (0.453_592_37, "kg"),
                "g" => (0.035_273_962, "oz"),
                "l" => (0.264_172_05, "gal"),
                _ => return None,
            };
            // Mostly the scale shows the other unit; now and then the other unit is picked.
            if chance.happens(0.8) {
                let places = if unit == "g" { 1 } else { item.places };
                of(typed(value * times, places, &unit)).filter(|l| !l.quantity.value().is_zero())
            } else {
                of(typed(value, item.places, other))
            }
        }
        Slip::Case => {
            let in_pack = item.pack / item.loose_unit;
            if unit == item.pack_code {
                // Three trays, typed as 144 of them; or three of what should be trays.
                let many = chance.happens(0.5);
                let wrong = if many {
                    (value * in_pack, unit.as_str())
                } else {
                    (value, item.loose.as_str())
                };
                return of(typed(wrong.0, 2, wrong.1));
            }
            // Loose, typed under the pack's name.
            line.pan.is_none().then(|| of(typed(value, item.places, item.pack_code)))?
        }
        Slip::Decimal => {
            let times =
                *chance.one_of(&[10.0, 10.0, 10.0, 10.0, 0.1, 0.1, 0.1, 0.1, 100.0, 0.01])?;
            if unit == item.pack_code && times < 1.0 {
                return None;
            }
            of(typed(value * times, item.places + 2, &unit))
        }
        Slip::Tare => {
            line.pan.as_ref()?;
            Some(CountLine { pan: None, ..line.clone() })
        }
        Slip::Copied | Slip::Date => None,
    }
}

/// Every line as at the count before, but for one in twelve.
fn copied(night: &Night, before: &Night, chance: &mut Chance) -> Slipped {
    let mut count = night.count.clone();
    for line in &mut count.lines {
        let mut then = before.count.lines.iter();
        let same =
            then.find(|l| (&l.item, &l.place, &l.stage) == (&line.item, &line.place, &line.stage));
        if let Some(same) = same.filter(|_| chance.happens(11.0 / 12.0)) {
            *line = same.clone();
        }
    }
    Slipped { count, date: night.date, line: None, sent: None }
}

/// When the count of a night is sent: a quarter of an hour to three and a half hours after close
/// (22:00 by the store's clock), so past midnight now and then.
pub fn sent_at(night: &Night, zone: &Zone, chance: &mut Chance) -> DateTime<Utc> {
    let close = NaiveTime::from_hms_opt(22, 0, 0).expect("a time");
    let close = wall_time(night.date, close, zone, CutOff::default());
    close + TimeDelta::minutes(chance.between(15.0, 210.0) as i64)
}
