//! Cases: what coaches do about findings, and what came of it.
#![expect(unused_qualifications, reason = "utoipa repeats the path of a query")]

use actix_web::HttpResponse;
use actix_web::web::{Data, Path, Query};
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::calendar::BusinessDate;
use parings_core::ids::StoreId;
use parings_core::review::{CaseCheck, CaseStage};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::app::Deps;
use crate::app::watch::cases::{self, Case, Filter, Happened, Happening, Looked};
use crate::context::Caller;
use crate::error::{AppError, Problem};
use crate::http::answers::{Allowed, Found, Queried, Sent};
use crate::http::body::Body;
use crate::http::entries::text;
use crate::http::faults::Faults;
use crate::http::findings::{FindingEvidenceBody, opens};
use crate::http::page::{Page, PageQuery};
use crate::http::quantity::Number;
use crate::http::reply::{self, IdempotencyKey};
use crate::http::review::{EstimateBody, number, ratio};
use crate::http::rollups::RankBody;

/// The longest text of a happening.
const TEXT_MAX: usize = 2_000;

/// Which cases are asked for.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CasesQuery {
    /// Only cases of stores that stand in this district now.
    #[param(example = "upper")]
    pub district: Option<String>,
    /// Only cases of this store.
    #[param(example = "ford")]
    pub store: Option<String>,
    /// Only cases at this stage: `open`, `visited`, `promised`, `kept`, `closed`, `dismissed` or `moved`.
    #[param(example = "open")]
    pub stage: Option<String>,
    /// `next` of the page before; leave it out for the first page.
    pub after: Option<String>,
    /// How many at most: 1 to 200, 50 when left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<usize>,
}

/// What somebody does about a case, or says to it.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum CaseEventBody {
    /// The coach was there.
    #[schema(title = "VisitedEvent")]
    Visited {
        /// The business date of the visit.
        #[schema(value_type = String, format = Date)]
        on: BusinessDate,
        /// What the coach saw.
        #[schema(min_length = 1, max_length = 2000)]
        note: String,
    },
    /// Somebody promised something.
    #[schema(title = "PromisedEvent")]
    Promised {
        /// What is promised.
        #[schema(min_length = 1, max_length = 2000)]
        what: String,
        /// Who sees to it.
        #[schema(min_length = 1, max_length = 2000)]
        by: String,
        /// The business date by which it is to be done.
        #[schema(value_type = String, format = Date)]
        due: BusinessDate,
    },
    /// What was promised is done.
    #[schema(title = "KeptEvent")]
    Kept {
        /// The business date from which on it holds.
        #[schema(value_type = String, format = Date)]
        on: BusinessDate,
        /// More about what was done.
        #[schema(min_length = 1, max_length = 2000)]
        note: String,
    },
    /// It is no case; for four weeks nothing is raised of the same, unless it grows by half.
    #[schema(title = "DismissedEvent")]
    Dismissed {
        /// Why it is no case.
        #[schema(min_length = 1, max_length = 2000)]
        reason: String,
    },
    /// The store's manager says something to it.
    #[schema(title = "AnsweredEvent")]
    Answered {
        /// What the manager says.
        #[schema(min_length = 1, max_length = 2000)]
        said: String,
    },
}

impl TryFrom<CaseEventBody> for Happening {
    type Error = AppError;
    fn try_from(sent: CaseEventBody) -> Result<Self, AppError> {
        let mut faults = Faults::default();
        let mut read = |member: &str, said: &str| text(&mut faults, member, said, TEXT_MAX);
        let read = match sent {
            CaseEventBody::Visited { on, note } => {
                read("note", &note).map(|note| Self::Visited { on, note })
            }
            CaseEventBody::Promised { what, by, due } => {
                let (what, by) = (read("what", &what), read("by", &by));
                what.zip(by).map(|(what, by)| Self::Promised { what, by, due })
            }
            CaseEventBody::Kept { on, note } => {
                read("note", &note).map(|note| Self::Kept { on, note })
            }
            CaseEventBody::Dismissed { reason } => {
                read("reason", &reason).map(|reason| Self::Dismissed { reason })
            }
            CaseEventBody::Answered { said } => {
                read("said", &said).map(|said| Self::Answered { said })
            }
        };
        faults.finish(read)
    }
}

