use super::*;

fn batch() -> Value {
    json!({
        "sales": [{ "code": "101", "units": 3, "net": "0", "channel": "window",
            "when": { "daypart": "midday" } }],
        "tickets": [{ "id": "1", "placed": "2025-06-13T18:00:00Z",
            "handed_off": "2025-06-13T18:00:00Z", "channel": "window" }] })
}

#[test]
fn a_batch_is_refused_for_what_it_alone_proves_impossible() {
    let flaws = |body: &Value| {
        let batch: TillBatch = serde_json::from_value(body.clone()).unwrap();
        told(&check_till(&catalog(), &batch))
    };
    assert_eq!(flaws(&batch()), [""; 0]);
    for (at, value, flaw) in [
        ("/sales/0/channel", json!("kerb"), "/sales/0/channel: there is no channel \"kerb\""),
        ("/sales/0/net", json!("-0.01"), "/sales/0/net: below zero: send a refund as units"),
        (
            "/sales/0/when/daypart",
            json!("dawn"),
            "/sales/0/when/daypart: there is no daypart \"dawn\"",
        ),
        ("/tickets/0/handed_off", json!("2025-06-13T17:59:59Z"), "/tickets/0: "),
        ("/tickets/0/channel", json!("kerb"), "/tickets/0/channel: there is no channel \"kerb\""),
    ] {
        let found = flaws(&with(batch(), at, value));
        assert!(found.len() == 1 && found[0].starts_with(flaw), "{at}: {found:?}");
    }
    for (at, value) in [
        ("/sales/0/net", json!("5")),
        ("/sales/0/channel", json!(null)),
        ("/sales/0/when", json!("unknown")),
        ("/tickets/0/handed_off", json!("2025-06-13T18:00:01Z")),
    ] {
        assert_eq!(flaws(&with(batch(), at, value)), [""; 0], "{at}");
    }
}

#[test]
fn only_what_was_called_off_before_making_uses_nothing() {
    use Outcome::{GivenAway, RefundedAfterMaking, Sold, StaffMeal, VoidedBeforeMaking};
    for made in [Sold, RefundedAfterMaking, GivenAway, StaffMeal] {
        assert!(made.uses_food(), "{made:?}");
    }
    assert!(!VoidedBeforeMaking.uses_food());
}
