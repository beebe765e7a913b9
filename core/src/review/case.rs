//! A case: what a coach does about a finding, and what became of it.

use super::{Finding, FindingKind, Label, Measure, Verdict};
use crate::calendar::BusinessDate;

/// How far a case is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CaseStage {
    /// Raised, and nobody was there yet.
    Open,
    /// The coach was there.
    Visited,
    /// Somebody promised something by a date.
    Promised,
    /// What was promised is done.
    Kept,
    /// It was looked at for the last time.
    Closed,
    /// The coach said why it is none.
    Dismissed,
    /// Its store belongs to another district or owner since, or to none.
    Moved,
}

impl CaseStage {
    /// Every stage: first those a case goes through in turn, then the three ways in which it ends.
    pub const ALL: &[Self] = &[
        Self::Open,
        Self::Visited,
        Self::Promised,
        Self::Kept,
        Self::Closed,
        Self::Dismissed,
        Self::Moved,
    ];

    /// Its word in the API.
    ///
    /// ```
    /// assert_eq!(parings_core::review::CaseStage::Promised.word(), "promised");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Visited => "visited",
            Self::Promised => "promised",
            Self::Kept => "kept",
            Self::Closed => "closed",
            Self::Dismissed => "dismissed",
            Self::Moved => "moved",
        }
    }

    /// Whether nothing more happens to it.
    pub fn has_ended(self) -> bool {
        matches!(self, Self::Closed | Self::Dismissed | Self::Moved)
    }

    /// What may happen next, in words.
    pub fn next(self) -> &'static [&'static str] {
        match self {
            Self::Open => &["visited", "dismissed"],
            Self::Visited => &["promised", "dismissed"],
            Self::Promised => &["promised", "kept", "dismissed"],
            Self::Kept => &["dismissed"],
            Self::Closed | Self::Dismissed | Self::Moved => &[],
        }
    }
}

/// When a promise is looked at again: common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CaseCheck {
    /// After two weeks: how it looks so far.
    Interim,
    /// After six weeks: the verdict.
    Last,
}

impl CaseCheck {
    /// Both times, in order.
    pub const ALL: &[Self] = &[Self::Interim, Self::Last];

    /// So many days after the promise was kept.
    pub fn days(self) -> i64 {
        match self {
            Self::Interim => 14,
            Self::Last => 42,
        }
    }
}

/// Something that happens to a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaseEvent {
    /// The coach was there.
    Visited,
    /// Something is promised by a date; promised anew, the later date holds.
    Promised {
        /// The date by which it is promised.
        due: BusinessDate,
    },
    /// What was promised is done.
    Kept {
        /// The business date from which on it holds.
        on: BusinessDate,
    },
    /// The server looked again.
    Checked(CaseCheck, Verdict),
    /// It is none, for a reason.
    Dismissed {
        /// When that was said.
        on: BusinessDate,
    },
    /// The store's manager says something to it.
    Answered,
    /// Its store is no more where it was when the case was raised
    /// ([`StoreTimeline::left`](crate::catalog::StoreTimeline::left)).
    Moved {
        /// The first business date elsewhere.
        on: BusinessDate,
    },
}

/// What does not happen to a case at its stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("this case is {}: {}", stage.word(), after(*stage))]
pub struct NotNow {
    /// The stage it is at.
    pub stage: CaseStage,
}

fn after(stage: CaseStage) -> String {
    match stage.next() {
        [] if stage == CaseStage::Moved => {
            "its store belongs to another district or owner, where a new case may begin".to_owned()
        }
        [] => "nothing more happens to it".to_owned(),
        next => format!("what may come next is {}", next.join(" or ")),
    }
}

/// A case as far as it is, from what happened to it.
///
/// ```
/// use parings_core::calendar::BusinessDate;
/// use parings_core::review::{CaseCheck, CaseEvent, Progress, CaseStage, Verdict};
/// let day = |day| BusinessDate::new(2026, 6, day).unwrap();
/// let case = Progress::default().after(CaseEvent::Visited).unwrap();
/// let case = case.after(CaseEvent::Promised { due: day(10) }).unwrap();
/// let case = case.after(CaseEvent::Kept { on: day(8) }).unwrap();
/// // It is looked at two weeks and six weeks after the promise was kept.
/// assert_eq!(case.due(day(21)), None);
/// assert_eq!(case.due(day(22)), Some(CaseCheck::Interim));
/// let case = case.after(CaseEvent::Checked(CaseCheck::Last, Verdict::CannotTell)).unwrap();
/// assert_eq!(case.stage(), CaseStage::Closed);
/// assert!(case.after(CaseEvent::Visited).is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    stage: CaseStage,
    promised: Option<BusinessDate>,
    kept: Option<BusinessDate>,
    interim: Option<Verdict>,
    verdict: Option<Verdict>,
    dismissed: Option<BusinessDate>,
    moved: Option<BusinessDate>,
}

impl Default for Progress {
    fn default() -> Self {
        Self {
            stage: CaseStage::Open,
            promised: None,
            kept: None,
            interim: None,
            verdict: None,
            dismissed: None,
            moved: None,
        }
    }
}

