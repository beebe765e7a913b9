//! The reference data of many dates, from one reading of every version.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::{Catalog, Kind, Network, StoreTimeline, Timeline};
use parings_core::checks::ReferenceChange;
use parings_core::ids::StoreId;
use parings_core::tally::Ending;
use serde::de::DeserializeOwned;

use crate::app::ground::catalog;
use crate::app::night::checks::change;
use crate::db;
use crate::db::catalog::VersionRow;
use crate::error::AppError;

/// Every version that head office has on record: of some stores, and of all that is no store.
pub struct Versions {
    shared: Vec<VersionRow>,
    stores: BTreeMap<String, Vec<VersionRow>>,
    made: Mutex<Made>,
}

/// What depends on the greatest id known and on what began last. Made once.
#[derive(Default)]
struct Made {
    catalogs: HashMap<(i64, BusinessDate), Arc<Catalog>>,
    of_stores: HashMap<(i64, BusinessDate, i64), Arc<Catalog>>,
    networks: HashMap<(i64, i64), Arc<Network>>,
}

/// What a store's night is checked and tallied with.
pub struct Reference {
    /// What is in force on its date, with the store.
    pub catalog: Arc<Catalog>,
    /// Where the store stood.
    pub standing: Standing,
    /// The store and the districts over time.
    pub network: Arc<Network>,
}

impl Versions {
    /// Reads them, as head office.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn read(
        conn: &mut AsyncPgConnection,
        stores: &BTreeSet<&StoreId>,
    ) -> Result<Self, AppError> {
        let codes: Vec<&str> = stores.iter().map(|store| store.as_str()).collect();
        let mut of_stores: BTreeMap<String, Vec<VersionRow>> = BTreeMap::new();
        for row in db::catalog::every_version_of_stores(conn, &codes).await? {
            of_stores.entry(row.code.clone()).or_default().push(row);
        }
        let shared = db::catalog::every_version(conn).await?;
        Ok(Self { shared, stores: of_stores, made: Mutex::default() })
    }

    /// What holds for a store on a date as known at a moment; none when it was not in force.
    ///
    /// # Errors
    /// When a document on record is of no shape the rules know.
    pub fn of(
        &self,
        store: &StoreId,
        on: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Option<Reference>, AppError> {
        let versions = self.stores.get(store.as_str()).map(Vec::as_slice).unwrap_or_default();
        let known = || versions.iter().filter(|row| row.recorded_at <= known_at);
        let current = latest(known().filter(|row| BusinessDate::from(row.valid_from) <= on));
        let Some(current) = current.filter(|row| !row.retired) else { return Ok(None) };
        let edition = self.shared.iter().filter(|row| row.recorded_at <= known_at);
        let Some(edition) = edition.map(|row| row.id).max() else { return Ok(None) };
        let begun =
            |row: &&VersionRow| row.id <= edition && BusinessDate::from(row.valid_from) <= on;
        let turn = self.shared.iter().filter(begun).map(|row| row.valid_from).max();
        let turn = turn.map_or(on, BusinessDate::from);

        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let key = (edition, turn, current.id);
        let catalog = match made.of_stores.get(&key) {
            Some(made) => Arc::clone(made),
            None => {
                let shared = match made.catalogs.get(&(edition, turn)) {
                    Some(made) => Arc::clone(made),
                    None => Arc::new(self.catalog(edition, on)?),
                };
                made.catalogs.insert((edition, turn), Arc::clone(&shared));
                let mut catalog = Catalog::clone(&shared);
                catalog::put(&mut catalog, current)?;
                let catalog = Arc::new(catalog);
                made.of_stores.insert(key, Arc::clone(&catalog));
                catalog
            }
        };
        let last = known().map(|row| row.id).max().unwrap_or_default();
        let network = match made.networks.get(&(edition, last)) {
            Some(made) => Arc::clone(made),
            None => {
                let shared = self.shared.iter().filter(|row| row.recorded_at <= known_at);
                let network = Arc::new(network(store, known(), shared)?);
                made.networks.insert((edition, last), Arc::clone(&network));
                network
            }
        };
        let standing = catalog.standing(store).map_err(catalog::not_found)?;
        Ok(Some(Reference { catalog, standing, network }))
    }

    fn catalog(&self, edition: i64, on: BusinessDate) -> Result<Catalog, AppError> {
        let mut by_code: BTreeMap<(&str, &str), Vec<&VersionRow>> = BTreeMap::new();
        let begun =
            |row: &&VersionRow| row.id <= edition && BusinessDate::from(row.valid_from) <= on;
        for row in self.shared.iter().filter(begun) {
            by_code.entry((&row.kind, &row.code)).or_default().push(row);
        }
        let mut catalog = Catalog::default();
        for rows in by_code.into_values() {
            if let Some(row) = latest(rows.into_iter()).filter(|row| !row.retired) {
                catalog::put(&mut catalog, row)?;
            }
        }
        Ok(catalog)
    }

    /// Recipes and prices that changed over so many nights up to a date, as known at a moment.
    ///
    /// # Errors
    /// When a document on record is of no shape the rules know.
    pub fn changes(
        &self,
        nights: i64,
        until: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Vec<ReferenceChange>, AppError> {
        let after = until.plus_days(-nights);
        let known = || self.shared.iter().filter(|row| row.recorded_at <= known_at);
        let mut changes = Vec::new();
        for row in known().filter(|row| !row.retired) {
            let from = BusinessDate::from(row.valid_from);
            let same = |other: &VersionRow| (&other.kind, &other.code) == (&row.kind, &row.code);
            let changed = from > after
                && from <= until
                && [Kind::Price.word(), Kind::Product.word()].contains(&row.kind.as_str())
                && known().any(|other| same(other) && other.valid_from < row.valid_from);
            if changed {
                changes.extend(change(row)?);
            }
        }
        Ok(changes)
    }
}

impl Reference {
    /// The store's open days up to a date since it was first on record, `most` at most.
    pub fn open_days(&self, on: BusinessDate, most: u32) -> Option<u32> {
        self.network.stores.first()?.open_days(on, most)
    }

    /// What spans that end on the date are made with.
    pub fn ending(&self, on: BusinessDate, known_at: DateTime<Utc>) -> Ending {
        Ending::new(on, known_at, Arc::clone(&self.catalog), Arc::clone(&self.network))
    }
}

/// Of versions that hold, the one that counts.
fn latest<'a>(rows: impl Iterator<Item = &'a VersionRow>) -> Option<&'a VersionRow> {
    rows.max_by_key(|row| (row.valid_from, row.recorded_at, row.id))
}

