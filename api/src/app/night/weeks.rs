//! Weeks of stores, added up beforehand: a long span of a large network then reads one row a week and
//! store instead of seven. Nobody who sends a night waits for it; a week that changed is read night by
//! night until somebody comes by here again.

use std::collections::BTreeMap;

use diesel_async::AsyncPgConnection;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::rollup::Week;
use parings_core::tally::pack::Dictionary;

use crate::app::Deps;
use crate::db;
use crate::db::tallies::unreadable;
use crate::db::weeks::{NightOfWeek, WeekRow};
use crate::error::AppError;

/// Adds up the weeks that are over and not kept as their nights stand, each store in a transaction of its
/// own; answers with how many it kept. A store that cannot be is told in the log, and does not keep the
/// others.
///
/// # Errors
/// When the database cannot be reached.
pub async fn keep(deps: &Deps, mut progress: impl FnMut(usize, usize)) -> Result<usize, AppError> {
    let today = BusinessDate::from(deps.clock.now().date_naive());
    let due = deps.transaction(async |conn| {
        db::findings::act_for_nightly(conn).await?;
        Ok(db::weeks::due(conn, today).await?)
    });
    let mut stores: BTreeMap<StoreId, Vec<BusinessDate>> = BTreeMap::new();
    for (store, week) in due.await? {
        stores.entry(store).or_default().push(week);
    }
    let (of, mut kept) = (stores.len(), 0);
    for (n, (store, weeks)) in stores.iter().enumerate() {
        let done = deps.transaction(async |conn| {
            db::acting::act_at_opening(conn, store, deps.clock.now()).await?;
            let rows = added_up(conn, store, weeks).await?;
            db::weeks::put(conn, &rows).await?;
            Ok(rows.len())
        });
        match done.await {
            Ok(weeks) => kept += weeks,
            Err(error) => tracing::error!(%store, error.cause = ?error, "add up a store's weeks"),
        }
        progress(n + 1, of);
    }
    Ok(kept)
}

/// Weeks of a store as they should be kept: those within which it did not move, and whose figures are
/// not too large. Of the others the nights speak for themselves.
pub(in crate::app) async fn added_up(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    weeks: &[BusinessDate],
) -> Result<Vec<WeekRow>, AppError> {
    let nights = db::weeks::nights_of(conn, store, weeks).await?;
    let mut dictionary = Dictionary::default();
    let mut rows = Vec::new();
    for nights in nights.chunk_by(|a, b| a.week() == b.week()) {
        rows.extend(one(nights, &mut dictionary)?);
    }
    Ok(rows)
}

/// The week that some nights are all nights of.
fn one(nights: &[NightOfWeek], dictionary: &mut Dictionary) -> Result<Option<WeekRow>, AppError> {
    let Some(first) = nights.first() else { return Ok(None) };
    let place = first.night.place();
    if nights.iter().any(|each| each.night.place() != place) {
        return Ok(None);
    }
    let mut week = Week::of(first.week());
    for NightOfWeek { night, .. } in nights {
        let codes = night.codes(dictionary)?;
        week.night(night.date(), &codes, night.bytes()).map_err(unreadable)?;
    }
    let Ok(packed) = week.pack() else { return Ok(None) };
    let rules = nights.iter().map(|each| each.night.rules()).min();
    let [district, region, owner] = place.map(str::to_owned);
    Ok(Some(WeekRow {
        week: first.week().into(),
        store_id: first.night.store().to_owned(),
        district_id: district,
        region_id: region,
        owner_id: owner,
        rules: rules.unwrap_or_default(),
        form: Week::FORM,
        nights: first.nights,
        stands: first.stands,
        codes: packed.codes,
        packed: packed.bytes,
    }))
}
