//! The catalogue of a date, and where stores stood when.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::{
    Catalog, District, Document, Kind, Network, NotFound, Store, StoreTimeline, Timeline,
};
use parings_core::ids::{DistrictId, StoreId};
use parings_core::rollup::Scope;
use serde::de::DeserializeOwned;
use tokio::try_join;

use crate::app::Deps;
use crate::db;
use crate::db::catalog::{TurnRow, VersionRow};
use crate::error::AppError;

/// What a catalogue without stores depends on: the date, and the greatest version known.
type Key = (BusinessDate, i64);

/// Catalogues without stores that were read lately: the same for everybody who acts. Bounded; the
/// one that was used longest ago goes first.
#[derive(Debug, Default)]
pub struct Lately(Mutex<Vec<(Key, Arc<Catalog>)>>);

impl Lately {
    const MOST: usize = 64;

    fn get(&self, key: Key) -> Option<Arc<Catalog>> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = kept.iter().position(|(k, _)| *k == key)?;
        let found = kept.remove(at);
        let catalog = Arc::clone(&found.1);
        kept.push(found);
        Some(catalog)
    }

    fn keep(&self, key: Key, catalog: &Arc<Catalog>) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(k, _)| *k != key);
        if kept.len() == Self::MOST {
            kept.remove(0);
        }
        kept.push((key, Arc::clone(catalog)));
    }
}

/// The document of a version.
///
/// # Errors
/// Internal: what is on record was checked when it was recorded.
pub(in crate::app) fn document(row: &VersionRow) -> Result<Document, AppError> {
    let what = || format!("{} {}, version {}", row.kind, row.code, row.id);
    let kind = Kind::from_word(&row.kind).ok_or_else(|| anyhow::anyhow!("{}: no kind", what()))?;
    kind.read(&row.body).map_err(|e| anyhow::anyhow!("{}: {e}", what()).into())
}

/// The catalogue in force on a date as known at a moment. Of stores it has the one that is named,
/// when it was in force and the acting person may see it.
///
/// # Errors
/// When the database cannot be reached.
pub async fn in_force(
    deps: &Deps,
    conn: &AsyncPgConnection,
    on: BusinessDate,
    known_at: DateTime<Utc>,
    store: Option<&StoreId>,
) -> Result<Arc<Catalog>, AppError> {
    deps.catalogs.in_force(conn, on, known_at, store).await
}

impl Lately {
    /// The same, for work that needs nothing else of the server.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub async fn in_force(
        &self,
        conn: &AsyncPgConnection,
        on: BusinessDate,
        known_at: DateTime<Utc>,
        store: Option<&StoreId>,
    ) -> Result<Arc<Catalog>, AppError> {
        let Some(id) = store else { return self.without_stores(conn, on, known_at).await };
        let (shared, row) = try_join!(self.without_stores(conn, on, known_at), async {
            Ok(db::catalog::store(conn, id, on, known_at).await?)
        })?;
        let Some(row) = row.filter(|r| !r.retired) else { return Ok(shared) };
        let mut with_store = Catalog::clone(&shared);
        put(&mut with_store, &row)?;
        Ok(Arc::new(with_store))
    }

    async fn without_stores(
        &self,
        conn: &AsyncPgConnection,
        on: BusinessDate,
        known_at: DateTime<Utc>,
    ) -> Result<Arc<Catalog>, AppError> {
        let Some(edition) = db::catalog::edition(conn, known_at).await? else {
            return Ok(Arc::default());
        };
        if let Some(kept) = self.get((on, edition)) {
            return Ok(kept);
        }
        let mut catalog = Catalog::default();
        for row in db::catalog::in_force(conn, on, edition).await?.iter().filter(|r| !r.retired) {
            put(&mut catalog, row)?;
        }
        let catalog = Arc::new(catalog);
        self.keep((on, edition), &catalog);
        Ok(catalog)
    }
}

/// Puts the document of a version into a catalogue.
///
/// # Errors
/// Internal: what is on record was checked when it was recorded.
pub(in crate::app) fn put(catalog: &mut Catalog, row: &VersionRow) -> Result<(), AppError> {
    catalog.put(&row.code, document(row)?).map_err(|e| AppError::Internal(e.into()))
}

/// Where a store stood on a date, as known at a moment.
///
/// # Errors
/// 404 when it was not in force or is not the acting person's to see.
pub async fn standing(
    conn: &mut AsyncPgConnection,
    on: BusinessDate,
    known_at: DateTime<Utc>,
    store: &StoreId,
) -> Result<Standing, AppError> {
    let unseen = || AppError::not_found(format!("store {store}"));
    let row = db::catalog::store(conn, store, on, known_at).await?.filter(|r| !r.retired);
    let row = row.ok_or_else(unseen)?;
    let mut catalog = Catalog::default();
    put(&mut catalog, &row)?;
    if let Some(district) = catalog.stores.get(store).map(|s| s.district.clone()) {
        let kind = Kind::District;
        let row = db::catalog::one(conn, kind, district.as_str(), on, known_at).await?;
        if let Some(row) = row.filter(|r| !r.retired) {
            put(&mut catalog, &row)?;
        }
    }
    catalog.standing(store).map_err(not_found)
}

