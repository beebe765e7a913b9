//! The edge where the clock and chance enter. Everything behind it takes them as arguments.
#![allow(clippy::disallowed_methods)]

use std::sync::{Arc, Mutex};

use chrono::{DateTime, SubsecRound, Utc};
use rand::RngExt;
use uuid::Uuid;

/// Where `now` comes from.
#[derive(Clone, Debug, Default)]
pub enum Clock {
    /// The machine's clock.
    #[default]
    Machine,
    /// A clock that a test or the demo sets.
    Set(Arc<Mutex<DateTime<Utc>>>),
}

impl Clock {
    /// A clock that stands at `at` until it is set again.
    pub fn standing(at: DateTime<Utc>) -> Self {
        Self::Set(Arc::new(Mutex::new(at)))
    }

    /// The time, in whole microseconds as the database keeps it.
    pub fn now(&self) -> DateTime<Utc> {
        match self {
            Self::Machine => Utc::now().trunc_subsecs(6),
            Self::Set(at) => *at.lock().unwrap_or_else(std::sync::PoisonError::into_inner),
        }
    }

    /// Moves a set clock; the machine's cannot be moved and is left alone.
    pub fn set(&self, to: DateTime<Utc>) {
        if let Self::Set(at) = self {
            *at.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = to;
        }
    }
}

/// A new id, ordered by time.
pub fn new_id() -> Uuid {
    Uuid::now_v7()
}

/// Bytes from the operating system's generator, for secrets.
pub fn random_bytes<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    rand::rng().fill(&mut bytes);
    bytes
}
