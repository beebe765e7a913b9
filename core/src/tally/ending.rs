use std::sync::Arc;

use chrono::{DateTime, Utc};

use crate::access::Standing;
use crate::calendar::BusinessDate;
use crate::catalog::{Catalog, Limits, Network, StoreTimeline};
use crate::ids::ItemId;
use crate::money::UnitPrice;

/// What spans that end on a date are made with: reference data as known at the pin of that night. So a
/// span is the same whichever of its nights was written last.
#[derive(Debug, Clone)]
pub struct Ending {
    /// The date on which the spans end.
    pub date: BusinessDate,
    /// The reference data are those known at this moment.
    pub known_at: DateTime<Utc>,
    catalog: Arc<Catalog>,
    network: Arc<Network>,
    limits: Limits,
}

impl Ending {
    /// Of the catalogue of the date with the store in it, and the store over time up to the date.
    pub fn new(
        date: BusinessDate,
        known_at: DateTime<Utc>,
        catalog: Arc<Catalog>,
        network: Arc<Network>,
    ) -> Self {
        let limits = catalog.settings.as_ref().map(|s| s.limits.clone()).unwrap_or_default();
        Self { date, known_at, catalog, network, limits }
    }

    /// The network as far as it was read: the store over time, and the districts it stood in.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// The store over time; none when it never was on record.
    pub fn store(&self) -> Option<&StoreTimeline> {
        self.network.stores.first()
    }

    /// Where the store stood on the date.
    pub fn standing(&self) -> Option<Standing> {
        self.network.standing(self.store()?, self.date)
    }

    /// From where on a span is doubted.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    pub(super) fn price(&self, item: &ItemId) -> Option<UnitPrice> {
        self.catalog.unit_price(item)
    }

    pub(super) fn is_open(&self, date: BusinessDate) -> bool {
        self.store().is_some_and(|store| store.is_open(date))
    }

    /// Whether the store changed hands within a span that began with the count of `from`.
    pub(super) fn owner_changed(&self, from: BusinessDate) -> bool {
        self.store().is_some_and(|store| !store.had_one_owner(from, self.date))
    }
}
