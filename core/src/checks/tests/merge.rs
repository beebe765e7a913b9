use super::*;

fn buns(trays: &str) -> Value {
    line("buns", "dry-store", trays, "tray")
}

fn potatoes(kg: &str, pan: Value) -> Value {
    let mut one = line("potato", "cold-room", kg, "kg");
    one["pan"] = pan;
    one
}

/// The first part's word counts, where it has one; counters are named once each.
#[test]
fn what_is_said_of_the_whole_count() {
    let part = |complete: bool, by: &[&str], started: Value, net: Value, sold: &[u32]| -> Count {
        let sold: Vec<_> = sold
            .iter()
            .map(|units| json!({ "product": "fries", "size": "one", "units": units }))
            .collect();
        serde_json::from_value(json!({ "complete": complete, "counted_by": by, "lines": [],
            "started_at": started, "net_sales": net, "units_sold": sold }))
        .unwrap()
    };
    let (early, late) = ("2025-06-13T20:00:00Z", "2025-06-13T20:10:00Z");
    let open = part(false, &["Ada"], json!(late), json!(null), &[]);
    let ready = part(true, &["Ada", "Bo"], json!(early), json!("50"), &[7]);
    let other = part(false, &["Cy"], json!(null), json!("60"), &[8]);
    let whole = |parts: &[&Count]| {
        let parts: Vec<Count> = parts.iter().map(|part| (*part).clone()).collect();
        merge(&catalog(), &parts).count
    };
    assert_eq!(
        whole(&[&open, &ready, &other]),
        part(true, &["Ada", "Bo", "Cy"], json!(early), json!("50"), &[7])
    );
    assert_eq!(
        whole(&[&other, &ready]),
        part(true, &["Cy", "Ada", "Bo"], json!(early), json!("60"), &[8])
    );
    assert!(!whole(&[&open, &other]).complete && whole(&[&ready, &open]).complete);
    assert_eq!(merge(&catalog(), &[]).count, Count::default());
}

/// Two trays and one are three; one tray in a pan is not another in none. A pan of 1.2 kg is off.
#[test]
fn lines_of_a_shelf_are_one_amount() {
    let differ = |one: &[Value], other: &[Value]| {
        let merged = merge(&catalog(), &[count(one), count(other)]);
        merged.differ.first().map(offered)
    };
    assert_eq!(differ(&[buns("2"), buns("1")], &[buns("3")]), None);
    let told = |one: &str, other: &str| Some(vec![one.to_owned(), other.to_owned()]);
    assert_eq!(differ(&[buns("2"), buns("1")], &[buns("4")]), told("3 tray", "4 tray"));
    let (none, deep) = (Value::Null, json!("deep"));
    let panned = [potatoes("5.2", deep.clone()), potatoes("2", none.clone())];
    assert_eq!(differ(&panned, &[potatoes("6", none.clone())]), None);
    assert_eq!(differ(&panned, &[potatoes("7", none.clone())]), told("6000 g", "7 kg"));
    assert_eq!(
        differ(&[potatoes("5.2", deep)], &[potatoes("5.2", none)]),
        told("4000 g", "5.2 kg")
    );
    let mixed = [buns("2"), line("buns", "dry-store", "12", "each")];
    assert_eq!(differ(&mixed, &[buns("3")]), told("108 each", "3 tray"));
}

/// Where a third differs as well, every amount once is a reading of one question, in the order they
/// came, and what is at stake is the most that any of them moves.
#[test]
fn a_third_counter_joins_the_question() {
    let catalog = catalog();
    let beans = |kg: &str| line("beans", "cold-room", kg, "kg");
    let first =
        merge(&catalog, &[count(&[buns("6"), beans("4")]), count(&[buns("7"), beans("5")])]);
    assert_eq!(first.differ.len(), 2);
    let joined = merge(&catalog, &[first.count.clone(), count(&[buns("9")])])
        .with_open(&catalog, first.differ.clone());
    assert_eq!(joined.differ.len(), 2);
    let of = |item: &str| {
        joined.differ.iter().find(|check| check.about.item() == Some(&code(item))).unwrap()
    };
    // The beans are asked about as before.
    assert_eq!(Some(of("beans")), first.differ.iter().find(|c| c.about == of("beans").about));
    let asked = of("buns");
    assert_eq!(offered(asked), ["6 tray", "7 tray", "9 tray"]);
    let who: Vec<_> = asked.readings.iter().map(|reading| reading.says.as_str()).collect();
    assert_eq!(who, ["counter 1", "counter 2", "counter 3"]);
    assert_eq!(asked.says, "two or more counted Buns in Dry store: 6 tray, or 7 tray, or 9 tray?");
    // From 6 to 9 trays of 48 at 0.20; from 6 to 7 it was 9.60.
    assert_eq!(asked.stake.map(|m| m.to_decimal()), Some(d("28.8")));
    let two = first.differ.iter().find(|check| check.about == asked.about).unwrap();
    assert_eq!(two.says, "two counted Buns in Dry store: 6 tray, or 7 tray?");
    assert_eq!(two.stake.map(|m| m.to_decimal()), Some(d("9.6")));
    // One who says the same as another before adds no reading.
    let again = merge(&catalog, &[first.count, count(&[buns("7")])])
        .with_open(&catalog, first.differ.clone());
    assert_eq!(
        again.differ.iter().find(|c| c.about == asked.about).map(offered),
        Some(offered(two))
    );
}
