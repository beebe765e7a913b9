//! Settings, dayparts, channels and reasons.

use parings_core::calendar::ClockRange;
use parings_core::catalog::{
    Channel, Daypart, DaypartSet, DaypartsFor, Reason, Settings, TicketTarget,
};
use parings_core::tickets::{LumpRule, MinimumTickets, Seconds};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::limits::LimitsBody;
use super::periods::PeriodsBody;
use crate::http::faults::Faults;
use crate::http::quantity::Number;

/// What holds for the whole network.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "title": "Your chain", "currency": "EUR", "count_error": "0.02", "sample_nights": 7,
    "minimum_tickets": 30, "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05",
}))]
pub struct SettingsBody {
    /// What the chain calls itself.
    pub title: String,
    /// The network's currency, ISO 4217.
    pub currency: String,
    /// The periods its books are kept by.
    #[serde(default)]
    pub periods: PeriodsBody,
    /// How far a count is off where an item does not say: a share of the amount, one standard
    /// deviation.
    pub count_error: Number,
    /// Nights over which portion samples are pooled.
    pub sample_nights: u32,
    /// Fewest tickets for a percentile to be shown.
    pub minimum_tickets: u64,
    /// When tickets closed together count as closed in a lump.
    pub lump: LumpBody,
    /// The share of unclosed and lump-closed tickets above which ticket data are doubtful.
    pub doubtful_tickets: Number,
    /// From where on something about a night is doubted.
    #[serde(default)]
    pub limits: LimitsBody,
}

/// So many tickets closed within so many seconds.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LumpBody {
    /// Tickets; fewer than 2 switches the rule off.
    pub tickets: u16,
    /// Within how many seconds they must be closed to count as a lump.
    pub within: u32,
}

impl SettingsBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Settings> {
        let title = faults.title("title", &self.title);
        let currency = faults.parse("currency", &self.currency);
        let periods = faults.within("periods", |faults| self.periods.read(faults));
        let count_error = faults.decimal("count_error", &self.count_error);
        let doubtful_tickets = faults.decimal("doubtful_tickets", &self.doubtful_tickets);
        let limits = faults.within("limits", |faults| self.limits.read(faults));
        Some(Settings {
            title: title?,
            currency: currency?,
            periods: periods?,
            count_error: count_error?,
            sample_nights: self.sample_nights,
            minimum_tickets: MinimumTickets(self.minimum_tickets),
            lump: LumpRule { tickets: self.lump.tickets, within: Seconds(self.lump.within) },
            doubtful_tickets: doubtful_tickets?,
            limits: limits?,
        })
    }
}

impl From<&Settings> for SettingsBody {
    fn from(settings: &Settings) -> Self {
        Self {
            title: settings.title.clone(),
            currency: settings.currency.to_string(),
            periods: settings.periods.into(),
            count_error: Number(Decimal::from(settings.count_error)),
            sample_nights: settings.sample_nights,
            minimum_tickets: settings.minimum_tickets.0,
            lump: LumpBody { tickets: settings.lump.tickets, within: settings.lump.within.0 },
            doubtful_tickets: Number(Decimal::from(settings.doubtful_tickets)),
            limits: (&settings.limits).into(),
        }
    }
}

/// A set of dayparts. A store's own set wins over its format's, that over everybody's.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "stores": { "of": "all" },
    "dayparts": [
        { "code": "lunch", "title": "Lunch", "hours": { "from": "11:00", "to": "14:00" } },
        { "code": "late", "title": "Late", "hours": { "from": "21:00", "to": "05:00" } },
    ],
}))]
pub struct DaypartsBody {
    /// Which stores it is for.
    pub stores: DaypartsForBody,
    /// The stretches that the trading day is cut into.
    pub dayparts: Vec<DaypartBody>,
}

/// The stores a set of dayparts is for.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case", tag = "of", content = "code", deny_unknown_fields)]
#[schema(example = json!({ "of": "format", "code": "kiosk" }))]
pub enum DaypartsForBody {
    /// Every store of the network.
    All,
    /// Those of a format.
    Format(String),
    /// One store alone, by its code.
    Store(String),
}

/// A stretch of the trading day.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DaypartBody {
    /// The code that facts name the daypart by, unique in its set.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// From when to when, by the store's clock.
    pub hours: HoursBody,
}

