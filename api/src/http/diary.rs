//! The diary of a store: what happened there that no figure tells.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::ids::StoreId;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::watch::diary::{self, Entry, KINDS, Withdrawal, Written};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::page::{Page, PageQuery};
use crate::http::reply::{self, IdempotencyKey};

/// The longest entry.
const TEXT_MAX: usize = 2_000;

/// Which entries of the diary are asked for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DiaryQuery {
    /// The first date.
    #[param(value_type = String, format = Date)]
    pub from: BusinessDate,
    /// The last date.
    #[param(value_type = String, format = Date)]
    pub to: BusinessDate,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// An entry of the diary that somebody writes.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewDiaryBody {
    /// `new_manager`, `new_people`, `new_blade`, `new_scale`, `fryer_out`, `equipment`, `roadworks`,
    /// `event`, `supplier`, `hours` or `other`.
    #[schema(example = "fryer_out")]
    pub kind: String,
    /// The first date it is about.
    #[schema(value_type = String, format = Date)]
    pub from: BusinessDate,
    /// The last; the first when left out.
    #[schema(value_type = Option<String>, format = Date)]
    pub to: Option<BusinessDate>,
    /// Whether no review is to look at these nights: for coaches and head office to say.
    #[serde(default)]
    pub sets_aside: bool,
    /// What happened, in words.
    #[schema(min_length = 1, max_length = 2000)]
    pub said: String,
}

/// Why an entry is withdrawn.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DiaryWithdrawalBody {
    /// Why it is withdrawn, in words.
    #[schema(min_length = 1, max_length = 2000)]
    pub reason: String,
}

/// An entry of a diary.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DiaryBody {
    /// The id of the entry.
    pub id: Uuid,
    /// The code of the store.
    pub store: String,
    /// What kind of thing it is.
    pub kind: String,
    /// The first date it is about.
    pub from: NaiveDate,
    /// The last date it is about.
    pub to: NaiveDate,
    /// Whether no review looks at these nights.
    pub sets_aside: bool,
    /// What happened, in words.
    pub said: String,
    /// The account that wrote it; missing where the caller is not told who it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<Uuid>,
    /// When it was written.
    pub at: DateTime<Utc>,
    /// Why it was withdrawn.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn: Option<String>,
}

impl From<Written> for DiaryBody {
    fn from(entry: Written) -> Self {
        Self {
            id: entry.id,
            store: entry.store.to_string(),
            kind: entry.kind,
            from: entry.from.into(),
            to: entry.to.into(),
            sets_aside: entry.sets_aside,
            said: entry.said,
            by: entry.by.map(|person| person.0),
            at: entry.at,
            withdrawn: entry.withdrawn,
        }
    }
}

impl TryFrom<NewDiaryBody> for Entry {
    type Error = AppError;
    fn try_from(sent: NewDiaryBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        let kind = KINDS.iter().copied().find(|kind| *kind == sent.kind);
        if kind.is_none() {
            faults.add("kind", format!("\"{}\" is none of {}", sent.kind, KINDS.join(", ")));
        }
        let to = sent.to.unwrap_or(sent.from);
        if to < sent.from {
            faults.add("to", "before the first date");
        }
        let said = text(&mut faults, "said", &sent.said, TEXT_MAX);
        let (from, sets_aside) = (sent.from, sent.sets_aside);
        let read = kind.zip(said).map(|(kind, said)| Self { kind, from, to, sets_aside, said });
        faults.finish(read.filter(|_| to >= from))
    }
}

fn store_of(code: &str) -> Result<StoreId, AppError> {
    code.parse().map_err(|_| AppError::not_found("store of this name"))
}

/// What was written into the diary of a store, in order of date.
#[utoipa::path(get, path = "/v1/stores/{store}/diary", operation_id = "list_diary", tag = "review",
    params(("store" = String, Path, description = "The store's code", example = "ford"), DiaryQuery),
    responses(
        (status = 200, description = "The entries that touch the span", body = Page<DiaryBody>),
        Allowed, Found, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<DiaryQuery>,
) -> Result<HttpResponse, AppError> {
    let store = store_of(&store)?;
    let page = PageQuery { after: query.after.clone(), limit: query.limit };
    let (limit, after) = (page.limit()?, page.after()?);
    let span = DateSpan::new(query.from, query.to)
        .map_err(|error| AppError::invalid("/to", error.to_string()))?;
    let rows = diary::list(&deps, &caller, &store, span, after, limit + 1).await?;
    let begins = |entry: &Written| (NaiveDate::from(entry.from), entry.id);
    let page: Page<DiaryBody> = Page::cut(rows, limit, begins)?;
    Ok(HttpResponse::Ok().json(page))
}

/// Write into the diary of a store.
///
/// Dated facts that no figure tells: a new scale, a fryer out, roadworks. A coach or head office may
/// set the nights aside, so that no review looks at them; they are told as left out.
#[utoipa::path(post, path = "/v1/stores/{store}/diary", operation_id = "write_diary", tag = "review",
    request_body = NewDiaryBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        IdempotencyKey),
    responses(
        (status = 201, description = "The entry", body = DiaryBody),
        Allowed, Found, Sent))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    key: IdempotencyKey,
    Body(sent): Body<NewDiaryBody>,
) -> Result<HttpResponse, AppError> {
    let store = store_of(&store)?;
    let entry = Entry::try_from(sent)?;
    reply::send(diary::add(&deps, &caller, key.0, &store, &entry, DiaryBody::from).await?)
}

/// Withdraw an entry of a diary.
///
/// It stays where it is, with the reason, and sets nothing aside. A manager withdraws what they wrote.
#[utoipa::path(post, path = "/v1/stores/{store}/diary/{entry}/withdraw",
    operation_id = "withdraw_diary", tag = "review", request_body = DiaryWithdrawalBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("entry" = Uuid, Path, description = "The entry's id"),
        IdempotencyKey),
    responses(
        (status = 200, description = "The entry as it is now", body = DiaryBody),
        Allowed, Found, Sent,
        (status = 403, description = "Not for your role, or not what you wrote", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "It is withdrawn already", body = Problem, content_type = "application/problem+json")))]
pub async fn withdraw(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, Uuid)>,
    key: IdempotencyKey,
    Body(sent): Body<DiaryWithdrawalBody>,
) -> Result<HttpResponse, AppError> {
    let (store, entry) = path.into_inner();
    let store = store_of(&store)?;
    let mut faults = Faults::default();
    let reason = text(&mut faults, "reason", &sent.reason, TEXT_MAX);
    let withdrawal = faults.finish(reason.map(|reason| Withdrawal { reason }))?;
    let at = (&store, entry);
    reply::send(diary::withdraw(&deps, &caller, key.0, at, &withdrawal, DiaryBody::from).await?)
}
