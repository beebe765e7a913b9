//! The edge where the clock and chance enter. Everything behind it takes them as arguments.
#![allow(clippy::disallowed_methods)]

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
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
    /// A clock that a test sets and that runs on from there: how far it is from the machine's.
    Running(Arc<Mutex<TimeDelta>>),
}

impl Clock {
    /// A clock that stands at `at` until it is set again.
    pub fn standing(at: DateTime<Utc>) -> Self {
        Self::Set(Arc::new(Mutex::new(at)))
    }

    /// A clock that runs, and can be set.
    pub fn running() -> Self {
        Self::Running(Arc::default())
    }

    /// The time, in whole microseconds as the database keeps it.
    pub fn now(&self) -> DateTime<Utc> {
        match self {
            Self::Machine => Utc::now().trunc_subsecs(6),
            Self::Set(at) => *held(at),
            Self::Running(ahead) => Self::Machine.now() + *held(ahead),
        }
    }

    /// Moves a set clock; the machine's cannot be moved and is left alone.
    pub fn set(&self, to: DateTime<Utc>) {
        match self {
            Self::Machine => {}
            Self::Set(at) => *held(at) = to,
            Self::Running(ahead) => *held(ahead) = to - Self::Machine.now(),
        }
    }
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
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
