//! Standard pars: sets of head office, their publications, and what applies to a store.

mod body;
mod store;

use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{ParSetId, WriteId};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::demand::pars::{self, Draft, Drafted, Publishing};
use crate::app::ground::writes::Operation;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Expecting, Found, OfficeOnly, Queried, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::page::{Page, PageQuery};
use crate::http::reply::{self, IdempotencyKey, Precondition};
use crate::http::stores::store_of;

pub use body::{
    AppliedBody, ChangeWord, ComparedParSetBody, DraftBody, DraftedBody, ParSetBody,
    PublicationBody, PublishedBody,
};
pub use store::{InForceBody, StoreParsBody};

const REASON_MAX: usize = 500;

fn set_of(code: &str) -> Result<ParSetId, AppError> {
    code.parse().map_err(|_| AppError::not_found("par set of this name"))
}

fn show(drafted: Drafted) -> HttpResponse {
    let etag = drafted.etag();
    HttpResponse::Ok().insert_header((header::ETAG, etag)).json(DraftedBody::from(drafted))
}

/// Every set of standard pars, each as it was revised last, in order of their codes.
#[utoipa::path(get, path = "/v1/par-sets", operation_id = "list_par_sets", tag = "pars",
    params(PageQuery), responses(
        (status = 200, description = "A page of sets", body = Page<DraftedBody>),
        OfficeOnly, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<PageQuery>,
) -> Result<HttpResponse, AppError> {
    let (limit, after) = (query.limit()?, query.after()?);
    let found = pars::list(&deps, &caller, after, limit + 1).await?;
    let page = Page::<DraftedBody>::cut(found, limit, |drafted| drafted.revision.set.clone())?;
    Ok(HttpResponse::Ok().json(page))
}

/// Which revision of a set is asked for.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RevisionQuery {
    /// Its number; the last when left out.
    #[param(minimum = 1)]
    pub revision: Option<u32>,
}

/// A set of standard pars.
#[utoipa::path(get, path = "/v1/par-sets/{code}", operation_id = "read_par_set", tag = "pars",
    params(("code" = String, Path, description = "The set's code", example = "autumn"),
        RevisionQuery), responses(
        (status = 200, description = "The revision", body = DraftedBody,
        headers(("ETag" = String, description = "Of the last revision: for If-Match"))),
        OfficeOnly, Found, Queried,
        (status = 404, description = "No such set or revision", body = Problem, content_type = "application/problem+json")))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    code: Path<String>,
    query: Query<RevisionQuery>,
) -> Result<HttpResponse, AppError> {
    Ok(show(pars::find(&deps, &caller, &set_of(&code)?, query.revision).await?))
}

/// Create or revise a set of standard pars.
///
/// Every revision stays. It changes nothing in a store until it is published; one that is in force
/// stays in force while the set is revised. What the set names is checked when it is published, and
/// shown by its difference before.
#[utoipa::path(put, path = "/v1/par-sets/{code}", operation_id = "save_par_set", tag = "pars",
    request_body = DraftBody,
    params(("code" = String, Path, description = "The set's code", example = "autumn"),
        ("If-None-Match" = Option<String>, Header, description = "`*` to create"),
        ("If-Match" = Option<String>, Header, description = "The ETag last read, to revise")),
    responses(
        (status = 200, description = "Revised", body = DraftedBody,
        headers(("ETag" = String, description = "For If-Match"))),
        (status = 201, description = "Created", body = DraftedBody,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Sent, Expecting))]
pub async fn save(
    deps: Data<Deps>,
    caller: Caller,
    code: Path<String>,
    operation: Operation,
    expected: Precondition,
    Body(sent): Body<DraftBody>,
) -> Result<HttpResponse, AppError> {
    let code = set_of(&code)?;
    let draft = match sent.document {
        None => Draft::CopyInForce,
        Some(document) => {
            let mut faults = Faults::at("/document");
            let read = document.read(&mut faults);
            Draft::As(Box::new(faults.finish(read)?))
        }
    };
    let write = operation.under(WriteId(sent.submission_id));
    let saved = pars::save(&deps, &caller, write, &expected.0, &code, draft, DraftedBody::from);
    reply::send(saved.await?)
}

/// For which business date it is asked.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct OnQuery {
    /// The business date; tomorrow in UTC when left out.
    #[param(value_type = Option<NaiveDate>)]
    pub on: Option<BusinessDate>,
}

/// What a set would change if it were published from a date on.
///
/// It is compared with the set in force on that date, as known now, by what applies: taking out what
/// a format had for itself changes its amount to the default's.
#[utoipa::path(get, path = "/v1/par-sets/{code}/difference", operation_id = "compare_par_set", tag = "pars",
    params(("code" = String, Path, description = "The set's code", example = "autumn"), OnQuery),
    responses(
        (status = 200, description = "The difference, and what would be refused", body = ComparedParSetBody),
        OfficeOnly, Found, Queried))]
pub async fn difference(
    deps: Data<Deps>,
    caller: Caller,
    code: Path<String>,
    query: Query<OnQuery>,
) -> Result<HttpResponse, AppError> {
    let found = pars::difference(&deps, &caller, &set_of(&code)?, query.on).await?;
    Ok(HttpResponse::Ok().json(ComparedParSetBody::from(found)))
}

