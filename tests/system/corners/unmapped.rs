//! A till's code that nobody mapped to the menu, and what becomes of its nights once head office
//! maps it.

use parings::edge::new_id;
use parings_tests::house::Sending;
use parings_tests::night::{feed, of_item};
use reqwest::Method;
use serde_json::json;

use super::{Kitchen, fries, moment, nights, rolled, said};

/// Sixty sold as 1001 and forty as 2002, which nobody knows.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_till_code_nobody_mapped_is_listed_and_counts_once_it_is_mapped() {
    let kitchen = Kitchen::open("2026-06-16T20:00:00Z").await;
    kitchen.count("ford", "2026-06-15", "100").await;
    let sales = [("1001", 60, "240.00"), ("2002", 40, "160.00")];
    let sent = feed(&kitchen.house, &kitchen.office, "ford", "2026-06-16", &sales).await;
    let unmapped = json!([{ "business_date": "2026-06-16", "code": "2002", "units": 40 }]);
    assert_eq!(sent.expect(201).json["unmapped"], unmapped);
    kitchen.count("ford", "2026-06-16", "79").await;

    // The money is all there; expected use knows the 60 alone, and says which units it lacks.
    let receipt = kitchen.receipt("ford", "2026-06-16").await;
    assert_eq!(receipt["sales"], "400.00");
    assert_eq!(receipt["unmapped"], json!([{ "code": "2002", "units": 40 }]));
    assert_eq!(said(of_item(&receipt, "potato")), "compared 2026-06-15 1 21 12 9 21.00");
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-16").await;
    assert_eq!(nights(&row), "1 1 0 0 0 0");
    assert_eq!(rolled(&row, "potato"), "21 1 21.00 12 9 1");
    let listed = "/v1/stores/ford/unmapped-codes?from=2026-06-15&to=2026-06-16";
    let listed = kitchen.house.get(listed, Some(&kitchen.office.token)).await;
    assert_eq!(listed.expect(200).json["items"], unmapped);

    // Mapped an hour later, as a bag of fries: the night keeps to its pin.
    kitchen.house.clock.set(moment("2026-06-16T21:00:00Z"));
    let mut mapped = fries("200");
    mapped["sizes"][0]["till_codes"] = json!(["1001", "2002"]);
    kitchen.change("products", "fries", "2026-06-10", mapped).await.expect(200);
    assert_eq!(kitchen.receipt("ford", "2026-06-16").await, receipt);

    let key = new_id().to_string();
    let headers = [("Idempotency-Key", key.as_str())];
    let body = json!({ "from": "2026-06-16", "to": "2026-06-16", "reason": "Code 2002 is fries" });
    let token = Some(kitchen.office.token.as_str());
    let sending = Sending { token, headers: &headers, json: Some(&body) };
    let done = kitchen.house.send(Method::POST, "/v1/restatements", sending).await;
    assert_eq!(done.expect(200).json, json!({ "nights": 1, "stores": 1, "changed_spans": 1 }));
    // 100 × 0.2.
    let after = kitchen.receipt("ford", "2026-06-16").await;
    assert_eq!(said(of_item(&after, "potato")), "compared 2026-06-15 1 21 20 1 21.00");
    assert_eq!((&after["unmapped"], &after["units"]), (&json!([]), &json!(100)));
    let row = kitchen.rollup("store:ford", "2026-06-16", "2026-06-16").await;
    assert_eq!(rolled(&row, "potato"), "21 1 21.00 20 1 1");
}
