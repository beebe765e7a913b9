//! Approvals: another person's word on a change of a locked night.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path};
use chrono::NaiveDate;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::app::Deps;
use crate::app::night::approvals::{self, Decision};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::nights::night_of;
use crate::http::receipts::ReceiptBody;
use crate::http::reply::{self, IdempotencyKey};

/// The most characters of a reason.
const REASON_MAX: usize = 500;

/// A decision about a proposed change.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ApprovalBody {
    /// The number of the proposed revision.
    pub revision: i32,
    /// Whether it is to stand.
    pub approve: bool,
    /// Why it is approved or declined.
    #[schema(min_length = 1, max_length = 500)]
    pub reason: String,
}

impl TryFrom<ApprovalBody> for Decision {
    type Error = AppError;
    fn try_from(sent: ApprovalBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        let reason = text(&mut faults, "reason", &sent.reason, REASON_MAX);
        let (revision, approve) = (sent.revision, sent.approve);
        faults.finish(reason.map(|reason| Self { revision, approve, reason }))
    }
}

/// Approve a change of a locked night, or decline it.
///
/// Not for who proposed it: for another manager of the store, the coach of its district, or head
/// office. Approved, the count stands and the entries that came with it are made and withdrawn in the
/// name of who proposed them.
#[utoipa::path(post, path = "/v1/stores/{store}/nights/{business_date}/approvals",
    operation_id = "decide_night", tag = "nights", request_body = ApprovalBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        IdempotencyKey),
    responses(
        (status = 200, description = "Decided; the receipt of the night as it stands", body = ReceiptBody,
            headers(("ETag" = String, description = "Of the last revision"))),
        Allowed, Found, Sent,
        (status = 403, description = "Not for this role, or not for who proposed it", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "No such proposal waits", body = Problem, content_type = "application/problem+json")))]
pub async fn decide(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    key: IdempotencyKey,
    Body(sent): Body<ApprovalBody>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let decision = Decision::try_from(sent)?;
    let at = (&store, date);
    reply::send(approvals::decide(&deps, &caller, key.0, at, &decision, ReceiptBody::new).await?)
}
