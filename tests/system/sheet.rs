//! The count sheet over HTTP.

use parings_core::access::Role;
use parings_tests::{house, network};
use serde_json::{Value, json};

const FORD: &str = "/v1/stores/ford/nights/2026-06-15/sheet";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sheet_lists_what_is_due_in_the_order_of_the_walk() {
    let house = house().await;
    let token = house.person(Role::Office).await.token;
    network::open(&house, &token).await;
    let weekly = json!({
        "title": "Salt", "group": "food", "base": "mass",
        "rhythm": { "every": "week", "on": "tue" },
        "shelves": [{ "place": "dry-store", "unit": "kg" }],
    });
    network::put(&house, &token, "items", "salt", weekly).await;

    // 15 June 2026 is a Monday.
    let sheet = house.get(FORD, Some(&token)).await;
    let lines = sheet.expect(200).json["lines"].as_array().unwrap().clone();
    let shown: Vec<_> = lines.iter().map(|l| (&l["place"], &l["item"], &l["unit"])).collect();
    let expected = [json!(["dry-store", "potato", "bag"]), json!(["cold-room", "potato", "kg"])];
    let expected: Vec<_> = expected.iter().map(|e| (&e[0], &e[1], &e[2])).collect();
    assert_eq!(shown, expected);
    assert_eq!(lines[0]["packs"], json!([{ "code": "bag", "says": "Bag of 22.68 kg" }]));
    assert_eq!(lines[1]["stage"], json!({ "code": "trim", "title": "Trimmed" }));
    assert_eq!(lines[1]["pans"][0]["tare"], json!({ "value": "1.2", "unit": "kg" }));
    // Nothing on it tells what a count should come to.
    let members: Vec<&String> = lines[0].as_object().unwrap().keys().collect();
    assert_eq!(members, ["item", "packs", "pans", "place", "place_title", "title", "unit"]);

    let tuesday = house.get(&FORD.replace("-15", "-16"), Some(&token)).await;
    let items: Vec<&Value> =
        tuesday.json["lines"].as_array().unwrap().iter().map(|l| &l["item"]).collect();
    assert_eq!(items, ["potato", "salt", "potato"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_closed_day_has_a_sheet_without_lines() {
    let house = house().await;
    let token = house.person(Role::Office).await.token;
    network::open(&house, &token).await;
    // A Sunday, and a day closed out of turn.
    for date in ["2026-06-14", "2026-12-31"] {
        let path = format!("/v1/stores/ford/nights/{date}/sheet");
        let sheet = house.get(&path, Some(&token)).await;
        assert_eq!(sheet.expect(200).json["closed"], true);
        assert_eq!(sheet.json["lines"], json!([]));
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sheet_is_for_those_who_see_the_store_and_not_for_tills() {
    let house = house().await;
    let office = house.person(Role::Office).await.token;
    network::open(&house, &office).await;
    for role in network::roles() {
        let till = matches!(role, Role::Till(_));
        let token = house.person(role.clone()).await.token;
        let own = house.get(FORD, Some(&token)).await;
        if till {
            own.expect_problem(403, "forbidden")
        } else {
            own.expect(200)
        };
        let other = house.get(&FORD.replace("ford", "weir"), Some(&token)).await;
        match role {
            Role::Office => other.expect(200),
            _ => other.expect_problem(404, "not-found"),
        };
    }
    for nowhere in ["/v1/stores/ford/nights/2025-12-31/sheet", "/v1/stores/ford/nights/today/sheet"]
    {
        house.get(nowhere, Some(&office)).await.expect_problem(404, "not-found");
    }
}
