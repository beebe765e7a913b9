//! Reference documents: what head office sets, in force from a business date on.
#![expect(
    unused_qualifications,
    reason = "utoipa repeats the path of a query beside path parameters"
)]

pub mod day;
pub mod items;
pub mod limits;
pub mod menu;
mod periods;
pub mod places;

use actix_web::web::{Data, Path, Query};
use actix_web::{HttpResponse, http::header};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::{BusinessDate, instant};
use parings_core::catalog::{Document, Kind};
use parings_core::ids::{ItemId, WriteId};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{AnyOfBuilder, RefBuilder, Schema};
use utoipa::{IntoParams, PartialSchema, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::writes::Operation;
use crate::app::office::reference::{self, AsOf, Change, Version};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Expecting, Found, OfficeOnly, Queried, Sent, SignedIn};
use crate::http::body::{Body, read_value};
use crate::http::faults::Faults;
use crate::http::page::{Page, PageQuery};
use crate::http::reply::{self, IdempotencyKey, Precondition};

macro_rules! documents {
    ($($(#[$doc:meta])* $kind:ident($body:ty) by $read:ident;)*) => {
        /// A reference document. Which shape it has goes by the kind in the path.
        #[derive(Debug, Clone, Serialize)]
        #[serde(untagged)]
        pub enum DocumentBody { $($(#[$doc])* $kind($body),)* }

        // The derive would say `oneOf`, which forbids that regions, owners and formats look alike.
        impl PartialSchema for DocumentBody {
            fn schema() -> RefOr<Schema> {
                let any = AnyOfBuilder::new()
                    .description(Some("A reference document; its shape goes by the kind in the path."));
                $(let any = any.item(
                    RefBuilder::new()
                        .ref_location_from_schema_name(<$body>::name())
                        .description(Some(format!("Under `{}`.", Kind::$kind.word()))),
                );)*
                any.into()
            }
        }

        impl ToSchema for DocumentBody {
            fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
                $(schemas.push((<$body>::name().into_owned(), <$body>::schema()));
                <$body>::schemas(schemas);)*
            }
        }

        /// Reads a document of a kind; every fault is told, with its place under `/document`.
        ///
        /// # Errors
        /// As said.
        pub fn read_document(kind: Kind, sent: &Value) -> Result<Document, AppError> {
            let mut faults = Faults::at("/document");
            let read = match kind {
                $(Kind::$kind => read_value::<$body>(sent, "/document")?
                    .$read(&mut faults)
                    .map(Document::$kind),)*
            };
            faults.finish(read)
        }

        impl From<&Document> for DocumentBody {
            fn from(document: &Document) -> Self {
                match document {
                    $(Document::$kind(body) => Self::$kind(body.into()),)*
                }
            }
        }
    };
}

// Those that ask for most stand first: a client that takes the first shape that a document fits
// loses nothing of it.
documents! {
    /// Under `settings`; its one code is `network`.
    Settings(day::SettingsBody) by read;
    /// Under `stores`.
    Store(places::StoreBody) by read;
    /// Under `items`.
    Item(items::ItemBody) by read;
    /// Under `districts`.
    District(places::DistrictBody) by read;
    /// Under `places`.
    Place(places::PlaceBody) by read;
    /// Under `dayparts`.
    Dayparts(day::DaypartsBody) by read;
    /// Under `reasons`.
    Reason(day::ReasonBody) by read;
    /// Under `prices`.
    Price(items::PriceBody) by read;
    /// Under `products`.
    Product(menu::ProductBody) by read;
    /// Under `additions`.
    Addition(menu::AdditionBody) by read;
    /// Under `channels`.
    Channel(day::ChannelBody) by read;
    /// Under `regions`.
    Region(places::TitledBody) by region;
    /// Under `owners`.
    Owner(places::TitledBody) by owner;
    /// Under `formats`.
    Format(places::TitledBody) by format;
}

/// A version of a document.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DocumentVersionBody {
    /// The kind of document, as in the address.
    #[schema(example = "items")]
    pub kind: String,
    /// The document's code.
    #[schema(example = "potato")]
    pub code: String,
    /// The version's id; its ETag, without the quotation marks.
    pub version: i64,
    /// The first business date it holds for.
    pub valid_from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// By whom; missing for the starting values, and where the caller is not told who it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorded_by: Option<Uuid>,
    /// Why, where a reason was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Whether it ends the document.
    pub retired: bool,
    /// What it says; of one that ends the document, what the document said last.
    pub document: DocumentBody,
}

impl From<Version> for DocumentVersionBody {
    fn from(version: Version) -> Self {
        Self {
            kind: version.kind.word().to_owned(),
            document: (&version.document).into(),
            code: version.code,
            version: version.id,
            valid_from: version.valid_from.into(),
            recorded_at: version.recorded_at,
            recorded_by: version.recorded_by.map(|person| person.0),
            reason: version.reason,
            retired: version.retired,
        }
    }
}

/// As of when, and which page.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ListQuery {
    /// The business date; today in UTC when left out.
    #[param(value_type = Option<NaiveDate>)]
    pub on: Option<BusinessDate>,
    /// Only what was recorded by then counts; now when left out.
    #[param(value_type = Option<DateTime<Utc>>)]
    pub known_at: Option<String>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// The date and moment that documents are asked for.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct AsOfQuery {
    /// The business date; today in UTC when left out.
    #[param(value_type = Option<NaiveDate>)]
    pub on: Option<BusinessDate>,
    /// Only what was recorded by then counts; now when left out.
    #[param(value_type = Option<DateTime<Utc>>)]
    pub known_at: Option<String>,
}

fn as_of(on: Option<BusinessDate>, known_at: Option<&str>) -> Result<AsOf, AppError> {
    let known_at = known_at.map(instant::parse).transpose();
    let known_at = known_at.map_err(|e| AppError::Unreadable(format!("known_at: {e}")))?;
    Ok(AsOf { on, known_at })
}

/// What a document is to say from a business date on.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "submission_id": "018f2f9e-0000-7000-8000-000000000001",
    "valid_from": "2026-07-01",
    "document": { "price": "20.41", "per": { "value": "1", "unit": "bag" } },
}))]
pub struct DocumentChangeBody {
    /// The client's own id of this write.
    pub submission_id: Uuid,
    /// The first business date it holds for. Today in UTC or earlier restates the past and needs a
    /// reason, unless nothing was recorded for the document before.
    #[schema(value_type = NaiveDate)]
    pub valid_from: BusinessDate,
    /// What the document is to say; its shape goes by the kind in the path.
    #[schema(value_type = DocumentBody)]
    pub document: Value,
    /// Why the past is restated; may be left out where it is not.
    #[serde(default)]
    pub reason: Option<String>,
}

