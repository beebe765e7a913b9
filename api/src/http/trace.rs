//! A figure opened to its rows, on the wire.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::tally::Sign;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::night::trace::{self, Trace, TracedRow, Version, Worth};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::AmountBody;
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::nights::{maybe_instant, night_of};
use crate::http::quantity::Number;

/// Which figure to open.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct TraceQuery {
    /// The item; left out for `sales` and `tickets`.
    #[param(example = "potato")]
    pub item: Option<String>,
    /// The figure, by the name it has in the receipt: of an item `opening`, `received`,
    /// `transferred_in`, `transferred_out`, `made`, `safety`, `closing`, `used`, `made_into`, `expected`,
    /// `variance`, `waste`, `yield_loss`, `over_portioning`, `unexplained`, `wasted`,
    /// `wasted_for_safety`; of the night `sales`, `tickets`.
    #[param(example = "variance")]
    pub figure: String,
    /// The figure as it was known at this moment (RFC 3339); as it is known now when left out.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub as_known_at: Option<DateTime<Utc>>,
}

/// A figure, and everything it rests on.
#[derive(Serialize, ToSchema)]
pub struct TraceBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The business date.
    pub business_date: NaiveDate,
    /// The name of the figure.
    #[schema(example = "variance")]
    pub figure: String,
    /// The item; missing for a figure of the night.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "potato")]
    pub item: Option<String>,
    /// What it comes to, to the digit; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<AmountBody>,
    /// Why it is unknown; missing while it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unknown: Option<String>,
    /// How it is worked out, in words.
    #[schema(example = "used − made into − expected.")]
    pub formula: String,
    /// The date of the count before, where the figure reaches back to it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub since: Option<NaiveDate>,
    /// The version of the rules.
    pub rules: i16,
    /// The rows of the date rest on the reference data known at this moment.
    pub known_at: DateTime<Utc>,
    /// What it is worked out from; none where rows add up to it by themselves.
    pub terms: Vec<TermBody>,
    /// The rows. What they add comes to `value` in every digit: a row is the step that the sum,
    /// rounded once a night, takes with it, so it may be a thousandth off its own amount. Withdrawn
    /// entries and lines that a later one replaced are not among them, and nobody is named.
    pub rows: Vec<RowBody>,
    /// The versions of documents that the rows rest on, each as the night of its row knew it.
    pub reference: Vec<TracedVersionBody>,
    /// Nights that the figure reaches over and you may not see, such as from before the store came
    /// to your district. Their rows are missing.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unseen: Vec<NaiveDate>,
}

/// A figure that another is worked out from; it opens in the same way.
#[derive(Serialize, ToSchema)]
pub struct TermBody {
    /// The name of the figure that goes in.
    #[schema(example = "expected")]
    pub name: String,
    /// What it comes to; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<AmountBody>,
    /// Whether it is added or taken away.
    pub sign: SignBody,
}

/// Added or taken away.
#[derive(Serialize, ToSchema)]
pub enum SignBody {
    /// It is added to the figure.
    #[serde(rename = "+")]
    Plus,
    /// It is taken away from the figure.
    #[serde(rename = "-")]
    Minus,
}

/// A row behind a figure.
#[derive(Serialize, ToSchema)]
pub struct RowBody {
    /// `count_line`, `units_sold`, `net_sales`, `sale`, `ticket`, or the kind of an entry.
    #[schema(example = "waste")]
    pub kind: String,
    /// An entry's own id; of the till `batch/sales/line` or `batch/tickets/line`; of the count
    /// `r` and its revision, `/lines/` and the line, counted from 0.
    #[schema(example = "r2/lines/0")]
    pub id: String,
    /// Its business date.
    pub business_date: NaiveDate,
    /// The figure whose rows it is one of, where several make up the figure asked for.
    #[schema(example = "waste")]
    pub term: String,
    /// What it says, as typed.
    #[schema(example = "4.3 kg of potato thrown away, stage chill, reason expired")]
    pub says: String,
    /// What it adds to the figure, as purchased; below zero where it takes away.
    pub amount: AmountBody,
}

/// A version of a document.
#[derive(Serialize, ToSchema)]
pub struct TracedVersionBody {
    /// The document's kind.
    #[schema(example = "items")]
    pub kind: String,
    /// The code of the document.
    #[schema(example = "potato")]
    pub code: String,
    /// The version, which is also its ETag.
    pub version: i64,
    /// The first business date it holds for.
    pub valid_from: NaiveDate,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
}

impl From<Worth> for AmountBody {
    fn from(worth: Worth) -> Self {
        match worth {
            Worth::Amount(amount, dimension) => Self::exact(amount, dimension),
            Worth::Money(sum, currency) => Self::of_money(sum, &currency),
            Worth::Orders(orders) => {
                Self { value: Number(orders.into()), unit: "order".to_owned() }
            }
        }
    }
}

impl From<TracedRow> for RowBody {
    fn from(row: TracedRow) -> Self {
        Self {
            kind: row.kind.to_owned(),
            id: row.id,
            business_date: row.date.into(),
            term: row.term.word().to_owned(),
            says: row.says,
            amount: row.adds.into(),
        }
    }
}

impl From<Version> for TracedVersionBody {
    fn from(row: Version) -> Self {
        Self {
            kind: row.kind,
            code: row.code,
            version: row.id,
            valid_from: row.valid_from.into(),
            recorded_at: row.recorded_at,
        }
    }
}

impl From<Trace> for TraceBody {
    fn from(trace: Trace) -> Self {
        let term = |(sign, term, value): (Sign, parings_core::tally::Figure, Option<Worth>)| {
            let sign = match sign {
                Sign::Plus => SignBody::Plus,
                Sign::Minus => SignBody::Minus,
            };
            TermBody { name: term.word().to_owned(), value: value.map(Into::into), sign }
        };
        Self {
            store: trace.store.to_string(),
            business_date: trace.date.into(),
            figure: trace.figure.word().to_owned(),
            item: trace.item.map(|item| item.to_string()),
            value: trace.value.map(Into::into),
            unknown: trace.unknown.map(str::to_owned),
            formula: trace.figure.formula().to_owned(),
            since: trace.since.map(Into::into),
            rules: trace.rules,
            known_at: trace.known_at,
            terms: trace.terms.into_iter().map(term).collect(),
            rows: trace.rows.into_iter().map(Into::into).collect(),
            reference: trace.reference.into_iter().map(Into::into).collect(),
            unseen: trace.unseen.into_iter().map(Into::into).collect(),
        }
    }
}

/// Open a figure of a night's receipt to the rows, the rules and the reference data behind it.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}/trace",
    operation_id = "trace_figure", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        TraceQuery),
    responses(
        (status = 200, description = "The figure and what it rests on", body = TraceBody),
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "The night has no such figure or item; the answer lists those it has", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    query: Query<TraceQuery>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let (item, figure) = (query.item.as_deref(), query.figure.as_str());
    let trace =
        trace::read(&deps, &caller, (&store, date), item, figure, query.as_known_at).await?;
    Ok(HttpResponse::Ok().json(TraceBody::from(trace)))
}
