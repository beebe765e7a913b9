//! The stores that the caller sees.

use chrono::{DateTime, Utc};
use parings_core::access::{Action, Standing, Target};
use parings_core::calendar::{BusinessDate, business_date};
use parings_core::catalog::{Catalog, Kind, Store};
use parings_core::ids::StoreId;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::context::Caller;
use crate::db;
use crate::error::AppError;

/// A store as it is today.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Where it stands.
    pub standing: Standing,
    /// The business date its clock is in.
    pub business_date: BusinessDate,
    /// What the document of the store says today.
    pub store: Store,
}

impl Seen {
    fn new(catalog: &Catalog, id: &StoreId, now: DateTime<Utc>) -> Result<Self, AppError> {
        let standing = catalog.standing(id).map_err(catalog::not_found)?;
        let store = &catalog.stores[id];
        let business_date = business_date(now, &store.zone, store.cut_off);
        Ok(Self { standing, business_date, store: store.clone() })
    }
}

/// The stores in order of their codes, from after `after` on.
///
/// # Errors
/// When the database cannot be reached.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    after: Option<StoreId>,
    limit: usize,
) -> Result<Vec<Seen>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::ReadCatalogue, &Target::Network)?;
        let today = ctx.today();
        let after = after.as_ref().map_or("", StoreId::as_str);
        let rows = db::reference::page(conn, Kind::Store, today, ctx.now, after, limit).await?;
        let shared = catalog::in_force(deps, conn, today, ctx.now, None).await?;
        let mut all = Catalog { districts: shared.districts.clone(), ..Catalog::default() };
        for row in &rows {
            let document = catalog::document(row)?;
            all.put(&row.code, document).map_err(|e| AppError::Internal(e.into()))?;
        }
        all.stores.keys().map(|id| Seen::new(&all, id, ctx.now)).collect()
    })
    .await
}

/// A store as it is in force on a date, for those who may see it.
///
/// # Errors
/// 404 when it is not in force or is not the caller's to see.
pub async fn find(deps: &Deps, caller: &Caller, store: &StoreId) -> Result<Seen, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let today = ctx.today();
        let catalog = catalog::in_force(deps, conn, today, ctx.now, Some(store)).await?;
        if !catalog.stores.contains_key(store) {
            return Err(AppError::not_found(format!("store {store}")));
        }
        let seen = Seen::new(&catalog, store, ctx.now)?;
        ctx.require(Action::ReadStore, &Target::Store(&seen.standing))?;
        Ok(seen)
    })
    .await
}
