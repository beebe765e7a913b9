//! The feed of tills: sales and tickets, batch by batch under the till's own ids.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use parings_core::access::Action;
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::{StoreId, WriteId};
use parings_core::night::{self, TillBatch};
use parings_core::tally::DayFacts;
use serde::Serialize;
use serde_json::json;
use uuid::{Uuid, uuid};

use crate::app::Deps;
use crate::app::ground::writes::{self, Operation, Reply};
use crate::app::night::tallying::Pin;
use crate::app::night::{facts, tallying};
use crate::context::Caller;
use crate::db;
use crate::db::till::BatchRow;
use crate::error::{AppError, Fault};

/// What ids of writes are made from, together with the store and the till's id of the batch
/// (RFC 9562, section 5.5).
const BATCHES: Uuid = uuid!("5d0c1c1e-6a53-4d1b-8a3b-9a0c6f4f2b7e");

/// The longest run of nights whose unmapped codes are listed at once.
pub const UNMAPPED_NIGHTS: u32 = 35;

/// A batch on record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Received {
    /// The till's id of it.
    pub id: String,
    /// The date it is of.
    pub date: BusinessDate,
    /// How many lines of sales.
    pub sales: usize,
    /// How many tickets.
    pub tickets: usize,
    /// When it came.
    pub at: DateTime<Utc>,
    /// Whether that was after the night's count had been accepted.
    pub late: bool,
}

/// Units that used food, under a code that nobody mapped to the menu.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmapped {
    /// The business date that they were sold on.
    pub date: BusinessDate,
    /// The till's code.
    pub code: String,
    /// How many units.
    pub units: u64,
}

/// Takes a batch. `show` makes the answer's body.
///
/// # Errors
/// 404 and 403 as the policy says, 422 with every place that cannot be taken, or when the store had
/// another batch under this id.
pub async fn feed<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    operation: Operation,
    (store, id): (&StoreId, &str),
    date: BusinessDate,
    batch: TillBatch,
    show: impl Fn(Received, Vec<Unmapped>) -> W,
) -> Result<Reply, AppError> {
    let write_id = WriteId(Uuid::new_v5(&BATCHES, format!("{store}/{id}").as_bytes()));
    let write = operation.under(write_id);
    let taken = || AppError::IdTaken(id.to_owned());
    let content = json!({ "business_date": date, "batch": batch });
    let sent = deps
        .writing(caller, store, async |conn, ctx| {
            let ground = facts::ground(deps, conn, ctx, Action::FeedTill, store, date).await?;
            writes::replay_or(conn, ctx, &write, &content, async |conn| {
                ground.takes_facts(ctx.now, "/business_date")?;
                let flaws = night::check_till(&ground.catalog, &batch);
                if !flaws.is_empty() {
                    let faults = flaws.into_iter().map(|f| Fault::new(f.at, f.says));
                    return Err(AppError::Invalid(faults.collect()));
                }
                let row = BatchRow {
                    business_date: date.into(),
                    batch_id: id.to_owned(),
                    body: serde_json::to_value(&batch).map_err(anyhow::Error::new)?,
                    recorded_at: ctx.now,
                };
                let by = ctx.actor.person;
                if !db::till::add(conn, &ground.standing, &row, by, write.id).await? {
                    return Err(taken());
                }
                let accepted = db::nights::first_accepted(conn, store, date).await?;
                let received = received(row, accepted)?;
                let target = format!("store {store}, {date}");
                let detail = json!({
                    "batch": id, "sales": received.sales, "tickets": received.tickets,
                });
                db::audit::add(conn, ctx, "take batch", &target, Some(store), Some(detail)).await?;
                tallying::recompute(deps, conn, ctx.now, &ground.standing, date, Pin::Keep).await?;
                let unmapped = unmapped(&ground, vec![batch])?;
                Reply::created(show(received, unmapped))
            })
            .await
        })
        .await;
    // The id of the write is ours; the till knows its own.
    sent.map_err(|error| if matches!(error, AppError::IdTaken(_)) { taken() } else { error })
}

/// The batches of a night in the order they came, from after `after` on.
///
/// # Errors
/// 404 and 403 as the policy says.
pub async fn of_night(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    date: BusinessDate,
    after: Option<(DateTime<Utc>, String)>,
    limit: usize,
) -> Result<Vec<Received>, AppError> {
    deps.acting(caller, async |conn, ctx| {
        facts::ground(deps, conn, ctx, Action::ReadTill, store, date).await?;
        let rows = db::till::of_night(conn, store, date).await?;
        let accepted = db::nights::first_accepted(conn, store, date).await?;
        let later = |row: &BatchRow| {
            let last = after.as_ref();
            last.is_none_or(|(at, id)| (row.recorded_at, &row.batch_id) > (*at, id))
        };
        let page = rows.into_iter().filter(later).take(limit);
        page.map(|row| received(row, accepted)).collect()
    })
    .await
}

/// The codes that nobody had mapped, of the nights of a span: what their tallies leave out.
///
/// # Errors
/// 404 and 403 as the policy says, 400 for a longer span than [`UNMAPPED_NIGHTS`].
pub async fn unmapped_of_span(
    deps: &Deps,
    caller: &Caller,
    store: &StoreId,
    span: DateSpan,
) -> Result<Vec<Unmapped>, AppError> {
    if span.nights() > UNMAPPED_NIGHTS {
        let says = format!("ask for {UNMAPPED_NIGHTS} nights at most, not {}", span.nights());
        return Err(AppError::invalid("/to", says));
    }
    deps.acting(caller, async |conn, ctx| {
        facts::ground(deps, conn, ctx, Action::ReadTill, store, span.to()).await?;
        let mut nights: BTreeMap<BusinessDate, Vec<TillBatch>> = BTreeMap::new();
        for row in db::till::of_span(conn, store, span).await? {
            nights.entry(row.business_date.into()).or_default().push(document(&row)?);
        }
        let mut all = Vec::new();
        for (date, batches) in nights {
            let ground = facts::ground(deps, conn, ctx, Action::ReadTill, store, date).await?;
            all.extend(unmapped(&ground, batches)?);
        }
        Ok(all)
    })
    .await
}

fn unmapped(ground: &facts::Ground, till: Vec<TillBatch>) -> Result<Vec<Unmapped>, AppError> {
    let facts = DayFacts { till, ..DayFacts::default() };
    let date = ground.date;
    let day = tallying::tally(&ground.catalog, &ground.standing.store, date, &facts)?;
    Ok(day.unmapped.into_iter().map(|(code, units)| Unmapped { date, code, units }).collect())
}

fn document(row: &BatchRow) -> Result<TillBatch, AppError> {
    serde_json::from_value(row.body.clone()).map_err(|e| AppError::Internal(e.into()))
}

fn received(row: BatchRow, accepted: Option<DateTime<Utc>>) -> Result<Received, AppError> {
    let TillBatch { sales, tickets } = document(&row)?;
    Ok(Received {
        id: row.batch_id,
        date: row.business_date.into(),
        sales: sales.len(),
        tickets: tickets.len(),
        at: row.recorded_at,
        late: accepted.is_some_and(|accepted| row.recorded_at > accepted),
    })
}
