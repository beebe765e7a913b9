//! Transfers between stores as a live list, over HTTP. That each store records its own end is common
//! practice, no source; stores and amounts are invented.

use chrono::TimeDelta;
use parings::edge::new_id;
use parings_core::access::Role;
use parings_tests::house::{House, Person, house};
use parings_tests::network;
use parings_tests::night::{record, role, withdraw};
use serde_json::{Value, json};

const MONDAY: &str = "2026-06-15";

struct Scene {
    house: House,
    office: Person,
    ford: Person,
    weir: Person,
}

impl Scene {
    async fn set() -> Self {
        let house = house().await;
        let office = house.person(Role::Office).await;
        network::start(&house, &office.token).await;
        let ford = house.person(role(Role::Manager, "ford")).await;
        let weir = house.person(role(Role::Manager, "weir")).await;
        Self { house, office, ford, weir }
    }

    async fn list(&self, by: &Person, scope: &str, query: &str) -> Value {
        let path = format!("/v1/transfers?scope={scope}&from={MONDAY}&to={MONDAY}{query}");
        self.house.get(&path, Some(&by.token)).await.expect(200).json.clone()
    }

    /// The states of what one sees, in order.
    async fn states(&self, by: &Person, scope: &str) -> Vec<Value> {
        let list = self.list(by, scope, "").await;
        let items = list["items"].as_array().expect("transfers");
        items.iter().map(|item| item["state"].clone()).collect()
    }
}

fn out(to: &str, kg: &str) -> Value {
    json!({ "id": new_id(), "kind": "transfer_out", "item": "potato", "to": to,
        "quantity": { "value": kg, "unit": "kg" } })
}

fn into(from: &str, kg: &str) -> Value {
    json!({ "id": new_id(), "kind": "transfer_in", "item": "potato", "from": from,
        "quantity": { "value": kg, "unit": "kg" } })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_transfer_is_one_sided_then_differs_then_matches() {
    let scene = Scene::set().await;
    let Scene { house, office, ford, weir } = &scene;
    record(house, ford, "ford", MONDAY, &[out("weir", "20")]).await.expect(201);
    for (by, scope) in [(ford, "store:ford"), (weir, "store:weir"), (office, "network")] {
        let list = scene.list(by, scope, "").await;
        let item = &list["items"][0];
        assert_eq!(
            (&item["state"], &item["from"], &item["to"], &item["overdue"]),
            (&json!("one_sided"), &json!("ford"), &json!("weir"), &json!(false)),
            "{scope}"
        );
        assert_eq!(item["given"]["amount"], json!({ "value": "20", "unit": "kg" }));
        assert_eq!(item["one_sided_since"], item["given"]["recorded_at"]);
        assert!(item.get("received").is_none(), "{item}");
    }
    house.clock.set(house.clock.now() + TimeDelta::hours(24));
    assert_eq!(scene.list(weir, "store:weir", "").await["items"][0]["overdue"], true);

    let typed_wrong = into("ford", "2");
    record(house, weir, "weir", MONDAY, std::slice::from_ref(&typed_wrong)).await.expect(201);
    let list = scene.list(ford, "store:ford", "").await;
    let item = &list["items"][0];
    assert_eq!((&item["state"], &item["overdue"]), (&json!("differs"), &json!(false)));
    assert_eq!(item["given"]["amount"]["value"], "20");
    assert_eq!(item["received"]["amount"]["value"], "2");

    withdraw(house, weir, "weir", &typed_wrong).await.expect(200);
    assert_eq!(scene.states(ford, "store:ford").await, ["one_sided"]);
    record(house, weir, "weir", "2026-06-16", &[into("ford", "20")]).await.expect(201);
    for (by, scope) in [
        (ford, "store:ford"),
        (weir, "store:weir"),
        (office, "district:upper"),
        (office, "owner:hill"),
    ] {
        assert_eq!(scene.states(by, scope).await, ["matched"], "{scope}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_store_is_shown_what_names_it_and_nothing_else() {
    let scene = Scene::set().await;
    let Scene { house, office, ford, weir } = &scene;
    network::put(house, &office.token, "stores", "mill", network::store("Mill", "lower", "hill"))
        .await;
    let mill = house.person(role(Role::Manager, "mill")).await;
    record(house, weir, "weir", MONDAY, &[out("mill", "5")]).await.expect(201);
    record(house, weir, "weir", MONDAY, &[out("ford", "7")]).await.expect(201);
    let coach = house.person(role(Role::Coach, "upper")).await;
    let owner = house.person(role(Role::Owner, "brook")).await;
    let crew = house.person(role(Role::Crew, "ford")).await;
    for (by, scope) in [
        (ford, "store:ford"),
        (&crew, "store:ford"),
        (&coach, "district:upper"),
        (&owner, "owner:brook"),
    ] {
        let list = scene.list(by, scope, "").await;
        let items = list["items"].as_array().expect("transfers");
        assert_eq!(items.len(), 1, "{scope}: {list}");
        assert_eq!((&items[0]["from"], &items[0]["to"]), (&json!("weir"), &json!("ford")));
    }
    assert_eq!(scene.states(&mill, "store:mill").await.len(), 1);
    assert_eq!(scene.states(weir, "store:weir").await.len(), 2);
    // A store that is there and one that never was are answered alike.
    let mut unseen = Vec::new();
    for store in ["weir", "nowhere"] {
        let path = format!("/v1/transfers?scope=store:{store}&from={MONDAY}&to={MONDAY}");
        let reply = house.get(&path, Some(&ford.token)).await;
        reply.expect_problem(404, "not-found");
        unseen.push(reply.json["detail"].as_str().expect("words").replace(store, "STORE"));
    }
    assert_eq!(unseen[0], unseen[1]);
    // What names a store opens nothing else of the one that recorded it.
    let path = format!("/v1/stores/weir/entries?business_date={MONDAY}");
    house.get(&path, Some(&ford.token)).await.expect(404);

    let first = scene.list(office, "network", "&limit=1").await;
    let next = first["next"].as_str().expect("another page");
    let second = scene.list(office, "network", &format!("&limit=1&after={next}")).await;
    assert_ne!(first["items"], second["items"]);
    assert!(second.get("next").is_none());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_other_store_was_there_on_the_date() {
    let scene = Scene::set().await;
    let Scene { house, office, ford, .. } = &scene;
    let sent = [out("nowhere", "1"), into("nowhere", "1"), out("weir", "1")];
    let refused = record(house, ford, "ford", MONDAY, &sent).await;
    refused.expect_problem(422, "invalid");
    assert_eq!(refused.pointers(), ["/entries/0/to", "/entries/1/from"]);
    // One that opens later is not there yet.
    let body = network::change("2026-06-17", network::store("Mill", "lower", "hill"));
    let token = Some(office.token.as_str());
    house.put("/v1/reference/stores/mill", token, &[network::CREATE], &body).await.expect(201);
    let early = record(house, ford, "ford", MONDAY, &[out("mill", "1")]).await;
    early.expect_problem(422, "invalid");
    assert_eq!(early.pointers(), ["/entries/0/to"]);
    let too_long = "/v1/transfers?scope=store:ford&from=2026-01-01&to=2026-06-15";
    house.get(too_long, Some(&ford.token)).await.expect_problem(422, "invalid");
}
