//! What reviews found, told to those it concerns, and what managers say to it.

use chrono::{DateTime, NaiveDate, Utc};
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::ids::{DistrictId, PersonId, StoreId};
use parings_core::review::{self, FindingKind};
use serde::{Deserialize, Serialize};
use serde_json::json;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::writes::{self, Reply, Write};
use crate::context::Caller;
use crate::db;
use crate::db::findings::{AnswerRow, ToldRow};
use crate::error::AppError;

/// What a finding rests on, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// The ratio before, or as peers have it.
    pub before: f64,
    /// The ratio since.
    pub after: f64,
    /// Nights before, where it is told from the store's own past.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nights_before: Option<usize>,
    /// Fair peers, where it is told from them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peers: Option<usize>,
    /// Nights since.
    pub nights_after: usize,
    /// How many of its own standard errors the change is; none where nights did not differ at all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<f64>,
    /// What the other of use and recorded waste did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beside: Option<f64>,
    /// What about the way figures are written down is worth asking about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub habit: Option<String>,
    /// Of a district as a whole, the lot that most of its nights since were cooked from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// The share of nights that were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_share: Option<f64>,
}

impl From<&review::Evidence> for Evidence {
    fn from(of: &review::Evidence) -> Self {
        Self {
            before: of.before,
            after: of.after,
            nights_before: of.against.nights(),
            peers: of.against.peers(),
            nights_after: of.nights_after,
            strength: Some(of.strength).filter(|strength| strength.is_finite()),
            beside: of.beside,
            habit: of.habit.map(|habit| habit.word().to_owned()),
            lot: None,
            lot_share: None,
        }
    }
}

/// What a finding said, as a case keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Seen {
    /// In words.
    pub sentence: String,
    /// The change of the ratio, with its range.
    pub size: [f64; 3],
    /// Its plausible ranks: from, to, of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rank: Option<[u32; 3]>,
    /// What it rested on.
    pub evidence: Evidence,
}

impl From<&review::Finding> for Seen {
    fn from(finding: &review::Finding) -> Self {
        Self {
            sentence: finding.sentence(),
            size: [finding.size, finding.range.low, finding.range.high],
            rank: finding.rank.map(|rank| [rank.low, rank.high, rank.of]),
            evidence: Evidence::from(&finding.evidence),
        }
    }
}

/// What a manager said.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What.
    pub said: String,
    /// By whom.
    pub by: PersonId,
    /// When.
    pub at: DateTime<Utc>,
}

/// A finding, and what was said to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// What was found, by which review.
    pub row: ToldRow,
    /// Its evidence.
    pub evidence: Evidence,
    /// What managers of the store said, in order.
    pub answers: Vec<Answer>,
}

/// Which findings are asked for.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Of a district.
    pub district: Option<DistrictId>,
    /// Of a store.
    pub store: Option<StoreId>,
    /// Of a kind.
    pub kind: Option<FindingKind>,
    /// Of the last reviews up to this night.
    pub as_of: Option<BusinessDate>,
    /// As known at this moment.
    pub known_at: Option<DateTime<Utc>>,
}

/// What the reviews in force found that concerns the caller: coaches and owners what stands out in
/// their stores, managers the notes to them, head office all of it.
///
/// # Errors
/// 403 for other roles, 404 for a district or a store that is not the caller's to see.
pub async fn list(
    deps: &Deps,
    caller: &Caller,
    filter: &Filter,
    after: Option<(Option<f64>, Uuid)>,
    limit: usize,
) -> Result<Vec<Told>, AppError> {
    let limit = i64::try_from(limit).map_err(|e| AppError::Internal(e.into()))?;
    deps.acting(caller, async |conn, ctx| {
        let today = ctx.today();
        match (&filter.store, &filter.district) {
            (Some(store), _) => {
                let standing = catalog::standing(conn, today, ctx.now, store).await?;
                ctx.require(Action::ReadFindings, &Target::Store(&standing))?;
            }
            (None, Some(district)) => {
                ctx.require(Action::ReadFindings, &Target::District(district))?;
            }
            (None, None) => ctx.require(Action::ReadFindings, &Target::Network)?,
        }
        let until = filter.as_of.unwrap_or(today);
        let known = filter.known_at.map_or(ctx.now, |known| known.min(ctx.now));
        let which = db::findings::Which {
            district: filter.district.as_ref().map(DistrictId::as_str),
            store: filter.store.as_ref().map(StoreId::as_str),
            kind: filter.kind.map(FindingKind::word),
        };
        let rows = db::findings::list(conn, (until, known), which, after, limit).await?;
        with_answers(conn, rows).await
    })
    .await
}

