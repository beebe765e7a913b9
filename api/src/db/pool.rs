//! The pool, and what every connection is told when it is made.

use diesel::sql_types::Text;
use diesel::{ConnectionError, ConnectionResult};
use diesel_async::pooled_connection::RecyclingMethod;
use diesel_async::pooled_connection::deadpool::Pool;
use diesel_async::pooled_connection::{AsyncDieselConnectionManager, ManagerConfig};
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl};
use futures::FutureExt;

use super::statement::statement;
use crate::config::DatabaseConfig;

/// Connections of the application's role.
pub type PgPool = Pool<AsyncPgConnection>;

/// Makes the pool; no connection is opened before it is needed.
///
/// # Errors
/// When the pool's settings do not fit together.
pub fn make(config: &DatabaseConfig) -> anyhow::Result<PgPool> {
    let timeout = format!("{}ms", config.statement_timeout.as_millis());
    let mut manager = ManagerConfig::default();
    manager.recycling_method = RecyclingMethod::Fast;
    manager.custom_setup = Box::new(move |url| {
        let (url, timeout) = (url.to_owned(), timeout.clone());
        async move { establish(&url, &timeout).await }.boxed()
    });
    let manager = AsyncDieselConnectionManager::new_with_config(&config.url, manager);
    Ok(Pool::builder(manager)
        .max_size(config.pool_size)
        .wait_timeout(Some(config.wait))
        .create_timeout(Some(config.wait))
        .runtime(deadpool::Runtime::Tokio1)
        .build()?)
}

statement!(Setup<'a> { timeout: &'a str => Text } = "pool/setup.sql");

async fn establish(url: &str, timeout: &str) -> ConnectionResult<AsyncPgConnection> {
    let mut conn = AsyncPgConnection::establish(url).await?;
    let set_up = Setup { timeout }.execute(&mut conn).await;
    set_up.map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}
