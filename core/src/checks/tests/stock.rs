use super::*;

/// 40 kg opened (known to 500 g) and 42 kg stand there (520 g): 2 kg below zero, and three times 721
/// g are 2.16 kg. 42.5 kg are 2.5 kg below, with 2.18 allowed.
#[test]
fn more_than_could_stand_there() {
    let beans = |kg: &str, closing| {
        Scene::new(&[line("beans", "cold-room", kg, "kg")]).with(
            "beans",
            one_night(40_000, 0, 0, closing),
            Vec::new(),
        )
    };
    assert!(beans("42", 42_000).found(CheckKind::NegativeUse).is_empty());
    let found = beans("42.5", 42_500).found(CheckKind::NegativeUse);
    assert_eq!(found[0].treatment, Treatment::Confirm);
    assert!(found[0].says.contains("a delivery"), "{}", found[0].says);
    assert_eq!(found[0].stake.map(|m| m.to_decimal()), Some(d("5")));
}

/// A number that reads as a slip is asked about once, as a slip.
#[test]
fn a_slip_is_asked_about_rather_than_a_delivery() {
    let scene = Scene::new(&[line("beans", "cold-room", "180", "kg")]).with(
        "beans",
        one_night(40_000, 0, 22_000, 180_000),
        quiet_nights(),
    );
    let about = |check: &&Check| check.about.item() == Some(&code("beans"));
    let found = night(&scene.given());
    assert_eq!(kinds(&found.iter().filter(about).cloned().collect::<Vec<_>>()), ["decimal_slip"]);
}

/// 10 kg opened (known to 200 g): 10.7 kg of waste are more than 600 g too much.
#[test]
fn more_thrown_away_than_was_there() {
    let wasted = |wasted: i64| {
        let mut ends = one_night(10_000, 0, 0, 0);
        let item = ItemDay { wasted: grams(wasted), ..ItemDay::default() };
        let night = SpanNight {
            open: true,
            sales_source: SalesSource::Feed,
            sales: None,
            short: false,
            item: Some(&item),
        };
        let opening = Opening { on: ends.opened_on, count: ends.opening };
        ends = span(opening, ends.closing, &[night], None, &Limits::default());
        Scene::new(&[]).with("beans", ends, Vec::new()).found(CheckKind::WasteAboveHandled)
    };
    assert!(wasted(10_600).is_empty());
    assert!(wasted(10_700)[0].says.contains("delivery missing"), "{:?}", wasted(10_700));
}

/// The cap of ready potatoes is 0.9, and scales may be 1 % off: of 10 kg, 9.09 kg may come out.
#[test]
fn more_out_of_a_stage_than_can() {
    let batch = |out: &str| {
        let mut scene = Scene::new(&[]);
        scene.facts.entries.push(entry(
            7,
            json!({ "kind": "batch", "item": "potato", "put_in": { "value": "10", "unit": "kg" },
                "steps": [{ "stage": "ready", "out": { "value": out, "unit": "kg" } }] }),
        ));
        scene.found(CheckKind::ImpossibleYield)
    };
    assert!(batch("9.09").is_empty());
    let found = batch("9.1");
    assert_eq!(found[0].treatment, Treatment::Confirm);
    assert!(found[0].says.contains("weigh again"), "{}", found[0].says);
    assert_eq!(found[0].about.item(), Some(&code("potato")));
}

/// Of 10 kg, 10.7 kg thrown away are more than 600 g too much. The 400 g of them that were thrown away
/// for safety are at stake as well, all at 2.00 a kilogram. The words name the item.
#[test]
fn what_was_thrown_away_for_safety_is_at_stake_as_well() {
    let ends = one_night(10_000, 0, 0, 0);
    let item = ItemDay { wasted: grams(10_700), wasted_safety: grams(400), ..ItemDay::default() };
    let night = SpanNight {
        open: true,
        sales_source: SalesSource::Feed,
        sales: None,
        short: false,
        item: Some(&item),
    };
    let opening = Opening { on: ends.opened_on, count: ends.opening };
    let ends = span(opening, ends.closing, &[night], None, &Limits::default());
    let found = Scene::new(&[]).with("beans", ends, Vec::new()).found(CheckKind::WasteAboveHandled);
    assert_eq!(found[0].stake.map(|m| m.to_decimal()), Some(d("21.4")));
    assert!(found[0].says.starts_with("more Beans was thrown away"), "{}", found[0].says);
}