async fn with_answers(
    conn: &mut diesel_async::AsyncPgConnection,
    rows: Vec<ToldRow>,
) -> Result<Vec<Told>, AppError> {
    let stores: Vec<&str> = rows.iter().filter_map(|row| row.found.store_id.as_deref()).collect();
    let since = rows.iter().map(|row| row.found.since).min().unwrap_or(NaiveDate::MAX);
    let answers = db::findings::answers(conn, &stores, since).await?;
    rows.into_iter()
        .map(|row| {
            let found = &row.found;
            let about = |answer: &&AnswerRow| {
                Some(&answer.store_id) == found.store_id.as_ref()
                    && (&answer.measure, &answer.kind) == (&found.measure, &found.kind)
                    && answer.since == found.since
            };
            let said = answers.iter().filter(about).map(|answer| Answer {
                said: answer.said.clone(),
                by: PersonId(answer.said_by),
                at: answer.said_at,
            });
            let evidence = serde_json::from_value(found.evidence.clone());
            let evidence = evidence.map_err(|e| AppError::Internal(e.into()))?;
            let answers = said.collect();
            Ok(Told { row, evidence, answers })
        })
        .collect()
}

/// What is said to a finding.
#[derive(Debug, Clone, Serialize)]
pub struct Saying {
    /// In words.
    pub said: String,
}

/// Puts what a manager says beside a finding of their store.
///
/// # Errors
/// 404 for a finding that is not the caller's to see, 403 for who manages no store of it.
pub async fn answer<W: Serialize>(
    deps: &Deps,
    caller: &Caller,
    write: Write,
    (store, finding): (&StoreId, Uuid),
    saying: &Saying,
    show: impl Fn(Told) -> W,
) -> Result<Reply, AppError> {
    deps.acting(caller, async |conn, ctx| {
        let standing = catalog::standing(conn, ctx.today(), ctx.now, store).await?;
        ctx.require(Action::AnswerFinding, &Target::Store(&standing))?;
        let unseen = || AppError::not_found(format!("finding {finding} of this store"));
        let row = db::findings::one(conn, finding).await?;
        let row = row.filter(|row| row.found.store_id.as_deref() == Some(store.as_str()));
        let row = row.ok_or_else(unseen)?;
        writes::replay_or(conn, ctx, &write, saying, async |conn| {
            let found = &row.found;
            let said = AnswerRow {
                store_id: store.to_string(),
                measure: found.measure.clone(),
                kind: found.kind.clone(),
                since: found.since,
                said: saying.said.clone(),
                said_by: ctx.actor.person.0,
                said_at: ctx.now,
            };
            let place = (standing.district.as_str(), standing.owner.as_str());
            db::findings::answer(conn, place, &said).await?;
            let detail = json!({ "measure": found.measure, "since": found.since });
            let (word, target) = (Action::AnswerFinding.word(), format!("finding {finding}"));
            db::audit::add(conn, ctx, word, &target, Some(store), Some(detail)).await?;
            let told = with_answers(conn, vec![row]).await?.pop().ok_or_else(unseen)?;
            Reply::created(show(told))
        })
        .await
    })
    .await
}
