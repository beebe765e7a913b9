//! What was thrown away for safety, told at once: outside every ranking, and no case.

use parings_core::access::{Action, Target};
use parings_core::calendar::DateSpan;
use parings_core::catalog::Settings;
use parings_core::ids::DistrictId;
use parings_core::money::Money;
use parings_core::quantity::{Dimension, Tallied};

use crate::app::{Deps, catalog, reference};
use crate::context::Caller;
use crate::db;
use crate::error::AppError;

/// So many nights at most.
const MOST_NIGHTS: u32 = 92;

/// What a store threw away of an item on a date.
#[derive(Debug, Clone, PartialEq)]
pub struct Thrown {
    /// The date.
    pub business_date: chrono::NaiveDate,
    /// The store.
    pub store: String,
    /// The item's code.
    pub item: String,
    /// What people call it.
    pub title: String,
    /// How it is measured.
    pub dimension: Dimension,
    /// How much.
    pub amount: Tallied,
    /// What that costs.
    pub cost: Money,
}

/// What the stores of a district threw away for safety in a span, the last first.
///
/// # Errors
/// 404 and 403 as the policy says, 422 for too many nights, 409 while the network has no settings.
pub async fn of_district(
    deps: &Deps,
    caller: &Caller,
    district: &DistrictId,
    span: DateSpan,
) -> Result<(Settings, Vec<Thrown>), AppError> {
    if span.nights() > MOST_NIGHTS {
        return Err(AppError::invalid("/to", format!("{MOST_NIGHTS} nights at most")));
    }
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadReview, &Target::District(district))?;
        let known = catalog::in_force(deps, conn, reference::today(ctx), ctx.now, None).await?;
        let settings = known.settings.clone().ok_or_else(|| {
            AppError::Conflict("the network has no settings in force on that date".to_owned())
        })?;
        let rows = db::safety::list(conn, district.as_str(), span).await?;
        let thrown = rows.into_iter().map(|row| {
            let item = row.item_id.parse().ok().and_then(|code| known.items.get(&code));
            Thrown {
                business_date: row.business_date,
                store: row.store_id,
                title: item.map_or_else(|| row.item_id.clone(), |item| item.title.clone()),
                dimension: item.map_or(Dimension::Count, |item| item.base),
                item: row.item_id,
                amount: Tallied::from_thousandths(row.wasted),
                cost: Money::from_ten_thousandths(row.cost),
            }
        });
        Ok((settings, thrown.collect()))
    })
    .await
}
