//! Restatements: nights that are tallied are worked out again with the reference data known now.
//!
//! A corrected document shows in the reference data at once and in no figure made before it, since
//! each night is pinned to what was known. Here head office renews the pins, and says why.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::catalog::Kind;
use parings_core::ids::StoreId;
use parings_core::tally::{SpanEnd, TallyError};
use serde::Serialize;
use serde_json::json;

use crate::app::ground::catalog;
use crate::app::ground::writes::{self, Reply, Write};
use crate::app::night::tallying::{self, Pin};
use crate::app::{Deps, act_as};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::{AppError, Fault};

/// So many days at most in one restatement.
pub const MOST_DAYS: u32 = 100;

/// So many nights at most: they are worked out in one transaction.
pub const MOST_NIGHTS: usize = 500;

/// What is to be worked out again.
#[derive(Debug, Clone)]
pub struct Restatement {
    /// The client's id of the write.
    pub write: Write,
    /// The business dates.
    pub span: DateSpan,
    /// The stores; all that have tallies there when left out.
    pub stores: Option<Vec<StoreId>>,
    /// Why it is worked out again, in words.
    pub reason: String,
}

/// What was worked out again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Restated {
    /// How many nights were tallied anew.
    pub nights: usize,
    /// How many stores these nights are of.
    pub stores: usize,
    /// Spans of use that had their expected use and now say something else.
    pub changed_spans: usize,
}

/// Works the nights of a span out again with the reference data known now, and renews their pins;
/// all of them or none. `show` makes the answer's body.
///
/// It is one transaction, so that the client's id, its answer and every night commit together and a
/// misfit anywhere changes nothing. The rules hand no part on, so the caller's is taken anew from
/// the records before each night; whoever lost it meanwhile is refused there.
///
/// # Errors
/// 403 for all but head office; 422 when a named store was never on record, or for more than
/// [`MOST_NIGHTS`]; 409 when the facts of a night do not fit the reference data.
pub async fn restate<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    restatement: &Restatement,
    show: impl Fn(Restated) -> W,
) -> Result<Reply, AppError> {
    let Restatement { write, span, stores, reason } = restatement;
    let content = json!([span.from(), span.to(), stores, reason]);
    deps.acting(caller, async |conn, ctx| {
        ctx.require(Action::Restate, &Target::Network)?;
        writes::replay_or(conn, ctx, write, &content, async |conn| {
            // Nobody records versions meanwhile, so the pin covers all there are.
            let known_at = db::reference::lock(conn, || deps.clock.now()).await?;
            let renewed = (known_at, reason.as_str());
            let nights = nights(conn, *span, stores.as_deref()).await?;
            let of_stores = note(conn, ctx, restatement, &nights).await?;
            let mut changed: BTreeSet<(&StoreId, SpanEnd)> = BTreeSet::new();
            for (date, store) in &nights {
                let spans = night(deps, conn, caller, ctx.now, store, *date, renewed).await;
                let spans = spans.map_err(|error| misfit(error, store, *date))?;
                changed.extend(spans.into_iter().map(|end| (store, end)));
            }
            Reply::changed(show(Restated {
                nights: nights.len(),
                stores: of_stores,
                changed_spans: changed.len(),
            }))
        })
        .await
    })
    .await
}

/// The nights that are tallied, in order of their dates: stores share the catalogue of a date.
async fn nights(
    conn: &mut AsyncPgConnection,
    span: DateSpan,
    stores: Option<&[StoreId]>,
) -> Result<Vec<(BusinessDate, StoreId)>, AppError> {
    let nights = db::tallies::nights_of(conn, span, stores, MOST_NIGHTS + 1).await?;
    if nights.len() > MOST_NIGHTS {
        return Err(AppError::invalid(
            "",
            format!(
                "more than {MOST_NIGHTS} nights are tallied there: name a shorter span or fewer \
                 stores"
            ),
        ));
    }
    let found: BTreeSet<&StoreId> = nights.iter().map(|(_, store)| store).collect();
    let mut faults = Vec::new();
    for (n, store) in stores.unwrap_or_default().iter().enumerate() {
        let known = found.contains(store)
            || db::reference::is_known(conn, Kind::Store, store.as_str()).await?;
        if !known {
            faults.push(Fault::new(format!("/stores/{n}"), format!("there is no store {store}")));
        }
    }
    if faults.is_empty() { Ok(nights) } else { Err(AppError::Invalid(faults)) }
}

/// Keeps the stores to this transaction, in order of their codes so that two restatements cannot
/// wait for each other, and notes what is done to each; answers with how many there are.
async fn note(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    restatement: &Restatement,
    nights: &[(BusinessDate, StoreId)],
) -> Result<usize, AppError> {
    let mut stores: BTreeMap<&StoreId, usize> = BTreeMap::new();
    for (_, store) in nights {
        *stores.entry(store).or_default() += 1;
    }
    let Restatement { span, reason, .. } = restatement;
    for (store, nights) in &stores {
        db::tallies::lock(conn, store).await?;
        let detail =
            json!({ "from": span.from(), "to": span.to(), "nights": nights, "reason": reason });
        let (action, target) = (Action::Restate.word(), format!("store {store}"));
        db::audit::add(conn, ctx, action, &target, Some(store), Some(detail)).await?;
    }
    Ok(stores.len())
}

async fn night(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    now: DateTime<Utc>,
    store: &StoreId,
    date: BusinessDate,
    (known_at, reason): (DateTime<Utc>, &str),
) -> Result<Vec<SpanEnd>, AppError> {
    let ctx = act_as(conn, caller, now).await?;
    ctx.require(Action::Restate, &Target::Network)?;
    let standing = catalog::standing(conn, date, known_at, store).await?;
    let pin = Pin::Renew(known_at, reason);
    let worked = tallying::recompute(deps, conn, ctx.now, &standing, date, pin).await?;
    Ok(worked.restated)
}

/// Facts were checked against the reference data of their day; that they do not fit those of now is
/// for head office to know, with the store, the date and the cause.
fn misfit(error: AppError, store: &StoreId, date: BusinessDate) -> AppError {
    let cause = match error {
        AppError::NotFound(what) => format!("there is no {what}"),
        AppError::Conflict(says) => says,
        AppError::Internal(cause) => match cause.downcast::<TallyError>() {
            Ok(misfit) => return AppError::Conflict(misfit.to_string()),
            Err(cause) => return AppError::Internal(cause),
        },
        other => return other,
    };
    AppError::Conflict(format!("facts of {store} on {date} cannot be tallied: {cause}"))
}
