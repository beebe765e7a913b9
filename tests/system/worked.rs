//! The invented worked example through HTTP, every figure as the receipt shows it.

use chrono::TimeDelta;
use parings_core::access::Role;
use parings_core::ids::StageId;
use parings_core::quantity::Base;
use parings_core::yields::{Chain, MixPart, PortionSize, Portions, mix_weighted_size, portions};
use parings_tests::night::{night, of_item, receipt, role};
use parings_tests::{house, worked};
use rust_decimal::Decimal;
use serde_json::{Value, json};

/// A figure to so many decimals.
#[track_caller]
fn shown(figure: &Value, places: u32) -> String {
    let text = figure.as_str().unwrap_or_else(|| panic!("no figure: {figure}"));
    let value: Decimal = text.parse().expect("a number");
    format!("{:.*}", places as usize, value.round_dp(places))
}

/// Amount to a tenth of a kilogram, its give or take, and its cost to a hundredth.
#[track_caller]
fn part(part: &Value) -> (String, Option<String>) {
    assert_eq!(part["amount"]["unit"], "kg");
    let spread = part.get("give_or_take").map(|spread| shown(spread, 1));
    (shown(&part["amount"]["value"], 1), spread)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_invented_worked_example_comes_out_as_by_hand() {
    let house = house().await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let (manager, found) = worked::play(&house).await;
    assert_eq!(receipt(&house, &manager, &night("ford", worked::DATE)).await, found);

    assert_eq!(found["sales_from"], "feed");
    assert_eq!((&found["sales"], &found["units"]), (&json!("4837.50"), &json!(645)));
    assert_eq!(found["unmapped"], json!([]));
    assert_eq!((&found["items_due"], &found["items_counted"]), (&json!(1), &json!(1)));
    let potato = of_item(&found, "potato");
    assert_eq!(potato["known"], "compared");
    let usage = &potato["usage"];
    assert_eq!((&usage["since"], &usage["nights"]), (&json!(worked::FIRST), &json!(1)));
    for (name, kg) in [
        ("opening", "148.0"),
        ("received", "226.8"),
        ("transferred_in", "22.7"),
        ("transferred_out", "0.0"),
        ("closing", "131.5"),
        ("used", "266.0"),
        ("expected", "244.4"),
    ] {
        assert_eq!(shown(&usage[name]["value"], 1), kg, "{name}");
    }
    let lines = found["count"]["lines"].as_array().expect("lines");
    let raw: Decimal = lines[..2]
        .iter()
        .map(|l| l["as_purchased"]["value"].as_str().unwrap().parse::<Decimal>().unwrap())
        .sum();
    assert_eq!(raw, "90.7".parse().unwrap());

    let variance = &usage["variance"];
    assert_eq!(part(&variance["total"]), ("21.6".into(), Some("2.8".into())));
    assert_eq!(shown(&variance["total"]["cost"], 2), "19.42");
    assert_eq!(shown(&variance["of_expected"]["percent"], 1), "8.8");
    assert_eq!(shown(&variance["of_sales"]["percent"], 2), "0.40");
    assert_eq!(variance["of_sales"]["denominator"], "4837.50");
    assert_eq!(shown(&variance["accounted"]["percent"], 1), "91.9");
    assert_eq!(part(&variance["waste"]), ("10.3".into(), None));
    assert_eq!(part(&variance["yield_loss"]), ("4.0".into(), None));
    assert_eq!(part(&variance["over_portioning"]), ("4.9".into(), Some("4.4".into())));
    assert_eq!(variance["portions_weighed"], 20);
    assert_eq!(part(&variance["unexplained"]), ("2.4".into(), Some("5.2".into())));
    let reading = variance["reading"].as_str().expect("a sentence");
    assert!(reading.starts_with("Cannot be told from zero: 2.4"), "{reading}");

    // The parts add up, in kilograms and in money, to the digit shown.
    for figure in ["/amount/value", "/cost"] {
        let of = |name: &str| -> Decimal {
            let found = variance[name].pointer(figure).and_then(Value::as_str);
            found.unwrap_or_else(|| panic!("{name}{figure}")).parse().unwrap()
        };
        let parts: Decimal =
            ["waste", "yield_loss", "over_portioning", "unexplained"].map(of).into_iter().sum();
        let gap = (parts - of("total")).abs();
        assert!(gap <= Decimal::new(2, 2), "{figure}: the parts are off by {gap}");
    }
    assert_eq!(found["batches"][0]["stages"][0]["stage"], "chill");
}

/// The night rolled up by its district and by the whole network: the same figures, with the same
/// causes and the error of the two counts at its ends.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_worked_example_rolls_up_to_what_the_receipt_says() {
    let house = house().await;
    house.clock.set(house.clock.now() + TimeDelta::days(1));
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let (manager, _) = worked::play(&house).await;
    let coach = house.person(role(Role::Coach, "upper")).await;
    for (who, scope) in [(&coach, "district:upper"), (&office, "network"), (&manager, "store:ford")]
    {
        let night = worked::DATE;
        let path = format!("/v1/rollups?scope={scope}&from={night}&to={night}");
        let found = house.get(&path, Some(&who.token)).await;
        let row = found.expect(200).json["rows"][0].clone();
        let items = row["items"].as_array().expect("items");
        let potato = items.iter().find(|i| i["item"] == "potato").expect("potato");
        for (pointer, places, said) in [
            ("/used/amount/value", 1, "266.0"),
            ("/variance/expected/value", 1, "244.4"),
            ("/variance/amount/value", 1, "21.6"),
            ("/variance/amount/sd", 1, "2.8"),
            ("/variance/of_expected/value", 1, "8.8"),
            ("/variance/accounted/value", 1, "91.9"),
            ("/variance/causes/waste/value", 1, "10.3"),
            ("/variance/causes/yield_loss/value", 1, "4.0"),
            ("/variance/causes/over_portioning/value", 1, "4.9"),
            ("/variance/causes/over_portioning/sd", 1, "4.4"),
            ("/variance/causes/unexplained/value", 1, "2.4"),
            ("/variance/causes/unexplained/sd", 1, "5.2"),
            ("/variance_cost/amount/value", 2, "19.42"),
            ("/variance_cost/of_sales/value", 2, "0.40"),
        ] {
            let figure = potato.pointer(pointer).unwrap_or(&Value::Null);
            assert_eq!(shown(figure, places), said, "{scope}: {pointer} of {potato:#}");
        }
        assert_eq!(row["sales"], json!({ "amount": "4837.50", "nights": 1 }));
    }
}

