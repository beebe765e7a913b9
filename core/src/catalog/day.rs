use chrono::NaiveTime;
use serde::{Deserialize, Serialize};

use super::Flaw;
use crate::calendar::ClockRange;
use crate::ids::{DaypartId, FormatId, KEPT, StoreId};
use crate::tickets::Seconds;

/// A set of dayparts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DaypartSet {
    /// Which stores it is for. A store's own set wins over its format's, that over everybody's.
    pub stores: DaypartsFor,
    /// The stretches that the trading day is cut into.
    pub dayparts: Vec<Daypart>,
}

/// The stores a set of dayparts is for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "of", content = "code")]
pub enum DaypartsFor {
    /// Every store of the network.
    All,
    /// Those of a format.
    Format(FormatId),
    /// One store alone.
    Store(StoreId),
}

/// A stretch of the trading day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Daypart {
    /// The code that facts name the daypart by, unique in its set.
    pub code: DaypartId,
    /// What people call it.
    pub title: String,
    /// From when to when, by the store's clock; it may pass midnight.
    pub hours: ClockRange,
}

impl DaypartSet {
    /// The daypart of a time on the store's clock.
    pub fn at(&self, time: NaiveTime) -> Option<&Daypart> {
        self.dayparts.iter().find(|d| d.hours.contains(time))
    }

    /// What is wrong with the set by itself.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        for (n, part) in self.dayparts.iter().enumerate() {
            if KEPT.contains(&part.code.as_str()) {
                flaws.push(Flaw::new(format!("/dayparts/{n}/code"), "this code is kept"));
            }
            let earlier = &self.dayparts[..n];
            if earlier.iter().any(|d| d.code == part.code) {
                flaws.push(Flaw::new(format!("/dayparts/{n}/code"), "this code is listed twice"));
            }
            let meets = |d: &&Daypart| {
                d.hours.contains(part.hours.from()) || part.hours.contains(d.hours.from())
            };
            if let Some(other) = earlier.iter().find(meets) {
                flaws.push(Flaw::new(
                    format!("/dayparts/{n}/hours"),
                    format!("the hours run into those of {}", other.code),
                ));
            }
        }
        flaws
    }
}

/// A way in which orders come.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Channel {
    /// What people call it.
    pub title: String,
    /// The times an order should take; the first that fits the store's format counts.
    #[serde(default)]
    pub targets: Vec<TicketTarget>,
}

/// The time an order should take.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TicketTarget {
    /// The format it is for; none for all.
    #[serde(default)]
    pub format: Option<FormatId>,
    /// Within how many seconds an order should be handed off.
    pub seconds: Seconds,
}

impl Channel {
    /// The target in a store of this format.
    pub fn target(&self, format: &FormatId) -> Option<Seconds> {
        let own = self.targets.iter().find(|t| t.format.as_ref() == Some(format));
        own.or_else(|| self.targets.iter().find(|t| t.format.is_none())).map(|t| t.seconds)
    }
}

/// Why something was thrown away.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// What people call it.
    pub title: String,
    /// Thrown away to keep guests safe. It never counts against a store.
    pub safety: bool,
    /// A loss that the standard yield holds already (trim, drain). Such waste is refused: it would
    /// be counted twice.
    #[serde(default)]
    pub in_standard_yield: bool,
}
