//! What reviews found, and what managers say to it.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::review::{FindingKind, Measure};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::watch::findings::{self, Evidence, Filter, Saying, Told};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::page::{Page, PageQuery};
use crate::http::quantity::Number;
use crate::http::reply::{self, IdempotencyKey};
use crate::http::review::{number, ratio};
use crate::http::rollups::RankBody;

/// The longest answer.
const ANSWER_MAX: usize = 2_000;

/// Which findings are asked for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FindingsQuery {
    /// Only findings of this district.
    #[param(example = "upper")]
    pub district: Option<String>,
    /// Only findings of this store.
    #[param(example = "ford")]
    pub store: Option<String>,
    /// Of a kind: `one_night`, `drift`, `chronic`, `habit`, `recovered` or `shared`.
    #[param(example = "drift")]
    pub kind: Option<String>,
    /// Of the last reviews up to this night; today when left out.
    #[param(value_type = Option<String>, format = Date, example = "2026-06-14")]
    pub as_of: Option<BusinessDate>,
    /// As known at this moment; now when left out.
    pub as_known_at: Option<DateTime<Utc>>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// What a finding rests on.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FindingEvidenceBody {
    /// The ratio before; where it is told from fair peers, what the store would have if it were as they
    /// are.
    pub before: Number,
    /// The ratio over the nights since.
    pub after: Number,
    /// The nights before, where it is told from the store's own past.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nights_before: Option<usize>,
    /// How many fair peers, where it is told from them. They are never named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peers: Option<usize>,
    /// How many nights the ratio since comes from.
    pub nights_after: usize,
    /// How many of its own standard errors the change is, nights' likeness to their neighbours allowed
    /// for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength: Option<Number>,
    /// By how much the other of use and recorded waste moved over the same nights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beside: Option<Number>,
    /// What about the way figures are written down is worth asking about: `copied`, `repeated_lines`,
    /// `nothing`, `rounded`, `no_spread`, `waste_falls_use_rises`, `amended` or `safety`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "rounded")]
    pub habit: Option<String>,
    /// Of a district as a whole, the lot that most of its nights since were cooked from.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "L-2207")]
    pub lot: Option<String>,
    /// The share of nights that were, of those whose lot is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot_share: Option<Number>,
}

/// What a manager said.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FindingAnswerBody {
    /// What the manager said.
    pub said: String,
    /// The id of the manager; missing where the caller is not told who it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<Uuid>,
    /// When it was said.
    pub at: DateTime<Utc>,
}

/// Something that stands out.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FindingBody {
    /// The id of the finding.
    pub id: Uuid,
    /// The last night looked at.
    pub as_of: NaiveDate,
    /// When the review was made.
    pub made_at: DateTime<Utc>,
    /// The store; missing for a district as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "ford")]
    pub store: Option<String>,
    /// Its district on that night.
    #[schema(example = "upper")]
    pub district: String,
    /// `use`, `recorded_waste`, `batch_yield`, `lateness`, or `count_habit`: how counts and waste are
    /// written down.
    #[schema(example = "use")]
    pub measure: String,
    /// `one_night`: a note to the manager. `drift`: it moved from its own past and stays there.
    /// `chronic`: it has differed for more than four weeks. `habit`: worth asking how it is done.
    /// `recovered`: it had moved and is back. `shared`: a district moved together.
    #[schema(example = "drift")]
    pub kind: String,
    /// The night it is estimated to have begun.
    pub since: NaiveDate,
    /// In words: what changed, since when, how far, and how surely that is known.
    pub sentence: String,
    /// The change of the ratio, drawn towards nothing by how it was picked out.
    pub size: Number,
    /// Lower end of its 95 % range.
    pub size_low: Number,
    /// Upper end of that range.
    pub size_high: Number,
    /// What that comes to a week; missing for what has no price or does not last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<Number>,
    /// The store's plausible ranks by this measure within its district, from 1 for the best.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<RankBody>,
    /// What it rests on.
    pub evidence: FindingEvidenceBody,
    /// Where its figures open: the weeks beside fair peers, why it may be, the nights. For those who
    /// may review the store.
    pub opens: Vec<String>,
    /// What managers of the store said to it, in order.
    pub answers: Vec<FindingAnswerBody>,
}

/// What a manager says.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SayingBody {
    /// What there is to say to the finding, in words.
    #[schema(min_length = 1, max_length = 2000, example = "A new scale came on the 3rd.")]
    pub said: String,
}

impl From<Evidence> for FindingEvidenceBody {
    fn from(of: Evidence) -> Self {
        Self {
            before: ratio(of.before),
            after: ratio(of.after),
            nights_before: of.nights_before,
            peers: of.peers,
            nights_after: of.nights_after,
            strength: of.strength.and_then(|strength| number(strength, 1)),
            beside: of.beside.map(ratio),
            habit: of.habit,
            lot: of.lot,
            lot_share: of.lot_share.map(ratio),
        }
    }
}

