//! From one version to the next: rows of before are packed as they are, and nights that older rules
//! made answer, say so, and are worked out again.

use parings::app::night::retally;
use parings::cluster::SUPERUSER;
use parings::cluster::roles::OWNER;
use parings::db::unpacked;
use parings_core::access::Role;
use parings_core::tally::RULES;
use parings_core::tally::pack;
use parings_tests::golden::assert_committed;
use parings_tests::tallies::alter;
use tokio_postgres::Client;

use crate::trace::scene::{BETWEEN, DATE, FIRST, Scene};
use crate::verify::{busy, verify};

/// What the database unpacks is what core packs: both are written from one table of fields.
#[test]
fn the_functions_that_unpack_are_written_from_the_fields() {
    assert_committed("migrations/2026-11-30-000033_unpack/up.sql", &pack::sql());
}

const VIEWS: [&str; 4] = ["night_tallies", "item_days", "item_spans", "daypart_tallies"];

async fn rows(pg: &Client, view: &str) -> Vec<String> {
    let sql = format!(
        "SELECT (to_jsonb(t) - '{{rules,generation}}'::text[])::text FROM {view} t ORDER BY 1"
    );
    pg.query(&sql, &[]).await.expect(view).iter().map(|row| row.get(0)).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn rows_of_before_are_packed_as_they_are() {
    let scene = busy().await;
    let pg = scene.house.pg(SUPERUSER).await;
    let mut before = Vec::new();
    for view in VIEWS {
        before.push(rows(&pg, view).await);
        // The rows that the version before would have had.
        let sql = format!(
            "CREATE TABLE unpacked.{view}_all PARTITION OF unpacked.{view} DEFAULT;
             INSERT INTO unpacked.{view} SELECT (jsonb_populate_record(NULL::unpacked.{view},
               to_jsonb(t) || '{{\"rules\": 1}}')).* FROM {view} t"
        );
        pg.batch_execute(&sql).await.expect("rows of before");
    }
    pg.batch_execute("DELETE FROM nights").await.expect("no nights");
    let mut steps = Vec::new();
    let owner = scene.house.database.url(OWNER);
    let packed = unpacked::pack(&owner, |done, of| steps.push((done, of))).await.expect("packed");
    assert_eq!((packed, steps), (3, vec![(1, 1)]));
    for (view, before) in VIEWS.into_iter().zip(before) {
        assert_eq!(rows(&pg, view).await, before, "{view}");
        let left = format!("SELECT count(*) FROM unpacked.{view}");
        let left: i64 = pg.query_one(&left, &[]).await.expect("a count").get(0);
        assert_eq!(left, 0, "{view}");
    }
    // It can be repeated at any time.
    assert_eq!(unpacked::pack(&owner, |_, _| ()).await.expect("packed"), 0);
    let report = verify(&scene.house).await;
    assert_eq!((report.older, report.differences.len()), (3, 0));
}

async fn rules(scene: &Scene) -> i64 {
    let token = scene.house.token(&scene.house.person(Role::Office).await);
    let query = format!("scope=store:ford&from={FIRST}&to={DATE}");
    let reply = scene.house.get(&format!("/v1/rollups?{query}"), Some(&token)).await;
    reply.expect(200).json["rules"].as_i64().expect("a version")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nights_of_older_rules_say_so_and_are_worked_out_anew() {
    let scene = busy().await;
    let pg = scene.house.pg(SUPERUSER).await;
    assert_eq!(rules(&scene).await, i64::from(RULES));
    // As if the rules of before had told a delivery twice.
    alter(&pg, "ford", BETWEEN, |night| {
        let day = night.day.items.values_mut().next().expect("an item");
        day.received += day.received;
    })
    .await;
    pg.batch_execute("UPDATE nights SET rules = 1").await.expect("older rules");
    assert_eq!(rules(&scene).await, 1);
    assert_eq!(verify(&scene.house).await.older, 3);
    assert_eq!(retally::run(&scene.house.deps).await.expect("anew"), 3);
    assert_eq!(rules(&scene).await, i64::from(RULES));
    let report = verify(&scene.house).await;
    assert_eq!((report.older, report.differences.as_slice()), (0, &[][..]));
    assert_eq!(retally::run(&scene.house.deps).await.expect("nothing to do"), 0);
}
