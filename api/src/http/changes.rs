//! What changed and why, on the wire.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::{BusinessDate, instant};
use parings_core::ids::StoreId;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::figures::changes::{self, ChangedNight, Changes, Event, Moments};
use crate::app::figures::rollups;
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::AmountBody;
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::entries::WhoBody;
use crate::http::nights::{maybe_instant, night_of};
use crate::http::page::{Page, PageQuery};
use crate::http::rollups::{RollupBody, RollupQuery};

/// The two moments between which changes are asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ChangesQuery {
    /// What was recorded after this moment (RFC 3339).
    #[serde(with = "instant")]
    pub since: DateTime<Utc>,
    /// And up to this one; until now when left out.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub until: Option<DateTime<Utc>>,
}

/// What changed of a night between two moments, and why.
#[derive(Serialize, ToSchema)]
pub struct ChangesBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The business date.
    pub business_date: NaiveDate,
    /// The moment after which changes are told.
    pub since: DateTime<Utc>,
    /// The moment up to which changes are told.
    pub until: DateTime<Utc>,
    /// What was recorded that touches the night's figures, oldest first: of the night itself, of
    /// those its spans of use reach back over, and portions weighed on the nights before.
    pub events: Vec<EventBody>,
    /// Whether more was recorded than is listed: ask again from the moment of the last event on.
    pub more_events: bool,
    /// The figures of the receipt that differ, each as it opens with `trace`.
    pub figures: Vec<ChangedBody>,
}

/// Something that was recorded.
#[derive(Serialize, ToSchema)]
pub struct EventBody {
    /// `revision` (a count was accepted), `entry`, `withdrawal`, `till_batch` or `restatement`.
    #[schema(example = "withdrawal")]
    pub kind: String,
    /// The night it belongs to.
    pub business_date: NaiveDate,
    /// Which: the number of the revision, the kind of the entry, the till's id of the batch.
    #[schema(example = "waste")]
    pub what: String,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// By whom; told to those who work in the store alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<WhoBody>,
    /// Why, where somebody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Whether it came after its night's count had been accepted.
    pub late: bool,
}

/// A figure that is not what it was.
#[derive(Serialize, ToSchema)]
pub struct ChangedBody {
    /// The item; missing for a figure of the night.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "potato")]
    pub item: Option<String>,
    /// The name of the figure, as `trace` takes it.
    #[schema(example = "variance")]
    pub figure: String,
    /// What it was; missing while it was unknown, which is not zero.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<AmountBody>,
    /// What it became; missing while unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<AmountBody>,
}

impl From<Event> for EventBody {
    fn from(event: Event) -> Self {
        Self {
            kind: event.kind,
            business_date: event.date.into(),
            what: event.what,
            at: event.at,
            by: event.who.map(Into::into),
            reason: event.reason,
            late: event.late,
        }
    }
}

impl From<Changes> for ChangesBody {
    fn from(changes: Changes) -> Self {
        let figure = |changed: changes::Changed| ChangedBody {
            item: changed.item.map(|item| item.to_string()),
            figure: changed.figure.word().to_owned(),
            before: changed.before.map(Into::into),
            after: changed.after.map(Into::into),
        };
        Self {
            store: changes.store.to_string(),
            business_date: changes.date.into(),
            since: changes.since,
            until: changes.until,
            events: changes.events.into_iter().map(Into::into).collect(),
            more_events: changes.more_events,
            figures: changes.figures.into_iter().map(figure).collect(),
        }
    }
}

/// What changed of a night between two moments, and why.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}/changes",
    operation_id = "list_changes", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        ChangesQuery),
    responses(
        (status = 200, description = "What was recorded, and the figures that differ", body = ChangesBody),
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "A moment is to come, or the two are in the wrong order", body = Problem, content_type = "application/problem+json")))]
pub async fn of_night(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    query: Query<ChangesQuery>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let moments = Moments { since: query.since, until: query.until };
    let changes = changes::of_night(&deps, &caller, &store, date, moments).await?;
    Ok(HttpResponse::Ok().json(ChangesBody::from(changes)))
}

