//! The coach's list over HTTP. Every figure is worked out by hand from the [`Scene`].

use parings::cluster::SUPERUSER;
use parings::cluster::roles::APP;
use parings_core::access::Role;
use parings_tests::house::{House, house};
use parings_tests::tallies::{put, reference};
use serde_json::{Value, json};
use tokio_postgres::error::SqlState;

/// Eight stores over 60 nights up to 14 June 2026, put on record as tallies. Each takes 200.00 a night
/// by what it sold, and so many thousandths more; all is invented.
const STORES: [(&str, &str, i64); 8] = [
    ("ford", "upper", 150),
    ("mill", "upper", 20),
    ("north-gate", "lower", 10),
    ("east-gate", "lower", 20),
    ("south-gate", "lower", 30),
    ("west-gate", "lower", 40),
    ("weir", "lower", 50),
    // Opened on 1 June.
    ("quay", "upper", 900),
];

struct Scene {
    house: House,
}

impl Scene {
    async fn set() -> Self {
        let house = house().await;
        let pg = house.pg(SUPERUSER).await;
        let stores = STORES.map(|(store, district, _)| {
            (store, district, if store == "quay" { "2026-06-01" } else { "2026-01-01" })
        });
        reference(&pg, &stores).await;
        let last = chrono::NaiveDate::from_ymd_opt(2026, 6, 14).expect("a date");
        let (mut nights, mut spans) = (Vec::new(), Vec::new());
        for (store, district, beyond) in STORES {
            for back in 0..if store == "quay" { 14 } else { 60 } {
                let date = last - chrono::TimeDelta::days(back);
                let key = json!({
                    "business_date": date, "store_id": store, "district_id": district,
                    "region_id": "valley", "owner_id": "brook",
                    "rules": parings_core::tally::RULES, "known_at": "2026-01-01T00:00:00Z",
                });
                let with = |said: Value| {
                    let mut row = key.as_object().expect("an object").clone();
                    row.extend(said.as_object().expect("an object").clone());
                    Value::Object(row)
                };
                // A safety discard of 500.00 on every night, which no figure holds.
                nights.push(with(json!({
                    "counted": true, "sales_source": "feed", "sales": 40_000_000, "units": 400,
                    "wasted_cost": 5_040_000, "wasted_safety_cost": 5_000_000,
                })));
                let over = 2_000 * beyond;
                spans.push(with(json!({
                    "item_id": "potato", "opened_on": date - chrono::TimeDelta::days(1),
                    "nights": 1, "used": 200_000_000 + 200_000 * beyond,
                    "used_cost": 2_000_000 + over, "expected": 200_000_000,
                    "expected_cost": 2_000_000, "variance_cost": over, "sales": 40_000_000,
                })));
            }
        }
        put(&pg, "night_tallies", nights).await;
        put(&pg, "item_spans", spans).await;
        Self { house }
    }

    async fn ask(&self, role: Role, path: &str) -> parings_tests::Reply {
        let token = self.house.token(&self.house.person(role).await);
        self.house.get(path, Some(&token)).await
    }
}

fn coach(district: &str) -> Role {
    Role::Coach(vec![district.parse().expect("a code")])
}

fn measure<'a>(store: &'a Value, word: &str) -> &'a Value {
    let measures = store["measures"].as_array().expect("measures");
    measures.iter().find(|one| one["measure"] == word).expect(word)
}

