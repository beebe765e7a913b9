//! The life of a revision of a night's count: accepted as it comes, held until somebody answered,
//! or proposed after the lock until another person decided.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// The state a revision came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// It is the count in force until a later one is accepted.
    Accepted,
    /// It waits for answers. It displaces nothing.
    Held,
    /// It waits for another person's approval. It displaces nothing.
    Proposed,
}

/// What became of a revision that waited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Settled {
    /// It became the count in force.
    Accepted,
    /// Somebody said no to it.
    Declined,
    /// A later revision came in its place.
    Overtaken,
}

/// What happens to a revision that waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RevisionEvent {
    /// Everything that was asked is answered.
    Answered,
    /// The store opens the next time.
    Opened,
    /// Another person approved.
    Approved,
    /// Another person declined.
    Declined,
    /// A later revision of the night came, in this state, or came to stand.
    Revised(State),
}

impl State {
    /// Every state that a revision may come in.
    pub const ALL: &[Self] = &[Self::Accepted, Self::Held, Self::Proposed];

    /// The word for the state in the API and the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Held => "held",
            Self::Proposed => "proposed",
        }
    }

    /// What becomes of a revision that came in this state and still waits, when something happens;
    /// none when it waits on, or never waited. A proposal may be declined, so a held count waits
    /// beside it.
    ///
    /// ```
    /// use parings_core::night::{RevisionEvent, Settled, State};
    /// assert_eq!(State::Held.after(RevisionEvent::Opened), Some(Settled::Accepted));
    /// assert_eq!(State::Proposed.after(RevisionEvent::Opened), None);
    /// ```
    pub fn after(self, event: RevisionEvent) -> Option<Settled> {
        match (self, event) {
            (Self::Held, RevisionEvent::Answered | RevisionEvent::Opened)
            | (Self::Proposed, RevisionEvent::Approved) => Some(Settled::Accepted),
            (Self::Proposed, RevisionEvent::Declined) => Some(Settled::Declined),
            (Self::Held, RevisionEvent::Revised(Self::Accepted | Self::Held))
            | (Self::Proposed, RevisionEvent::Revised(_)) => Some(Settled::Overtaken),
            (
                Self::Held,
                RevisionEvent::Revised(Self::Proposed)
                | RevisionEvent::Approved
                | RevisionEvent::Declined,
            )
            | (Self::Proposed, RevisionEvent::Answered | RevisionEvent::Opened)
            | (Self::Accepted, _) => None,
        }
    }
}

impl Settled {
    /// Every way in which waiting ends.
    pub const ALL: &[Self] = &[Self::Accepted, Self::Declined, Self::Overtaken];

    /// The word for what became of it, in the API and the database.
    pub fn word(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Declined => "declined",
            Self::Overtaken => "overtaken",
        }
    }
}

/// A word that is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is neither a state nor an outcome of a count")]
pub struct NoSuchWord(String);

impl FromStr for State {
    type Err = NoSuchWord;
    fn from_str(word: &str) -> Result<Self, NoSuchWord> {
        let found = Self::ALL.iter().find(|state| state.word() == word);
        found.copied().ok_or_else(|| NoSuchWord(word.to_owned()))
    }
}

impl FromStr for Settled {
    type Err = NoSuchWord;
    fn from_str(word: &str) -> Result<Self, NoSuchWord> {
        let found = Self::ALL.iter().find(|outcome| outcome.word() == word);
        found.copied().ok_or_else(|| NoSuchWord(word.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The whole table; how a count lives is this project's own rule.
    #[test]
    fn every_state_and_event() {
        use Settled::{Accepted, Declined, Overtaken};
        let revised = RevisionEvent::Revised;
        let events = [
            RevisionEvent::Answered,
            RevisionEvent::Opened,
            RevisionEvent::Approved,
            RevisionEvent::Declined,
            revised(State::Accepted),
            revised(State::Held),
            revised(State::Proposed),
        ];
        let row = |state: State| events.map(|event| state.after(event));
        assert_eq!(row(State::Accepted), [None; 7]);
        let (yes, no, gone) = (Some(Accepted), Some(Declined), Some(Overtaken));
        assert_eq!(row(State::Held), [yes, yes, None, None, gone, gone, None]);
        assert_eq!(row(State::Proposed), [None, None, yes, no, gone, gone, gone]);
    }

    #[test]
    fn the_words_are_those_on_the_wire() {
        for state in State::ALL {
            assert_eq!(serde_json::to_value(state).unwrap(), state.word());
            assert_eq!(state.word().parse(), Ok(*state));
        }
        for outcome in Settled::ALL {
            assert_eq!(serde_json::to_value(outcome).unwrap(), outcome.word());
            assert_eq!(outcome.word().parse(), Ok(*outcome));
        }
        assert!("gone".parse::<State>().is_err() && "held".parse::<Settled>().is_err());
    }
}
