//! What happens to a case, as it is kept.

use chrono::{DateTime, Utc};
use parings_core::access::Action;
use parings_core::calendar::BusinessDate;
use parings_core::ids::PersonId;
use parings_core::review::{CaseCheck, CaseEvent, Judgement, Verdict};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::db::cases::EventRow;
use crate::error::AppError;

/// What somebody does about a case or says to it, and what the server does by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Happening {
    /// The coach was there.
    Visited {
        /// The business date of the visit.
        on: BusinessDate,
        /// What the coach saw, in words.
        note: String,
    },
    /// Somebody promised something.
    Promised {
        /// What is promised, in words.
        what: String,
        /// Who sees to it.
        by: String,
        /// The business date by which it is to be done.
        due: BusinessDate,
    },
    /// What was promised is done.
    Kept {
        /// The business date from which on it holds.
        on: BusinessDate,
        /// More about what was done, in words.
        note: String,
    },
    /// It is no case.
    Dismissed {
        /// Why it is no case, in words.
        reason: String,
    },
    /// The store's manager says something to it.
    Answered {
        /// What the manager says, in words.
        said: String,
    },
    /// The server looked again.
    Checked(Looked),
    /// The store belongs to another district or owner, or to none.
    Moved {
        /// The first business date there.
        on: BusinessDate,
    },
    /// The store moved, and the case went with it, as cases did in earlier versions.
    Followed {
        /// The code of the district that it came to.
        district: String,
    },
}

/// What a look came to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Looked {
    /// After so many days.
    pub days: i64,
    /// The verdict's word.
    pub verdict: String,
    /// What was found, in words.
    pub sentence: String,
    /// The change beyond peers, with its range; none where it cannot be told.
    pub change: Option<[f64; 3]>,
    /// Nights before and after, and peers.
    pub of: Option<[usize; 3]>,
}

impl Looked {
    pub(super) fn new(check: CaseCheck, outcome: &Judgement, sentence: String) -> Self {
        let effect = outcome.effect;
        Self {
            days: check.days(),
            verdict: outcome.verdict.word().to_owned(),
            sentence,
            change: effect.map(|e| [e.change, e.range.low, e.range.high]),
            of: effect.map(|e| [e.nights_before, e.nights_after, e.peers]),
        }
    }

    fn event(&self) -> Option<CaseEvent> {
        let check = CaseCheck::ALL.iter().find(|check| check.days() == self.days)?;
        let verdict = Verdict::ALL.iter().find(|verdict| verdict.word() == self.verdict)?;
        Some(CaseEvent::Checked(*check, *verdict))
    }
}

impl Happening {
    /// The word it is kept under.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Visited { .. } => "visited",
            Self::Promised { .. } => "promised",
            Self::Kept { .. } => "kept",
            Self::Dismissed { .. } => "dismissed",
            Self::Answered { .. } => "answered",
            Self::Checked(_) => "checked",
            Self::Moved { .. } => "moved",
            Self::Followed { .. } => "followed",
        }
    }

    /// Whose it is.
    pub(super) fn action(&self) -> Action {
        match self {
            Self::Answered { .. } => Action::AnswerFinding,
            _ => Action::FollowCase,
        }
    }

    /// What it is to the case; nothing for what is only told.
    pub(super) fn event(&self, at: DateTime<Utc>) -> Option<CaseEvent> {
        match self {
            Self::Visited { .. } => Some(CaseEvent::Visited),
            Self::Promised { due, .. } => Some(CaseEvent::Promised { due: *due }),
            Self::Kept { on, .. } => Some(CaseEvent::Kept { on: *on }),
            Self::Dismissed { .. } => {
                Some(CaseEvent::Dismissed { on: BusinessDate::from(at.date_naive()) })
            }
            Self::Checked(looked) => looked.event(),
            Self::Answered { .. } => Some(CaseEvent::Answered),
            Self::Moved { on } => Some(CaseEvent::Moved { on: *on }),
            Self::Followed { .. } => None,
        }
    }

    pub(super) fn row(
        &self,
        case: Uuid,
        at: DateTime<Utc>,
        by: Option<PersonId>,
    ) -> Result<EventRow, AppError> {
        let body = serde_json::to_value(self).map_err(|e| AppError::Internal(e.into()))?;
        let kind = self.word().to_owned();
        Ok(EventRow { case_id: case, kind, body, at, by_person: by.map(|person| person.0) })
    }
}

/// What happened, when, by whom.
#[derive(Debug, Clone, PartialEq)]
pub struct Happened {
    /// What was done or said.
    pub what: Happening,
    /// When it was recorded.
    pub at: DateTime<Utc>,
    /// By whom, where that is told; nobody, when the server did it.
    pub by: Option<PersonId>,
}

impl Happened {
    pub(super) fn read(row: &EventRow) -> Result<Self, AppError> {
        let what = serde_json::from_value(row.body.clone());
        let what = what.map_err(|e| AppError::Internal(e.into()))?;
        Ok(Self { what, at: row.at, by: row.by_person.map(PersonId) })
    }
}
