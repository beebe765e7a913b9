//! Entries: what is recorded through the day.

mod wire;

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::EntryId;
use parings_core::night::Entry;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::names::Who;
use crate::app::night::entries;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::AmountBody;
use crate::http::answers::{Allowed, Found, Queried, Sent, SetUp};
use crate::http::body::Body;
use crate::http::faults::Faults;
use crate::http::page::{NightQuery, Page};
use crate::http::reply::{self, IdempotencyKey};
use crate::http::stores::store_of;

pub use wire::{EntryBody, MOST, StepBody, entries_from_wire};
pub(super) use wire::{instant_text, maybe_code, text};

/// The longest reason for a withdrawal.
const REASON_MAX: usize = 300;

/// Entries to record.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewEntriesBody {
    /// The date they belong to, which counts whatever the clock says. It has begun, and is not more
    /// than 400 days ago.
    #[schema(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// The entries: all of them are recorded, or none.
    #[schema(min_items = 1, max_items = 500)]
    pub entries: Vec<EntryBody>,
}

impl TryFrom<NewEntriesBody> for Vec<Entry> {
    type Error = AppError;

    fn try_from(sent: NewEntriesBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        if sent.entries.is_empty() {
            faults.add("entries", "there is nothing to record");
        }
        let read = entries_from_wire(sent.entries, "entries", &mut faults);
        faults.finish(read)
    }
}

/// Somebody who works in the store.
#[derive(Debug, Serialize, ToSchema)]
pub struct WhoBody {
    /// The id of the person or service.
    pub id: Uuid,
    /// The name that they go by.
    pub name: String,
}

impl From<Who> for WhoBody {
    fn from(who: Who) -> Self {
        Self { id: who.id.0, name: who.name }
    }
}

/// That an entry was withdrawn.
#[derive(Debug, Serialize, ToSchema)]
pub struct WithdrawnBody {
    /// Why it was withdrawn.
    pub reason: String,
    /// When it was withdrawn.
    pub at: DateTime<Utc>,
    /// By whom; told to crew and manager alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<WhoBody>,
}

/// An entry on record.
#[derive(Debug, Serialize, ToSchema)]
pub struct RecordedEntryBody {
    /// As it was typed.
    pub entry: EntryBody,
    /// The item it is about.
    #[schema(example = "potato")]
    pub item: String,
    /// How much of the item it moves, as purchased, in the item's base unit (g, ml or each): for a
    /// batch what went in. Missing for a stock-out and for samples, which move nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount: Option<AmountBody>,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Whether that was after the night's count had been accepted: figures made before it have
    /// been restated.
    pub late: bool,
    /// By whom; told to crew and manager alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorded_by: Option<WhoBody>,
    /// That it was withdrawn; missing while it counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn: Option<WithdrawnBody>,
}

impl From<entries::Recorded> for RecordedEntryBody {
    fn from(recorded: entries::Recorded) -> Self {
        Self {
            entry: (&recorded.entry).into(),
            item: recorded.entry.body.item().to_string(),
            amount: recorded.amount.map(Into::into),
            recorded_at: recorded.at,
            late: recorded.late,
            recorded_by: recorded.by.map(Into::into),
            withdrawn: recorded.withdrawn.map(|withdrawn| WithdrawnBody {
                reason: withdrawn.reason,
                at: withdrawn.at,
                by: withdrawn.by.map(Into::into),
            }),
        }
    }
}

/// Entries that were recorded together.
#[derive(Debug, Serialize, ToSchema)]
pub struct RecordedEntriesBody {
    /// The date they belong to.
    #[schema(value_type = String, format = Date)]
    pub business_date: BusinessDate,
    /// The entries, in the order they were sent.
    pub entries: Vec<RecordedEntryBody>,
}

/// Why an entry is withdrawn.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryWithdrawalBody {
    /// Why it is withdrawn, in words.
    #[schema(min_length = 1, max_length = 300, example = "typed twice")]
    pub reason: String,
}

/// Record entries of one date, one or many.
///
/// What an entry says is kept as it was typed. Whoever may record in the store can; the same request
/// sent again, with the same key, is answered as the first time.
#[utoipa::path(post, path = "/v1/stores/{store}/entries", tag = "entries", request_body = NewEntriesBody,
    params(("store" = String, Path, description = "The store's code", example = "ford"),
        IdempotencyKey),
    responses(
        (status = 201, description = "Recorded, as understood", body = RecordedEntriesBody),
        Allowed, Found, Sent, SetUp,
        (status = 403, description = "Only crew, manager and head office record", body = Problem, content_type = "application/problem+json")))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    store: Path<String>,
    Body(sent): Body<NewEntriesBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = (store_of(&store)?, sent.business_date);
    let show = |recorded: Vec<entries::Recorded>| RecordedEntriesBody {
        business_date: date,
        entries: recorded.into_iter().map(Into::into).collect(),
    };
    let sent = sent.try_into()?;
    reply::send(entries::add(&deps, &caller, key.0, &store, date, sent, show).await?)
}

/// The entries of a night, in the order they came.
///
/// Withdrawn entries are among them. Who recorded and withdrew is told to crew and manager of the
/// store; coaches, owners and head office get no names.
#[utoipa::path(get, path = "/v1/stores/{store}/entries", operation_id = "list_entries", tag = "entries",
    params(("store" = String, Path, description = "The store's code", example = "ford"), NightQuery),
    responses(
        (status = 200, description = "A page of entries", body = Page<RecordedEntryBody>),
        Allowed, Found, Queried,
        (status = 403, description = "Not for tills", body = Problem, content_type = "application/problem+json")))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<NightQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.page().limit()?, query.page().after()?);
    let (store, date) = (store_of(&store)?, query.business_date);
    let found = entries::of_night(&deps, &caller, &store, date, after, limit + 1).await?;
    let page = Page::<RecordedEntryBody>::cut(found, limit, |found| (found.at, found.entry.id))?;
    Ok(HttpResponse::Ok().json(page))
}

/// Withdraw an entry. It stays on record with who withdrew it and why, and counts no longer.
///
/// Crew withdraw what they recorded themselves; the manager and head office any entry.
#[utoipa::path(post, path = "/v1/stores/{store}/entries/{id}/withdraw", tag = "entries", request_body = EntryWithdrawalBody,
    params(("store" = String, Path, description = "The store's code", example = "ford"),
        ("id" = Uuid, Path, description = "The entry"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Withdrawn", body = RecordedEntryBody),
        Allowed, Found, Sent,
        (status = 403, description = "Not yours to withdraw", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "It was withdrawn before", body = Problem, content_type = "application/problem+json")))]
pub async fn withdraw(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    path: Path<(String, Uuid)>,
    Body(sent): Body<EntryWithdrawalBody>,
) -> Result<HttpResponse, AppError> {
    let (store, id) = path.into_inner();
    let (store, id) = (store_of(&store)?, EntryId(id));
    let mut faults = Faults::default();
    let reason = text(&mut faults, "reason", &sent.reason, REASON_MAX);
    let reason = faults.finish(reason)?;
    let show = RecordedEntryBody::from;
    reply::send(entries::withdraw(&deps, &caller, key.0, &store, id, reason, show).await?)
}