/// Where the figures of a finding open. How figures are written down is no ratio, and has no weeks.
pub(super) fn opens(
    store: &StoreId,
    measure: Measure,
    [since, as_of]: [BusinessDate; 2],
) -> Vec<String> {
    let word = measure.word();
    let weeks = (measure != Measure::Habit)
        .then(|| format!("/v1/stores/{store}/course?measure={word}&as_of={as_of}"));
    let why = format!("/v1/stores/{store}/causes?measure={word}&since={since}&as_of={as_of}");
    let nights = format!("/v1/rollups?scope=store:{store}&from={since}&to={as_of}&by=week");
    weeks.into_iter().chain([why, nights]).collect()
}

impl From<Told> for FindingBody {
    fn from(told: Told) -> Self {
        let (measure, dates, seen) = (told.measure, [told.since, told.as_of], told.seen);
        let opens = told.store.as_ref().map(|store| opens(store, measure, dates));
        let [size, size_low, size_high] = seen.size.map(ratio);
        Self {
            id: told.id,
            as_of: told.as_of.into(),
            made_at: told.made_at,
            rank: seen.rank.map(|[low, high, of]| RankBody { low, high, of }),
            store: told.store.map(|store| store.to_string()),
            district: told.district.to_string(),
            measure: measure.word().to_owned(),
            kind: told.kind.word().to_owned(),
            since: told.since.into(),
            sentence: seen.sentence,
            size,
            size_low,
            size_high,
            money_per_week: told.money_per_week.and_then(|money| number(money, 2)),
            evidence: seen.evidence.into(),
            opens: opens.unwrap_or_default(),
            answers: told
                .answers
                .into_iter()
                .map(|answer| FindingAnswerBody {
                    said: answer.said,
                    by: answer.by.map(|person| person.0),
                    at: answer.at,
                })
                .collect(),
        }
    }
}

impl TryFrom<FindingsQuery> for Filter {
    type Error = AppError;
    fn try_from(sent: FindingsQuery) -> Result<Self, AppError> {
        let kind = |word: String| {
            let kind = FindingKind::ALL.iter().copied().find(|kind| kind.word() == word);
            kind.ok_or_else(|| AppError::invalid("/kind", format!("\"{word}\" is no kind")))
        };
        let unseen = |what: &str| AppError::not_found(format!("{what} of this name"));
        let district = sent.district.map(|code| code.parse().map_err(|_| unseen("district")));
        let store = sent.store.map(|code| code.parse().map_err(|_| unseen("store")));
        Ok(Self {
            district: district.transpose()?,
            store: store.transpose()?,
            kind: sent.kind.map(kind).transpose()?,
            as_of: sent.as_of,
            known_at: sent.as_known_at,
        })
    }
}

/// What the last reviews found, most money a week first.
///
/// The server reviews a time zone once its night is over, and again when a night changes; earlier
/// reviews stay, and `as_known_at` tells what was found by a moment. Coaches and owners are told what
/// stands out in their stores, managers the notes to them, head office all of it, what a district
/// shares as well. A finding says where to look, not what is wrong.
#[utoipa::path(get, path = "/v1/findings", operation_id = "list_findings", tag = "review",
    params(FindingsQuery), responses(
        (status = 200, description = "The findings", body = Page<FindingBody>),
        Allowed, Found, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<FindingsQuery>,
) -> Result<HttpResponse, AppError> {
    let query = query.into_inner();
    let page = PageQuery { after: query.after.clone(), limit: query.limit };
    let (limit, after) = (page.limit()?, page.after()?);
    let filter = Filter::try_from(query)?;
    let found = findings::list(&deps, &caller, &filter, after, limit + 1).await?;
    let key = |told: &Told| (told.money_per_week, told.id);
    let page: Page<FindingBody> = Page::cut(found, limit, key)?;
    Ok(HttpResponse::Ok().json(page))
}

/// Answer a finding.
///
/// For a manager of the store. The answer stands beside the finding, and beside the same one of later
/// nights; it changes nothing about it. Once the store has moved to another district or was sold, nothing
/// more is said to what was found before.
#[utoipa::path(post, path = "/v1/stores/{store}/findings/{finding}/answers", operation_id = "answer_finding",
    tag = "review", request_body = SayingBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("finding" = Uuid, Path, description = "The finding's id"),
        IdempotencyKey),
    responses(
        (status = 201, description = "The finding with its answers", body = FindingBody),
        Allowed, Found, Sent,
        (status = 409, description = "The store has moved since", body = Problem, content_type = "application/problem+json")))]
pub async fn answer(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, Uuid)>,
    key: IdempotencyKey,
    Body(sent): Body<SayingBody>,
) -> Result<HttpResponse, AppError> {
    let mut faults = Faults::default();
    let said = text(&mut faults, "said", &sent.said, ANSWER_MAX);
    let saying = faults.finish(said.map(|said| Saying { said }))?;
    let (store, finding) = path.into_inner();
    let store = store.parse().map_err(|_| AppError::not_found("store of this name"))?;
    let about = (&store, finding);
    reply::send(findings::answer(&deps, &caller, key.0, about, &saying, FindingBody::from).await?)
}
