//! Migrations, embedded in the binary and run by the owner's role.

use anyhow::{Context, anyhow};
use chrono::{Months, NaiveDate};
use diesel::QueryableByName;
use diesel::sql_types::{Date, Integer, Nullable, Text};
use diesel_async::{
    AsyncConnection, AsyncMigrationHarness, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection,
};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::statement::statement;

const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../migrations");

/// Brings the schema up to date; answers with the names of the migrations that ran.
///
/// # Errors
/// When the owner cannot connect or a migration fails.
pub async fn run(owner_url: &str) -> anyhow::Result<Vec<String>> {
    let conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let mut harness = AsyncMigrationHarness::new(conn);
    let ran = tokio::task::block_in_place(|| {
        harness
            .run_pending_migrations(MIGRATIONS)
            .map(|names| names.iter().map(ToString::to_string).collect())
    });
    ran.map_err(|e| anyhow!("migrate: {e}"))
}

/// Takes every migration back, newest first. Tests use it to see that each has a way back.
///
/// # Errors
/// When the owner cannot connect or a migration fails.
pub async fn revert(owner_url: &str) -> anyhow::Result<()> {
    let conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let mut harness = AsyncMigrationHarness::new(conn);
    tokio::task::block_in_place(|| harness.revert_all_migrations(MIGRATIONS).map(|_| ()))
        .map_err(|e| anyhow!("take migrations back: {e}"))
}

/// The newest migration the binary knows.
pub fn newest() -> String {
    use diesel::migration::MigrationSource;
    MigrationSource::<diesel::pg::Pg>::migrations(&MIGRATIONS)
        .unwrap_or_default()
        .iter()
        .map(|m| m.name().version().to_string())
        .max()
        .unwrap_or_default()
}

#[derive(QueryableByName)]
struct Version {
    #[diesel(sql_type = Nullable<Text>)]
    version: Option<String>,
}

statement!(Current {} = "migrate/current.sql");

/// The newest migration the database has, if it has any.
///
/// # Errors
/// When the database cannot be read.
pub async fn current(conn: &mut AsyncPgConnection) -> diesel::QueryResult<Option<String>> {
    Ok(Current {}.get_result::<Version>(conn).await?.version)
}

#[derive(QueryableByName)]
struct Made {
    #[diesel(sql_type = Integer)]
    made: i32,
}

statement!(MakePartitions {
    first: NaiveDate => Date,
    last: NaiveDate => Date,
} = "migrate/make_partitions.sql");

/// Makes the monthly partitions from `back` months before `today` to three months after it.
///
/// # Errors
/// When the owner cannot connect or a partition cannot be made.
pub async fn make_partitions(owner_url: &str, today: NaiveDate, back: u32) -> anyhow::Result<i32> {
    make_partitions_since(owner_url, today - Months::new(back), today).await
}

/// Makes the monthly partitions from the month of `earliest` to three months after `today`.
///
/// # Errors
/// When the owner cannot connect or a partition cannot be made.
pub async fn make_partitions_since(
    owner_url: &str,
    earliest: NaiveDate,
    today: NaiveDate,
) -> anyhow::Result<i32> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    let make = MakePartitions { first: earliest, last: today + Months::new(3) };
    Ok(make.get_result::<Made>(&mut conn).await?.made)
}

/// Has the planner look at what was loaded at once, before it would by itself; at fewer rows than
/// it would, for partitions are many and documents slow to sort.
///
/// # Errors
/// When the owner cannot connect.
pub async fn analyze(owner_url: &str) -> anyhow::Result<()> {
    let mut conn = AsyncPgConnection::establish(owner_url).await.context("connect as the owner")?;
    conn.batch_execute("SET default_statistics_target = 20").await?;
    conn.batch_execute("ANALYZE").await?;
    Ok(())
}
