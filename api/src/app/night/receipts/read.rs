//! Reads a night and makes its receipt: as it is known now, or was at a moment.

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Standing, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use parings_core::tally::RULES;

use super::{Receipt, Since, of};
use crate::app::ground::{audit, catalog};
use crate::app::night::as_known::{self, MOST_NIGHTS};
use crate::app::night::revisions;
use crate::app::night::stood::{BACK, Stood};
use crate::app::night::tallying::{self, Reckoned};
use crate::app::{Deps, act_as};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;

/// Reads the receipt of a night as it is known now, or was at a moment, and tells who asked.
///
/// # Errors
/// 404 when the store is not the caller's to see, 403 when their role may not; 422 for a moment to
/// come.
pub async fn read(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    as_known_at: Option<DateTime<Utc>>,
) -> Result<(Receipt, Ctx), AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, date, ctx.now, store).await?;
        ctx.require(Action::ReadNight, &Target::Store(&standing))?;
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let receipt = known(deps, conn, caller, ctx, (&standing, date), as_known_at).await?;
        Ok((receipt, ctx.clone()))
    })
    .await
}

/// Makes the receipt of a night as it is known now, or was at a moment.
///
/// # Errors
/// 422 for a moment to come; when the database cannot be reached.
pub async fn known(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (standing, date): (&Standing, BusinessDate),
    as_known_at: Option<DateTime<Utc>>,
) -> Result<Receipt, AppError> {
    match as_known::settled(conn, as_known_at, ctx.now, "/as_known_at").await? {
        None => make(deps, conn, ctx, standing, date).await,
        Some(at) => {
            let receipt = then(deps, conn, caller, ctx, (&standing.store, date), at).await?;
            Ok(Receipt { as_known_at: Some(at), ..receipt })
        }
    }
}

/// Makes the receipt of a night on record, for whoever may read its facts and its spans.
///
/// # Errors
/// When the database cannot be reached.
pub async fn make(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    standing: &Standing,
    date: BusinessDate,
) -> Result<Receipt, AppError> {
    let store = &standing.store;
    let stood = Stood::around(conn, store, date, BACK).await?;
    let known_at = stood.beside(date).map_or(ctx.now, |beside| beside.known_at);
    let night = Reckoned::read(deps, conn, store, date, known_at).await?;
    let back = i64::from(tallying::settings(&night.catalog)?.sample_nights);
    let samples = tallying::samples(conn, store, date, back, &stood).await?;
    let spans = stood.nights.get(date).map(|night| night.spans.clone()).unwrap_or_default();
    let revisions = revisions::of_night(conn, store, date).await?;
    let rules = stood.beside(date).map_or(RULES, |beside| beside.rules);
    of(store, date, night, Since { rules, spans, samples, revisions })
}

/// The receipt of a night as it was known at a moment, for whoever may read it now. The transaction
/// only reads from here on.
///
/// # Errors
/// 422 for more than can be worked out; when the database cannot be reached.
async fn then(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    ctx: &Ctx,
    (store, date): (&StoreId, BusinessDate),
    at: DateTime<Utc>,
) -> Result<Receipt, AppError> {
    db::known::act_for_recall(conn, &[store.as_str()]).await?;
    let known_at = match db::known::pin(conn, store, date, at).await? {
        Some(known_at) => known_at,
        // Nothing was recorded of the night yet, and perhaps the store was not known either.
        None if catalog::standing(conn, date, at, store).await.is_ok() => at,
        None => ctx.now,
    };
    let night = Reckoned::then(deps, conn, store, date, known_at, at).await?;
    let alone = DateSpan::new(date, date).map_err(anyhow::Error::new)?;
    let dates =
        as_known::touched(conn, alone, at).await?.into_iter().map(|night| night.date).collect();
    let pooled = i64::from(tallying::settings(&night.catalog)?.sample_nights);
    let reach = (alone, date.plus_days(1 - pooled));
    let found = as_known::recall(deps, conn, (store, at), &dates, reach, MOST_NIGHTS).await?;
    let nights = &found.stood.nights;
    let mut spans = nights.get(date).map(|night| night.spans.clone()).unwrap_or_default();
    // Which spans were restated is told as it is known now, of those that still say the same.
    for (_, ended) in spans
        .iter_mut()
        .filter(|(_, ended)| dates.range(ended.span.opened_on..=date).next().is_some())
    {
        ended.restated_at = None;
    }
    let samples = nights.samples(date.plus_days(-pooled), date);
    let revisions = revisions::of_night(conn, store, date).await?;
    let revisions = revisions.into_iter().filter_map(|r| r.as_known(at)).collect();
    let since = Since { rules: RULES, spans, samples, revisions };
    let receipt = of(store, date, night, since)?;
    act_as(conn, caller, ctx.now).await?;
    Ok(receipt)
}