/// A stretch of the clock, from its start up to but not including its end. It may pass midnight;
/// equal ends are the whole day.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "from": "21:00", "to": "02:00" }))]
pub struct HoursBody {
    /// `HH:MM`.
    pub from: String,
    /// `HH:MM`.
    pub to: String,
}

impl DaypartsBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<DaypartSet> {
        let stores = match self.stores {
            DaypartsForBody::All => Some(DaypartsFor::All),
            DaypartsForBody::Format(code) => {
                faults.parse("stores/code", &code).map(DaypartsFor::Format)
            }
            DaypartsForBody::Store(code) => {
                faults.parse("stores/code", &code).map(DaypartsFor::Store)
            }
        };
        let dayparts = faults.each("dayparts", self.dayparts, |f, part| {
            let code = f.parse("code", &part.code);
            let title = f.title("title", &part.title);
            let hours = part.hours.read(f, "hours");
            Some(Daypart { code: code?, title: title?, hours: hours? })
        });
        Some(DaypartSet { stores: stores?, dayparts: dayparts? })
    }
}

impl HoursBody {
    pub(super) fn read(&self, faults: &mut Faults, member: &str) -> Option<ClockRange> {
        let range = serde_json::json!({ "from": self.from, "to": self.to });
        faults.take(member, serde_json::from_value(range))
    }
}

impl From<ClockRange> for HoursBody {
    fn from(hours: ClockRange) -> Self {
        let time = |time: chrono::NaiveTime| time.format("%H:%M").to_string();
        Self { from: time(hours.from()), to: time(hours.to()) }
    }
}

impl From<&DaypartSet> for DaypartsBody {
    fn from(set: &DaypartSet) -> Self {
        let daypart = |part: &Daypart| DaypartBody {
            code: part.code.to_string(),
            title: part.title.clone(),
            hours: part.hours.into(),
        };
        Self {
            stores: match &set.stores {
                DaypartsFor::All => DaypartsForBody::All,
                DaypartsFor::Format(code) => DaypartsForBody::Format(code.to_string()),
                DaypartsFor::Store(code) => DaypartsForBody::Store(code.to_string()),
            },
            dayparts: set.dayparts.iter().map(daypart).collect(),
        }
    }
}

/// A way in which orders come.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Counter",
    "targets": [{ "format": "kiosk", "seconds": 300 }, { "seconds": 420 }] }))]
pub struct ChannelBody {
    /// What people call it.
    pub title: String,
    /// The times an order should take; a store's format's own goes first.
    #[serde(default)]
    pub targets: Vec<TargetBody>,
}

/// The time an order should take.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetBody {
    /// The format it is for; all when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub format: Option<String>,
    /// Within how many seconds an order should be handed off.
    pub seconds: u32,
}

impl ChannelBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Channel> {
        let title = faults.title("title", &self.title);
        let targets = faults.each("targets", self.targets, |f, target| {
            let format = f.maybe(target.format, |f, code| f.parse("format", &code));
            Some(TicketTarget { format: format?, seconds: Seconds(target.seconds) })
        });
        Some(Channel { title: title?, targets: targets? })
    }
}

impl From<&Channel> for ChannelBody {
    fn from(channel: &Channel) -> Self {
        let target = |target: &TicketTarget| TargetBody {
            format: target.format.as_ref().map(ToString::to_string),
            seconds: target.seconds.0,
        };
        Self { title: channel.title.clone(), targets: channel.targets.iter().map(target).collect() }
    }
}

/// Why something was thrown away.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "title": "Dropped", "safety": false, "in_standard_yield": false }))]
pub struct ReasonBody {
    /// What people call it.
    pub title: String,
    /// Thrown away to keep guests safe. It never counts against a store.
    pub safety: bool,
    /// A loss that the standard yield holds already. Such waste is refused: it would be counted
    /// twice.
    #[serde(default)]
    pub in_standard_yield: bool,
}

impl ReasonBody {
    pub(super) fn read(self, faults: &mut Faults) -> Option<Reason> {
        let title = faults.title("title", &self.title);
        Some(Reason {
            title: title?,
            safety: self.safety,
            in_standard_yield: self.in_standard_yield,
        })
    }
}

impl From<&Reason> for ReasonBody {
    fn from(reason: &Reason) -> Self {
        Self {
            title: reason.title.clone(),
            safety: reason.safety,
            in_standard_yield: reason.in_standard_yield,
        }
    }
}