/// What happened to a case.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct CaseHistoryBody {
    /// `visited`, `promised`, `kept`, `dismissed`, `answered`; by the server itself `checked`, `moved`,
    /// and `followed`, which earlier versions said of a case that went with its store.
    #[schema(example = "promised")]
    pub kind: String,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// The account; missing when the server did it, and where the caller is not told who it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<Uuid>,
    /// What was seen, promised, given as a reason or said, or what a look came to.
    pub says: String,
    /// Who sees to what is promised.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// The date that is spoken of: of the visit, by which it is due, since which it is done, or since
    /// which the store is elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<NaiveDate>,
    /// The verdict of a look: `worked`, `did_not` or `cannot_tell`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<String>,
    /// The change beyond fair peers that a look found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change: Option<EstimateBody>,
}

/// A case: something about a store that lasts, and what is done about it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CaseBody {
    /// The id of the case.
    pub id: Uuid,
    /// The code of the store.
    #[schema(example = "ford")]
    pub store: String,
    /// The district whose coach it was raised for.
    #[schema(example = "upper")]
    pub district: String,
    /// What it is about, as in a finding.
    #[schema(example = "use")]
    pub measure: String,
    /// In what way, as in a finding.
    #[schema(example = "drift")]
    pub kind: String,
    /// How far it is: `open`, `visited`, `promised`, `kept`, `closed`, `dismissed` or `moved`.
    #[schema(example = "open")]
    pub stage: String,
    /// What may come next.
    #[schema(example = json!(["visited", "dismissed"]))]
    pub next: Vec<String>,
    /// The night that it was raised after.
    pub as_of: NaiveDate,
    /// When it was raised.
    pub raised_at: DateTime<Utc>,
    /// The night it is estimated to have begun.
    pub since: NaiveDate,
    /// What was seen when it was raised, in words. It stays as it was, whatever is known since.
    pub sentence: String,
    /// How large it was then.
    pub size: EstimateBody,
    /// What that came to a week.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub money_per_week: Option<Number>,
    /// The store's plausible ranks then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<RankBody>,
    /// What it rested on.
    pub evidence: FindingEvidenceBody,
    /// Where its figures open: the weeks beside fair peers, why it may be, the nights. For those who
    /// may review the store.
    pub opens: Vec<String>,
    /// When it is looked at again: two weeks and six weeks after the promise is kept, or was due.
    pub checks: Vec<NaiveDate>,
    /// What came of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<String>,
    /// What happened, in order.
    pub history: Vec<CaseHistoryBody>,
}

fn estimate([value, low, high]: [f64; 3]) -> EstimateBody {
    EstimateBody { value: ratio(value), low: ratio(low), high: ratio(high) }
}

impl From<Happened> for CaseHistoryBody {
    fn from(happened: Happened) -> Self {
        let kind = happened.what.word().to_owned();
        let (at, by) = (happened.at, happened.by.map(|person| person.0));
        let body = Self { kind, at, by, ..Self::default() };
        match happened.what {
            Happening::Visited { on, note } | Happening::Kept { on, note } => {
                Self { says: note, date: Some(on.into()), ..body }
            }
            Happening::Promised { what, by, due } => {
                Self { says: what, owner: Some(by), date: Some(due.into()), ..body }
            }
            Happening::Dismissed { reason: says } | Happening::Answered { said: says } => {
                Self { says, ..body }
            }
            Happening::Checked(Looked { sentence, verdict, change, .. }) => Self {
                says: sentence,
                verdict: Some(verdict),
                change: change.map(estimate),
                ..body
            },
            Happening::Moved { on } => {
                let says = "The store belongs to another district or owner since.".to_owned();
                Self { says, date: Some(on.into()), ..body }
            }
            Happening::Followed { district } => Self {
                says: format!("The store came to {district}, and this case with it."),
                ..body
            },
        }
    }
}

