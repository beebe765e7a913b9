//! Parts of a count, from several people who count at once.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::night::Count;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::night::parts;
use crate::context::Caller;
use crate::error::AppError;
use crate::http::answers::{Allowed, Found, Sent, SetUp};
use crate::http::body::Body;
use crate::http::faults::Faults;
use crate::http::nights::{CountLineBody, LINES_MAX, counters, maybe_instant, night_of};
use crate::http::receipts::ReceiptBody;
use crate::http::reply::{self, IdempotencyKey};

/// What one person counted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "complete": false, "counted_by": ["Ines"], "lines": [
    { "item": "potato", "place": "cold-room", "quantity": { "value": "12.5", "unit": "kg" } }] }))]
pub struct CountPartBody {
    /// Whether every line of the sheet is answered with this part; the last one says so.
    pub complete: bool,
    /// Who counted it.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub counted_by: Vec<String>,
    /// When the device says it is.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub device_time: Option<DateTime<Utc>>,
    /// When counting began, by the device.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub started_at: Option<DateTime<Utc>>,
    /// What stood in each storage place.
    #[schema(min_items = 1, max_items = 2000)]
    pub lines: Vec<CountLineBody>,
}

impl TryFrom<CountPartBody> for Count {
    type Error = AppError;
    fn try_from(sent: CountPartBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        if sent.lines.is_empty() || sent.lines.len() > LINES_MAX {
            faults.add("lines", format!("a part has 1 to {LINES_MAX} lines"));
        }
        let counted_by = counters(&mut faults, &sent.counted_by);
        let lines = faults.each("lines", sent.lines, |f, line| line.read(f));
        let read = lines.zip(counted_by).map(|(lines, counted_by)| Self {
            complete: sent.complete,
            counted_by,
            device_time: sent.device_time,
            started_at: sent.started_at,
            lines,
            units_sold: Vec::new(),
            net_sales: None,
        });
        faults.finish(read)
    }
}

/// Add a part of a count.
///
/// Several people count at once, each in other places, and each sends their own part; no ETag is
/// needed, since a part takes nothing away. A shelf that two counted alike is counted once. One that
/// two counted differently is asked about, with both amounts as readings: choose one, or count again.
/// Until then the count is held, and nothing of it is lost.
#[utoipa::path(post, path = "/v1/stores/{store}/nights/{business_date}/parts",
    operation_id = "add_part", tag = "nights", request_body = CountPartBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        IdempotencyKey),
    responses(
        (status = 200, description = "The part is in the count", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        (status = 201, description = "It is the first part", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        (status = 202, description = "Kept; something is asked, or it needs another person's approval", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        Allowed, Found, Sent, SetUp))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    key: IdempotencyKey,
    Body(sent): Body<CountPartBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let part = Count::try_from(sent)?;
    let show = ReceiptBody::new;
    reply::send(parts::add(&deps, &caller, key.0, (&store, date), &part, show).await?)
}
