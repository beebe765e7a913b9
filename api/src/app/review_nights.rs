//! What a review needs of every store's night: kept by the server, and worked out where what is kept
//! does not hold.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel_async::AsyncPgConnection;
use parings_core::calendar::DateSpan;
use parings_core::stats::Percentile;
use parings_core::tickets::Histogram;
use serde_json::Value;

use crate::app::Deps;
use crate::db;
use crate::db::review_nights::NightRow;
use crate::error::AppError;

/// So many nights are worked out at once.
const AT_ONCE: usize = 20_000;

/// Every store's nights of a span that have tallies, in order of store and date.
///
/// # Errors
/// When the database cannot be reached.
pub(super) async fn of_span(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
) -> Result<Vec<NightRow>, AppError> {
    let all = db::review_nights::of_span(conn, span).await?;
    let (mut rows, not_kept): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|row| !row.mark.is_empty());
    let places: Vec<_> =
        not_kept.into_iter().map(|row| (row.store_id, row.business_date)).collect();
    for some in places.chunks(AT_ONCE) {
        rows.extend(work_out(conn, some).await?);
    }
    rows.sort_unstable_by(|a, b| {
        (&a.store_id, a.business_date).cmp(&(&b.store_id, b.business_date))
    });
    Ok(rows)
}

/// Keeps every night of which nothing is kept that still holds, the latest first; answers with how many
/// it kept. Of several servers one does.
///
/// # Errors
/// When the database cannot be reached.
pub async fn keep(deps: &Deps) -> Result<usize, AppError> {
    // All at once: a plan made while little is kept does not suit the look after that.
    let places = deps.transaction(async |conn| {
        db::findings::act_for_nightly(conn).await?;
        Ok(db::review_nights::not_kept(conn).await?)
    });
    let mut kept = 0;
    for some in places.await?.chunks(AT_ONCE) {
        kept += deps.transaction(async |conn| keep_some(conn, some).await).await?;
    }
    Ok(kept)
}

async fn keep_some(
    conn: &mut AsyncPgConnection,
    places: &[(String, NaiveDate)],
) -> Result<usize, AppError> {
    db::findings::act_for_nightly(conn).await?;
    if !db::findings::try_lock(conn).await? {
        return Ok(0);
    }
    let rows = work_out(conn, places).await?;
    db::review_nights::keep(conn, &rows).await?;
    Ok(rows.len())
}

/// Works nights out from their tallies and lots.
async fn work_out(
    conn: &mut AsyncPgConnection,
    places: &[(String, NaiveDate)],
) -> Result<Vec<NightRow>, AppError> {
    if places.is_empty() {
        return Ok(Vec::new());
    }
    // Marks first: what comes between makes a night's mark an old one, and it is worked out again.
    let mut rows = from_tallies(conn, places).await?;
    let (stores, dates) = unzipped(places);
    let lots = db::review_nights::lots(conn, (&stores, &dates)).await?;
    let mut lots: BTreeMap<(String, NaiveDate), String> =
        lots.into_iter().map(|row| ((row.store_id, row.business_date), row.lot)).collect();
    for row in &mut rows {
        row.lot = lots.remove(&(row.store_id.clone(), row.business_date));
    }
    Ok(rows)
}

/// Works nights out from their tallies, of which no lot is told.
pub(super) async fn from_tallies(
    conn: &mut AsyncPgConnection,
    places: &[(String, NaiveDate)],
) -> Result<Vec<NightRow>, AppError> {
    let (stores, dates) = unzipped(places);
    let worked = db::review_nights::work_out(conn, (&stores, &dates)).await?;
    let rows = worked.into_iter().map(|row| {
        let (p50, p90) = percentiles(row.times)?;
        Ok(NightRow { p50, p90, ..row.night })
    });
    rows.collect()
}

fn unzipped(places: &[(String, NaiveDate)]) -> (Vec<&str>, Vec<NaiveDate>) {
    places.iter().map(|(store, date)| (store.as_str(), *date)).unzip()
}

/// The median and the 90th percentile of ticket times, in seconds.
fn percentiles(times: Option<Value>) -> Result<(Option<i32>, Option<i32>), AppError> {
    let Some(times) = times else { return Ok((None, None)) };
    let lists: Vec<Vec<(u16, u64)>> = serde_json::from_value(times).map_err(anyhow::Error::new)?;
    let mut all = Histogram::default();
    for list in lists {
        all = all.merge(&Histogram::from_pairs(&list).map_err(anyhow::Error::new)?);
    }
    let seconds = |p| all.percentile(p).and_then(|time| i32::try_from(time.0).ok());
    Ok((seconds(Percentile::P50), seconds(Percentile::P90)))
}
