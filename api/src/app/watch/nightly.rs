//! What stands out, looked for by the server itself: once a time zone's last night is over, and again
//! when a night that was looked at changes.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::calendar::{BusinessDate, DateSpan, business_date};
use parings_core::catalog::{Network, Store};
use parings_core::review::{Finding, Sheet, detect};
use parings_core::rollup::Scope;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::watch::cases::{self, Night, Stores};
use crate::app::watch::findings::Evidence;
use crate::app::watch::review;
use crate::db;
use crate::db::findings::{FindingRow, ReviewRow};
use crate::error::AppError;

/// A change of so many last nights makes another review.
const WATCHED: i64 = 14;

/// So long a review stands before another is made of the same night: counts come in one by one.
const STANDS: TimeDelta = TimeDelta::minutes(30);

/// Reviews every zone whose last night is over and not reviewed as it is now; answers with how many
/// reviews it made. Of several servers one looks, the others find nothing to do.
///
/// # Errors
/// When the database cannot be reached.
pub async fn look(deps: &Deps) -> Result<usize, AppError> {
    let now = deps.clock.now();
    deps.transaction(async |conn| {
        db::findings::act_for_nightly(conn).await?;
        if !db::findings::try_lock(conn).await? {
            return Ok(0);
        }
        let today = BusinessDate::from(now.date_naive());
        let span = DateSpan::new(today, today).map_err(anyhow::Error::new)?;
        let network = catalog::stores(conn, &Scope::Network, span, now).await?;
        let mut made = 0;
        for (as_of, zones) in over(&stores(&network, today), now) {
            made += review(deps, conn, &network, (as_of, now), &zones).await?;
        }
        Ok(made)
    })
    .await
}

/// The stores of the network as they are on a date.
fn stores(network: &Network, on: BusinessDate) -> Stores {
    let said = network
        .stores
        .iter()
        .filter_map(|timeline| Some((timeline.store.to_string(), timeline.at(on)?.clone())));
    said.collect()
}

/// The zones by the last night that is over in all of their stores.
fn over(stores: &Stores, now: DateTime<Utc>) -> BTreeMap<BusinessDate, BTreeSet<&'static str>> {
    let mut last: BTreeMap<&'static str, BusinessDate> = BTreeMap::new();
    for store in stores.values() {
        let over = business_date(now, &store.zone, store.cut_off).pred();
        last.entry(store.zone.name()).and_modify(|date| *date = over.min(*date)).or_insert(over);
    }
    let mut zones: BTreeMap<BusinessDate, BTreeSet<&'static str>> = BTreeMap::new();
    for (zone, date) in last {
        zones.entry(date).or_default().insert(zone);
    }
    zones
}

