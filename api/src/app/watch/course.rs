//! How a measure of a store went, week by week, beside its fair peers.

use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan, business_date};
use parings_core::ids::{DistrictId, StoreId};
use parings_core::review::{Measure, Week, course};
use parings_core::rollup::Scope;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::watch::review;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;

/// The weeks of a store, and where it stood in the last of them.
#[derive(Debug, Clone)]
pub struct Course {
    /// Its district on the last night.
    pub district: DistrictId,
    /// The last night looked at.
    pub as_of: BusinessDate,
    /// The weeks, the last one last.
    pub weeks: Vec<Week>,
}

/// The weeks of a measure of a store up to a night; without one, up to the last that is over.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for a night to come and for a measure that is no ratio.
pub async fn of_store(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    measure: Measure,
    as_of: Option<BusinessDate>,
) -> Result<Course, AppError> {
    if !Measure::RATIOS.contains(&measure) {
        return Err(AppError::invalid("/measure", "this is no ratio that could be compared"));
    }
    deps.reading_all(caller, async |conn, ctx| {
        let as_of = match as_of {
            Some(date) => review::to_come(ctx, date).map(|()| date)?,
            None => over(conn, ctx, store).await?,
        };
        let standing = catalog::standing(conn, as_of, ctx.now, store).await?;
        ctx.require(Action::ReadReview, &Target::Store(&standing))?;
        db::review::act_for_review(conn, &standing.district).await?;
        let span = DateSpan::new(as_of.plus_days(1 - review::NIGHTS), as_of);
        let sheet = review::gather(conn, ctx.now, span.map_err(anyhow::Error::new)?).await?;
        let label = sheet.as_ref().and_then(|sheet| sheet.labels().find(store.as_str()));
        let weeks = sheet.as_ref().zip(label);
        let weeks = weeks.map(|(sheet, label)| course(sheet, label, measure, as_of));
        Ok(Course { district: standing.district, as_of, weeks: weeks.unwrap_or_default() })
    })
    .await
}

/// The last night that is over by the store's own clock.
pub(super) async fn over(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    store: &StoreId,
) -> Result<BusinessDate, AppError> {
    let today = BusinessDate::from(ctx.now.date_naive());
    let span = DateSpan::new(today, today).map_err(anyhow::Error::new)?;
    let network = catalog::stores(conn, &Scope::Store(store.clone()), span, ctx.now).await?;
    let said = network.stores.iter().find_map(|timeline| timeline.at(today));
    let said = said.ok_or_else(|| AppError::not_found(format!("store {store}")))?;
    Ok(business_date(ctx.now, &said.zone, said.cut_off).pred())
}
