//! Transfers between stores, on the wire.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::{BusinessDate, DateSpan};
use parings_core::night::{Transfer, TransferEnd};
use parings_core::quantity::Dimension;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::figures::transfers;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::AmountBody;
use crate::http::answers::{Allowed, Found, Queried};
use crate::http::page::{Page, PageQuery};

/// Which transfers are asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TransfersQuery {
    /// `store:CODE`, `district:CODE`, `region:CODE`, `owner:CODE`, or `network`: transfers that one
    /// of its stores recorded an end of, or is named by.
    #[param(example = "store:ford")]
    pub scope: String,
    /// The first business date.
    #[param(value_type = String, format = Date, example = "2026-06-08")]
    pub from: BusinessDate,
    /// The last business date; 100 nights at most.
    #[param(value_type = String, format = Date, example = "2026-06-14")]
    pub to: BusinessDate,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// A transfer as far as its ends tell.
#[derive(Serialize, ToSchema)]
pub struct TransferBody {
    /// Whether both ends are on record and say the same.
    pub state: TransferState,
    /// The code of the item that was moved.
    #[schema(example = "potato")]
    pub item: String,
    /// The store it left.
    #[schema(example = "ford")]
    pub from: String,
    /// The store it reached.
    #[schema(example = "weir")]
    pub to: String,
    /// What the store that gave recorded; missing while it has not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub given: Option<TransferEndBody>,
    /// What the store that received recorded; missing while it has not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub received: Option<TransferEndBody>,
    /// Of a one-sided one, since when the other end is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub one_sided_since: Option<DateTime<Utc>>,
    /// Whether it is missing for more than a day: both stores should look.
    pub overdue: bool,
}

/// How a transfer stands.
#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TransferState {
    /// Both ends say the same, as far as scales tell.
    Matched,
    /// The ends belong together and their amounts differ.
    Differs,
    /// One store has not recorded its end.
    OneSided,
}

/// An end of a transfer.
#[derive(Serialize, ToSchema)]
pub struct TransferEndBody {
    /// The id of the entry that recorded the end.
    pub entry: Uuid,
    /// Its business date.
    pub business_date: NaiveDate,
    /// How much, as purchased.
    pub amount: AmountBody,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
}

impl TransferEndBody {
    fn new(end: &TransferEnd, base: Dimension) -> Self {
        Self {
            entry: end.id.0,
            business_date: end.date.into(),
            amount: AmountBody::new(end.amount, base),
            recorded_at: end.recorded_at,
        }
    }
}

impl From<transfers::Listed> for TransferBody {
    fn from(listed: transfers::Listed) -> Self {
        let transfers::Listed { transfer, base, overdue } = listed;
        let (state, out, into) = match &transfer {
            Transfer::Matched { out, into } => (TransferState::Matched, Some(out), Some(into)),
            Transfer::Differs { out, into } => (TransferState::Differs, Some(out), Some(into)),
            Transfer::OneSided(end) => match end.direction {
                parings_core::night::Direction::Out => (TransferState::OneSided, Some(end), None),
                parings_core::night::Direction::In => (TransferState::OneSided, None, Some(end)),
            },
        };
        let givers = [out.map(|end| &end.store), into.map(|end| &end.other)];
        let takers = [out.map(|end| &end.other), into.map(|end| &end.store)];
        let named = |stores: [Option<_>; 2]| {
            stores.into_iter().flatten().next().map(ToString::to_string).unwrap_or_default()
        };
        let alone = out.xor(into);
        Self {
            state,
            item: transfer.key().1.to_string(),
            from: named(givers),
            to: named(takers),
            given: out.map(|end| TransferEndBody::new(end, base)),
            received: into.map(|end| TransferEndBody::new(end, base)),
            one_sided_since: alone.map(|end| end.recorded_at),
            overdue,
        }
    }
}

/// Transfers between stores, as a live list.
///
/// Each store records its own end. Which ends belong together is told anew whenever somebody asks:
/// the same item, opposite stores, dates no more than a day apart, each end once. No tally rests on
/// it. A store is shown the ends that name it, also those that another store recorded.
#[utoipa::path(get, path = "/v1/transfers", operation_id = "list_transfers", tag = "entries",
    params(TransfersQuery), responses(
        (status = 200, description = "A page of transfers", body = Page<TransferBody>),
        Allowed, Found, Queried,
        (status = 409, description = "The network has no settings, or a transfer does not fit its corrected item", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "The dates run backwards, or there are too many", body = Problem, content_type = "application/problem+json")))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<TransfersQuery>,
) -> Result<HttpResponse, AppError> {
    let TransfersQuery { scope, from, to, after, limit } = query.into_inner();
    let page = PageQuery { after, limit };
    let (limit, after) = (page.limit()?, page.after::<transfers::Cursor>()?);
    let scope = scope
        .parse()
        .map_err(|error| AppError::invalid("/scope", format!("this is none: {error}")))?;
    let span = DateSpan::new(from, to);
    let span = span.map_err(|error| AppError::invalid("/to", error.to_string()))?;
    let found = transfers::list(&deps, &caller, scope, span, after, limit + 1).await?;
    let page = Page::<TransferBody>::cut(found, limit, |listed| listed.transfer.key())?;
    Ok(HttpResponse::Ok().json(page))
}