/// From when on a document is to be no more.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RetireBody {
    /// The first business date without it.
    #[schema(value_type = NaiveDate)]
    pub valid_from: BusinessDate,
    /// Why the document is retired.
    #[schema(example = "Off the menu")]
    pub reason: String,
}

fn kind_of(word: &str) -> Result<Kind, AppError> {
    Kind::from_word(word).ok_or_else(|| AppError::not_found(format!("kind \"{word}\"")))
}

/// A reason as it is kept: not blank, not endless.
fn reason_of(sent: &str) -> Result<String, AppError> {
    let reason = sent.trim();
    if reason.is_empty() || reason.chars().count() > 500 {
        return Err(AppError::invalid("/reason", "a reason has 1 to 500 characters"));
    }
    Ok(reason.to_owned())
}

fn show(version: Version) -> HttpResponse {
    let etag = version.etag();
    HttpResponse::Ok().insert_header((header::ETAG, etag)).json(DocumentVersionBody::from(version))
}

/// Documents of a kind in force on a date.
///
/// In order of their codes. Of stores, those the caller may see.
#[utoipa::path(get, path = "/v1/reference/{kind}", operation_id = "list_documents", tag = "reference",
    params(("kind" = String, Path, example = "items",
        description = "settings, regions, districts, owners, formats, places, stores, dayparts, channels, reasons, items, prices, products or additions"),
        ListQuery), responses(
        (status = 200, description = "A page of documents", body = Page<DocumentVersionBody>),
        SignedIn, Found, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    kind: Path<String>,
    query: Query<ListQuery>,
) -> Result<HttpResponse, AppError> {
    let query = query.into_inner();
    let kind = kind_of(&kind)?;
    let as_of = as_of(query.on, query.known_at.as_deref())?;
    let page = PageQuery { after: query.after, limit: query.limit };
    let (limit, after) = (page.limit()?, page.after()?);
    let found = reference::list(&deps, &caller, kind, as_of, after, limit + 1).await?;
    Ok(HttpResponse::Ok().json(Page::<DocumentVersionBody>::cut(found, limit, |v| v.code.clone())?))
}

/// A document in force on a date.
#[utoipa::path(get, path = "/v1/reference/{kind}/{code}", operation_id = "read_document", tag = "reference",
    params(("kind" = String, Path, description = "The kind", example = "items"),
        ("code" = String, Path, description = "The document's code", example = "potato"), AsOfQuery),
    responses(
        (status = 200, description = "The document", body = DocumentVersionBody,
        headers(("ETag" = String, description = "For If-Match of a change that starts on this date"))),
        SignedIn, Found, Queried))]
pub async fn find(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, String)>,
    query: Query<AsOfQuery>,
) -> Result<HttpResponse, AppError> {
    let (kind, code) = path.into_inner();
    let as_of = as_of(query.on, query.known_at.as_deref())?;
    Ok(show(reference::find(&deps, &caller, kind_of(&kind)?, &code, as_of).await?))
}

