//! What this is and where to go.

use maud::{Markup, html};

/// The page at `/`.
pub async fn show() -> Markup {
    super::frame(
        "Parings",
        &html! {
            h1 { "Parings" }
            p {
                "A server for chains of quick-service kitchens. Stores send in their nightly count and \
                 what they threw away, head office keeps the recipes and standards, and both read from \
                 the same figures what was used, what should have been, and where the rest went."
            }
            ul {
                li { a href="/docs" { "The API, to browse and try" } }
                li { a href="/openapi.json" { "The API document (OpenAPI 3.1)" } }
                li { a href="/problems" { "What an error means and what to do next" } }
                li { a href="/healthz" { "Is the process up?" } " " a href="/readyz" { "Is it ready?" } " "
                    a href="/metrics" { "Its counters" } }
            }
            p {
                "Parings records and reminds; it does not certify. Local food-safety law, licensed \
                 practice and the maker's manual of each appliance decide."
            }
        },
    )
}