/// Which roll-up, between which moments.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RollupChangesQuery {
    /// `store:CODE`, `district:CODE`, `region:CODE`, `owner:CODE`, or `network`.
    #[param(example = "district:upper")]
    pub scope: String,
    /// The first business date.
    #[param(value_type = String, format = Date, example = "2026-06-08")]
    pub from: BusinessDate,
    /// The last business date; 400 nights at most.
    #[param(value_type = String, format = Date, example = "2026-06-14")]
    pub to: BusinessDate,
    /// What was recorded after this moment (RFC 3339).
    #[serde(with = "instant")]
    pub since: DateTime<Utc>,
    /// And up to this one; until now when left out.
    #[serde(default, deserialize_with = "maybe_instant")]
    pub until: Option<DateTime<Utc>>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many nights at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// What changed of a roll-up between two moments, and the nights it comes from.
#[derive(Serialize, ToSchema)]
pub struct RollupChangesBody {
    /// The moment after which changes are told.
    pub since: DateTime<Utc>,
    /// The moment up to which changes are told.
    pub until: DateTime<Utc>,
    /// The roll-up as it was known at the first moment.
    pub before: RollupBody,
    /// The roll-up as it was known at the second.
    pub after: RollupBody,
    /// The nights that something was recorded of between the two, by date and store: those of the
    /// span, and those before it that a span of use reaches back to.
    pub nights: Page<ChangedNightBody>,
}

/// A night that something was recorded of.
#[derive(Serialize, ToSchema)]
pub struct ChangedNightBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The business date.
    pub business_date: NaiveDate,
    /// What was recorded, by kind.
    #[schema(value_type = Vec<EventSumBody>)]
    pub events: Value,
}

/// What was recorded of a night under one kind.
#[derive(Serialize, ToSchema)]
pub struct EventSumBody {
    /// `revision`, `entry`, `withdrawal`, `till_batch` or `restatement`.
    #[schema(example = "withdrawal")]
    pub kind: String,
    /// How often it happened.
    pub times: u64,
    /// When it happened the last time.
    pub last_at: DateTime<Utc>,
    /// The reasons given, five at most.
    pub reasons: Vec<String>,
}

impl From<ChangedNight> for ChangedNightBody {
    fn from(night: ChangedNight) -> Self {
        Self {
            store: night.store.to_string(),
            business_date: night.date.into(),
            events: night.events,
        }
    }
}

/// What changed of a roll-up between two moments, and the nights it comes from.
///
/// Why a figure is not what it was: the roll-up as it was known at both moments, and every night of
/// the scope that something was recorded of in between, with the reasons given. A night's own
/// changes say more of it.
#[utoipa::path(get, path = "/v1/rollups/changes", operation_id = "list_rollup_changes",
    tag = "rollups", params(RollupChangesQuery), responses(
        (status = 200, description = "Before, after, and the nights between", body = RollupChangesBody),
        Allowed, Found, Queried, SetUp,
        (status = 422, description = "The dates or moments run backwards, a moment is to come, or this would be too many nights", body = Problem, content_type = "application/problem+json")))]
pub async fn of_rollup(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<RollupChangesQuery>,
) -> Result<HttpResponse, AppError> {
    let RollupChangesQuery { scope, from, to, since, until, after, limit } = query.into_inner();
    let page = PageQuery { after, limit };
    let (limit, after) = (page.limit()?, page.after::<(BusinessDate, StoreId)>()?);
    let asked = rollups::Asked::try_from(RollupQuery::whole(scope, from, to))?;
    let moments = Moments { since, until };
    let found = changes::of_rollup(&deps, &caller, asked, moments, after, limit + 1).await?;
    let nights = Page::cut(found.nights, limit, |night| (night.date, night.store.clone()))?;
    Ok(HttpResponse::Ok().json(RollupChangesBody {
        since: found.since,
        until: found.until,
        before: (&found.before).into(),
        after: (&found.after).into(),
        nights,
    }))
}
