//! Whether the server can work.

use crate::app::Deps;
use crate::db;
use crate::error::AppError;

/// The newest migration, when the database answers, can write, and has what this binary knows.
///
/// # Errors
/// Busy or an outage, with the reason.
pub async fn check(deps: &Deps) -> Result<String, AppError> {
    let newest = db::migrate::newest();
    let current = deps
        .transaction(async |conn| {
            db::room::try_room(conn).await?;
            Ok(db::migrate::current(conn).await?)
        })
        .await?;
    match current {
        Some(current) if current == newest => Ok(newest),
        Some(other) => Err(AppError::Busy(format!(
            "the database is at migration {other}, this server knows {newest}"
        ))),
        None => Err(AppError::Busy("the database has no migrations yet".to_owned())),
    }
}
