//! Invariant 7: a safety discard never counts against a store.

use parings_core::access::Role;
use parings_tests::night::{count, entry, line, night, of_item, role, staged, submit, typed, with};
use parings_tests::{house, network};
use serde_json::{Value, json};

const BEFORE: &str = "2026-06-12";
const DATE: &str = "2026-06-13";

fn waste(reason: &str, kg: &str) -> Value {
    entry("waste", "potato", json!({ "reason": reason, "quantity": typed(kg, "kg") }))
}

/// Two stores with the same night; one of them also throws 5 kg away for safety, and counts 5 kg
/// less. Whatever compares the two must not tell them apart.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_safety_discard_never_counts_against_a_store() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    network::start(&house, &office.token).await;
    let price = json!({ "price": "0.90", "per": typed("1", "kg") });
    network::put(&house, &office.token, "prices", "potato", price).await;

    let mut receipts = Vec::new();
    for (store, bagged, discards) in
        [("ford", "60", vec![]), ("weir", "55", vec![waste("contamination", "5")])]
    {
        let manager = house.person(role(Role::Manager, store)).await;
        let lines = |bagged: &str| {
            let dry = line("potato", "dry-store", bagged, "kg");
            count(&[dry, staged("potato", "cold-room", "trim", "9", "kg")])
        };
        submit(&house, &manager, &night(store, BEFORE), &lines("100")).await;
        let entries = [discards, vec![waste("dropped", "1")]].concat();
        let body = with(lines(bagged), "entries", json!(entries));
        let body = with(body, "net_sales", "700");
        let sold = json!([{ "product": "fries", "size": "one", "units": 150 }]);
        receipts.push(
            submit(&house, &manager, &night(store, DATE), &with(body, "units_sold", sold)).await,
        );
    }
    let [plain, safe] = receipts.as_slice() else { panic!("two receipts") };
    let (plain, safe) = (of_item(plain, "potato"), of_item(safe, "potato"));
    assert_eq!(safe["usage"]["safety"], typed("5", "kg"));
    assert_eq!(safe["wasted_for_safety"], typed("5", "kg"));
    assert_eq!(plain["usage"]["used"], typed("40", "kg"));
    for figure in ["used", "used_cost", "expected"] {
        assert_eq!(plain["usage"][figure], safe["usage"][figure], "{figure}");
    }
    // Counts are uncertain by a share of the amount, so the error of a smaller count is smaller.
    let variance = |of: &Value, part: &str| {
        let part = &of["usage"]["variance"][part];
        (part["amount"].clone(), part["cost"].clone())
    };
    for part in ["total", "waste", "yield_loss", "unexplained"] {
        assert_eq!(variance(plain, part), variance(safe, part), "{part}");
    }
    assert_eq!(variance(plain, "waste").0, typed("1", "kg"));
    for ratio in ["of_expected", "of_sales", "accounted"] {
        let of = |item: &Value| item["usage"]["variance"][ratio].clone();
        assert_eq!(of(plain), of(safe), "{ratio}");
    }

    let mut measures = Vec::new();
    for store in ["ford", "weir"] {
        let path = format!("/v1/rollups?scope=store:{store}&from={DATE}&to={DATE}&by=none");
        let mut rolled = house.get(&path, Some(&office.token)).await.expect(200).json.clone();
        let money = rolled["rows"][0]["money"].take();
        let discarded = if store == "weir" { "4.50" } else { "0.00" };
        assert_eq!(money["wasted_safety"], discarded);
        measures.push(
            ["wasted", "waste_of_sales"]
                .map(|name| money[name].clone())
                .to_vec()
                .into_iter()
                .chain(
                    ["of_expected", "of_sales", "accounted"]
                        .map(|name| money["variance"][name].clone()),
                )
                .collect::<Vec<_>>(),
        );
    }
    assert!(measures[0].iter().all(|measure| !measure.is_null()), "{measures:?}");
    assert_eq!(measures[0], measures[1]);

    // It is told to the coach by itself, with the way to its entries.
    for (district, thrown) in [("upper", 0), ("lower", 1)] {
        let coach = house.person(role(Role::Coach, district)).await;
        let path = format!("/v1/districts/{district}/safety?from={BEFORE}&to={DATE}");
        let told = house.get(&path, Some(&coach.token)).await.expect(200).json["thrown"].clone();
        assert_eq!(told.as_array().map(Vec::len), Some(thrown), "{told}");
        if thrown == 1 {
            assert_eq!((&told[0]["store"], &told[0]["cost"]), (&json!("weir"), &json!("4.50")));
            assert_eq!(told[0]["amount"], typed("5", "kg"));
            let rows = told[0]["rows"].as_str().expect("an address");
            house.get(rows, Some(&coach.token)).await.expect(200);
        }
    }
}
