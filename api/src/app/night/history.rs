//! The revisions of a night as they are shown, and what differs between two of them.

use std::sync::Arc;

use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::catalog::Catalog;
use parings_core::ids::StoreId;
use parings_core::money::Currency;
use parings_core::night::{self, CountDiff};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::audit;
use crate::app::ground::names::Names;
use crate::app::night::facts::{self, Ground};
use crate::app::night::revisions::{self, Revision};
use crate::app::night::tallying;
use crate::context::Caller;
use crate::error::AppError;

/// The revisions of a night as they are shown, with the names of those who had a hand in them.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
) -> Result<(Vec<Revision>, Names, Currency), AppError> {
    deps.acting(caller, async |conn, ctx| {
        let ground = facts::ground(deps, conn, ctx, Action::ReadNight, store, date).await?;
        audit::note_reading(conn, ctx, Action::ReadNight, &ground.standing, date).await?;
        let currency = tallying::settings(&ground.catalog)?.currency;
        let revisions = revisions::of_night(conn, store, date).await?;
        let people: Vec<Uuid> = revisions.iter().flat_map(Revision::people).collect();
        let names = Names::of(conn, ctx, &people).await?;
        Ok((revisions, names, currency))
    })
    .await
}

/// What differs between two revisions, and what it is shown with.
pub struct Differing {
    /// What the later count says otherwise than the earlier one.
    pub diff: CountDiff,
    /// The catalogue of the night.
    pub catalog: Arc<Catalog>,
    /// The network's currency.
    pub currency: Currency,
}

/// Compares two revisions of a night.
///
/// # Errors
/// 404 and 403 as the policy says, 404 for a number that is none.
pub async fn compare(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    (from, to): (i32, i32),
) -> Result<Differing, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let Ground { catalog, standing, .. } =
            facts::ground(deps, conn, ctx, Action::ReadNight, store, date).await?;
        audit::note_reading(conn, ctx, Action::ReadNight, &standing, date).await?;
        let revisions = revisions::of_night(conn, store, date).await?;
        let numbered = |number: i32| {
            let found = revisions.iter().find(|revision| revision.number == number);
            found.ok_or_else(|| AppError::not_found(format!("revision {number} of {date}")))
        };
        let diff = night::diff(&catalog, &numbered(from)?.count, &numbered(to)?.count);
        let currency = tallying::settings(&catalog)?.currency;
        Ok(Differing { diff, catalog, currency })
    })
    .await
}
