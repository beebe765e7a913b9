//! Every kind of error, for people.

use maud::{Markup, html};

use crate::error::KINDS;

/// The page at `/problems`.
pub async fn show() -> Markup {
    super::frame(
        "Parings: problems",
        &html! {
            h1 { "What an error means" }
            @for kind in KINDS {
                section id=(kind.slug) {
                    h2 { (kind.title) }
                    p { (kind.next) }
                    p { "Status " (kind.status.as_u16()) ", type " code { "/problems#" (kind.slug) } }
                }
            }
            p { a href="/" { "Back" } }
        },
    )
}
