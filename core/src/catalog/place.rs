use serde::{Deserialize, Serialize};

use super::Flaw;
use crate::calendar::{BusinessDate, CutOff, Weekday, Zone};
use crate::ids::{DistrictId, FormatId, FryerId, OwnerId, PlaceId, RegionId};
use crate::quantity::Quantity;

/// A region.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Region {
    /// What people call it.
    pub title: String,
}

/// A district.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct District {
    /// What people call it.
    pub title: String,
    /// The region it belongs to.
    pub region: RegionId,
}

/// Who holds stores.
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

/// A store.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Store {
    /// What people call it.
    pub title: String,
    /// Its district.
    pub district: DistrictId,
    /// Who holds it.
    pub owner: OwnerId,
    /// Its format.
    pub format: FormatId,
    /// Its time zone.
    pub zone: Zone,
    /// When its business day turns.
    #[serde(default)]
    pub cut_off: CutOff,
    /// The weekdays it opens.
    pub open: Vec<Weekday>,
    /// Days it stays closed all the same.
    #[serde(default)]
    pub closed: Vec<BusinessDate>,
    /// Its own walk, where it differs: places in order; others follow in the network's order.
    #[serde(default)]
    pub walk: Vec<PlaceId>,
    /// Its fryers.
    #[serde(default)]
    pub fryers: Vec<Fryer>,
    /// Whether a till feeds its sales.
    #[serde(default)]
    pub feed: bool,
}

/// A fryer.
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
    /// Whether it opens on a date.
    pub fn is_open(&self, date: BusinessDate) -> bool {
        self.open.contains(&date.weekday()) && !self.closed.contains(&date)
    }

    /// What is wrong with the store by itself.
    pub fn flaws(&self) -> Vec<Flaw> {
        let mut flaws = Vec::new();
        for (n, day) in self.open.iter().enumerate() {
            if self.open[..n].contains(day) {
                flaws.push(Flaw::new(format!("/open/{n}"), "this weekday is listed twice"));
            }
        }
        for (n, fryer) in self.fryers.iter().enumerate() {
            if self.fryers[..n].iter().any(|f| f.code == fryer.code) {
                flaws.push(Flaw::new(format!("/fryers/{n}/code"), "this fryer is listed twice"));
            }
        }
        flaws
    }
}
