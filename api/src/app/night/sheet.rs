//! The sheet a store counts by.

use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::night::{self, CountSheet};

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::context::Caller;
use crate::error::AppError;

/// The sheet of a store on a date, by the catalogue of that date as it is known now.
///
/// # Errors
/// 404 when the store is not the caller's to see on that date, 403 for a till.
pub async fn find(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
) -> Result<CountSheet, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let catalog = catalog::in_force(deps, conn, date, ctx.now, Some(store)).await?;
        let Some(document) = catalog.stores.get(store) else {
            return Err(AppError::not_found(format!("store {store}")));
        };
        let standing = catalog.standing(store).map_err(catalog::not_found)?;
        ctx.require(Action::ReadSheet, &Target::Store(&standing))?;
        Ok(night::sheet(&catalog, store, document, date))
    })
    .await
}
