use chrono::TimeDelta;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Flaw;
use crate::money::Money;
use crate::quantity::{Dimension, Quantity, Unit, decimal};
use crate::stats::Share;

/// A time in whole minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

/// A time in whole hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hours(pub u32);

impl From<Minutes> for TimeDelta {
    fn from(Minutes(minutes): Minutes) -> Self {
        Self::minutes(minutes.into())
    }
}

impl From<Hours> for TimeDelta {
    fn from(Hours(hours): Hours) -> Self {
        Self::hours(hours.into())
    }
}

/// How many spreads (robust standard deviations) something may lie off. JSON: a decimal string.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Spreads(#[serde(with = "decimal")] pub Decimal);

impl Spreads {
    /// As a number to reckon spreads with.
    pub fn value(self) -> f64 {
        use rust_decimal::prelude::ToPrimitive;
        self.0.to_f64().unwrap_or(f64::MAX)
    }
}

/// From where on something about a night is doubted. Every value starts at common practice of the
/// trade, which has no source; head office changes them.
///
/// ```
/// use parings_core::catalog::Limits;
/// let limits = Limits::default();
/// assert_eq!(limits.spreads.0, 4.into());
/// // A document that leaves a limit out has the common one.
/// let own: Limits = serde_json::from_str(r#"{"confirmations": 2}"#).unwrap();
/// assert_eq!(own, Limits { confirmations: 2, ..limits });
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Limits {
    /// A number is doubted when it is more than so many spreads from what is expected.
    pub spreads: Spreads,
    /// Another reading of it fits within so many spreads of what is expected …
    pub fit_spreads: Spreads,
    /// … or when its ratio to what is expected is that of the slip within this share.
    pub ratio_tolerance: Share,
    /// Fewest nights relied on, of an item at a store, to know a spread from.
    pub history_nights: u32,
    /// What a slip must move to be asked about; what moves less is said.
    pub least_stake: Money,
    /// Most questions about one count.
    pub confirmations: u32,
    /// The same lines under another id within so many minutes are asked about.
    pub same_content_minutes: Minutes,
    /// Fewest items that move, weighed and not zero, to call a count copied.
    pub copied_items: u32,
    /// The share of them that must be what they were.
    pub copied_share: Share,
    /// The division of the scales.
    pub scale_division: Quantity,
    /// More than this share of weights on every fifth division is a habit of rounding …
    pub rounding_share: Share,
    /// … over at least so many weights.
    pub rounding_lines: u32,
    /// Use may be below zero by so many standard deviations of the count error of both ends.
    pub use_spreads: Spreads,
    /// A night is locked so many hours after its cut-off.
    pub lock_hours: Hours,
    /// A date is old when it is more than so many days past.
    pub old_days: u32,
    /// Whether last night or today is meant is asked when the clock is more than so many hours past
    /// the close of the later, or before the opening of the earlier.
    pub date_hours: Hours,
    /// A transfer without its other end is said after so many hours.
    pub transfer_hours: Hours,
    /// Both ends of a transfer lie at most so many days apart.
    pub transfer_days: u32,
    /// A device's clock is off when it differs by more than so many minutes.
    pub clock_minutes: Minutes,
    /// A count is long when it takes more than so many minutes of trading time.
    pub count_minutes: Minutes,
    /// One person in two stores within so many minutes is two persons.
    pub elsewhere_minutes: Minutes,
    /// A store is new for so many open days.
    pub new_store_days: u32,
    /// A day is short when it has less than this share of the usual hours.
    pub short_day_share: Share,
    /// The same answer to the same question so many times over asks for a wider limit.
    pub same_answers: u32,
}

