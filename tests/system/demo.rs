//! The demo: loaded into a house, then looked at over HTTP by its own people.

use std::collections::BTreeMap;
use std::os::unix::fs::PermissionsExt;

use parings::cluster::roles::OWNER;
use parings::demo::{self, SignIn, SignIns, Size};
use parings_tests::Reply;
use parings_tests::house::{House, house};
use serde_json::{Value, json};

/// The house's clock stands on Monday 15 June 2026.
const YESTERDAY: &str = "2026-06-14";

/// The six stores that are a small chain by themselves, and two weeks.
const SMALL: Size = Size { stores: 6, weeks: 2, seed: 0 };

/// Loads a small demo; answers with its people.
async fn load(house: &House, folder: &std::path::Path) -> SignIns {
    let owner = house.database.url(OWNER);
    let mut steps = Vec::new();
    let step = |done, total| steps.push((done, total));
    let loaded = demo::load(&house.deps, &owner, folder, SMALL, house.clock.now(), step);
    let sign_ins = loaded.await.expect("the demo loads").expect("a network without stores");
    assert_eq!(steps, (1..=6).map(|done| (done, 6)).collect::<Vec<_>>());
    sign_ins
}

/// Signs somebody in as a person would; answers with their access token.
async fn sign_in(house: &House, who: &SignIn) -> String {
    let body = json!({ "email": who.email, "password": who.secret });
    let session = house.post("/v1/sessions", None, &body).await;
    session.expect(201);
    session.json["access_token"].as_str().expect("a token").to_owned()
}

fn whose<'a>(all: &'a SignIns, role: &str, place: Option<&str>) -> &'a SignIn {
    let here = |one: &&SignIn| {
        one.role.word() == role && place.is_none_or(|p| one.role.places().contains(&p))
    };
    all.0.iter().find(here).unwrap_or_else(|| panic!("no {role} of {place:?}"))
}

async fn receipt(house: &House, token: &str, store: &str, date: &str) -> Reply {
    let reply = house.get(&format!("/v1/stores/{store}/nights/{date}"), Some(token)).await;
    reply.expect(200);
    reply
}

fn number(value: &Value) -> f64 {
    value.as_str().and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("{value}"))
}

/// Expected use and variance of each item of a receipt that has both.
fn compared(receipt: &Reply) -> BTreeMap<String, (f64, f64)> {
    let items = receipt.json["items"].as_array().expect("items");
    let compared = items.iter().filter(|item| item["known"] == "compared");
    compared
        .map(|item| {
            let usage = &item["usage"];
            let expected = number(&usage["expected"]["value"]);
            let variance = number(&usage["variance"]["total"]["amount"]["value"]);
            (item["item"].as_str().expect("a code").to_owned(), (expected, variance))
        })
        .collect()
}