impl From<Case> for CaseBody {
    fn from(case: Case) -> Self {
        let (seen, progress) = (case.seen, case.progress);
        let checks = CaseCheck::ALL.iter().filter_map(|check| progress.date_of(*check));
        let opens = opens(&case.store, case.measure, [case.since, case.as_of]);
        Self {
            id: case.id,
            store: case.store.to_string(),
            district: case.district.to_string(),
            measure: case.measure.word().to_owned(),
            kind: case.kind.word().to_owned(),
            stage: progress.stage().word().to_owned(),
            next: progress.stage().next().iter().map(|word| (*word).to_owned()).collect(),
            as_of: case.as_of.into(),
            raised_at: case.raised_at,
            since: case.since.into(),
            sentence: seen.sentence,
            size: estimate(seen.size),
            money_per_week: case.money_per_week.and_then(|money| number(money, 2)),
            rank: seen.rank.map(|[low, high, of]| RankBody { low, high, of }),
            evidence: seen.evidence.into(),
            opens,
            checks: checks.map(NaiveDate::from).collect(),
            verdict: progress.verdict().map(|verdict| verdict.word().to_owned()),
            history: case.history.into_iter().map(CaseHistoryBody::from).collect(),
        }
    }
}

impl TryFrom<&CasesQuery> for Filter {
    type Error = AppError;
    fn try_from(sent: &CasesQuery) -> Result<Self, AppError> {
        let stage = |word: &String| {
            let stage = CaseStage::ALL.iter().copied().find(|stage| stage.word() == word);
            stage.ok_or_else(|| AppError::invalid("/stage", format!("\"{word}\" is no stage")))
        };
        let unseen = |what: &str| AppError::not_found(format!("{what} of this name"));
        let district = sent.district.as_ref().map(|d| d.parse().map_err(|_| unseen("district")));
        let store = sent.store.as_ref().map(|s| s.parse().map_err(|_| unseen("store")));
        Ok(Self {
            district: district.transpose()?,
            store: store.transpose()?,
            stage: sent.stage.as_ref().map(stage).transpose()?,
        })
    }
}

/// Cases, those raised last first.
///
/// After every night the server raises at most four cases a coach and week: what lasts, one a store,
/// most money a week first. A case says where to look, not what is wrong, and keeps what was seen when
/// it was raised. Coaches see those of their districts, owners and managers those of their stores.
///
/// A case belongs to the district and the owner that the store had on the night it was raised after.
/// When the store moves or is sold, the case ends as `moved` with the beginning of that business date, by
/// the store's clock: who read it still reads it as it was, and nothing is added. Whoever has the store
/// then sees none of it; what stands out of the nights since is raised for them.
#[utoipa::path(get, path = "/v1/cases", operation_id = "list_cases", tag = "review",
    params(CasesQuery), responses(
        (status = 200, description = "The cases", body = Page<CaseBody>),
        Allowed, Found, Queried))]
pub async fn list(
    deps: Data<Deps>,
    caller: Caller,
    query: Query<CasesQuery>,
) -> Result<HttpResponse, AppError> {
    let filter = Filter::try_from(&*query)?;
    let page = PageQuery { after: query.after.clone(), limit: query.limit };
    let (limit, after) = (page.limit()?, page.after()?);
    let found = cases::list(&deps, &caller, &filter, after, limit + 1).await?;
    let page: Page<CaseBody> = Page::cut(found, limit, |case: &Case| (case.raised_at, case.id))?;
    Ok(HttpResponse::Ok().json(page))
}

fn case_of((store, case): (String, Uuid)) -> Result<(StoreId, Uuid), AppError> {
    Ok((store.parse().map_err(|_| AppError::not_found("store of this name"))?, case))
}

