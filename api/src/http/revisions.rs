//! Revisions of a night's count: who typed what, when and why, and what became of it.

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::checks::{Answer, Correction};
use parings_core::ids::PersonId;
use parings_core::money::Currency;
use parings_core::night::{Settled, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::app::Deps;
use crate::app::ground::names::Names;
use crate::app::night::history::{self, Differing};
use crate::app::night::revisions::{Given, Revision, Settling};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::amount::{AmountBody, money};
use crate::http::answers::{Allowed, Found, Queried, SetUp};
use crate::http::checks::CheckBody;
use crate::http::confirmations::AnswerWord;
use crate::http::entries::WhoBody;
use crate::http::nights::{CountLineBody, night_of};
use crate::http::quantity::{Number, TypedBody};

/// The state a revision came in.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StateBody {
    /// It is the count in force until a later one is accepted.
    Accepted,
    /// It waits for answers.
    Held,
    /// It waits for another person's approval.
    Proposed,
}

/// What became of a revision that waited.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SettledBody {
    /// It became the count in force.
    Accepted,
    /// Somebody said no to it.
    Declined,
    /// A later revision came in its place.
    Overtaken,
}

/// What became of a revision, and by whose word.
#[derive(Debug, Serialize, ToSchema)]
pub struct RevisionOutcomeBody {
    /// What became of it.
    pub outcome: SettledBody,
    /// When that was settled.
    pub settled_at: DateTime<Utc>,
    /// By whom; told to those who work in the store. Nobody when the next opening came first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settled_by: Option<WhoBody>,
    /// Whether the next opening settled it.
    pub at_opening: bool,
    /// Why it was settled so; missing where nobody said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// The items whose counts are left out.
    pub left_out: Vec<String>,
}

/// An answer to a check.
#[derive(Debug, Serialize, ToSchema)]
pub struct GivenAnswerBody {
    /// The check's id.
    pub check: String,
    /// What was answered.
    pub answer: AnswerWord,
    /// The reading that was chosen, or the amount it was corrected to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quantity: Option<TypedBody>,
    /// The lines that were counted again or corrected.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<CountLineBody>,
    /// When it was answered.
    pub answered_at: DateTime<Utc>,
    /// By whom; told to those who work in the store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answered_by: Option<WhoBody>,
}

/// A revision of a night's count.
#[derive(Serialize, ToSchema)]
pub struct RevisionBody {
    /// Its number, from 1.
    pub revision: i32,
    /// The state it came in.
    pub state: StateBody,
    /// What became of it, when it waited and does no longer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settlement: Option<RevisionOutcomeBody>,
    /// When it was recorded, by the server's clock.
    pub recorded_at: DateTime<Utc>,
    /// When the device said it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device_time: Option<DateTime<Utc>>,
    /// Why it was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Who submitted it; told to those who work in the store.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub submitted_by: Option<WhoBody>,
    /// Whether every line of the sheet was answered.
    pub complete: bool,
    /// The lines as typed.
    pub lines: Vec<CountLineBody>,
    /// What was asked, said or left out when it came.
    pub checks: Vec<CheckBody>,
    /// The answers that were given.
    pub answers: Vec<GivenAnswerBody>,
}

impl RevisionBody {
    fn new(revision: &Revision, names: &Names, currency: &Currency) -> Self {
        let who = |id: PersonId| names.who(id).map(Into::into);
        let lines = &revision.count.lines;
        Self {
            revision: revision.number,
            state: match revision.state {
                State::Accepted => StateBody::Accepted,
                State::Held => StateBody::Held,
                State::Proposed => StateBody::Proposed,
            },
            settlement: revision.settlement.as_ref().map(|settling| {
                let Settling { settled, left_out, reason, by, at } = settling;
                RevisionOutcomeBody {
                    outcome: match settled {
                        Settled::Accepted => SettledBody::Accepted,
                        Settled::Declined => SettledBody::Declined,
                        Settled::Overtaken => SettledBody::Overtaken,
                    },
                    settled_at: *at,
                    settled_by: by.and_then(who),
                    at_opening: by.is_none(),
                    reason: reason.clone(),
                    left_out: left_out.iter().map(ToString::to_string).collect(),
                }
            }),
            recorded_at: revision.recorded_at,
            device_time: revision.count.device_time,
            reason: revision.reason.clone(),
            submitted_by: who(revision.submitted_by),
            complete: revision.count.complete,
            lines: lines.iter().map(Into::into).collect(),
            checks: revision.checks.iter().map(|c| CheckBody::new(c, lines, currency)).collect(),
            answers: revision
                .answers
                .iter()
                .map(|(check, given)| GivenAnswerBody::new(check, given, &who))
                .collect(),
        }
    }
}

impl GivenAnswerBody {
    fn new(check: &str, given: &Given, who: &impl Fn(PersonId) -> Option<WhoBody>) -> Self {
        let (quantity, lines) = match &given.answer {
            Answer::AsTyped | Answer::Corrected { to: Correction::Entry(_) } => (None, &[][..]),
            Answer::OtherReading { quantity }
            | Answer::Corrected { to: Correction::Quantity(quantity) } => (Some(quantity), &[][..]),
            Answer::CountedAgain { lines } | Answer::Corrected { to: Correction::Lines(lines) } => {
                (None, lines.as_slice())
            }
        };
        Self {
            check: check.to_owned(),
            answer: match given.answer {
                Answer::AsTyped => AnswerWord::AsTyped,
                Answer::OtherReading { .. } => AnswerWord::OtherReading,
                Answer::Corrected { .. } => AnswerWord::Corrected,
                Answer::CountedAgain { .. } => AnswerWord::CountedAgain,
            },
            quantity: quantity.map(Into::into),
            lines: lines.iter().map(Into::into).collect(),
            answered_at: given.at,
            answered_by: who(PersonId(given.by)),
        }
    }
}

