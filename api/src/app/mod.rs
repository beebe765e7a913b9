//! Use cases: authorize, load, apply the rules of core, save, audit; each in one transaction.
//!
//! They lie in rooms, and each room uses only those below it: `ground`; `signin` and `night`; `figures`
//! and `demand`; `watch` and `office`.

pub mod demand;
pub mod figures;
pub mod ground;
pub mod night;
pub mod office;
pub mod signin;
pub mod watch;

use std::sync::Arc;

use chrono::{DateTime, Utc};
use deadpool::managed::TimeoutType;
use diesel_async::pooled_connection::deadpool::{Object, PoolError};
use diesel_async::{AsyncConnection, AsyncPgConnection, TransactionManager};
use parings_core::access::{Actor, Role};
use parings_core::ids::StoreId;

use crate::app::ground::catalog::Lately;
use crate::app::ground::turns::Turns;
use crate::app::signin::Signin;
use crate::config::Config;
use crate::context::{Caller, Ctx};
use crate::db;
use crate::db::pool::PgPool;
use crate::edge::Clock;
use crate::error::{AppError, Outage};

type Transactions = <AsyncPgConnection as AsyncConnection>::TransactionManager;

/// What use cases need besides a connection and a context.
#[derive(Clone)]
pub struct Deps {
    /// What the server was started with.
    pub config: Arc<Config>,
    /// Connections of the application's role.
    pub pool: PgPool,
    /// Where `now` comes from.
    pub clock: Clock,
    /// Catalogues that were read lately.
    pub catalogs: Arc<Lately>,
    /// Keys, hashing and limits.
    pub signin: Arc<Signin>,
    /// How much of the server each may take at once.
    pub turns: Arc<Turns>,
}

impl Deps {
    /// A connection in a transaction. One that broke while nobody used it fails at its first word, before
    /// anything is done: it is thrown away, and another is taken.
    async fn begin(&self) -> Result<Object<AsyncPgConnection>, AppError> {
        let mut broken = 0;
        loop {
            let mut conn = self.pool.get().await.map_err(no_connection)?;
            match Transactions::begin_transaction(&mut *conn).await {
                Ok(()) => return Ok(conn),
                Err(error)
                    if Outage::of(&error).is_none() || broken == self.pool.status().max_size =>
                {
                    return Err(error.into());
                }
                Err(_) => drop(Object::take(conn)),
            }
            broken += 1;
        }
    }

    /// Runs `work` in one transaction, acting as the caller: it commits when `work` succeeds and
    /// leaves nothing behind when it does not.
    ///
    /// # Errors
    /// 401 when the caller is unknown or disabled by now, or signed out; whatever `work` answers.
    pub async fn acting<T>(
        &self,
        caller: &Caller,
        work: impl AsyncFnOnce(&mut AsyncPgConnection, &Ctx) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let _turn = self.turns.of_account(caller.person).await?;
        self.in_their_turn(caller, work).await
    }

    /// The same for what writes to a store: such writes come one after the other, and those that wait hold
    /// no connection.
    ///
    /// # Errors
    /// As [`Deps::acting`], and busy when others write to the store for too long.
    pub async fn writing<T>(
        &self,
        caller: &Caller,
        store: &StoreId,
        work: impl AsyncFnOnce(&mut AsyncPgConnection, &Ctx) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let _turns =
            (self.turns.of_account(caller.person).await?, self.turns.of_store(store).await?);
        self.in_their_turn(caller, work).await
    }

    /// The same for what reads the nights of all stores, which a few do at once.
    ///
    /// # Errors
    /// As [`Deps::acting`], and busy when others read as much for too long.
    pub async fn reading_all<T>(
        &self,
        caller: &Caller,
        work: impl AsyncFnOnce(&mut AsyncPgConnection, &Ctx) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        // First the rarer: who waits for it keeps none of the account's other requests.
        let _turns = (self.turns.of_wide().await?, self.turns.of_account(caller.person).await?);
        self.in_their_turn(caller, work).await
    }

    async fn in_their_turn<T>(
        &self,
        caller: &Caller,
        work: impl AsyncFnOnce(&mut AsyncPgConnection, &Ctx) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        self.transaction(async |conn| {
            // Others see that this began before it has a moment to record with.
            let ctx = act_as(conn, caller, self.clock.now()).await?;
            work(conn, &Ctx { now: self.clock.now(), ..ctx }).await
        })
        .await
    }

    /// Runs `work` in one transaction in which nobody acts: the policies show it nothing.
    ///
    /// # Errors
    /// Busy when no connection is free, an outage when none can be made; whatever `work` answers.
    pub async fn transaction<T>(
        &self,
        work: impl AsyncFnOnce(&mut AsyncPgConnection) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let mut conn = self.begin().await?;
        match work(&mut conn).await {
            Ok(done) => {
                Transactions::commit_transaction(&mut *conn).await?;
                Ok(done)
            }
            Err(error) => {
                // A connection that cannot roll back is thrown away by the pool; the first error
                // is the one worth telling.
                if let Err(second) = Transactions::rollback_transaction(&mut *conn).await {
                    tracing::warn!(error.cause = %second, "roll back");
                }
                Err(error)
            }
        }
    }
}

/// Says why no connection comes: all are in use, or none can be made.
fn no_connection(error: PoolError) -> AppError {
    match error {
        PoolError::Timeout(TimeoutType::Wait) => {
            AppError::Busy("all connections to the database are in use".to_owned())
        }
        error => {
            let cause = error.to_string();
            AppError::NoDatabase { outage: Outage::said(&cause).unwrap_or(Outage::Away), cause }
        }
    }
}

/// Takes the caller's part in a transaction, or takes it back from the rules.
///
/// # Errors
/// 401 when the caller is unknown or disabled by now, or signed out.
async fn act_as(
    conn: &mut AsyncPgConnection,
    caller: &Caller,
    now: DateTime<Utc>,
) -> Result<Ctx, AppError> {
    let row = db::acting::act_as(conn, caller.person, caller.session, now).await?;
    let row = row.ok_or_else(|| {
        AppError::Unauthenticated("this account or its session has ended".to_owned())
    })?;
    let role = Role::from_parts(&row.role, &row.places).map_err(anyhow::Error::msg)?;
    let actor = Actor { person: caller.person, role };
    Ok(Ctx { actor, now, request_id: caller.request_id.clone() })
}
