//! From nights to spans. What is worked out again when a fact changes, and what `verify` works out
//! from scratch, go through here.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Limits};
use parings_core::ids::{ItemId, StoreId};
use parings_core::tally::{Counted, Day, ItemDay, ItemSpan, NightTally, Opening, SpanNight, span};
use parings_core::usage::Samples;

use crate::app::catalog::{self, Lately, Network};
use crate::db;
use crate::error::AppError;

/// A count of an item on a date.
pub type Closing = (BusinessDate, Counted);

/// What a span is made with: the reference data known at the pin of the night it ends with. So it
/// is the same span whichever of its nights was written last.
pub struct Ending {
    /// The reference data are those known at this moment.
    pub known_at: DateTime<Utc>,
    date: BusinessDate,
    catalog: Arc<Catalog>,
    limits: Limits,
    network: Arc<Network>,
}

impl Ending {
    /// What spans that end on a date are made with: the catalogue of the date with the store, and
    /// the store over time, both as known at a moment.
    pub fn new(
        date: BusinessDate,
        known_at: DateTime<Utc>,
        catalog: Arc<Catalog>,
        network: Arc<Network>,
    ) -> Self {
        let limits = catalog.settings.as_ref().map(|s| s.limits.clone()).unwrap_or_default();
        Self { known_at, date, catalog, limits, network }
    }

    /// Reads what spans of a store that end on a date are made with.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn read(
        catalogs: &Lately,
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Self, AppError> {
        let catalog = catalogs.in_force(conn, date, known_at, Some(store)).await?;
        Self::of(conn, store, date, known_at, &catalog).await
    }

    /// The same with the catalogue of the date, as known at the moment, which has the store.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn of(
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        date: BusinessDate,
        known_at: DateTime<Utc>,
        catalog: &Arc<Catalog>,
    ) -> Result<Self, AppError> {
        let catalog = Arc::clone(catalog);
        let network = catalog::one_store(conn, store, date, known_at).await?;
        Ok(Self::new(date, known_at, catalog, Arc::new(network)))
    }

    /// The date.
    pub fn date(&self) -> BusinessDate {
        self.date
    }

    fn is_open(&self, date: BusinessDate) -> bool {
        let store = self.network.stores.first();
        store.and_then(|s| s.at(date)).is_some_and(|s| s.is_open(date))
    }

    /// The store over time up to the date, as known at the moment.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Where the store stood on the date.
    pub fn standing(&self) -> Option<Standing> {
        self.network.standing(self.network.stores.first()?, self.date)
    }
}

/// A store's nights over some dates.
#[derive(Default)]
pub struct Nights {
    nights: BTreeMap<BusinessDate, NightTally>,
    items: BTreeMap<BusinessDate, BTreeMap<ItemId, ItemDay>>,
}

impl Nights {
    /// Reads the nights after `first` up to and including `last`, as they are tallied.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn read(
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        first: BusinessDate,
        last: BusinessDate,
    ) -> Result<Self, AppError> {
        let nights = db::tallies::nights(conn, store, first, last).await?;
        let mut items: BTreeMap<_, BTreeMap<_, _>> = BTreeMap::new();
        for (date, item, day) in db::tallies::item_days(conn, store, first, last).await? {
            items.entry(date).or_default().insert(item, day);
        }
        Ok(Self { nights: nights.into_iter().collect(), items })
    }

    /// The nights after `first` up to and including `last`, one of them as it is given here.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn around(
        conn: &mut AsyncPgConnection,
        store: &StoreId,
        (first, last): (BusinessDate, BusinessDate),
        (date, day): (BusinessDate, &Day),
    ) -> Result<Self, AppError> {
        // Most spans are of one night.
        let alone = first >= date.pred() && last <= date;
        let mut nights =
            if alone { Self::default() } else { Self::read(conn, store, first, last).await? };
        nights.put(date, day);
        Ok(nights)
    }

    /// Puts a night in the place of what stood on its date.
    pub fn put(&mut self, date: BusinessDate, day: &Day) {
        self.nights.insert(date, day.night.clone());
        self.items.insert(date, day.items.clone());
    }

    /// Takes a night out, as if nothing had been recorded of it.
    pub fn take_out(&mut self, date: BusinessDate) {
        self.nights.remove(&date);
        self.items.remove(&date);
    }

    /// What was counted on a date.
    pub fn counted(&self, date: BusinessDate) -> Vec<(ItemId, Counted)> {
        let here = self.items.get(&date).into_iter().flatten();
        here.filter_map(|(item, day)| Some((item.clone(), day.count?))).collect()
    }

    /// Portions weighed of each item, all nights together.
    pub fn samples(&self) -> BTreeMap<ItemId, Samples> {
        let mut pooled: BTreeMap<ItemId, Samples> = BTreeMap::new();
        for (item, day) in self.items.values().flatten() {
            let so_far = pooled.entry(item.clone()).or_default();
            *so_far = so_far.merge(day.samples);
        }
        pooled
    }

    /// The counts of each item, in order of their dates.
    pub fn counts(&self) -> BTreeMap<&ItemId, Vec<Closing>> {
        let mut counts: BTreeMap<&ItemId, Vec<Closing>> = BTreeMap::new();
        for (date, items) in &self.items {
            for (item, day) in items {
                if let Some(count) = day.count {
                    counts.entry(item).or_default().push((*date, count));
                }
            }
        }
        counts
    }

    /// Joins the nights of an item from one count to the next.
    pub fn span(&self, ending: &Ending, item: &ItemId, from: Closing, to: Closing) -> ItemSpan {
        let opening = Opening { on: from.0, count: from.1 };
        let mut nights = Vec::new();
        let mut date = from.0.succ();
        while date <= to.0 {
            let night = self.nights.get(&date);
            nights.push(SpanNight {
                open: ending.is_open(date),
                sales_source: night.map(|n| n.sales_source).unwrap_or_default(),
                sales: night.and_then(|n| n.sales),
                short: night.is_some_and(|n| n.short),
                item: self.items.get(&date).and_then(|items| items.get(item)),
            });
            date = date.succ();
        }
        span(opening, to.1, &nights, ending.catalog.unit_price(item), &ending.limits)
    }
}
