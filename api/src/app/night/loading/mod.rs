//! Many nights at once: a history that head office brings from files, and the demo.
//!
//! The same facts under the same rules give the same tallies as when they are sent one by one
//! (a test compares them, column by column). What differs is how: everything known of a store is read
//! once, its nights are worked through in memory in order of date, and rows are added a list for
//! each column. A count that comes later than its night is looked at as if it had come at its end:
//! what can only be wrong is refused, and neither age nor lock matters. Nothing waits: what is asked
//! is left out, or its answer comes with the count.

mod facts;
mod kind;
mod stood;
mod versions;
mod work;
mod write;

use std::collections::BTreeSet;
use std::sync::Arc;

use anyhow::Context;
use chrono::{DateTime, Utc};
use diesel_async::AsyncPgConnection;
use parings_core::access::{Action, Target};
use parings_core::ids::{StoreId, WriteId};
use tokio::task::JoinHandle;

use crate::app::{Deps, act_as};
use crate::context::{Caller, Ctx};
use crate::db;
use crate::error::AppError;
pub use facts::{
    Asked, Batch, CountSent, Existing, Fact, Loaded, NightFacts, Place, Refused, StoreFacts,
};
pub use kind::Kind;
use versions::Versions;
use work::{Work, Worked};

/// How a load is done.
#[derive(Debug, Clone, Copy)]
pub struct How<'a> {
    /// The write it comes with; none when everything is only looked at.
    pub write: Option<WriteId>,
    /// What becomes of nights that have a count.
    pub existing: Existing<'a>,
}

/// Loads the nights of stores in the caller's transaction, as head office, whose part it takes.
/// `step` is told of every store how many nights more are done. The outer error is the server's; the
/// inner one names every fact that cannot be taken, and then the transaction must not commit.
///
/// # Errors
/// 403 for all but head office; when the database cannot be reached.
pub async fn load(
    deps: &Deps,
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    how: How<'_>,
    stores: Vec<StoreFacts>,
    mut step: impl FnMut(usize),
) -> Result<Result<Loaded, Vec<Refused>>, AppError> {
    let now = deps.clock.now();
    let codes: BTreeSet<&StoreId> = stores.iter().map(|facts| &facts.store).collect();
    let ctx = act(conn, caller, now).await?;
    // In order of their codes, so that two loads cannot wait for each other.
    for store in &codes {
        db::tallies::lock(conn, store).await?;
    }
    let known = db::reference::known(conn, ctx.now).await?;
    let versions = Arc::new(Versions::read(conn, &codes).await?);
    let mut loading = Loading {
        caller,
        ctx,
        versions,
        known,
        how,
        loaded: Loaded::default(),
        refused: Vec::new(),
    };
    let mut working: Option<Working> = None;
    for facts in stores {
        let nights = facts.nights.len();
        let next = loading.begin(conn, facts).await?;
        // While one store is worked through, the one before is written.
        if let Some(before) = working.replace((nights, next)) {
            step(loading.end(conn, before).await?);
        }
    }
    if let Some(last) = working {
        step(loading.end(conn, last).await?);
    }
    Ok(if loading.refused.is_empty() { Ok(loading.loaded) } else { Err(loading.refused) })
}

/// Takes the caller's part, who must be head office.
async fn act(
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    now: DateTime<Utc>,
) -> Result<Ctx, AppError> {
    let ctx = act_as(conn, caller, now).await?;
    ctx.require(Action::Load, &Target::Network)?;
    Ok(ctx)
}

/// A store that is worked through: how many nights, and what comes of it.
type Working = (usize, JoinHandle<Result<Result<Worked, Vec<Refused>>, AppError>>);

struct Loading<'a> {
    caller: &'a Caller,
    ctx: Ctx,
    versions: Arc<Versions>,
    known: DateTime<Utc>,
    how: How<'a>,
    loaded: Loaded,
    refused: Vec<Refused>,
}

impl Loading<'_> {
    /// Reads what stands of a store, and begins to work its nights through.
    async fn begin(
        &mut self,
        conn: &mut AsyncPgConnection,
        facts: StoreFacts,
    ) -> Result<JoinHandle<Result<Result<Worked, Vec<Refused>>, AppError>>, AppError> {
        self.refused.extend(stood::refused(conn, &facts, self.known).await?);
        let stood = stood::read(conn, &self.versions, &facts, self.known).await?;
        let reason = self.how.existing.reason().map(str::to_owned);
        let (versions, known, now) = (Arc::clone(&self.versions), self.known, self.ctx.now);
        let work = Work { versions, facts, stood, reason, known, now };
        Ok(tokio::task::spawn_blocking(|| work.run()))
    }

    /// Writes what came of a store, unless something was refused; answers with its nights.
    async fn end(
        &mut self,
        conn: &mut AsyncPgConnection,
        (nights, task): Working,
    ) -> Result<usize, AppError> {
        match (task.await.context("work through a store")??, self.how.write) {
            (Err(refused), _) => self.refused.extend(refused),
            (Ok(worked), Some(id)) if self.refused.is_empty() => {
                self.loaded.add(write::write(conn, &self.ctx, id, worked).await?);
                self.ctx = act(conn, self.caller, self.ctx.now).await?;
            }
            (Ok(worked), _) => self.loaded.add(worked.counted()),
        }
        Ok(nights)
    }
}