impl Default for Limits {
    fn default() -> Self {
        let whole = |n: i64| Spreads(Decimal::from(n));
        Self {
            spreads: whole(4),
            fit_spreads: whole(3),
            ratio_tolerance: Share::per_mille(80),
            history_nights: 10,
            least_stake: Money::from_ten_thousandths(10_000),
            confirmations: 3,
            same_content_minutes: Minutes(15),
            copied_items: 5,
            copied_share: Share::per_mille(800),
            scale_division: Quantity::new(Decimal::from(5), Unit::Gram).expect("5 g is a quantity"),
            rounding_share: Share::per_mille(700),
            rounding_lines: 40,
            use_spreads: whole(3),
            lock_hours: Hours(72),
            old_days: 1,
            date_hours: Hours(0),
            transfer_hours: Hours(24),
            transfer_days: 1,
            clock_minutes: Minutes(5),
            count_minutes: Minutes(20),
            elsewhere_minutes: Minutes(30),
            new_store_days: 28,
            short_day_share: Share::per_mille(700),
            same_answers: 5,
        }
    }
}

impl Limits {
    /// Most spreads of any limit, and most of anything that is counted.
    pub const MOST: u32 = 1000;

    /// What is wrong with the limits by themselves, with JSON Pointers into them.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        let most = Decimal::from(Self::MOST);
        for (at, Spreads(n)) in [
            ("/spreads", self.spreads),
            ("/fit_spreads", self.fit_spreads),
            ("/use_spreads", self.use_spreads),
        ] {
            if n <= Decimal::ZERO || n > most {
                flaws.push(Flaw::new(at, format!("more than 0 and at most {most} spreads")));
            }
        }
        if self.fit_spreads >= self.spreads {
            let says = "less than spreads: what is doubted must not fit as well";
            flaws.push(Flaw::new("/fit_spreads", says));
        }
        if self.ratio_tolerance > Share::per_mille(250) {
            flaws.push(Flaw::new("/ratio_tolerance", "at most 0.25, or every number is a slip"));
        }
        if self.least_stake < Money::ZERO {
            flaws.push(Flaw::new("/least_stake", "0 or more"));
        }
        if self.scale_division.unit().dimension() != Dimension::Mass
            || self.scale_division.value().is_zero()
        {
            flaws.push(Flaw::new("/scale_division", "a mass above zero, such as 5 g"));
        }
        for (at, n, least) in [
            ("/history_nights", self.history_nights, 3),
            ("/confirmations", self.confirmations, 0),
            ("/copied_items", self.copied_items, 2),
            ("/rounding_lines", self.rounding_lines, 10),
            ("/old_days", self.old_days, 0),
            ("/date_hours", self.date_hours.0, 0),
            ("/transfer_days", self.transfer_days, 0),
            ("/new_store_days", self.new_store_days, 0),
            ("/same_answers", self.same_answers, 2),
            ("/same_content_minutes", self.same_content_minutes.0, 0),
            ("/clock_minutes", self.clock_minutes.0, 1),
            ("/count_minutes", self.count_minutes.0, 1),
            ("/elsewhere_minutes", self.elsewhere_minutes.0, 0),
            ("/lock_hours", self.lock_hours.0, 1),
            ("/transfer_hours", self.transfer_hours.0, 1),
        ] {
            if n < least || n > Self::MOST {
                flaws.push(Flaw::new(at, format!("{least} to {}", Self::MOST)));
            }
        }
        flaws
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_limits_are_sound_and_others_are_told_where_they_are_not() {
        assert!(Limits::default().flaws().is_empty());
        let wrong = Limits {
            fit_spreads: Spreads(Decimal::from(4)),
            ratio_tolerance: Share::per_mille(300),
            history_nights: 2,
            least_stake: Money::from_ten_thousandths(-1),
            scale_division: Quantity::new(Decimal::ONE, Unit::Litre).unwrap(),
            lock_hours: Hours(0),
            ..Limits::default()
        };
        let at: Vec<_> = wrong.flaws().into_iter().map(|flaw| flaw.at).collect();
        assert_eq!(
            at,
            [
                "/fit_spreads",
                "/ratio_tolerance",
                "/least_stake",
                "/scale_division",
                "/history_nights",
                "/lock_hours"
            ]
        );
    }
}
