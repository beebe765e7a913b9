//! The pool, and what every connection is told when it is made.

use diesel::{ConnectionError, ConnectionResult};
use diesel_async::pooled_connection::RecyclingMethod;
use diesel_async::pooled_connection::deadpool::Pool;
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig};
use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};
use futures::FutureExt;

use crate::config::DatabaseConfig;

/// Connections of the application's role.
pub type PgPool = Pool<AsyncPgConnection>;

/// Long values, as the answer to a night, are compressed in the quicker way if this PostgreSQL has it.
const QUICK_COMPRESSION: &str = "SELECT set_config(name, 'lz4', false) FROM pg_settings \
    WHERE name = 'default_toast_compression' AND 'lz4' = ANY (enumvals)";

/// Makes the pool; no connection is opened before it is needed.
///
/// # Errors
/// When the pool's settings do not fit together.
pub fn make(config: &DatabaseConfig) -> anyhow::Result<PgPool> {
    let timeout_ms = config.statement_timeout.as_millis();
    let setup = format!(
        "SET statement_timeout = {timeout_ms}; SET lock_timeout = {timeout_ms}; \
         SET idle_in_transaction_session_timeout = '60s'; SET TIME ZONE 'UTC'; \
         SET plan_cache_mode = force_generic_plan; {QUICK_COMPRESSION}"
    );
    let mut manager = ManagerConfig::default();
    manager.recycling_method = RecyclingMethod::Fast;
    manager.custom_setup = Box::new(move |url| {
        let (url, setup) = (url.to_owned(), setup.clone());
        async move { establish(&url, &setup).await }.boxed()
    });
    let manager = AsyncDieselConnectionManager::new_with_config(&config.url, manager);
    Ok(Pool::builder(manager)
        .max_size(config.pool_size)
        .wait_timeout(Some(config.wait))
        .create_timeout(Some(config.wait))
        .runtime(deadpool::Runtime::Tokio1)
        .build()?)
}

async fn establish(url: &str, setup: &str) -> ConnectionResult<AsyncPgConnection> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    conn.batch_execute(setup).await.map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}