/// A case, with everything that happened to it.
#[utoipa::path(get, path = "/v1/stores/{store}/cases/{case}", operation_id = "read_case",
    tag = "review",
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("case" = Uuid, Path, description = "The case's id")),
    responses(
        (status = 200, description = "The case", body = CaseBody),
        Allowed, Found))]
pub async fn read(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, Uuid)>,
) -> Result<HttpResponse, AppError> {
    let (store, case) = case_of(path.into_inner())?;
    let found = cases::read(&deps, &caller, &store, case).await?;
    Ok(HttpResponse::Ok().json(CaseBody::from(found)))
}

/// Follow a case up, or answer it.
///
/// A coach visits, notes what is promised and by when, and that it was kept; or dismisses the case
/// with a reason. The store's manager answers, at any stage until the store moves; the answer stands
/// beside the case. Two weeks and six weeks after the promise was kept, or was due, the server looks
/// again by itself, and the second look closes the case with a verdict.
#[utoipa::path(post, path = "/v1/stores/{store}/cases/{case}/events", operation_id = "follow_case",
    tag = "review", request_body = CaseEventBody,
    params(
        ("store" = String, Path, description = "The store's code", example = "ford"),
        ("case" = Uuid, Path, description = "The case's id"),
        IdempotencyKey),
    responses(
        (status = 201, description = "The case as it is now", body = CaseBody),
        Allowed, Found, Sent,
        (status = 409, description = "Not at this stage", body = Problem, content_type = "application/problem+json")))]
pub async fn add(
    deps: Data<Deps>,
    caller: Caller,
    path: Path<(String, Uuid)>,
    key: IdempotencyKey,
    Body(sent): Body<CaseEventBody>,
) -> Result<HttpResponse, AppError> {
    let (store, case) = case_of(path.into_inner())?;
    let happening = Happening::try_from(sent)?;
    let at = (&store, case);
    reply::send(cases::add(&deps, &caller, key.0, at, &happening, CaseBody::from).await?)
}

/// What became of a number of cases.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CaseTallyBody {
    /// The district, or the account that recorded the visits.
    pub of: String,
    /// How many there were.
    pub raised: u64,
    /// Those that go on.
    pub ongoing: u64,
    /// Those that were said to be none.
    pub dismissed: u64,
    /// Those whose stores moved to another district or owner first.
    pub moved: u64,
    /// Those that are better since.
    pub worked: u64,
    /// Those that are not.
    pub did_not: u64,
    /// Those of which it cannot be told.
    pub cannot_tell: u64,
    /// The share that worked of those of which it can be told, with its 95 % range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<EstimateBody>,
}

/// How often cases proved worth the trip.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CaseRecordBody {
    /// By the district they were raised in.
    pub districts: Vec<CaseTallyBody>,
    /// By the account that recorded the visit; cases that nobody visited are in none.
    pub coaches: Vec<CaseTallyBody>,
}

fn tally(of: String, tally: cases::Tally) -> CaseTallyBody {
    let cases::Tally { raised, ongoing, dismissed, moved, worked, did_not, cannot_tell } = tally;
    let share = tally.share().map(|(share, range)| estimate([share, range.low, range.high]));
    CaseTallyBody { of, raised, ongoing, dismissed, moved, worked, did_not, cannot_tell, share }
}

/// How often cases proved worth the trip, by district and by coach.
///
/// For head office. Accounts are told by their ids. Few cases say little: read the range.
#[utoipa::path(get, path = "/v1/case-record", operation_id = "read_case_record", tag = "review",
    responses(
        (status = 200, description = "The record", body = CaseRecordBody),
        Allowed))]
pub async fn record(deps: Data<Deps>, caller: Caller) -> Result<HttpResponse, AppError> {
    let record = cases::record(&deps, &caller).await?;
    let districts = record.districts.into_iter().map(|(of, sums)| tally(of.to_string(), sums));
    let coaches = record.coaches.into_iter().map(|(of, sums)| tally(of.0.to_string(), sums));
    Ok(HttpResponse::Ok()
        .json(CaseRecordBody { districts: districts.collect(), coaches: coaches.collect() }))
}
