//! What was thrown away for safety, told at once: outside every ranking, and no case.

use parings_core::access::{Action, Target};
use parings_core::calendar::DateSpan;
use parings_core::catalog::Settings;
use parings_core::ids::DistrictId;
use parings_core::money::Money;
use parings_core::quantity::{Dimension, Tallied};
use parings_core::tally::pack::Dictionary;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::context::Caller;
use crate::db;
use crate::error::AppError;

/// So many nights at most.
const MOST_NIGHTS: u32 = 92;

/// What a store threw away of an item on a date.
#[derive(Debug, Clone, PartialEq)]
pub struct Thrown {
    /// The business date that it was thrown away on.
    pub business_date: chrono::NaiveDate,
    /// The code of the store.
    pub store: String,
    /// The item's code.
    pub item: String,
    /// What people call it.
    pub title: String,
    /// How it is measured.
    pub dimension: Dimension,
    /// How much, in the item's base unit, as purchased.
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
        let known = catalog::in_force(deps, conn, ctx.today(), ctx.now, None).await?;
        let settings = known.settings.clone().ok_or_else(|| {
            AppError::Conflict("the network has no settings in force on that date".to_owned())
        })?;
        let (mut thrown, mut dictionary) = (Vec::new(), Dictionary::default());
        for row in db::tallies::in_district(conn, district, span).await? {
            let night = row.unpack(&mut dictionary)?;
            for (item, day) in night.day.items {
                if !day.wasted_safety.is_zero() {
                    let of = known.items.get(&item);
                    thrown.push(Thrown {
                        business_date: row.date().into(),
                        store: row.store().to_owned(),
                        title: of.map_or_else(|| item.to_string(), |item| item.title.clone()),
                        dimension: of.map_or(Dimension::Count, |item| item.base),
                        item: item.to_string(),
                        amount: day.wasted_safety,
                        cost: day.wasted_safety_cost,
                    });
                }
            }
        }
        thrown.sort_by(|a, b| {
            let last_first = b.business_date.cmp(&a.business_date);
            last_first.then_with(|| (&a.store, &a.item).cmp(&(&b.store, &b.item)))
        });
        Ok((settings, thrown))
    })
    .await
}