fn item<'a>(receipt: &'a Reply, code: &str) -> &'a Value {
    let mut items = receipt.json["items"].as_array().into_iter().flatten();
    items.find(|item| item["item"] == code).unwrap_or_else(|| panic!("no {code}"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_demo_is_a_network_its_people_can_work_with() {
    let (house, other) = (house().await, house().await);
    let folder = tempfile::tempdir().expect("a folder");
    let elsewhere = tempfile::tempdir().expect("a folder");
    let (people, others) =
        tokio::join!(load(&house, folder.path()), load(&other, elsewhere.path()));

    // Everybody signs in with what was told, and the file tells the same to its owner alone.
    let file = folder.path().join(demo::FILE);
    let told = std::fs::read_to_string(&file).expect("the file");
    let mode = std::fs::metadata(&file).expect("the file").permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
    let mut roles = BTreeMap::new();
    for one in &people.0 {
        assert!(told.contains(&one.secret), "{} is not told", one.name);
        *roles.entry(one.role.word()).or_insert(0) += 1;
        let token = match one.email {
            Some(_) => sign_in(&house, one).await,
            None => one.secret.clone(),
        };
        let me = house.get("/v1/me", Some(&token)).await;
        assert_eq!(me.expect(200).json["name"], one.name);
    }
    let expected =
        [("coach", 4), ("crew", 2), ("manager", 6), ("office", 1), ("owner", 2), ("till", 1)];
    assert_eq!(roles, BTreeMap::from(expected));

    // Yesterday in every store: what was counted compares, and the variance is one a kitchen has.
    for store in ["hethermill", "stannock", "polwarren", "dunsaly", "varrowmouth", "ferrytoft"] {
        let manager = sign_in(&house, whose(&people, "manager", Some(store))).await;
        let receipt = receipt(&house, &manager, store, YESTERDAY).await;
        assert_eq!(receipt.json["items_counted"], receipt.json["items_due"], "{store}");
        let compared = compared(&receipt);
        // A Sunday, so that what is counted weekly is among them.
        assert!(compared.len() >= 28, "{store}: {}", compared.len());
        for (item, (expected, variance)) in &compared {
            // Yoghurt and its like go into what is made, not into sales.
            if *expected > 1.0 {
                let share = variance / expected;
                assert!((-0.10..0.20).contains(&share), "{store} {item}: {share:.3}");
            }
        }
        let (expected, variance) = compared["potato"];
        assert!((0.0..0.14).contains(&(variance / expected)), "{store}: {variance} of {expected}");
    }

    let coach = sign_in(&house, whose(&people, "coach", Some("headwaters"))).await;
    let path = format!(
        "/v1/rollups?scope=district:headwaters&children=true&from=2026-06-01&to={YESTERDAY}"
    );
    let seen = house.get(&path, Some(&coach)).await;
    seen.expect(200);
    let rows = seen.json["rows"].as_array().expect("rows");
    let stores: Vec<_> = rows.iter().filter_map(|row| row["child"].as_str()).collect();
    assert_eq!(stores, ["hethermill", "polwarren", "stannock"]);
    for row in rows {
        // Waste is part of it: 2 to 8 % in all is what such a chain has (common practice, no source).
        let share = number(&row["money"]["variance"]["of_expected"]["value"]);
        assert!((2.0..8.0).contains(&share), "{share} of {}", row["child"]);
    }
    house.get("/v1/stores/dunsaly", Some(&coach)).await.expect_problem(404, "not-found");

    what_is_out_of_the_ordinary_shows(&house, &people).await;
    // The same seed and the same day give the same figures.
    let mut said = Vec::new();
    for (house, people) in [(&house, &people), (&other, &others)] {
        let token = sign_in(house, whose(people, "manager", Some("dunsaly"))).await;
        said.push(receipt(house, &token, "dunsaly", YESTERDAY).await.json);
    }
    assert_eq!(said[0], said[1]);

    let before = rows_of(&house).await;
    let owner = house.database.url(OWNER);
    let step = |_, _| panic!("nothing is to be loaded");
    let now = house.clock.now();
    let again = demo::load(&house.deps, &owner, folder.path(), SMALL, now, step);
    assert!(again.await.expect("nothing to do").is_none());
    assert_eq!(rows_of(&house).await, before);
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), told);
}

/// How many rows there are of what was written.
async fn rows_of(house: &House) -> Vec<i64> {
    let superuser = house.pg(parings::cluster::SUPERUSER).await;
    let mut counts = Vec::new();
    for table in
        ["people", "reference_versions", "entries", "till_batches", "night_revisions", "audit"]
    {
        let row = superuser.query_one(&format!("SELECT count(*) FROM {table}"), &[]).await;
        counts.push(row.expect(table).get(0));
    }
    assert!(counts.iter().all(|count| *count > 0), "{counts:?}");
    counts
}

async fn what_is_out_of_the_ordinary_shows(house: &House, people: &SignIns) {
    let office = sign_in(house, whose(people, "office", None)).await;
    let see = async |store, date| receipt(house, &office, store, date).await;

    // A missing night: the next count closes two.
    assert!(see("stannock", "2026-06-09").await.json.get("count").is_none());
    let next = see("stannock", "2026-06-10").await;
    assert_eq!(item(&next, "potato")["usage"]["nights"], 2);

    let discard = see("stannock", "2026-06-06").await;
    assert_eq!(item(&discard, "fish-fillet")["wasted_for_safety"]["value"], "18");

    let amended = see("dunsaly", "2026-06-10").await;
    assert_eq!(amended.json["count"]["revision"], 2);
    let reason = amended.json["count"]["reason"].as_str().unwrap_or_default();
    assert!(reason.contains("tray"), "{reason}");

    let unmapped = see("varrowmouth", "2026-06-10").await;
    assert_eq!(unmapped.json["unmapped"], json!([{ "code": "MINT-TEA", "units": 14 }]));

    // Ferrytoft types its sales on the first Sunday.
    let typed = see("ferrytoft", "2026-06-07").await;
    assert_eq!(typed.json["sales_from"], "typed");

    let sent = see("hethermill", "2026-06-11").await;
    let got = see("stannock", "2026-06-11").await;
    let out = &item(&sent, "dough-ball")["usage"]["transferred_out"];
    assert_eq!(
        (&out["value"], out),
        (&json!("60"), &item(&got, "dough-ball")["usage"]["transferred_in"])
    );

    let poor = see("hethermill", "2026-06-05").await;
    assert_eq!(poor.json["batches"][0]["lot"], "BK-0317");
    assert_eq!(poor.json["batches"][0]["stages"][0]["grade"], "near_the_edge");
    let sound = see("hethermill", "2026-06-12").await;
    let lost = |r: &Reply| {
        number(&item(r, "potato")["usage"]["variance"]["yield_loss"]["amount"]["value"])
    };
    assert!(lost(&poor) > 3.0 * lost(&sound).abs(), "{} {}", lost(&poor), lost(&sound));
}