/// Every revision of a night's count, oldest first. Nothing typed is ever lost.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}/revisions",
    operation_id = "list_revisions", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date")),
    responses(
        (status = 200, description = "The revisions", body = Vec<RevisionBody>),
        Allowed, Found, SetUp))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let (revisions, names, currency) = history::list(&deps, &caller, &store, date).await?;
    let shown: Vec<_> = revisions.iter().map(|r| RevisionBody::new(r, &names, &currency)).collect();
    Ok(HttpResponse::Ok().json(shown))
}

/// Which revisions to compare.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DiffQuery {
    /// The number of the earlier one.
    #[param(minimum = 1)]
    from: i32,
    /// The number of the later one.
    #[param(minimum = 1)]
    to: i32,
}

/// What became of a shelf between two revisions.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ShelfChangeBody {
    /// It was not counted before.
    Added,
    /// It is not counted any more.
    Removed,
    /// It was counted otherwise.
    Changed,
}

/// An item at one stage in one place, before and after.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShelfDiffBody {
    /// The code of the item that was counted.
    #[schema(example = "potato")]
    pub item: String,
    /// The code of the storage place in which it stood.
    pub place: String,
    /// The stage; missing for as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// What became of it.
    pub change: ShelfChangeBody,
    /// As typed before, a line each.
    pub before: Vec<TypedBody>,
    /// As typed after, a line each.
    pub after: Vec<TypedBody>,
    /// After less before, as purchased.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference: Option<AmountBody>,
}

/// Units sold as typed, before and after.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnitsDiffBody {
    /// The code of the product that was sold.
    pub product: String,
    /// The code of the size in which it was sold.
    pub size: String,
    /// Units in the revision before.
    pub before: u64,
    /// Units in the revision after.
    pub after: u64,
}

/// Net sales as typed, before and after.
#[derive(Debug, Serialize, ToSchema)]
pub struct NetSalesDiffBody {
    /// Net sales in the revision before; missing where none were typed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<Number>,
    /// Net sales in the revision after; missing where none are typed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<Number>,
}

/// What differs between two revisions of a count.
#[derive(Debug, Serialize, ToSchema)]
pub struct DiffBody {
    /// The number of the one.
    pub from: i32,
    /// The number of the other.
    pub to: i32,
    /// Shelf by shelf, where anything does.
    pub lines: Vec<ShelfDiffBody>,
    /// Units sold, where they do.
    pub units_sold: Vec<UnitsDiffBody>,
    /// Net sales, where they do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub net_sales: Option<NetSalesDiffBody>,
}

impl DiffBody {
    fn new(query: &DiffQuery, differing: Differing) -> Self {
        let Differing { diff, catalog, currency } = differing;
        let lines = diff.shelves.into_iter().map(|shelf| ShelfDiffBody {
            change: match (shelf.before.is_empty(), shelf.after.is_empty()) {
                (true, _) => ShelfChangeBody::Added,
                (_, true) => ShelfChangeBody::Removed,
                _ => ShelfChangeBody::Changed,
            },
            difference: shelf.difference.and_then(|difference| {
                let item = catalog.items.get(&shelf.item)?;
                Some(AmountBody::new(difference, item.base))
            }),
            item: shelf.item.to_string(),
            place: shelf.place.to_string(),
            stage: shelf.stage.map(|stage| stage.to_string()),
            before: shelf.before.iter().map(Into::into).collect(),
            after: shelf.after.iter().map(Into::into).collect(),
        });
        let units = diff.units_sold.into_iter().map(|units| UnitsDiffBody {
            product: units.product.to_string(),
            size: units.size.to_string(),
            before: units.before,
            after: units.after,
        });
        Self {
            from: query.from,
            to: query.to,
            lines: lines.collect(),
            units_sold: units.collect(),
            net_sales: diff.net_sales.map(|(before, after)| NetSalesDiffBody {
                before: before.map(|net| money(net, &currency)),
                after: after.map(|net| money(net, &currency)),
            }),
        }
    }
}

/// What differs between two revisions of a count, line by line.
#[utoipa::path(get, path = "/v1/stores/{store}/nights/{business_date}/revisions/diff",
    operation_id = "compare_revisions", tag = "nights",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("business_date" = NaiveDate, Path, description = "The business date"),
        DiffQuery),
    responses(
        (status = 200, description = "What differs", body = DiffBody),
        Allowed, Found, Queried, SetUp,
        (status = 404, description = "No such store to be seen, or no such revision", body = Problem, content_type = "application/problem+json")))]
pub async fn diff(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, NaiveDate)>,
    query: Query<DiffQuery>,
) -> Result<HttpResponse, AppError> {
    let (store, date) = night_of(path.into_inner())?;
    let numbers = (query.from, query.to);
    let differing = history::compare(&deps, &caller, &store, date, numbers).await?;
    Ok(HttpResponse::Ok().json(DiffBody::new(&query, differing)))
}
