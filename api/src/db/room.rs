//! Whether there is room on the disk of the database.

use diesel::QueryResult;
use diesel_async::{AsyncPgConnection, RunQueryDsl};

use super::statement::statement;

statement!(LittleMemory {} = "room/little_memory.sql");
statement!(Spill {} = "room/spill.sql");

/// Lets the database write some hundred kilobytes to a file that is gone with the statement. Reading alone
/// goes on when a disk is full, and a record of it would have to be cleared away again.
///
/// # Errors
/// What the database says when it cannot write, or cannot be reached.
pub async fn try_room(conn: &mut AsyncPgConnection) -> QueryResult<()> {
    LittleMemory {}.execute(conn).await?;
    Spill {}.execute(conn).await.map(|_| ())
}