/// From when on a set is to be in force, and why.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PublishBody {
    /// The first business date: one that has begun in no store, each by its own clock.
    #[schema(value_type = NaiveDate)]
    pub from: BusinessDate,
    /// Why it is published.
    #[schema(min_length = 1, max_length = 500, example = "More dinners since the fair began")]
    pub reason: String,
}

/// Publish a set from a business date on.
///
/// The date lies in the future in every store, by its own zone and cut-off. What begins later takes
/// its place then; publishing again from a date takes the place of what was to begin on it.
#[utoipa::path(post, path = "/v1/par-sets/{code}/publish", operation_id = "publish_par_set", tag = "pars",
    request_body = PublishBody,
    params(("code" = String, Path, description = "The set's code", example = "autumn"),
        IdempotencyKey,
        ("If-Match" = String, Header, description = "The ETag of the revision to publish, the last")),
    responses(
        (status = 201, description = "Published", body = PublishedBody),
        OfficeOnly, Found, Sent, Expecting,
        (status = 422, description = "The date has begun in some store (the earliest that has not is told), the set names what is not in force on it, or the id belongs to another write", body = Problem, content_type = "application/problem+json")))]
pub async fn publish(
    deps: Data<Deps>,
    caller: Caller,
    code: Path<String>,
    key: IdempotencyKey,
    expected: Precondition,
    Body(sent): Body<PublishBody>,
) -> Result<HttpResponse, AppError> {
    let code = set_of(&code)?;
    let reason = reason_of(&sent.reason)?;
    let publishing = Publishing { write: key.0, code, from: sent.from, reason };
    let done = pars::publish(&deps, &caller, &expected.0, &publishing, PublishedBody::from);
    reply::send(done.await?)
}

fn reason_of(sent: &str) -> Result<String, AppError> {
    let mut faults = Faults::default();
    let reason = text(&mut faults, "reason", sent, REASON_MAX);
    faults.finish(reason)
}

/// Why the set that was in force before is put back.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RollBackBody {
    /// Why it is rolled back.
    #[schema(min_length = 1, max_length = 500, example = "Three stores ran out at dinner")]
    pub reason: String,
}

/// Put the set back that was in force before.
///
/// The last publication is taken back by a new one: from the first date that has begun in no store, or
/// in its very place while it is still to come. Nothing that was published is changed. A roll-back can
/// be taken back the same way.
#[utoipa::path(post, path = "/v1/par-publications/roll-back", operation_id = "roll_back_pars", tag = "pars",
    request_body = RollBackBody,
    params(IdempotencyKey),
    responses(
        (status = 201, description = "Put back", body = PublishedBody),
        OfficeOnly, Sent,
        (status = 409, description = "No other set was in force before, or it does not hold any more", body = Problem, content_type = "application/problem+json")))]
pub async fn roll_back(
    deps: Data<Deps>,
    caller: Caller,
    key: IdempotencyKey,
    Body(sent): Body<RollBackBody>,
) -> Result<HttpResponse, AppError> {
    let reason = reason_of(&sent.reason)?;
    reply::send(pars::roll_back(&deps, &caller, key.0, &reason, PublishedBody::from).await?)
}

/// Which page of the publications.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct HistoryQuery {
    /// Only what was recorded by then; everything when left out.
    pub known_at: Option<DateTime<Utc>>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// Every publication, the one recorded last first.
///
/// In force on a date is the one with the latest first date of those that have begun; of several with
/// that first date, the one recorded last.
#[utoipa::path(get, path = "/v1/par-publications", operation_id = "list_par_publications", tag = "pars",
    params(HistoryQuery), responses(
        (status = 200, description = "A page of publications", body = Page<PublicationBody>),
        OfficeOnly, Queried))]
pub async fn history(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<HistoryQuery>,
) -> Result<HttpResponse, AppError> {
    let HistoryQuery { known_at, after, limit } = query.into_inner();
    let page = PageQuery { after, limit };
    let (limit, before) = (page.limit()?, page.after()?);
    let found = pars::history(&deps, &caller, known_at, before, limit + 1).await?;
    Ok(HttpResponse::Ok().json(Page::<PublicationBody>::cut(found, limit, |p| p.id.0)?))
}

/// Which date, and as known when.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct StoreParsQuery {
    /// The business date.
    #[param(value_type = String, format = Date)]
    pub date: BusinessDate,
    /// Only what was recorded by then counts; now when left out.
    pub as_known_at: Option<DateTime<Utc>>,
}

/// The pars that apply to a store on a date: how much of which item is to be ready when each daypart
/// begins.
///
/// The store's format decides, else the default. Where the set before it said something else for that
/// weekday, the old and the new amount stand beside each other with the reason.
#[utoipa::path(get, path = "/v1/stores/{store}/pars", operation_id = "read_pars", tag = "pars",
    params(("store" = String, Path, description = "The store's code", example = "ford"),
        StoreParsQuery), responses(
        (status = 200, description = "The pars; of a closed day there are none", body = StoreParsBody),
        Allowed, Found, Queried,
        (status = 403, description = "Not for tills", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "The moment is still to come", body = Problem, content_type = "application/problem+json")))]
pub async fn of_store(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<StoreParsQuery>,
) -> Result<HttpResponse, AppError> {
    let store = store_of(&store)?;
    let found = pars::of_store(&deps, &caller, &store, query.date, query.as_known_at).await?;
    Ok(HttpResponse::Ok().json(StoreParsBody::from(found)))
}