fn network<'a>(
    store: &StoreId,
    of_store: impl Iterator<Item = &'a VersionRow>,
    shared: impl Iterator<Item = &'a VersionRow>,
) -> Result<Network, AppError> {
    let mut districts: BTreeMap<&str, Vec<&VersionRow>> = BTreeMap::new();
    for row in shared.filter(|row| row.kind == Kind::District.word()) {
        districts.entry(&row.code).or_default().push(row);
    }
    let district = |(code, rows): (&str, Vec<&VersionRow>)| {
        Ok((code.parse().map_err(anyhow::Error::new)?, timeline(rows)?))
    };
    Ok(Network {
        stores: vec![StoreTimeline {
            store: store.clone(),
            versions: timeline(of_store.collect())?,
        }],
        districts: districts.into_iter().map(district).collect::<Result<_, AppError>>()?,
    })
}

/// What a document said from which date on.
fn timeline<T: DeserializeOwned>(rows: Vec<&VersionRow>) -> Result<Timeline<T>, AppError> {
    let mut by_date: BTreeMap<BusinessDate, Vec<&VersionRow>> = BTreeMap::new();
    for row in rows {
        by_date.entry(row.valid_from.into()).or_default().push(row);
    }
    let mut steps = Vec::new();
    for (from, rows) in by_date {
        let said = latest(rows.into_iter()).filter(|row| !row.retired);
        let said = said.map(|row| serde_json::from_value(row.body.clone())).transpose();
        steps.push((from, said.map_err(anyhow::Error::new)?));
    }
    Ok(Timeline(steps))
}