/// Source: invented worked example: a 22.68 kg bag comes to 20.41, 20.21, 15.76, 15.29 and
/// 10.40 kg stage by stage, and to 103, 69, 51 or 34 portions; mixed 20/20/50/10 a portion is
/// 180 g.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_table_of_a_bag_comes_of_the_item_on_record() {
    let house = house().await;
    let office = house.person(Role::Office).await;
    worked::start(&house, &office.token).await;
    let path = "/v1/reference/items/potato";
    let item = house.get(path, Some(&office.token)).await.expect(200).json["document"].clone();
    let chain: Chain = serde_json::from_value(item["stages"].clone()).expect("stages");
    let bag = &item["packs"][0]["holds"];
    assert_eq!(bag, &json!({ "value": "22.68", "unit": "kg" }));
    let bag = Base::new(22_680.into());
    for (stage, kg) in [
        ("trim", "20.41"),
        ("wash", "20.21"),
        ("blanch", "15.76"),
        ("chill", "15.29"),
        ("finish", "10.40"),
    ] {
        let stage: StageId = stage.parse().unwrap();
        let there = chain.at_stage(bag, Some(&stage)).unwrap().value() / Decimal::ONE_THOUSAND;
        assert_eq!(format!("{:.2}", there.round_dp(2)), kg, "{stage}");
    }
    let finished = chain.total().unwrap().of_purchased(bag).unwrap();
    let size = |grams: &str| PortionSize::new(grams.parse().unwrap()).unwrap();
    for (grams, count) in [("100", 103), ("150", 69), ("200", 51), ("300", 34)] {
        assert_eq!(portions(finished, size(grams)), Ok(Portions(count)), "{grams} g");
    }
    let mix = [("100", 20), ("150", 20), ("200", 50), ("300", 10)];
    let mix = mix.map(|(grams, units)| MixPart { size: size(grams), units });
    assert_eq!(mix_weighted_size(&mix), Ok(size("180")));
}