/// Ford's peers take 10, 20, 20, 30, 40 and 50 thousandths more: median 25, deviation 10. Its 150 lies
/// 0.6745 × 125 ÷ 10 = 8.43 off and takes 0.125 × 200.00 × 7 = 175.00 a week beyond them.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn stores_by_money_at_stake_against_peers_who_are_not_named() {
    let scene = Scene::set().await;
    for role in [coach("upper"), Role::Office] {
        let reply = scene.ask(role, "/v1/districts/upper/review?as_of=2026-06-14").await;
        reply.expect(200);
        assert_eq!(reply.json["from"], "2026-05-18");
        let stores = reply.json["stores"].as_array().expect("stores");
        let codes: Vec<_> =
            stores.iter().map(|one| one["store"].as_str().expect("a code")).collect();
        assert_eq!(codes, ["ford", "mill", "quay"]);
        let of_use = measure(&stores[0], "use");
        assert_eq!(of_use["ratio"], "0.15", "{of_use:#}");
        assert_eq!(of_use["nights"], 28);
        assert_eq!(of_use["stands_out"], true);
        assert_eq!(
            of_use["peers"],
            json!({ "basis": "same_format_and_volume", "stores": 6, "median": "0.025",
                "spread": "0.0148", "z": "8.43" })
        );
        // Seven whole weeks and four nights of an eighth, which are enough of it.
        assert_eq!(of_use["past"]["weeks"], 8);
        assert_eq!(stores[0]["money_per_week"]["value"], "175");
        assert_eq!(stores[0]["rank"], json!({ "low": 2, "high": 2, "of": 2 }));
        // 4.00 of 200.00: what was thrown away for safety is not in it.
        assert_eq!(measure(&stores[0], "recorded_waste")["ratio"], "0.02");
        for elsewhere in ["weir", "gate"] {
            assert!(!reply.text.contains(elsewhere), "{elsewhere}: {}", reply.text);
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_store_is_compared_with_nobody() {
    let scene = Scene::set().await;
    let reply = scene.ask(coach("upper"), "/v1/districts/upper/review?as_of=2026-06-14").await;
    let quay = &reply.expect(200).json["stores"][2];
    assert_eq!((&quay["new_store"], &quay["unranked"]), (&json!(true), &json!("new_store")));
    assert_eq!(measure(quay, "use")["not_compared"], "new_store");
    assert_eq!(quay.get("money_per_week"), None);
    assert_eq!(quay["nights"]["counted"], 14);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_cannot_be_reviewed_is_refused() {
    let scene = Scene::set().await;
    let ask = async |role, path| scene.ask(role, path).await;
    let to_come = ask(coach("upper"), "/v1/districts/upper/review?as_of=2036-01-01").await;
    to_come.expect_problem(422, "invalid");
    assert_eq!(to_come.pointers(), ["/as_of"]);
    let bad = ask(coach("upper"), "/v1/districts/upper/review?as_of=yesterday").await;
    bad.expect_problem(400, "unreadable");
    ask(coach("lower"), "/v1/districts/upper/review").await.expect_problem(404, "not-found");
    ask(Role::Office, "/v1/districts/nowhere/review").await.expect_problem(404, "not-found");
    // Without a date, up to the last night that is over.
    let reply = ask(coach("upper"), "/v1/districts/upper/review").await;
    reply.expect(200);
}

/// Whoever may not review a district may not look over the network, and who looks may not write.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_database_lets_only_reviewers_look_and_none_of_them_write() {
    let scene = Scene::set().await;
    let mut app = scene.house.pg(APP).await;
    let owner = Role::Owner(vec!["brook".parse().expect("a code")]);
    for (role, district, may) in
        [(coach("upper"), "upper", true), (coach("upper"), "lower", false), (owner, "upper", false)]
    {
        let person = scene.house.person(role.clone()).await;
        let work = app.transaction().await.expect("begin");
        work.query("SELECT act_as($1, NULL)", &[&person.id.0]).await.expect("acting");
        let handed = work.query("SELECT act_for_review($1)", &[&district]).await;
        assert_eq!(handed.is_ok(), may, "{role:?} {district}");
        if may {
            let seen = work.query_one("SELECT count(*) FROM nights", &[]).await.expect("rows");
            assert_eq!(seen.get::<_, i64>(0), 7 * 60 + 14);
            let written = work.execute("UPDATE nights SET revision = revision", &[]).await;
            let code = written.expect_err("only reading").code().cloned();
            assert_eq!(code, Some(SqlState::READ_ONLY_SQL_TRANSACTION));
        }
    }
}

/// The part that reviews is told which lots a store cooked from, item by item,
/// and what was cooked before what came in; nobody else is told by that way.
#[tokio::test]
async fn the_part_that_reviews_is_told_the_lot_that_was_cooked() {
    let scene = Scene::set().await;
    let coach = scene.house.person(coach("upper")).await;
    let pg = scene.house.pg(SUPERUSER).await;
    let entry = |kind: &str, item: &str, lot: &str, second: u32| {
        json!({
            "business_date": "2026-06-10", "store_id": "ford", "district_id": "upper",
            "region_id": "valley", "owner_id": "brook", "id": uuid::Uuid::from_u128(second.into()), "kind": kind,
            "recorded_by": uuid::Uuid::nil(), "write_id": uuid::Uuid::nil(),
            "recorded_at": format!("2026-06-10T10:00:{second:02}Z"),
            "body": { "kind": kind, "item": item, "lot": lot },
        })
    };
    let entries = vec![
        entry("batch", "potato", "old", 1),
        entry("batch", "potato", "cooked", 2),
        entry("delivery", "potato", "came", 3),
        entry("batch", "herb", "other", 4),
    ];
    put(&pg, "entries", entries).await;

    let mut work = scene.house.pg(APP).await;
    let work = work.transaction().await.expect("a transaction");
    let lots = "SELECT concat_ws(' ', store_id, item_id, lot)
        FROM lots_in_review('2026-06-10', '2026-06-11') ORDER BY 1";
    let told = |rows: Vec<tokio_postgres::Row>| -> Vec<String> {
        rows.iter().map(|row| row.get(0)).collect()
    };
    work.query("SELECT act_as($1, NULL)", &[&coach.id.0]).await.expect("the coach acts");
    assert!(told(work.query(lots, &[]).await.expect("asked")).is_empty());
    work.query("SELECT act_for_review('upper')", &[]).await.expect("handed over");
    assert_eq!(
        told(work.query(lots, &[]).await.expect("asked")),
        ["ford herb other", "ford potato cooked"]
    );
}

/// Ford takes 15 % too much in every week, its fair peers 1, 2, 2, 3, 4 and 5 %: their median is 2.5 %,
/// their scaled median absolute deviation 1.4826 × 1 point. The new store is not among them.
#[tokio::test]
async fn how_a_store_went_is_told_week_by_week_beside_its_peers() {
    let scene = Scene::set().await;
    let path = "/v1/stores/ford/course?measure=use&as_of=2026-06-14";
    let reply = scene.ask(coach("upper"), path).await;
    reply.expect(200);
    let weeks = reply.json["weeks"].as_array().expect("weeks").clone();
    assert_eq!(weeks.len(), 16);
    // Sixty nights: eight whole weeks, and four nights of a ninth.
    let known: Vec<&Value> = weeks.iter().filter(|week| week.get("ratio").is_some()).collect();
    assert_eq!(known.len(), 9);
    assert_eq!(known[0]["nights"], 4);
    let last = known[8];
    assert_eq!((&last["from"], &last["to"]), (&json!("2026-06-08"), &json!("2026-06-14")));
    assert_eq!(last["ratio"], json!("0.15"));
    assert_eq!(last["peers"]["stores"], 6);
    assert_eq!(last["peers"]["median"], json!("0.025"));
    assert_eq!(last["peers"]["spread"], json!("0.0148"));
    let named = reply.text.clone();
    for other in ["mill", "north-gate", "weir", "quay"] {
        assert!(!named.contains(other), "{other} is named: {named}");
    }
    let ask = async |role, path| scene.ask(role, path).await;
    ask(coach("lower"), path).await.expect_problem(404, "not-found");
    ask(Role::Manager(vec!["ford".parse().expect("a code")]), path)
        .await
        .expect_problem(403, "forbidden");
    let habit = "/v1/stores/ford/course?measure=count_habit";
    ask(coach("upper"), habit).await.expect_problem(422, "invalid");
    ask(coach("upper"), "/v1/stores/ford/course").await.expect_problem(400, "unreadable");
}