/// Something that is not in force.
pub fn not_found(missing: NotFound) -> AppError {
    AppError::not_found(format!("{} \"{}\" in force on that date", missing.kind, missing.code))
}

/// The stores of a scope that the acting person sees on some date of a span, and where they stood
/// when, as known at a moment. Of a district or an owner it has every store that was ever theirs;
/// whether one was so on a date, its document of that date says.
///
/// # Errors
/// When the database cannot be reached.
pub async fn stores(
    conn: &mut AsyncPgConnection,
    scope: &Scope,
    span: DateSpan,
    known_at: DateTime<Utc>,
) -> Result<Network, AppError> {
    let until = span.to();
    let turns = match scope {
        Scope::Store(store) => {
            db::catalog::turns_of_named(conn, &[store.as_str()], until, known_at).await?
        }
        Scope::District(code) => {
            db::catalog::turns_of_stores(conn, Some(code.as_str()), None, until, known_at).await?
        }
        Scope::Owner(code) => {
            db::catalog::turns_of_stores(conn, None, Some(code.as_str()), until, known_at).await?
        }
        Scope::Region(_) | Scope::Network => {
            db::catalog::store_turns(conn, until, known_at).await?
        }
    };
    let mut network = network(conn, turns, until, known_at).await?;
    network.stores.retain(|StoreTimeline { versions, .. }| {
        let at_first = versions.at(span.from()).is_some();
        at_first || versions.0.iter().any(|(from, said)| span.contains(*from) && said.is_some())
    });
    Ok(network)
}

/// One store over time up to a date, as known at a moment; nothing when the acting person never saw
/// it.
///
/// # Errors
/// When the database cannot be reached.
pub async fn one_store(
    conn: &AsyncPgConnection,
    store: &StoreId,
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> Result<Network, AppError> {
    let turns = db::catalog::turns_of_named(conn, &[store.as_str()], until, known_at).await?;
    network(conn, turns, until, known_at).await
}

/// Stores over time, up to every date that has begun somewhere by a moment.
///
/// # Errors
/// When the database cannot be reached.
pub(in crate::app) async fn timelines_of(
    conn: &AsyncPgConnection,
    stores: &BTreeSet<&StoreId>,
    now: DateTime<Utc>,
) -> Result<Vec<StoreTimeline>, AppError> {
    if stores.is_empty() {
        return Ok(Vec::new());
    }
    let until = BusinessDate::from(now.date_naive()).succ();
    let named: Vec<&str> = stores.iter().map(|store| store.as_str()).collect();
    let turns = db::catalog::turns_of_named(conn, &named, until, now).await?;
    let all = timelines(turns)?.into_iter();
    Ok(all.map(|(store, versions)| StoreTimeline { store, versions }).collect())
}

/// Stores over time, and the districts that they stood in, as known at the same moment.
async fn network(
    conn: &AsyncPgConnection,
    turns: Vec<TurnRow>,
    until: BusinessDate,
    known_at: DateTime<Utc>,
) -> Result<Network, AppError> {
    let stores: Vec<(StoreId, Timeline<Store>)> = timelines(turns)?;
    let stood = stores.iter().flat_map(|(_, versions)| &versions.0);
    let stood = stood.filter_map(|(_, said)| Some(said.as_ref()?.district.as_str()));
    let stood: BTreeSet<&str> = stood.collect();
    let stood: Vec<&str> = stood.into_iter().collect();
    let districts = db::catalog::district_turns(conn, &stood, until, known_at).await?;
    let districts: Vec<(DistrictId, Timeline<District>)> = timelines(districts)?;
    let stores = stores.into_iter().map(|(store, versions)| StoreTimeline { store, versions });
    Ok(Network { stores: stores.collect(), districts: districts.into_iter().collect() })
}

/// Gathers what each document said, which stands in order of code and date.
fn timelines<K, T>(turns: Vec<TurnRow>) -> Result<Vec<(K, Timeline<T>)>, AppError>
where
    K: std::str::FromStr<Err = parings_core::ids::CodeError> + PartialEq,
    T: DeserializeOwned,
{
    let mut all: Vec<(K, Timeline<T>)> = Vec::new();
    for turn in turns {
        let code: K = turn.code.parse().map_err(|e| AppError::Internal(anyhow::Error::new(e)))?;
        let said = turn.body.map(serde_json::from_value).transpose();
        let said = said.map_err(|e| AppError::Internal(e.into()))?;
        let step = (turn.valid_from.into(), said);
        match all.last_mut() {
            Some((last, timeline)) if *last == code => timeline.0.push(step),
            _ => all.push((code, Timeline(vec![step]))),
        }
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(day: u32) -> BusinessDate {
        BusinessDate::new(2026, 6, day).unwrap()
    }

    #[test]
    fn the_catalogue_used_longest_ago_goes_first() {
        let kept = Lately::default();
        let empty = Arc::new(Catalog::default());
        for edition in 0..Lately::MOST as i64 {
            kept.keep((date(1), edition), &empty);
        }
        assert!(kept.get((date(1), 0)).is_some());
        kept.keep((date(2), 0), &empty);
        assert!(kept.get((date(1), 0)).is_some() && kept.get((date(2), 0)).is_some());
        assert!(kept.get((date(1), 1)).is_none());
        assert_eq!(kept.0.lock().unwrap().len(), Lately::MOST);
    }
}
