use super::*;
use crate::catalog::Settings;
use crate::quantity::Tallied;

fn read(body: &Value) -> Option<TransferEnd> {
    let settings: Settings = serde_json::from_value(json!({ "title": "Chain", "currency": "EUR",
        "count_error": "0.02", "sample_nights": 7, "minimum_tickets": 30,
        "lump": { "tickets": 5, "within": 10 }, "doubtful_tickets": "0.05" }))
    .unwrap();
    let (date, at) = ("2025-06-13".parse().unwrap(), "2025-06-13T18:00:00Z".parse().unwrap());
    TransferEnd::read(&catalog(), &settings, &ford(), date, &entry(body), at).unwrap()
}

/// 8 kg of cut potatoes were 10 kg; a count of potatoes is known to 250 g, one of herbs to 2 %.
#[test]
fn an_end_is_read_from_its_entry() {
    let potatoes = |kind: &str, other: &str| {
        json!({ "kind": kind, "item": "potato", "stage": "cut", "quantity": amount("8", "kg"),
            other: "weir" })
    };
    let grams = |grams: i64| Tallied::from_thousandths(grams * 1_000);
    for (kind, other, direction) in
        [("transfer_in", "from", Direction::In), ("transfer_out", "to", Direction::Out)]
    {
        let end = read(&potatoes(kind, other)).unwrap();
        assert_eq!((end.direction, end.other.as_str()), (direction, "weir"));
        assert_eq!((end.store, end.item.as_str()), (ford(), "potato"));
        assert_eq!((end.amount, end.give_or_take), (grams(10_000), grams(250)));
    }
    let herbs = json!({ "kind": "transfer_in", "item": "herbs", "quantity": amount("3", "kg"),
        "from": "weir" });
    assert_eq!(read(&herbs).unwrap().give_or_take, grams(60));
    let delivery = json!({ "kind": "delivery", "item": "herbs", "quantity": amount("3", "kg") });
    assert_eq!(read(&delivery), None);
}
