//! The frame of every page.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The style sheet, served under an address that changes with it.
pub(crate) const STYLE: &str = include_str!("style.css");
/// The site's mark: a wing over a water line.
pub(crate) const FAVICON: &str = include_str!("favicon.svg");

/// Address of the style sheet.
pub(crate) fn style_path() -> String {
    let tag = crate::http::respond::entity_tag(STYLE.as_bytes(), crate::http::respond::Tag::Strong);
    format!("/assets/style.css?v={}", tag.trim_matches('"'))
}

/// A whole page.
pub(crate) fn page(title: &str, description: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="description" content=(description);
                title { (title) }
                link rel="icon" href="/assets/favicon.svg" type="image/svg+xml";
                link rel="stylesheet" href=(style_path());
            }
            body {
                a.skip href="#main" { "Skip to the forecast" }
                header.site {
                    a.home href="/" { (PreEscaped(FAVICON)) span { "Subimago" } }
                    nav aria-label="Site" {
                        a href="/" { "Waters" }
                        a href="/about" { "About" }
                        a href="/reference" { "API" }
                    }
                }
                main id="main" { (body) }
                footer.site {
                    p { "A forecast is not a safety statement. Look at the water before you wade, and heed local notices." }
                }
            }
        }
    }
}

/// A link back up.
pub(crate) fn trail(steps: &[(&str, String)]) -> Markup {
    html! {
        nav.trail aria-label="Where you are" {
            @for (name, address) in steps { a href=(address) { (name) } span aria-hidden="true" { " / " } }
        }
    }
}
