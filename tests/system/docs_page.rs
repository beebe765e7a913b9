//! The page that shows the API works without the internet.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use parings_tests::house;
use sha2::{Digest, Sha256};

/// What a page refers to by `src` or `href`.
fn references(page: &str) -> Vec<&str> {
    let quoted =
        |start: &'static str| page.split(start).skip(1).filter_map(|rest| rest.split('"').next());
    quoted("src=\"").chain(quoted("href=\"")).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_api_page_needs_nothing_from_elsewhere() {
    let house = house().await;
    let short = house.get("/docs", None).await;
    assert!(short.expect(307).header("location").ends_with("/docs/"), "{short:?}");

    let page = house.get("/docs/", None).await;
    assert!(page.expect(200).header("content-type").starts_with("text/html"), "{page:?}");
    let assets = references(&page.text);
    assert!(assets.len() >= 5, "{}", page.text);
    for asset in assets {
        assert!(!asset.contains("//") && !asset.starts_with("data:"), "{asset} is elsewhere");
        let path = format!("/docs/{}", asset.trim_start_matches("./"));
        let loaded = house.get(&path, None).await;
        assert!(!loaded.expect(200).text.is_empty(), "{path}");
        // The large bundles name XML namespaces and licences; the style sheet only what it loads.
        let outside = ["url(http", "url(//", "@import"];
        assert!(!asset.ends_with(".css") || !outside.iter().any(|o| loaded.text.contains(o)));
    }

    let setup = house.get("/docs/swagger-initializer.js", None).await;
    let compact: String = setup.expect(200).text.split_whitespace().collect();
    assert!(compact.contains(r#""validatorUrl":"none""#), "{}", setup.text);
    assert!(compact.contains("/docs/openapi.json"), "{}", setup.text);
    assert!(!compact.contains("://"), "{}", setup.text);
    let shown = house.get("/docs/openapi.json", None).await;
    let served = house.get("/openapi.json", None).await;
    assert_eq!(shown.expect(200).json, served.expect(200).json);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_first_pages_lead_only_to_addresses_that_exist() {
    let house = house().await;
    for path in ["/", "/problems"] {
        let page = house.get(path, None).await;
        assert!(page.expect(200).header("content-type").starts_with("text/html"), "{page:?}");
        for reference in references(&page.text) {
            assert!(reference.starts_with('/') && !reference.starts_with("//"), "{reference}");
            let reached = house.get(reference, None).await;
            assert!(reached.status.is_success() || reached.status.is_redirection(), "{reached:?}");
        }
    }
    let problems = house.get("/problems", None).await;
    // W3C Content Security Policy Level 3: a style is taken when the SHA-256 of its text is listed. Read
    // from memory.
    let style =
        problems.text.split("<style>").nth(1).and_then(|rest| rest.split("</style>").next());
    let hash = STANDARD.encode(Sha256::digest(style.expect("a style")));
    let policy = problems.header("content-security-policy");
    assert!(policy.contains(&format!("style-src 'sha256-{hash}'")), "{policy}");
    assert!(!policy.contains("unsafe") && !policy.contains("self"), "{policy}");
    for kind in parings::error::KINDS {
        assert!(problems.text.contains(&format!("id=\"{}\"", kind.slug)), "{}", kind.slug);
    }
}