impl Progress {
    /// What it is after something happened: the whole table of what may.
    ///
    /// # Errors
    /// [`NotNow`] when it does not happen at this stage, with what may happen instead.
    pub fn after(self, event: CaseEvent) -> Result<Self, NotNow> {
        use CaseStage::{Closed, Dismissed, Kept, Moved, Open, Promised, Visited};
        match (self.stage, event) {
            (Open, CaseEvent::Visited) => Ok(Self { stage: Visited, ..self }),
            (Visited | Promised, CaseEvent::Promised { due }) => {
                Ok(Self { stage: Promised, promised: Some(due), ..self })
            }
            (Promised, CaseEvent::Kept { on }) => Ok(Self { stage: Kept, kept: Some(on), ..self }),
            (Promised | Kept, CaseEvent::Checked(CaseCheck::Interim, verdict))
                if self.interim.is_none() =>
            {
                Ok(Self { interim: Some(verdict), ..self })
            }
            (Promised | Kept, CaseEvent::Checked(CaseCheck::Last, verdict)) => {
                Ok(Self { stage: Closed, verdict: Some(verdict), ..self })
            }
            (Open | Visited | Promised | Kept, CaseEvent::Dismissed { on }) => {
                Ok(Self { stage: Dismissed, dismissed: Some(on), ..self })
            }
            (Open | Visited | Promised | Kept, CaseEvent::Moved { on }) => {
                Ok(Self { stage: Moved, moved: Some(on), ..self })
            }
            // What is said after a move is the new place's business, and no former coach's.
            (Open | Visited | Promised | Kept | Closed | Dismissed, CaseEvent::Answered) => {
                Ok(self)
            }
            (stage, _) => Err(NotNow { stage }),
        }
    }

    /// How far it is.
    pub fn stage(self) -> CaseStage {
        self.stage
    }

    /// By when something is promised.
    pub fn promised(self) -> Option<BusinessDate> {
        self.promised
    }

    /// Since when it is done.
    pub fn kept(self) -> Option<BusinessDate> {
        self.kept
    }

    /// What came of it.
    pub fn verdict(self) -> Option<Verdict> {
        self.verdict
    }

    /// When it was dismissed.
    pub fn dismissed(self) -> Option<BusinessDate> {
        self.dismissed
    }

    /// Since when its store is elsewhere.
    pub fn moved(self) -> Option<BusinessDate> {
        self.moved
    }

    /// The night from which on it should be better: when the promise was kept, else when it was due.
    pub fn turned(self) -> Option<BusinessDate> {
        self.kept.or(self.promised)
    }

    /// When it is looked at again.
    pub fn date_of(self, check: CaseCheck) -> Option<BusinessDate> {
        Some(self.turned()?.plus_days(check.days()))
    }

    /// Which look is due once a night is over.
    pub fn due(self, over: BusinessDate) -> Option<CaseCheck> {
        let is_due = |check: &CaseCheck| self.date_of(*check).is_some_and(|date| date <= over);
        if self.stage.has_ended() {
            None
        } else if is_due(&CaseCheck::Last) {
            Some(CaseCheck::Last)
        } else {
            Some(CaseCheck::Interim).filter(|check| is_due(check) && self.interim.is_none())
        }
    }
}

/// A case of a store that there was before, or is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Earlier {
    /// The store that the case is about.
    pub store: Label,
    /// By what it was raised.
    pub measure: Measure,
    /// How large the change was then.
    pub size: f64,
    /// When it ended; none while it goes on.
    pub ended: Option<BusinessDate>,
}

/// At most so many new cases a coach and week. Common practice, no source.
pub const MOST_A_WEEK: usize = 4;
/// So many days nothing is said again of what ended. Common practice, no source.
const MUTED: i64 = 28;
/// Unless it grew by so much.
const GROWN: f64 = 1.5;

/// Which findings of one coach's stores become cases: those that last, one a store, most money a week
/// first, no more than the week has room for. Nothing is raised of a store whose case goes on, nor of
/// what ended less than four weeks ago, unless it grew by half. Single nights, what a district shares
/// and what is over are none.
pub fn raise(found: &[Finding], earlier: &[Earlier], this_week: usize) -> Vec<Finding> {
    let mut lasting: Vec<&Finding> = found.iter().filter(|finding| may(finding, earlier)).collect();
    // What has no price comes last, the clearest of it first.
    let key = |f: &Finding| (f.money_per_week.unwrap_or(f64::NEG_INFINITY), f.evidence.strength);
    lasting.sort_by(|a, b| {
        let ((a, clear_a), (b, clear_b)) = (key(a), key(b));
        b.total_cmp(&a).then(clear_b.total_cmp(&clear_a))
    });
    let mut raised: Vec<Finding> = Vec::new();
    for finding in lasting {
        let room = this_week + raised.len() < MOST_A_WEEK;
        if room && !raised.iter().any(|other| other.store == finding.store) {
            raised.push(*finding);
        }
    }
    raised
}

fn may(finding: &Finding, earlier: &[Earlier]) -> bool {
    let lasts =
        matches!(finding.kind, FindingKind::Drift | FindingKind::Chronic | FindingKind::Habit);
    let lasts = lasts && !finding.is_private();
    let Some(store) = finding.store.filter(|_| lasts) else { return false };
    earlier.iter().filter(|case| case.store == store).all(|case| {
        let Some(ended) = case.ended else { return false };
        let muted = ended.days_until(finding.as_of) < MUTED;
        let grown = finding.size.abs() >= GROWN * case.size.abs() && case.size != 0.0;
        case.measure != finding.measure || !muted || grown
    })
}

#[cfg(test)]
mod tests;