/// Reviews those of the zones that are due, up to a night.
async fn review(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    network: &Network,
    (as_of, now): (BusinessDate, DateTime<Utc>),
    zones: &BTreeSet<&str>,
) -> Result<usize, AppError> {
    let watched = DateSpan::new(as_of.plus_days(1 - WATCHED), as_of).map_err(anyhow::Error::new)?;
    let review = ReviewRow { made_at: now, seen: db::findings::seen(conn, watched).await? };
    let mut due = BTreeSet::new();
    for zone in zones {
        let last = db::findings::last_review(conn, zone, as_of).await?;
        let stands =
            last.is_some_and(|last| last.seen == review.seen || now - last.made_at < STANDS);
        if !stands {
            due.insert(*zone);
        }
    }
    if due.is_empty() {
        return Ok(0);
    }
    let span = DateSpan::new(as_of.plus_days(1 - review::NIGHTS), as_of);
    let span = span.map_err(anyhow::Error::new)?;
    let catalog = catalog::in_force(deps, conn, as_of, now, None).await?;
    let amended = review::amended(conn, &catalog, span).await?;
    let sheet = review::gather_with(conn, now, span, &amended).await?;
    let Some(sheet) = sheet else { return Ok(0) };
    let (sheet, found) = detected(sheet, as_of).await?;
    // A night belongs to the district and the owner of its date.
    let mut reviewed = stores(network, as_of);
    reviewed.retain(|_, said| due.contains(said.zone.name()));
    for zone in &due {
        let here = |said: &&Store| said.zone.name() == *zone;
        let many = reviewed.values().filter(here).count();
        let id = db::findings::add_review(conn, zone, as_of, &review, many).await?;
        let found = found
            .iter()
            .filter(|finding| zone_of(&sheet, &reviewed, finding).is_some_and(|said| here(&said)));
        let rows: Vec<FindingRow> =
            found.map(|finding| row(&sheet, &reviewed, finding)).collect::<Result<_, _>>()?;
        db::findings::add(conn, id, &rows).await?;
        tracing::info!(%zone, %as_of, stores = many, findings = rows.len(), "reviewed");
    }
    let found: Vec<&Finding> =
        found.iter().filter(|finding| zone_of(&sheet, &reviewed, finding).is_some()).collect();
    let left = network.stores.iter().filter_map(|timeline| {
        let place = reviewed.get(timeline.store.as_str())?.place();
        timeline.left(place, as_of, now).map(|_| timeline.store.as_str())
    });
    let left = left.collect();
    let night = Night { as_of, now, sheet: &sheet, stores: &reviewed, left: &left, found: &found };
    cases::follow(conn, &night).await?;
    Ok(due.len())
}

/// The store of a finding; of a district as a whole, any that stands in it. None of one that was not
/// reviewed.
fn zone_of<'a>(sheet: &Sheet, stores: &'a Stores, finding: &Finding) -> Option<&'a Store> {
    let district = sheet.labels().word(finding.district);
    match finding.store {
        Some(store) => stores.get(sheet.labels().word(store)),
        None => stores.values().find(|said| said.district.as_str() == district),
    }
}

/// What stands out on a night: seconds of work in a large network, so in a thread of its own.
async fn detected(sheet: Sheet, as_of: BusinessDate) -> Result<(Sheet, Vec<Finding>), AppError> {
    let night = DateSpan::new(as_of, as_of).map_err(anyhow::Error::new)?;
    let work = tokio::task::spawn_blocking(move || {
        let found = detect(&sheet, night);
        (sheet, found)
    });
    work.await.map_err(|error| AppError::Internal(error.into()))
}

fn row(sheet: &Sheet, stores: &Stores, finding: &Finding) -> Result<FindingRow, AppError> {
    let word = |label| sheet.labels().word(label).to_owned();
    let store = finding.store.map(word);
    let owner = store.as_ref().and_then(|store| stores.get(store)).map(|said| &said.owner);
    let rank = |of: u32| i32::try_from(of).unwrap_or(i32::MAX);
    let mut evidence = Evidence::from(&finding.evidence);
    let since = DateSpan::new(finding.since, finding.as_of).ok();
    let lot = since.filter(|_| finding.store.is_none());
    if let Some((lot, share)) = lot.and_then(|span| sheet.main_lot(finding.district, span)) {
        (evidence.lot, evidence.lot_share) = (Some(word(lot)), Some(share.share()));
    }
    let evidence = serde_json::to_value(evidence);
    Ok(FindingRow {
        owner_id: owner.map(ToString::to_string),
        store_id: store,
        district_id: word(finding.district),
        measure: finding.measure.word().to_owned(),
        kind: finding.kind.word().to_owned(),
        since: finding.since.into(),
        size: finding.size,
        size_low: finding.range.low,
        size_high: finding.range.high,
        money_per_week: finding.money_per_week,
        rank_low: finding.rank.map(|r| rank(r.low)),
        rank_high: finding.rank.map(|r| rank(r.high)),
        rank_of: finding.rank.map(|r| rank(r.of)),
        evidence: evidence.map_err(|e| AppError::Internal(e.into()))?,
        sentence: finding.sentence(),
        private: finding.is_private(),
    })
}
