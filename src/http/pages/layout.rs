//! The frame of every page.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::say;
use crate::words::Language;

/// The style sheet, served under an address that changes with it.
pub(crate) const STYLE: &str = include_str!("style.css");
/// The site's mark: a wing over a water line.
pub(crate) const FAVICON: &str = include_str!("favicon.svg");

/// What a page loads beside the common style sheet.
#[derive(Debug, Clone, Default)]
pub(crate) struct Extras {
    /// Address of a further style sheet.
    pub(crate) style: Option<String>,
    /// Address of a script.
    pub(crate) script: Option<String>,
    /// Address of an Atom feed of news.
    pub(crate) news: Option<String>,
}

/// Address of the style sheet.
pub(crate) fn style_path() -> String {
    versioned("/assets/style.css", STYLE)
}

/// `path` with a query that changes with what is served there.
pub(crate) fn versioned(path: &str, text: &str) -> String {
    let tag = crate::http::respond::entity_tag(text.as_bytes(), crate::http::respond::Tag::Strong);
    format!("{path}?v={}", tag.trim_matches('"'))
}

/// A whole page.
pub(crate) fn page(language: Language, title: &str, description: &str, body: &Markup) -> Markup {
    page_with(language, title, description, body, &Extras::default())
}

/// A whole page with files of its own.
pub(crate) fn page_with(language: Language, title: &str, description: &str, body: &Markup, extras: &Extras) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(language.document_tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="description" content=(description);
                title { (title) }
                link rel="icon" href="/assets/favicon.svg" type="image/svg+xml";
                link rel="stylesheet" href=(style_path());
                @if let Some(style) = &extras.style { link rel="stylesheet" href=(style); }
                @if let Some(news) = &extras.news {
                    link rel="alternate" type="application/atom+xml" title=(say!(language, "layout-news")) href=(news);
                }
                @if let Some(script) = &extras.script { script src=(script) defer {} }
            }
            body {
                a.skip href="#main" { (say!(language, "layout-skip")) }
                header.site {
                    a.home href="/" { (PreEscaped(FAVICON)) span { "Subimago" } }
                    nav aria-label=(say!(language, "layout-site")) {
                        a href="/" { (say!(language, "layout-waters")) }
                        a href="/about" { (say!(language, "layout-about")) }
                        a href="/reference" { (say!(language, "layout-interface")) }
                    }
                }
                main id="main" { (body) }
                footer.site {
                    p { (say!(language, "layout-safety")) }
                    (super::units::place())
                }
            }
        }
    }
}

/// Links back up, from the list of all waters to `steps`.
pub(crate) fn trail(language: Language, steps: &[(&str, String)]) -> Markup {
    let waters = say!(language, "layout-waters");
    let mut all = vec![(&*waters, "/".to_owned())];
    all.extend_from_slice(steps);
    way_up(language, &all)
}

/// Links back up by `steps` alone.
pub(crate) fn way_up(language: Language, steps: &[(&str, String)]) -> Markup {
    html! {
        nav.trail aria-label=(say!(language, "layout-where")) {
            @for (place, (name, address)) in steps.iter().enumerate() {
                @if place > 0 { span aria-hidden="true" { " / " } }
                a href=(address) { (name) }
            }
        }
    }
}
