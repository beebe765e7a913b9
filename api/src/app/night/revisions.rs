//! Revisions of a night's count: how each came, what was asked about it, what became of it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::Standing;
use parings_core::calendar::BusinessDate;
use parings_core::checks::{Answer, Check, Treatment};
use parings_core::ids::{EntryId, ItemId, PersonId, StoreId};
use parings_core::night::{Count, Entry, RevisionEvent, Settled, State};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use crate::context::Ctx;
use crate::db;
use crate::db::nights::LifeRow;
use crate::db::settlements::Settlement;
use crate::error::AppError;

/// A revision of a night's count, and what became of it.
#[derive(Debug, Clone)]
pub struct Revision {
    /// Its number, from 1.
    pub number: i32,
    /// The count as typed.
    pub count: Count,
    /// Why it was made.
    pub reason: Option<String>,
    /// The state it came in.
    pub state: State,
    /// What was asked, said or left out when it came.
    pub checks: Vec<Check>,
    /// Entries to be made and withdrawn with it, of a proposed one.
    pub proposal: Option<Proposal>,
    /// Who submitted it.
    pub submitted_by: PersonId,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// What became of it, when it waits no longer.
    pub settlement: Option<Settling>,
    /// Answers to its checks, by their ids.
    pub answers: BTreeMap<String, Given>,
}

/// Changes of entries that come with a proposed revision.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Proposal {
    /// Entries to be made once it is approved.
    #[serde(default)]
    pub entries: Vec<Entry>,
    /// Entries to be withdrawn once it is approved.
    #[serde(default)]
    pub withdraw: Vec<Withdrawal>,
}

/// An entry to be withdrawn.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withdrawal {
    /// The id of the entry.
    pub id: EntryId,
    /// Why it is withdrawn, in words.
    pub reason: String,
}

/// What became of a revision that waited.
#[derive(Debug, Clone)]
pub struct Settling {
    /// Whether it was accepted, declined or overtaken.
    pub settled: Settled,
    /// Items whose counts are not relied on.
    pub left_out: BTreeSet<ItemId>,
    /// Why, where somebody said it in words.
    pub reason: Option<String>,
    /// By whom; nobody at the next opening.
    pub by: Option<PersonId>,
    /// When it was settled.
    pub at: DateTime<Utc>,
}

/// An answer on record.
#[derive(Debug, Clone, Deserialize)]
pub struct Given {
    /// What was answered.
    pub answer: Answer,
    /// The account that answered.
    pub by: Uuid,
    /// When it was answered.
    pub at: DateTime<Utc>,
}

#[derive(Deserialize)]
struct GivenRow {
    check: String,
    #[serde(flatten)]
    given: Given,
}

/// A check as it is kept: with its id, by which answers find it.
#[derive(Serialize)]
struct Kept<'a> {
    id: String,
    #[serde(flatten)]
    check: &'a Check,
}

/// Checks as they are kept with a revision.
///
/// # Errors
/// When they are no JSON.
pub fn kept(checks: &[Check]) -> Result<Value, AppError> {
    let kept: Vec<_> = checks.iter().map(|check| Kept { id: check.id(), check }).collect();
    serde_json::to_value(kept).map_err(|e| anyhow::Error::new(e).into())
}

impl TryFrom<LifeRow> for Revision {
    type Error = anyhow::Error;
    fn try_from(row: LifeRow) -> anyhow::Result<Self> {
        let LifeRow {
            revision,
            outcome,
            left_out,
            settled_reason,
            settled_by,
            settled_at,
            answers,
        } = row;
        let settlement = match (outcome, settled_at) {
            (Some(outcome), Some(at)) => Some(Settling {
                settled: outcome.parse()?,
                left_out: left_out
                    .iter()
                    .flatten()
                    .map(|item| item.parse())
                    .collect::<Result<_, _>>()?,
                reason: settled_reason,
                by: settled_by.map(PersonId),
                at,
            }),
            _ => None,
        };
        let given: Vec<GivenRow> = serde_json::from_value(answers)?;
        Ok(Self {
            number: revision.revision,
            count: revision.body.0,
            reason: revision.reason,
            state: revision.state.parse()?,
            checks: serde_json::from_value(revision.checks)?,
            proposal: revision.proposal.map(serde_json::from_value).transpose()?,
            submitted_by: PersonId(revision.submitted_by),
            recorded_at: revision.recorded_at,
            settlement,
            answers: given.into_iter().map(|row| (row.check, row.given)).collect(),
        })
    }
}

