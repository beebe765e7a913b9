//! Why a finding may be.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::NaiveDate;
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::review::{Cause, Considered, Measure};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::watch::causes::{self, Question};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried};
use crate::http::review::{EstimateBody, ratio};

/// What is asked about: what a finding or a case says.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CausesQuery {
    /// `use`, `recorded_waste`, `batch_yield`, `lateness` or `count_habit`.
    #[param(example = "use")]
    pub measure: String,
    /// Since when it stands out.
    #[param(value_type = String, format = Date, example = "2026-06-02")]
    pub since: BusinessDate,
    /// The last night looked at; the last that is over when left out.
    #[param(value_type = Option<String>, format = Date, example = "2026-06-14")]
    pub as_of: Option<BusinessDate>,
}

/// A cause that was considered.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CauseBody {
    /// `count`: something is counted, typed or weighed wrong; always first. `waste`, `batches`,
    /// `portions`, `lot`, `daypart`, `weekday`, or `change`: something that changed when it began.
    #[schema(example = "portions")]
    pub cause: String,
    /// What speaks for it.
    pub speaks_for: Vec<String>,
    /// What speaks against it.
    pub speaks_against: Vec<String>,
    /// How much of the change it would explain, as a part of the ratio; missing where that cannot be
    /// told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<EstimateBody>,
    /// Where the figures behind it are.
    pub rows: Vec<String>,
}

/// Why a finding may be.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CausesBody {
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The word of the measure that stands out.
    #[schema(example = "use")]
    pub measure: String,
    /// The first of the nights that are compared with.
    pub before: NaiveDate,
    /// Since when it stands out.
    pub since: NaiveDate,
    /// The last night looked at.
    pub as_of: NaiveDate,
    /// The causes that were considered: a fault of the count first, then what more speaks for than
    /// against, those that explain most first.
    pub causes: Vec<CauseBody>,
    /// Three things to look at on site.
    #[schema(min_items = 3, max_items = 3)]
    pub look_at: Vec<String>,
}

/// The addresses where the figures behind a cause are.
fn rows(cause: Cause, store: &StoreId, [before, since, as_of]: [BusinessDate; 3]) -> Vec<String> {
    let rollup = |by: &str, from: BusinessDate, to: BusinessDate| {
        format!("/v1/rollups?scope=store:{store}&from={from}&to={to}&by={by}")
    };
    let night = format!("/v1/stores/{store}/nights/{as_of}");
    match cause {
        Cause::Count => vec![night.clone(), format!("{night}/revisions")],
        Cause::Waste | Cause::Batches | Cause::Portions | Cause::Daypart | Cause::Weekday => {
            vec![rollup("week", before, since.pred()), rollup("week", since, as_of)]
        }
        Cause::Lot => vec![format!("/v1/stores/{store}/entries?business_date={since}")],
        Cause::Change => vec![format!(
            "/v1/stores/{store}/diary?from={}&to={}",
            since.plus_days(-7),
            since.plus_days(7)
        )],
    }
}

fn body(of: Considered, rows: Vec<String>) -> CauseBody {
    CauseBody {
        cause: of.cause.word().to_owned(),
        speaks_for: of.speaks_for,
        speaks_against: of.speaks_against,
        part: of.part.map(|(part, range)| EstimateBody {
            value: ratio(part),
            low: ratio(range.low),
            high: ratio(range.high),
        }),
        rows,
    }
}

/// Why a finding may be: causes, with what speaks for and against each.
///
/// A fault of the count is always considered first. Nothing here is a verdict: it says where to look.
/// Work beside hot oil goes by the maker's manual and local rules. Nothing is weighed of nights before the
/// store came to its district and owner.
#[utoipa::path(get, path = "/v1/stores/{store}/causes", operation_id = "read_causes", tag = "review",
    params(("store" = String, Path, description = "The store's code", example = "ford"), CausesQuery),
    responses(
        (status = 200, description = "The causes", body = CausesBody),
        Allowed, Found, Queried,
        (status = 422, description = "No such measure, or the nights are to come, too many, or another place's", body = Problem, content_type = "application/problem+json")))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    store: Path<String>,
    query: Query<CausesQuery>,
) -> Result<HttpResponse, AppError> {
    let store: StoreId = store.parse().map_err(|_| AppError::not_found("store of this name"))?;
    let measure = Measure::ALL.iter().find(|measure| measure.word() == query.measure);
    let measure = *measure.ok_or_else(|| AppError::invalid("/measure", "this is no measure"))?;
    let question = Question { measure, since: query.since, as_of: query.as_of };
    let found = causes::of_store(&deps, &caller, &store, question).await?;
    let dates = [found.before, query.since, found.as_of];
    let explained = found.explained;
    let causes = explained.causes.into_iter().map(|of| {
        let rows = rows(of.cause, &store, dates);
        body(of, rows)
    });
    Ok(HttpResponse::Ok().json(CausesBody {
        store: store.to_string(),
        measure: measure.word().to_owned(),
        before: found.before.into(),
        since: query.since.into(),
        as_of: found.as_of.into(),
        causes: causes.collect(),
        look_at: explained.look_at.into_iter().map(str::to_owned).collect(),
    }))
}
