//! The committed API document is the one that the handlers make.

use parings_tests::{golden, house};

#[test]
fn the_committed_document_is_the_handlers_own() {
    golden::assert_committed("api/openapi.json", &format!("{}\n", parings::openapi::document()));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_served_document_is_the_committed_one() {
    let house = house().await;
    let served = house.get("/openapi.json", None).await;
    let committed = std::fs::read_to_string(golden::root().join("api/openapi.json"));
    let committed: serde_json::Value =
        serde_json::from_str(&committed.expect("api/openapi.json")).expect("JSON");
    assert_eq!(served.expect(200).json, committed);
    assert!(committed["openapi"].as_str().is_some_and(|v| v.starts_with("3.1")));
}
