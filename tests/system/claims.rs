//! Invariant 9: nothing the server says claims that a food is free from something. Such a claim needs
//! more than recipe data: fryers, utensils, vessels and the people who keep them apart.

use std::fs;

use parings_tests::golden::root;
use parings_tests::house::house;

/// Words of claims that recipe data alone cannot carry.
const CLAIMS: &[&str] =
    &["free from", "-free", "vegan", "vegetarian", "halal", "kosher", "allergen", "suitable for"];

fn claims(text: &str) -> Vec<&'static str> {
    let text = text.to_lowercase();
    CLAIMS.iter().copied().filter(|claim| text.contains(claim)).collect()
}

#[test]
fn a_claim_is_recognised() {
    assert_eq!(claims("Gluten-free and VEGAN"), ["-free", "vegan"]);
    assert!(claims("Chickpea fold").is_empty());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_the_server_says_claims_a_food_is_free_from_something() {
    let house = house().await;
    for page in ["/", "/problems", "/openapi.json"] {
        let said = house.get(page, None).await.expect(200).text.clone();
        // The caution of the first page names the law, and claims nothing.
        assert!(claims(&said).is_empty(), "{page}: {:?}", claims(&said));
    }
    let mut read = 0;
    for folder in ["api/src/starting", "api/src/demo/data"] {
        for file in fs::read_dir(root().join(folder)).expect("a folder").flatten() {
            if file.path().extension().is_some_and(|e| e == "json") {
                let text = fs::read_to_string(file.path()).expect("a document");
                assert!(claims(&text).is_empty(), "{:?}: {:?}", file.path(), claims(&text));
                read += 1;
            }
        }
    }
    assert!(read >= 5, "only {read} documents were read");
}
