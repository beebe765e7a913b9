//! Partitions of coming months are made in time, by the owner's role.

use chrono::{TimeDelta, TimeZone, Utc};
use parings::app::ground::partitions;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::{APP, OWNER};
use parings::edge::Clock;
use parings::jobs;
use parings_tests::Database;

/// How many partitions hold a month; the witness is PostgreSQL's own catalogue.
async fn of_month(database: &Database, month: &str) -> i64 {
    let sql = "SELECT count(*) FROM pg_inherits i JOIN pg_class c ON c.oid = i.inhrelid \
        WHERE c.relname LIKE '%\\_' || $1";
    let admin = database.connect(SUPERUSER).await;
    admin.query_one(sql, &[&month]).await.expect("partitions").get(0)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn partitions_are_made_from_a_year_ago_to_three_months_ahead() {
    let database = Database::migrated().await;
    let now = Utc.with_ymd_and_hms(2028, 2, 29, 12, 0, 0).single().expect("a moment");
    let owner = database.url(OWNER);
    let made = partitions::make(&owner, now).await.expect("made");
    let parents = of_month(&database, "2028_02").await;
    assert!(parents > 3, "facts and tallies");
    assert_eq!(i64::from(made), parents * 19, "fifteen months before, this one, three after");
    for (month, there) in
        [("2026_10", 0), ("2026_11", parents), ("2028_05", parents), ("2028_06", 0)]
    {
        assert_eq!(of_month(&database, month).await, there, "{month}");
    }
    assert_eq!(partitions::make(&owner, now + TimeDelta::hours(1)).await.expect("again"), 0);
    partitions::make(&database.url(APP), now).await.expect_err("the application may not");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_job_makes_partitions_as_soon_as_it_starts() {
    let database = Database::migrated().await;
    let at = Utc.with_ymd_and_hms(2029, 5, 1, 0, 0, 0).single().expect("a moment");
    let there = async { while of_month(&database, "2029_08").await == 0 {} };
    tokio::select! {
        () = jobs::partitions::run(database.url(OWNER), Clock::standing(at)) => {
            panic!("the job ends");
        }
        () = there => {}
    }
}