impl Revision {
    /// As it was known at a moment; none when it had not come yet.
    pub fn as_known(self, at: DateTime<Utc>) -> Option<Self> {
        (self.recorded_at <= at).then(|| Self {
            settlement: self.settlement.filter(|settling| settling.at <= at),
            answers: self.answers.into_iter().filter(|(_, given)| given.at <= at).collect(),
            ..self
        })
    }

    /// Whether it waits: for answers, or for approval.
    pub fn waits(&self) -> bool {
        self.state != State::Accepted && self.settlement.is_none()
    }

    /// Whether it stands, or did until a later one was accepted.
    pub fn is_accepted(&self) -> bool {
        let settled = self.settlement.as_ref().map(|s| s.settled);
        self.state == State::Accepted || settled == Some(Settled::Accepted)
    }

    /// The questions that nobody answered yet.
    pub fn open(&self) -> impl Iterator<Item = &Check> {
        let held = self.state == State::Held;
        self.checks
            .iter()
            .filter(move |check| held && check.asks() && !self.answers.contains_key(&check.id()))
    }

    /// The checks whose doubt nobody took away: questions without an answer or with one that leaves
    /// it as it is, and those that were never asked.
    pub fn unresolved(&self) -> impl Iterator<Item = &Check> {
        self.checks.iter().filter(|check| match self.answers.get(&check.id()) {
            Some(given) => !check.is_resolved_by(&given.answer),
            None => self.state == State::Held && check.asks() || check.is_beyond(),
        })
    }

    /// The items left out, were it accepted now.
    pub fn doubted(&self) -> BTreeSet<ItemId> {
        self.unresolved().flat_map(|check| check.doubted(&self.count)).collect()
    }

    /// What was said of it and asks nothing of anybody.
    pub fn said(&self) -> impl Iterator<Item = &Check> {
        let said = |check: &&Check| match check.treatment {
            Treatment::Flag => true,
            Treatment::LeaveOut => !check.is_beyond(),
            Treatment::Confirm => self.state == State::Proposed,
            Treatment::Reject => false,
        };
        self.checks.iter().filter(said)
    }

    /// Who had a hand in it.
    pub fn people(&self) -> impl Iterator<Item = Uuid> {
        let settled = self.settlement.as_ref().and_then(|s| s.by);
        let answered = self.answers.values().map(|given| given.by);
        [self.submitted_by.0].into_iter().chain(settled.map(|p| p.0)).chain(answered)
    }
}

/// Every revision of a night's count, oldest first.
///
/// # Errors
/// When the database cannot be reached.
pub async fn of_night(
    conn: &mut AsyncPgConnection,
    store: &StoreId,
    date: BusinessDate,
) -> Result<Vec<Revision>, AppError> {
    let rows = db::nights::lives(conn, store, date).await?;
    let read = rows.into_iter().map(Revision::try_from).collect::<anyhow::Result<_>>();
    read.map_err(AppError::Internal)
}

/// The revision that stands: of those accepted the last.
pub fn in_force(revisions: &[Revision]) -> Option<&Revision> {
    revisions.iter().rev().find(|revision| revision.is_accepted())
}

/// Settles a revision that waits; `by` is nobody at the next opening.
///
/// # Errors
/// 409 when it does not wait for that.
pub async fn settle(
    conn: &mut AsyncPgConnection,
    (standing, date): (&Standing, BusinessDate),
    revision: &Revision,
    event: RevisionEvent,
    by: Option<PersonId>,
    at: DateTime<Utc>,
    reason: Option<&str>,
) -> Result<Settled, AppError> {
    let waits = revision.waits().then_some(revision.state);
    let Some(settled) = waits.and_then(|state| state.after(event)) else {
        return Err(AppError::Conflict(format!(
            "revision {} of {date} does not wait for that",
            revision.number
        )));
    };
    let doubted = revision.doubted();
    let left_out: Vec<&ItemId> = match settled {
        Settled::Accepted => doubted.iter().collect(),
        Settled::Declined | Settled::Overtaken => Vec::new(),
    };
    let number = revision.number;
    let settlement = Settlement { revision: number, settled, left_out: &left_out, reason, by, at };
    db::settlements::add(conn, standing, date, &settlement).await?;
    Ok(settled)
}

/// Settles every other revision that a new one, or one that came to stand, takes the place of.
///
/// # Errors
/// When the database cannot be reached.
pub async fn overtake(
    conn: &mut AsyncPgConnection,
    ctx: &Ctx,
    at: (&Standing, BusinessDate),
    others: impl Iterator<Item = &Revision>,
    state: State,
) -> Result<(), AppError> {
    let event = RevisionEvent::Revised(state);
    for other in others.filter(|r| r.waits() && r.state.after(event).is_some()) {
        settle(conn, at, other, event, Some(ctx.actor.person), ctx.now, None).await?;
    }
    Ok(())
}
