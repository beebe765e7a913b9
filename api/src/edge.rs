//! The edge where the clock and chance enter. Everything behind it takes them as arguments.
#![allow(clippy::disallowed_methods)]

use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use rand::RngExt;
use uuid::Uuid;

/// When somebody first asked how long the process has run.
static START: LazyLock<Instant> = LazyLock::new(Instant::now);

/// Where `now` comes from.
#[derive(Clone, Debug, Default)]
pub enum Clock {
    /// The machine's clock.
    #[default]
    Machine,
    /// A clock that a test or the demo sets.
    Set(Arc<Mutex<Standing>>),
    /// A clock that a test sets and that runs on from there: how far it is from the machine's.
    Running(Arc<Mutex<TimeDelta>>),
}

/// Where a clock that is set stands.
#[derive(Debug)]
pub struct Standing {
    at: DateTime<Utc>,
    passed: Duration,
}

impl Clock {
    /// A clock that stands at `at` until it is set again.
    pub fn standing(at: DateTime<Utc>) -> Self {
        Self::Set(Arc::new(Mutex::new(Standing { at, passed: Duration::ZERO })))
    }

    /// A clock that runs, and can be set.
    pub fn running() -> Self {
        Self::Running(Arc::default())
    }

    /// The time, in whole microseconds as the database keeps it.
    pub fn now(&self) -> DateTime<Utc> {
        match self {
            Self::Machine => Utc::now().trunc_subsecs(6),
            Self::Set(standing) => held(standing).at,
            Self::Running(ahead) => Self::Machine.now() + *held(ahead),
        }
    }

    /// How long this has run. It never goes back, whatever becomes of the time: of a clock that is set,
    /// what it was set forward by has passed.
    pub fn since_start(&self) -> Duration {
        match self {
            Self::Machine | Self::Running(_) => START.elapsed(),
            Self::Set(standing) => held(standing).passed,
        }
    }

    /// Moves a set clock; the machine's cannot be moved and is left alone.
    pub fn set(&self, to: DateTime<Utc>) {
        match self {
            Self::Machine => {}
            Self::Set(standing) => {
                let mut standing = held(standing);
                let passed = (to - standing.at).to_std().unwrap_or_default();
                standing.passed += passed;
                standing.at = to;
            }
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
