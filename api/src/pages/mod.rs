//! Pages for people with a browser.

pub mod home;
pub mod problems;

use maud::{DOCTYPE, Markup, html};

use crate::browser::STYLE;

/// The frame of every page. Nothing in it comes from elsewhere on the internet.
fn frame(title: &str, content: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (maud::PreEscaped(STYLE)) }
            }
            body { main { (content) } }
        }
    }
}
