//! What every use case of a night's facts begins with: whether the caller may, on which dates, and
//! by which catalogue.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Role, Standing, Target};
use parings_core::calendar::{BusinessDate, business_date};
use parings_core::catalog::Catalog;
use parings_core::checks;
use parings_core::ids::StoreId;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::night::tallying;
use crate::context::Ctx;
use crate::db;
use crate::error::AppError;

/// Facts are taken for so many days back.
pub const DAYS_BACK: i64 = 400;

/// A store's night, as the one who acts may treat it.
#[derive(Debug, Clone)]
pub struct Ground {
    /// The business date of the night.
    pub date: BusinessDate,
    /// Where the store stood on it, as known now.
    pub standing: Standing,
    /// The pin of the night, or what would be its pin.
    pub known_at: DateTime<Utc>,
    /// The catalogue in force on it, with the store, as known then: what its facts are checked
    /// and tallied with.
    pub catalog: Arc<Catalog>,
}

/// Asks the policy for a store on a date, and reads the catalogue.
///
/// # Errors
/// 404 when the store was not in force or is not the acting person's to see, 403 when the action is
/// not theirs.
pub async fn ground(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    action: Action,
    store: &StoreId,
    date: BusinessDate,
) -> Result<Ground, AppError> {
    let known = db::reference::known(conn, ctx.now).await?;
    let current = catalog::in_force(deps, conn, date, known, Some(store)).await?;
    if !current.stores.contains_key(store) {
        return Err(AppError::not_found(format!("store {store}")));
    }
    let standing = current.standing(store).map_err(catalog::not_found)?;
    ctx.require(action, &Target::Store(&standing))?;
    let known_at = pin(conn, ctx, store, date).await?.unwrap_or(known);
    let catalog = if known_at == known {
        current
    } else {
        catalog::in_force(deps, conn, date, known_at, Some(store)).await?
    };
    tallying::in_catalog(&catalog, store)?;
    Ok(Ground { date, standing, known_at, catalog })
}

/// The moment whose reference data the facts of a night are checked and tallied with: that of its
/// first tally, so that an amendment reuses it; none for a night that has none. Those who look after
/// stores see tallies; for those who work in them, who do not, the rules look.
async fn pin(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    store: &StoreId,
    date: BusinessDate,
) -> Result<Option<DateTime<Utc>>, AppError> {
    Ok(match ctx.actor.role {
        Role::Coach(_) | Role::Owner(_) => db::tallies::pin(conn, store, date).await?,
        Role::Crew(_) | Role::Manager(_) | Role::Till(_) | Role::Office => {
            db::tallies::pin_for_writer(conn, store, date).await?
        }
    })
}

impl Ground {
    /// Whether facts of the date are taken: not of one that has not begun by the store's clock, nor
    /// of one long past. `at` is where the request has the date.
    ///
    /// # Errors
    /// 422 otherwise.
    pub fn takes_facts(&self, now: DateTime<Utc>, at: &str) -> Result<(), AppError> {
        let store = tallying::in_catalog(&self.catalog, &self.standing.store)?;
        let today = business_date(now, &store.zone, store.cut_off);
        if self.date > today {
            return Err(AppError::invalid(
                at,
                format!("{} has not begun: the store's business date is {today}", self.date),
            ));
        }
        let earliest = today.plus_days(-DAYS_BACK);
        if self.date < earliest {
            return Err(AppError::invalid(
                at,
                format!("{} is too long ago: facts are taken from {earliest} on", self.date),
            ));
        }
        Ok(())
    }

    /// Whether the night is locked: so many hours after its cut-off, by the network's limits.
    ///
    /// # Errors
    /// 409 when the network is not set up.
    pub fn is_locked(&self, now: DateTime<Utc>) -> Result<bool, AppError> {
        let store = tallying::in_catalog(&self.catalog, &self.standing.store)?;
        let limits = &tallying::settings(&self.catalog)?.limits;
        Ok(checks::locked(store, self.date, now, limits))
    }

    /// Whether entries are made and withdrawn on the date at once.
    ///
    /// # Errors
    /// 409 when the night is locked, with the way that is open.
    pub fn is_open_to_entries(&self, now: DateTime<Utc>) -> Result<(), AppError> {
        if self.is_locked(now)? {
            return Err(AppError::Conflict(format!(
                "the night of {} is locked: send this with an amendment of its count, for another \
                 person to approve",
                self.date
            )));
        }
        Ok(())
    }
}
