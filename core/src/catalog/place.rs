use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::Flaw;
use crate::calendar::{BusinessDate, ClockRange, CutOff, Weekday, Zone};
use crate::ids::{DistrictId, FormatId, FryerId, OwnerId, PlaceId, RegionId};
use crate::quantity::Quantity;
use crate::stats::Share;

/// A part of the network that holds districts. Its code is that of the document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Region {
    /// What people call it.
    pub title: String,
}

/// The stores of one area coach. Its code is that of the document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct District {
    /// What people call it.
    pub title: String,
    /// The region it belongs to.
    pub region: RegionId,
}

/// A company or person that holds stores. Its code is that of the document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Owner {
    /// What people call them.
    pub title: String,
}

/// A kind of store.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Format {
    /// What people call it.
    pub title: String,
}

/// A place where stock is kept, on the way a counter walks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoragePlace {
    /// What people call it.
    pub title: String,
    /// Its turn on the walk; a store may have a walk of its own.
    pub turn: u16,
}

/// A store, and what is needed to keep its days: where it belongs, its clock and its hours.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Store {
    /// What people call it.
    pub title: String,
    /// The district it belongs to, and by that its region.
    pub district: DistrictId,
    /// The owner who holds it.
    pub owner: OwnerId,
    /// What kind of store it is: decides its fair peers, dayparts and targets.
    pub format: FormatId,
    /// The time zone of its wall clock.
    pub zone: Zone,
    /// When its business day turns.
    #[serde(default)]
    pub cut_off: CutOff,
    /// The weekdays it opens.
    pub open: Vec<Weekday>,
    /// Days it stays closed all the same.
    #[serde(default)]
    pub closed: Vec<BusinessDate>,
    /// The hours it trades, where head office keeps them.
    #[serde(default)]
    pub hours: Option<ClockRange>,
    /// Days on which it trades other hours.
    #[serde(default)]
    pub other_hours: Vec<OtherHours>,
    /// Its own walk, where it differs: places in order; others follow in the network's order.
    #[serde(default)]
    pub walk: Vec<PlaceId>,
    /// The fryers it cooks in; empty where head office does not list them.
    #[serde(default)]
    pub fryers: Vec<Fryer>,
    /// Whether a till feeds its sales.
    #[serde(default)]
    pub feed: bool,
}

/// A day with hours of its own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OtherHours {
    /// The business date on which the store trades other hours.
    pub date: BusinessDate,
    /// From when to when it trades on that date, by the store's clock.
    pub hours: ClockRange,
}

/// A fryer of a store, which is filled with oil.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fryer {
    /// Its code, unique in the store.
    pub code: FryerId,
    /// What people call it.
    pub title: String,
    /// The oil it holds.
    pub oil: Quantity,
    /// Whether it fries for guests as well as for preparation.
    pub shared: bool,
}

impl Store {
    /// Whose it is to look after: its district and its owner. What a review says is told to them, so it
    /// begins anew where either changes.
    pub fn place(&self) -> (&DistrictId, &OwnerId) {
        (&self.district, &self.owner)
    }

    /// Whether it opens on a date.
    pub fn is_open(&self, date: BusinessDate) -> bool {
        self.open.contains(&date.weekday()) && !self.closed.contains(&date)
    }

    /// The hours it trades on a date; none while nobody keeps them, or on a day it stays closed.
    pub fn hours_on(&self, date: BusinessDate) -> Option<ClockRange> {
        let other = self.other_hours.iter().find(|other| other.date == date);
        self.hours.filter(|_| self.is_open(date)).map(|usual| other.map_or(usual, |o| o.hours))
    }

    /// Whether it trades for less than a share of its usual hours on a date.
    pub fn is_short(&self, date: BusinessDate, share: Share) -> bool {
        let Some((usual, hours)) = self.hours.zip(self.hours_on(date)) else { return false };
        Decimal::from(hours.minutes()) < Decimal::from(usual.minutes()) * share.decimal()
    }

    /// What is wrong with the store by itself.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        for (n, day) in self.open.iter().enumerate() {
            if self.open[..n].contains(day) {
                flaws.push(Flaw::new(format!("/open/{n}"), "this weekday is listed twice"));
            }
        }
        for (n, other) in self.other_hours.iter().enumerate() {
            if self.other_hours[..n].iter().any(|o| o.date == other.date) {
                let at = format!("/other_hours/{n}/date");
                flaws.push(Flaw::new(at, "this date is listed twice"));
            }
        }
        if self.hours.is_none() && !self.other_hours.is_empty() {
            flaws.push(Flaw::new("/hours", "missing: other hours are other than these"));
        }
        for (n, fryer) in self.fryers.iter().enumerate() {
            if self.fryers[..n].iter().any(|f| f.code == fryer.code) {
                flaws.push(Flaw::new(format!("/fryers/{n}/code"), "this fryer is listed twice"));
            }
        }
        flaws
    }
}