/// Every version of a document, the one recorded last first.
#[utoipa::path(get, path = "/v1/reference/{kind}/{code}/versions", tag = "reference",
    params(("kind" = String, Path, description = "The kind", example = "items"),
        ("code" = String, Path, description = "The document's code", example = "potato"), PageQuery),
    responses(
        (status = 200, description = "A page of versions", body = Page<DocumentVersionBody>),
        SignedIn, Found, Queried))]
pub async fn versions(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, String)>,
    query: Query<PageQuery>,
) -> Result<HttpResponse, AppError> {
    let (kind, code) = path.into_inner();
    let (limit, before) = (query.limit()?, query.after()?);
    let kind = kind_of(&kind)?;
    let found = reference::history(&deps, &caller, kind, &code, before, limit + 1).await?;
    Ok(HttpResponse::Ok().json(Page::<DocumentVersionBody>::cut(found, limit, |v| v.id)?))
}

/// Create or change a document from a business date on.
///
/// An ordinary change starts on a future date. One that starts today in UTC or earlier restates the
/// past and needs a reason; the first version of a document may start in the past without one.
/// A restated document reaches the figures of nights already tallied through `/v1/restatements`.
/// `If-Match` takes the ETag of the version in force on `valid_from`, which `?on=` reads.
#[utoipa::path(put, path = "/v1/reference/{kind}/{code}", tag = "reference",
    request_body = DocumentChangeBody,
    params(("kind" = String, Path, description = "The kind", example = "items"),
        ("code" = String, Path, description = "The document's code", example = "potato"),
        ("If-None-Match" = Option<String>, Header, description = "`*` to create"),
        ("If-Match" = Option<String>, Header, description = "The ETag last read, to change")),
    responses(
        (status = 200, description = "Changed", body = DocumentVersionBody,
        headers(("ETag" = String, description = "For If-Match"))),
        (status = 201, description = "Created", body = DocumentVersionBody,
        headers(("ETag" = String, description = "For If-Match"))),
        OfficeOnly, Found, Sent, Expecting,
        (status = 409, description = "Documents that name this one would not hold any more", body = Problem, content_type = "application/problem+json")))]
pub async fn change(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, String)>,
    operation: Operation,
    expected: Precondition,
    Body(sent): Body<DocumentChangeBody>,
) -> Result<HttpResponse, AppError> {
    let (kind, code) = path.into_inner();
    let kind = kind_of(&kind)?;
    // Every kind of code has the same shape.
    let shaped = code.parse::<ItemId>().map(|_| ());
    let shaped = shaped.map_err(|e| AppError::invalid("", e.to_string()));
    let reason = sent.reason.as_deref().map(reason_of).transpose();
    let document = read_document(kind, &sent.document);
    let (_, reason, document) = all_of(shaped, reason, document)?;
    let write = operation.under(WriteId(sent.submission_id));
    let (valid_from, document) = (sent.valid_from, Some(document));
    let change = Change { write, kind, code, valid_from, reason, document };
    reply::send(
        reference::change(&deps, &caller, &expected.0, change, DocumentVersionBody::from).await?,
    )
}

/// All three, or the faults of all three.
fn all_of<A, B, C>(
    a: Result<A, AppError>,
    b: Result<B, AppError>,
    c: Result<C, AppError>,
) -> Result<(A, B, C), AppError> {
    match (a, b, c) {
        (Ok(a), Ok(b), Ok(c)) => Ok((a, b, c)),
        (a, b, c) => {
            let mut faults = Vec::new();
            for error in [a.err(), b.err(), c.err()].into_iter().flatten() {
                match error {
                    AppError::Invalid(found) => faults.extend(found),
                    other => return Err(other),
                }
            }
            Err(AppError::Invalid(faults))
        }
    }
}

/// End a document from a business date on.
///
/// It stays readable for the dates it was in force on. Not while others name it.
#[utoipa::path(post, path = "/v1/reference/{kind}/{code}/retire", tag = "reference",
    request_body = RetireBody,
    params(("kind" = String, Path, description = "The kind", example = "items"),
        ("code" = String, Path, description = "The document's code", example = "potato"),
        IdempotencyKey,
        ("If-Match" = String, Header, description = "The ETag of the version in force on that date")),
    responses(
        (status = 200, description = "Ended", body = DocumentVersionBody,
        headers(("ETag" = String, description = "Of the version that ends it"))),
        OfficeOnly, Found, Sent, Expecting,
        (status = 409, description = "Others still name it", body = Problem, content_type = "application/problem+json")))]
pub async fn retire(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, String)>,
    key: IdempotencyKey,
    expected: Precondition,
    Body(sent): Body<RetireBody>,
) -> Result<HttpResponse, AppError> {
    let (kind, code) = path.into_inner();
    let change = Change {
        write: key.0,
        kind: kind_of(&kind)?,
        code,
        valid_from: sent.valid_from,
        reason: Some(reason_of(&sent.reason)?),
        document: None,
    };
    reply::send(
        reference::change(&deps, &caller, &expected.0, change, DocumentVersionBody::from).await?,
    )
}
