//! Wide counts, and units that nothing converts.

use parings_core::access::Role;
use parings_tests::network::CREATE;
use parings_tests::night::{count, line, night, of_item};
use serde_json::{Value, json};

use super::{Kitchen, nights, rolled, said};

/// Sauce is measured in litres and has no density: 3 kg of it cannot be told in litres.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_unit_without_density_is_refused_where_it_stands() {
    let kitchen = Kitchen::open("2026-06-16T20:00:00Z").await;
    let manager = kitchen.person(Role::Manager, "ford").await;
    let sauce = |bridge: Value| {
        json!({ "title": "Sauce", "group": "food", "base": "volume", "bridge": bridge,
            "rhythm": { "every": "night" }, "shelves": [{ "place": "cold-room", "unit": "l" }] })
    };
    kitchen.put("items", "sauce", sauce(json!({}))).await;
    let kilograms =
        [line("potato", "dry-store", "100", "kg"), line("sauce", "cold-room", "3", "kg")];
    let path = night("ford", "2026-06-15");
    let send = async |path: &str, lines: &[Value]| {
        kitchen.house.put(path, Some(&manager.token), &[CREATE], &count(lines)).await
    };
    let refused = send(&path, &kilograms).await;
    let pointers = refused.expect_problem(422, "invalid").pointers();
    assert_eq!(pointers, ["/lines/1"], "{}", refused.text);
    let says = refused.json["errors"][0]["detail"].as_str().expect("words");
    let expected = "sauce: a mass becomes a volume only by a density, and the item has none";
    assert!(says.starts_with(expected), "{says}");
    // Nothing of it is saved half-way.
    assert!(kitchen.receipt("ford", "2026-06-15").await.get("count").is_none());
    let row = kitchen.rollup("store:ford", "2026-06-15", "2026-06-15").await;
    assert_eq!(nights(&row), "1 0 0 1 0 0");

    // With 1.2 kg a litre from Tuesday on, 3 kg are 2.5 l.
    let litres = [line("potato", "dry-store", "100", "kg"), line("sauce", "cold-room", "4", "l")];
    send(&path, &litres).await.expect(201);
    let dense = sauce(json!({ "density": "1.2" }));
    kitchen.change("items", "sauce", "2026-06-16", dense).await.expect(200);
    let tuesday = send(&night("ford", "2026-06-16"), &kilograms).await.expect(201).json.clone();
    assert_eq!(said(of_item(&tuesday, "sauce")), "pending 2026-06-15 1 1.5 - - -");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-16").await;
    assert_eq!(rolled(&row, "sauce"), "1.5 1 - - - -");
}

/// Sixty items in nine places each: 540 lines.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sixty_items_in_nine_places() {
    let kitchen = Kitchen::open("2026-06-16T20:00:00Z").await;
    for n in 1..=9 {
        let place = json!({ "title": format!("Place {n}"), "turn": n + 10 });
        kitchen.put("places", &format!("place-{n}"), place).await;
    }
    let shelf = |n: u32| json!({ "place": format!("place-{n}"), "unit": "kg" });
    let shelves: Vec<_> = (1..=9).map(shelf).collect();
    for n in 1..=60 {
        let item = json!({ "title": format!("Item {n:02}"), "group": "food", "base": "mass",
            "rhythm": { "every": "night" }, "shelves": shelves });
        kitchen.put("items", &format!("item-{n:02}"), item).await;
        kitchen.put("prices", &format!("item-{n:02}"), super::price("2.00")).await;
    }
    let sheet = format!("{}/sheet", night("ford", "2026-06-15"));
    let sheet = kitchen.house.get(&sheet, Some(&kitchen.office.token)).await;
    let lines = sheet.expect(200).json["lines"].as_array().expect("lines").clone();
    // Potatoes are one line more.
    assert_eq!(lines.len(), 541);
    let walk: Vec<_> = lines.iter().map(|l| l["place"].as_str().unwrap_or_default()).collect();
    let mut places = walk.clone();
    places.dedup();
    assert_eq!(places.len(), 10, "each place is walked through once: {places:?}");

    // Item n has n kg in each place on Monday, and half a kilogram less of it in each on Tuesday.
    let counted = |less: f64| -> Vec<Value> {
        let quantity = |line: &Value| {
            let item = line["item"].as_str().expect("an item");
            let n: f64 = item.strip_prefix("item-").map_or(100.0, |n| n.parse().expect("a number"));
            (n - less).to_string()
        };
        let typed = |l: &Value| {
            let text = |member: &str| l[member].as_str().expect("text").to_owned();
            line(&text("item"), &text("place"), &quantity(l), "kg")
        };
        lines.iter().map(typed).collect()
    };
    kitchen.lines("ford", "2026-06-15", &counted(0.0)).await;
    let tuesday = kitchen.lines("ford", "2026-06-16", &counted(0.5)).await;
    assert_eq!((&tuesday["items_due"], &tuesday["items_counted"]), (&json!(61), &json!(61)));
    assert_eq!(tuesday["count"]["lines"].as_array().map(Vec::len), Some(541));
    // 9 × 0.5 = 4.5 kg of each, at 2.00; of potatoes, in one place, half a kilogram at 1.00.
    let last = of_item(&tuesday, "item-60");
    assert_eq!(said(last), "pending 2026-06-15 1 4.5 - - 9.00");
    assert_eq!(last["usage"]["opening"]["value"], "540");
    let row = kitchen.rollup("store:ford", "2026-06-15", "2026-06-16").await;
    assert_eq!(nights(&row), "2 2 0 0 0 2");
    assert_eq!(rolled(&row, "item-01"), "4.5 1 9.00 - - -");
    // 60 × 9.00 + 0.50.
    assert_eq!(row["money"]["used"], json!({ "cost": "540.50", "item_nights": 61 }));
}
