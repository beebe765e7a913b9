//! What reviews found, told to those it concerns, and what managers say to it.

use std::collections::BTreeSet;

use anyhow::Context;
use chrono::{DateTime, NaiveDate, Utc};
use parings_core::access::{Action, Target};
use parings_core::calendar::BusinessDate;
use parings_core::catalog::StoreTimeline;
use parings_core::ids::{DistrictId, OwnerId, PersonId, StoreId};
use parings_core::review::{self, FindingKind, Measure};
use serde::{Deserialize, Serialize};
use serde_json::json;
use uuid::Uuid;

use crate::app::Deps;
use crate::app::ground::catalog;
use crate::app::ground::names::Names;
use crate::app::ground::writes::{self, Reply, Write};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::findings::{AnswerRow, ToldRow};
use crate::error::AppError;

/// What a finding rests on, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// The ratio before, or as peers have it.
    pub before: f64,
    /// The ratio over the nights since.
    pub after: f64,
    /// Nights before, where it is told from the store's own past.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nights_before: Option<usize>,
    /// Fair peers, where it is told from them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub peers: Option<usize>,
    /// How many nights the ratio since comes from.
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

/// What a finding says. A case keeps it as it was said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Seen {
    /// What changed, since when, how far, and how surely that is known, in words.
    pub sentence: String,
    /// The change of the ratio, with the lower and the upper end of its 95 % range.
    pub size: [f64; 3],
    /// The store's plausible ranks within its district: the best, the worst, and of how many.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rank: Option<[u32; 3]>,
    /// What the size is made from, and what was found beside it.
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
    /// What there was to say, in words.
    pub said: String,
    /// The account of the manager, where that is told.
    pub by: Option<PersonId>,
    /// When it was said.
    pub at: DateTime<Utc>,
}

/// A finding, and what was said to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// The id of the finding.
    pub id: Uuid,
    /// The last night that its review looked at.
    pub as_of: BusinessDate,
    /// When its review was made.
    pub made_at: DateTime<Utc>,
    /// The store; none for a district as a whole.
    pub store: Option<StoreId>,
    /// The district of the store, or the one that moved as a whole.
    pub district: DistrictId,
    /// What it is about.
    pub measure: Measure,
    /// In what way it stands out.
    pub kind: FindingKind,
    /// The night it is estimated to have begun.
    pub since: BusinessDate,
    /// What it comes to a week, in money; none for what has no price or does not last.
    pub money_per_week: Option<f64>,
    /// What it says.
    pub seen: Seen,
    /// What managers of the store said, in order.
    pub answers: Vec<Answer>,
}

impl Told {
    pub(super) fn read(row: ToldRow, answers: Vec<Answer>) -> Result<Self, AppError> {
        let ToldRow { id, as_of, made_at, found } = row;
        let place = |of: Option<i32>| of.and_then(|of| u32::try_from(of).ok());
        let rank =
            || Some([place(found.rank_low)?, place(found.rank_high)?, place(found.rank_of)?]);
        let rank = rank();
        Ok(Self {
            id,
            as_of: as_of.into(),
            made_at,
            store: found.store_id.map(|code| code.parse()).transpose().context("a store's code")?,
            district: found.district_id.parse().context("a district's code")?,
            measure: measure(&found.measure)?,
            kind: kind(&found.kind)?,
            since: found.since.into(),
            money_per_week: found.money_per_week,
            seen: Seen {
                sentence: found.sentence,
                size: [found.size, found.size_low, found.size_high],
                rank,
                evidence: serde_json::from_value(found.evidence).context("evidence on record")?,
            },
            answers,
        })
    }
}

/// The measure that a record names by its word.
pub(super) fn measure(word: &str) -> Result<Measure, AppError> {
    let measure = Measure::ALL.iter().copied().find(|measure| measure.word() == word);
    Ok(measure.context("a measure on record")?)
}

/// The kind of finding that a record names by its word.
pub(super) fn kind(word: &str) -> Result<FindingKind, AppError> {
    let kind = FindingKind::ALL.iter().copied().find(|kind| kind.word() == word);
    Ok(kind.context("a kind of finding on record")?)
}

/// Which findings are asked for.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Only findings of this district.
    pub district: Option<DistrictId>,
    /// Only findings of this store.
    pub store: Option<StoreId>,
    /// Only findings of this kind.
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
        with_answers(conn, ctx, rows).await
    })
    .await
}

async fn with_answers(
    conn: &mut diesel_async::AsyncPgConnection,
    ctx: &Ctx,
    rows: Vec<ToldRow>,
) -> Result<Vec<Told>, AppError> {
    let stores: Vec<&str> = rows.iter().filter_map(|row| row.found.store_id.as_deref()).collect();
    let since = rows.iter().map(|row| row.found.since).min().unwrap_or(NaiveDate::MAX);
    let answers = db::findings::answers(conn, &stores, since).await?;
    let by: Vec<Uuid> = answers.iter().map(|answer| answer.said_by).collect();
    let names = Names::of(conn, ctx, &by).await?;
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
                by: names.id(PersonId(answer.said_by)),
                at: answer.said_at,
            });
            let answers = said.collect();
            Told::read(row, answers)
        })
        .collect()
}

/// What is said to a finding.
#[derive(Debug, Clone, Serialize)]
pub struct Saying {
    /// What there is to say, in words.
    pub said: String,
}

/// Puts what a manager says beside a finding of their store.
///
/// # Errors
/// 404 for a finding that is not the caller's to see, 403 for who manages no store of it, 409 when the
/// store has left the place where the finding was made.
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
            let owner = found.owner_id.as_deref().context("a store's finding has its owner")?;
            let district: DistrictId = found.district_id.parse().context("a district's code")?;
            let owner: OwnerId = owner.parse().context("an owner's code")?;
            let stores = catalog::timelines_of(conn, &BTreeSet::from([store]), ctx.now).await?;
            let left =
                |store: &StoreTimeline| store.left((&district, &owner), row.as_of.into(), ctx.now);
            if let Some(on) = stores.first().and_then(left) {
                let says = format!(
                    "the store belongs to another district or owner since {on}: answer what is found \
                     there"
                );
                return Err(AppError::Conflict(says));
            }
            let said = AnswerRow {
                store_id: store.to_string(),
                measure: found.measure.clone(),
                kind: found.kind.clone(),
                since: found.since,
                said: saying.said.clone(),
                said_by: ctx.actor.person.0,
                said_at: ctx.now,
            };
            let place = (district.as_str(), owner.as_str());
            db::findings::answer(conn, place, &said).await?;
            let detail = json!({ "measure": found.measure, "since": found.since });
            let (word, target) = (Action::AnswerFinding.word(), format!("finding {finding}"));
            db::audit::add(conn, ctx, word, &target, Some(store), Some(detail)).await?;
            let told = with_answers(conn, ctx, vec![row]).await?.pop().ok_or_else(unseen)?;
            Reply::created(show(told))
        })
        .await
    })
    .await
}
