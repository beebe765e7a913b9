//! From where on something about a night is doubted.

use parings_core::catalog::{Hours, Limits, Minutes};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::http::faults::Faults;
use crate::http::quantity::{Number, QuantityBody, money};

/// From where on something about a night is doubted. Every limit may be left out, and is then the
/// trade's common practice, which has no source.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(default, deny_unknown_fields)]
#[schema(example = json!({ "spreads": "4", "confirmations": 3, "lock_hours": 72,
    "scale_division": { "value": "5", "unit": "g" } }))]
pub struct LimitsBody {
    /// A number is doubted when it is more than so many spreads (robust standard deviations of the
    /// nights relied on) from what is expected. More than 0, at most 1000.
    pub spreads: Number,
    /// Another reading of it fits within so many spreads; less than `spreads`.
    pub fit_spreads: Number,
    /// Another reading also fits when it is within this share of what is expected; 0 to 0.25.
    pub ratio_tolerance: Number,
    /// Fewest nights relied on, of an item at a store, to know a spread from.
    #[schema(minimum = 3, maximum = 1000)]
    pub history_nights: u32,
    /// What a slip must move, in money, to be asked about; what moves less is only said.
    pub least_stake: Number,
    /// Most questions about one count; what is beyond them is left out.
    #[schema(minimum = 0, maximum = 1000)]
    pub confirmations: u32,
    /// The same lines under another id within so many minutes are asked about.
    #[schema(minimum = 0, maximum = 1000)]
    pub same_content_minutes: u32,
    /// Fewest items that move, weighed and not zero, to call a count copied.
    #[schema(minimum = 2, maximum = 1000)]
    pub copied_items: u32,
    /// The share of them that must be what they were at the count before; 0 to 1.
    pub copied_share: Number,
    /// The division of the scales: a mass.
    pub scale_division: QuantityBody,
    /// More than this share of weights on every fifth division is a habit of rounding; 0 to 1.
    pub rounding_share: Number,
    /// Fewest weights to see such a habit in.
    #[schema(minimum = 10, maximum = 1000)]
    pub rounding_lines: u32,
    /// Use may be below zero by so many standard deviations of the count error of both ends. More
    /// than 0, at most 1000.
    pub use_spreads: Number,
    /// A night is locked so many hours after its cut-off; then a change needs another person.
    #[schema(minimum = 1, maximum = 1000)]
    pub lock_hours: u32,
    /// A date is old when it is more than so many days past.
    #[schema(minimum = 0, maximum = 1000)]
    pub old_days: u32,
    /// Whether last night or today is meant is asked when the clock is more than so many hours past
    /// the close of the later, or before the opening of the earlier.
    #[schema(minimum = 0, maximum = 1000)]
    pub date_hours: u32,
    /// A transfer without its other end is said after so many hours.
    #[schema(minimum = 1, maximum = 1000)]
    pub transfer_hours: u32,
    /// Both ends of a transfer lie at most so many days apart.
    #[schema(minimum = 0, maximum = 1000)]
    pub transfer_days: u32,
    /// A device's clock is off when it differs by more than so many minutes.
    #[schema(minimum = 1, maximum = 1000)]
    pub clock_minutes: u32,
    /// A count is long when it takes more than so many minutes of trading time.
    #[schema(minimum = 1, maximum = 1000)]
    pub count_minutes: u32,
    /// One person in two stores within so many minutes may be two persons.
    #[schema(minimum = 0, maximum = 1000)]
    pub elsewhere_minutes: u32,
    /// A store is new for so many open days, and not ranked.
    #[schema(minimum = 0, maximum = 1000)]
    pub new_store_days: u32,
    /// A day is short when it has less than this share of the usual hours; 0 to 1.
    pub short_day_share: Number,
    /// The same answer to the same question so many times over asks for a wider limit.
    #[schema(minimum = 2, maximum = 1000)]
    pub same_answers: u32,
}

impl Default for LimitsBody {
    fn default() -> Self {
        (&Limits::default()).into()
    }
}

impl LimitsBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Limits> {
        let spreads = faults.decimal("spreads", &self.spreads);
        let fit_spreads = faults.decimal("fit_spreads", &self.fit_spreads);
        let ratio_tolerance = faults.decimal("ratio_tolerance", &self.ratio_tolerance);
        let least_stake = money(faults, "least_stake", &self.least_stake);
        let copied_share = faults.decimal("copied_share", &self.copied_share);
        let scale_division = self.scale_division.read(faults, "scale_division");
        let rounding_share = faults.decimal("rounding_share", &self.rounding_share);
        let use_spreads = faults.decimal("use_spreads", &self.use_spreads);
        let short_day_share = faults.decimal("short_day_share", &self.short_day_share);
        Some(Limits {
            spreads: spreads?,
            fit_spreads: fit_spreads?,
            ratio_tolerance: ratio_tolerance?,
            history_nights: self.history_nights,
            least_stake: least_stake?,
            confirmations: self.confirmations,
            same_content_minutes: Minutes(self.same_content_minutes),
            copied_items: self.copied_items,
            copied_share: copied_share?,
            scale_division: scale_division?,
            rounding_share: rounding_share?,
            rounding_lines: self.rounding_lines,
            use_spreads: use_spreads?,
            lock_hours: Hours(self.lock_hours),
            old_days: self.old_days,
            date_hours: Hours(self.date_hours),
            transfer_hours: Hours(self.transfer_hours),
            transfer_days: self.transfer_days,
            clock_minutes: Minutes(self.clock_minutes),
            count_minutes: Minutes(self.count_minutes),
            elsewhere_minutes: Minutes(self.elsewhere_minutes),
            new_store_days: self.new_store_days,
            short_day_share: short_day_share?,
            same_answers: self.same_answers,
        })
    }
}

impl From<&Limits> for LimitsBody {
    fn from(limits: &Limits) -> Self {
        let share = |share| Number(Decimal::from(share));
        Self {
            spreads: Number(limits.spreads.0),
            fit_spreads: Number(limits.fit_spreads.0),
            ratio_tolerance: share(limits.ratio_tolerance),
            history_nights: limits.history_nights,
            least_stake: Number(limits.least_stake.to_decimal()),
            confirmations: limits.confirmations,
            same_content_minutes: limits.same_content_minutes.0,
            copied_items: limits.copied_items,
            copied_share: share(limits.copied_share),
            scale_division: limits.scale_division.into(),
            rounding_share: share(limits.rounding_share),
            rounding_lines: limits.rounding_lines,
            use_spreads: Number(limits.use_spreads.0),
            lock_hours: limits.lock_hours.0,
            old_days: limits.old_days,
            date_hours: limits.date_hours.0,
            transfer_hours: limits.transfer_hours.0,
            transfer_days: limits.transfer_days,
            clock_minutes: limits.clock_minutes.0,
            count_minutes: limits.count_minutes.0,
            elsewhere_minutes: limits.elsewhere_minutes.0,
            new_store_days: limits.new_store_days,
            short_day_share: share(limits.short_day_share),
            same_answers: limits.same_answers,
        }
    }
}
