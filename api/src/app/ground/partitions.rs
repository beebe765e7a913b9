//! The monthly partitions of facts and tallies. Only the owner of the schema can make them.

use chrono::{DateTime, NaiveDate, Utc};

use crate::db;

/// Months that lie open behind: longer than a year, so that this month can be set beside the same
/// month of last year and its neighbours.
const MONTHS_BACK: u32 = 15;

/// Makes the partitions around `now` that are missing; answers with how many there were.
///
/// # Errors
/// When the owner cannot connect or a partition cannot be made.
pub async fn make(owner_url: &str, now: DateTime<Utc>) -> anyhow::Result<i32> {
    db::migrate::make_partitions(owner_url, now.date_naive(), MONTHS_BACK).await
}

/// Makes those from the month of a date to the usual ones to come, for facts that are older.
///
/// # Errors
/// When the owner cannot connect or a partition cannot be made.
pub async fn make_since(
    owner_url: &str,
    earliest: NaiveDate,
    now: DateTime<Utc>,
) -> anyhow::Result<i32> {
    db::migrate::make_partitions_since(owner_url, earliest, now.date_naive()).await
}
