use super::*;

fn line(item: &str, place: &str, kg: &str) -> Value {
    json!({ "item": item, "place": place, "stage": null, "pan": null,
        "quantity": amount(kg, "kg") })
}

/// Everything that is due on a Friday.
fn whole() -> Value {
    let cut = with(line("potato", "dry", "3"), "/stage", json!("cut"));
    json!({ "complete": true, "net_sales": "100",
        "lines": [line("potato", "dry", "20"), cut, line("yoghurt", "dry", "2"),
            line("herbs", "dry", "0")],
        "units_sold": [{ "product": "fries", "size": "one", "units": 90, "channel": "window",
            "daypart": "midday" }] })
}

fn flaws(body: &Value, date: &str) -> Vec<String> {
    let (catalog, count): (_, Count) = (catalog(), serde_json::from_value(body.clone()).unwrap());
    told(&check_count(&catalog, store(&catalog), date.parse().unwrap(), &count))
}

#[test]
fn a_count_is_refused_for_what_it_alone_proves_impossible() {
    // A Friday.
    assert_eq!(flaws(&whole(), "2025-06-13"), [""; 0]);
    let free = with(whole(), "/net_sales", json!("0"));
    assert_eq!(flaws(&free, "2025-06-13"), [""; 0]);
    for (at, value, flaw) in [
        ("/net_sales", json!("-0.01"), "/net_sales: net sales of a night are 0 or more"),
        ("/lines/0/quantity/unit", json!("l"), "/lines/0: "),
        ("/lines/0/pan", json!("round"), "/lines/0: potato has no pan \"round\""),
        ("/units_sold/0/size", json!("two"), "/units_sold/0: there is no \"fries/two\""),
        (
            "/units_sold/0/channel",
            json!("kerb"),
            "/units_sold/0/channel: there is no channel \"kerb\"",
        ),
        (
            "/units_sold/0/daypart",
            json!("dawn"),
            "/units_sold/0/daypart: there is no daypart \"dawn\"",
        ),
    ] {
        let found = flaws(&with(whole(), at, value), "2025-06-13");
        assert!(found.len() == 1 && found[0].starts_with(flaw), "{at}: {found:?}");
    }
    let attic = with(whole(), "/lines/2/place", json!("attic"));
    let partial = with(attic.clone(), "/complete", json!(false));
    let place = "/lines/2/place: there is no place \"attic\"";
    assert_eq!(flaws(&partial, "2025-06-13"), [place]);
    assert_eq!(flaws(&attic, "2025-06-13")[0], place);
}

#[test]
fn a_blank_is_not_a_zero() {
    let lines = json!([line("potato", "dry", "20"), line("herbs", "dry", "0")]);
    let blank = with(whole(), "/lines", lines);
    let types = "is blank: type 0 if there is none, or send complete: false";
    let expected = [
        format!("/lines: Potatoes (potato) in dry at stage cut {types}"),
        format!("/lines: Yoghurt (yoghurt) in dry {types}"),
    ];
    assert_eq!(flaws(&blank, "2025-06-13"), expected);
    let partial = with(blank.clone(), "/complete", json!(false));
    assert_eq!(flaws(&partial, "2025-06-13"), [""; 0]);
    // A Sunday: the store stays closed, so nothing is due.
    assert_eq!(flaws(&blank, "2025-06-15"), [""; 0]);
}

/// A night's labels tell lines of one amount apart.
#[test]
fn a_line_in_another_pan_is_a_difference() {
    let of = |pans: [Value; 2]| -> Count {
        let line = |pan| with(line("potato", "dry", "5"), "/pan", pan);
        serde_json::from_value(json!({ "complete": true, "lines": pans.map(line) })).unwrap()
    };
    let (none, deep) = (json!(null), json!("deep"));
    let before = of([deep.clone(), none.clone()]);
    assert!(diff(&catalog(), &before, &of([none.clone(), deep.clone()])).shelves.is_empty());
    // One kilogram of pan less.
    let found = diff(&catalog(), &before, &of([deep.clone(), deep.clone()]));
    assert_eq!(found.shelves[0].difference.unwrap().thousandths(), -1_000_000);
    // Of three lines as many are alike, and not the same ones.
    let three = |pans: [Value; 3]| -> Count {
        let line = |pan| with(line("potato", "dry", "5"), "/pan", pan);
        serde_json::from_value(json!({ "complete": true, "lines": pans.map(line) })).unwrap()
    };
    let one = three([deep.clone(), none.clone(), none.clone()]);
    let other = three([deep.clone(), deep, none]);
    assert_eq!(diff(&catalog(), &one, &other).shelves.len(), 1);
}

#[test]
fn a_closed_day_is_said_to_be_closed() {
    let catalog = catalog();
    let on = |date: &str| sheet(&catalog, &ford(), store(&catalog), date.parse().unwrap());
    assert!(!on("2025-06-13").closed && on("2025-06-15").closed);
    assert!(on("2025-06-15").lines.is_empty());
}
