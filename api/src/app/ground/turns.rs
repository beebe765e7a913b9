//! Whose turn it is: how much of the server one account, one store, or questions about all stores may
//! take at once, so that whoever asks a great deal keeps only themselves waiting.
//!
//! Who waits here holds no connection to the database. Turns come in the order in which they were asked
//! for, and count for each server by itself.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use parings_core::ids::{PersonId, StoreId};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::error::AppError;

/// Writes to a store come one after the other: one is worked on, and the next stands ready.
const OF_STORE: usize = 2;

/// The turns of a server.
pub struct Turns {
    accounts: Lines<PersonId>,
    stores: Lines<StoreId>,
    wide: Arc<Semaphore>,
    wait: Duration,
}

impl Turns {
    /// Turns at so many connections: an account has a quarter of them at most, and what reads all
    /// stores an eighth. Nobody waits longer than `wait`.
    pub fn new(connections: usize, wait: Duration) -> Self {
        let share = |of: usize| (connections / of).max(1);
        Self {
            accounts: Lines::of(share(4)),
            stores: Lines::of(share(4).min(OF_STORE)),
            wide: Arc::new(Semaphore::new(share(8))),
            wait,
        }
    }

    /// A turn of an account, whether a person's or a service's.
    ///
    /// # Errors
    /// Busy, when as many of its requests as it may have at once take longer than the wait.
    pub async fn of_account(&self, person: PersonId) -> Result<Turn<PersonId>, AppError> {
        let turn = self.accounts.turn(person, self.wait).await;
        turn.ok_or_else(|| {
            busy(
                "the server is still working on other requests of this account: send fewer at once",
            )
        })
    }

    /// A turn to write to a store.
    ///
    /// # Errors
    /// Busy, when other writes to the store take longer than the wait.
    pub async fn of_store(&self, store: &StoreId) -> Result<Turn<StoreId>, AppError> {
        let turn = self.stores.turn(store.clone(), self.wait).await;
        turn.ok_or_else(|| busy("many others are writing to this store"))
    }

    /// A turn to read the nights of all stores.
    ///
    /// # Errors
    /// Busy, when others who read so much take longer than the wait.
    pub async fn of_wide(&self) -> Result<OwnedSemaphorePermit, AppError> {
        let turn = tokio::time::timeout(self.wait, Arc::clone(&self.wide).acquire_owned()).await;
        let turn = turn.ok().and_then(Result::ok);
        turn.ok_or_else(|| busy("others are reading the nights of all stores"))
    }
}

fn busy(why: &str) -> AppError {
    AppError::Busy(why.to_owned())
}

/// Lines of those who wait, by what they wait for; a line is there while somebody has a turn in it.
struct Lines<K> {
    many: usize,
    by_key: Arc<Mutex<HashMap<K, Arc<Semaphore>>>>,
}

impl<K: Clone + Eq + Hash> Lines<K> {
    fn of(many: usize) -> Self {
        Self { many, by_key: Arc::default() }
    }

    async fn turn(&self, key: K, wait: Duration) -> Option<Turn<K>> {
        let line = Arc::clone(
            held(&self.by_key)
                .entry(key.clone())
                .or_insert_with(|| Arc::new(Semaphore::new(self.many))),
        );
        let permit = tokio::time::timeout(wait, line.acquire_owned()).await.ok()?.ok()?;
        Some(Turn { key, permit: Some(permit), by_key: Arc::clone(&self.by_key) })
    }
}

/// A turn, until it is dropped.
pub struct Turn<K: Eq + Hash> {
    key: K,
    permit: Option<OwnedSemaphorePermit>,
    by_key: Arc<Mutex<HashMap<K, Arc<Semaphore>>>>,
}

impl<K: Eq + Hash> Drop for Turn<K> {
    fn drop(&mut self) {
        let mut lines = held(&self.by_key);
        drop(self.permit.take());
        // Whoever has a turn or waits for one holds the line as well.
        if lines.get(&self.key).is_some_and(|line| Arc::strong_count(line) == 1) {
            lines.remove(&self.key);
        }
    }
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use futures::FutureExt;

    use super::*;

    const LONG: Duration = Duration::from_secs(600);

    #[tokio::test]
    async fn an_account_has_a_quarter_and_others_the_rest() {
        let turns = Turns::new(16, LONG);
        let [one, other] = [1, 2].map(|n| PersonId(uuid::Uuid::from_u128(n)));
        let mut had = Vec::new();
        for _ in 0..4 {
            had.push(turns.of_account(one).await.expect("a turn"));
        }
        let mut fifth = Box::pin(turns.of_account(one));
        assert!(fifth.as_mut().now_or_never().is_none(), "a fifth");
        assert!(turns.of_account(other).now_or_never().is_some(), "another account");
        had.pop();
        assert!(fifth.as_mut().now_or_never().is_some(), "after one has ended");
    }

    #[tokio::test]
    async fn one_writes_to_a_store_and_one_stands_ready() {
        let turns = Turns::new(16, LONG);
        let [ford, weir] = ["ford", "weir"].map(|code| StoreId::new(code).expect("a code"));
        let first = turns.of_store(&ford).await.expect("a turn");
        let second = turns.of_store(&ford).await.expect("a turn");
        let mut third = Box::pin(turns.of_store(&ford));
        assert!(third.as_mut().now_or_never().is_none(), "a third");
        assert!(turns.of_store(&weir).now_or_never().is_some(), "another store");
        drop(first);
        let third = third.as_mut().now_or_never().expect("after one has ended").expect("a turn");
        drop((second, third));
        assert!(held(&turns.stores.by_key).is_empty(), "no line is left behind");
    }

    #[tokio::test]
    async fn few_read_all_stores_at_once() {
        let turns = Turns::new(16, LONG);
        let (first, _second) = (turns.of_wide().await, turns.of_wide().await);
        let mut third = Box::pin(turns.of_wide());
        assert!(third.as_mut().now_or_never().is_none());
        drop(first);
        assert!(third.as_mut().now_or_never().is_some());
    }

    /// With so few connections that a share is less than one, everybody still has a turn.
    #[tokio::test]
    async fn nobody_waits_for_ever() {
        let turns = Turns::new(1, Duration::ZERO);
        let person = PersonId(uuid::Uuid::from_u128(1));
        let ford = StoreId::new("ford").expect("a code");
        let _all =
            (turns.of_account(person).await, turns.of_store(&ford).await, turns.of_wide().await);
        for said in [
            turns.of_account(person).await.err(),
            turns.of_store(&ford).await.err(),
            turns.of_wide().await.err(),
        ] {
            assert!(matches!(said, Some(AppError::Busy(_))), "{said:?}");
        }
        assert_eq!(held(&turns.accounts.by_key).len(), 1);
    }
}
