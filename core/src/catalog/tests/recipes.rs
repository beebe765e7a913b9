//! What recipes take, what they cost, and what they rest on.

use std::collections::BTreeSet;

use super::*;
use crate::quantity::Base;

/// Items and base units.
fn shown(needs: &Needs) -> Vec<(String, Decimal)> {
    needs.0.iter().map(|(item, base)| (item.to_string(), base.value().normalize())).collect()
}

fn expected(rows: &[(&str, &str)]) -> Vec<(String, Decimal)> {
    rows.iter().map(|(item, base)| ((*item).to_owned(), d(base))).collect()
}

/// 200 g of cut potatoes are 200 ÷ 0.8 = 250 g as purchased; a meal has two, and 50 g of dip, of
/// which four fifths are yoghurt.
#[test]
fn a_combo_takes_its_own_lines_and_those_of_its_parts() {
    let needs = |product, size| {
        let (product, size) = product_and_size(product, size);
        catalog().needs_of(&product, &size)
    };
    assert_eq!(shown(&needs("fries", "half").unwrap()), expected(&[("potato", "125")]));
    assert_eq!(
        shown(&needs("meal", "one").unwrap()),
        expected(&[("herbs", "10"), ("potato", "500"), ("yoghurt", "40")])
    );
    let missing = "there is no \"fries/two\" under products on that date";
    assert_eq!(needs("fries", "two").unwrap_err().to_string(), missing);
}

#[test]
fn two_lines_of_one_item_add_up_and_are_taken_so_many_times() {
    let lines: Vec<RecipeLine> =
        serde_json::from_value(json!([takes("herbs", "30", "g"), takes("dip", "50", "g")]))
            .unwrap();
    let mut needs = Needs::default();
    catalog().take_lines(&lines, 3.into(), &mut needs).unwrap();
    // Three times 30 g and a fifth of 50 g.
    assert_eq!(shown(&needs), expected(&[("herbs", "120"), ("yoghurt", "120")]));
}

/// A dip that is counted is taken itself.
#[test]
fn only_what_is_never_counted_flows_through() {
    let mut counted = with(dip(), "/rhythm", json!({ "every": "night" }));
    counted["shelves"] = json!([{ "place": "cold", "unit": "kg" }]);
    let all = and(Kind::Item, "dip", &counted);
    let (product, size) = product_and_size("meal", "one");
    let needs = all.needs_of(&product, &size).unwrap();
    assert_eq!(shown(&needs), expected(&[("dip", "50"), ("potato", "500")]));
    let known = |all: &Catalog, code: &str| all.items[&item_id(code)].flows_through();
    assert!(known(&catalog(), "dip") && !known(&all, "dip") && !known(&all, "herbs"));
    let uncounted = item(&with(bought("Ice"), "/rhythm", json!({ "every": "never" })));
    assert!(!uncounted.flows_through());
}

#[test]
fn what_making_an_amount_takes() {
    let inputs = |code| catalog().inputs_of(&item_id(code), Base::new(2_000.into())).unwrap();
    assert_eq!(shown(&inputs("dip")), expected(&[("herbs", "400"), ("yoghurt", "1600")]));
    assert!(inputs("potato").0.is_empty());
    assert!(catalog().inputs_of(&item_id("salt"), Base::ZERO).is_err());
}

/// A price by weight; of what is made, (4 kg × 2.00 + 1 kg × 8.00) ÷ 5 kg; of what is made from cut
/// potatoes, 1 kg ÷ 0.8 × 0.90 a kilogram.
#[test]
fn what_is_made_costs_what_goes_in() {
    let price = |all: &Catalog, code| all.unit_price(&item_id(code)).map(|price| price.value());
    assert_eq!(price(&catalog(), "potato"), Some(d("0.0009")));
    assert_eq!(price(&catalog(), "dip"), Some(d("0.0032")));
    let bag = json!({ "price": "18.00", "per": amount("2", "bag") });
    assert_eq!(price(&and(Kind::Price, "potato", &bag), "potato"), Some(d("0.00045")));
    let mash = json!({ "title": "Mash", "group": "food", "base": "mass",
        "rhythm": { "every": "never" },
        "made_from": { "batch": amount("2", "kg"), "inputs": [
            { "item": "potato", "stage": "cut", "quantity": amount("1", "kg") }] } });
    assert_eq!(price(&and(Kind::Item, "mash", &mash), "mash"), Some(d("0.0005625")));
    let unpriced = with(dip(), "/made_from/inputs/1/item", json!("salt"));
    assert_eq!(price(&and(Kind::Item, "dip", &unpriced), "dip"), None);
}

#[test]
fn a_code_of_the_till_leads_to_a_size_or_an_addition() {
    let all = catalog();
    let size = |code| all.by_till_code(code).map(|(id, size)| format!("{id}/{}", size.code));
    assert_eq!(size("102").as_deref(), Some("fries/one"));
    assert_eq!(size("103").as_deref(), Some("fries/half"));
    assert_eq!(size("201").as_deref(), Some("meal/one"));
    assert_eq!(size("901"), None);
    let added = |code| all.addition_by_till_code(code).map(|(id, _)| id.to_string());
    assert_eq!(added("901").as_deref(), Some("more-dip"));
    assert_eq!(added("101"), None);
}

/// A meal rests on itself, on the fries in it and on the dip, which stands for its inputs.
#[test]
fn what_a_recipe_rests_on() {
    let behind = |all: &Catalog, product: &str| {
        let mut found = BTreeSet::new();
        let (product, size) = product_and_size(product, "one");
        all.behind_product(&product, &size, &mut found);
        found.into_iter().map(|(kind, code)| format!("{}/{code}", kind.word())).collect::<Vec<_>>()
    };
    assert_eq!(behind(&catalog(), "fries"), ["products/fries"]);
    let whole = ["items/dip", "products/fries", "products/meal"];
    assert_eq!(behind(&catalog(), "meal"), whole);
    // Herbs that are made from others and never counted stand behind the dip.
    let mixed = with(
        with(dip(), "/title", json!("Herbs")),
        "/made_from/inputs",
        json!([takes("potato", "5", "kg")]),
    );
    let deeper = and(Kind::Item, "herbs", &mixed);
    assert_eq!(behind(&deeper, "meal"), ["items/dip", "items/herbs", whole[1], whole[2]]);
    assert!(behind(&catalog(), "stew").is_empty());
}

#[test]
fn combos_and_preparations_nest_six_deep_and_no_deeper() {
    let mut all = catalog();
    for n in 1..=6 {
        let inner = if n == 1 { "fries".to_owned() } else { format!("box-{}", n - 1) };
        let outer = json!({ "title": "Box", "sizes": [{ "code": "one", "title": "One",
            "parts": [{ "product": inner, "size": "one", "count": 1 }] }] });
        all.put(&format!("box-{n}"), read(Kind::Product, &outer)).unwrap();
    }
    let needs = |n: u32| {
        let (product, size) = product_and_size(&format!("box-{n}"), "one");
        all.needs_of(&product, &size)
    };
    assert_eq!(shown(&needs(5).unwrap()), expected(&[("potato", "250")]));
    assert_eq!(needs(6).unwrap_err().to_string(), "combos are nested too deep");
}
