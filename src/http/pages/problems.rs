//! The pages that problem types resolve to.

use maud::{Markup, html};

use super::layout;
use crate::http::problem::Kind;
use crate::words::Language;

/// All kinds.
pub(crate) fn index() -> Markup {
    let body = html! {
        h1 { "Kinds of problem" }
        p { "Every refusal is sent as application/problem+json (RFC 9457). Its type is one of these addresses." }
        ul {
            @for kind in Kind::ALL {
                li { a href=(format!("/problems/{}", kind.slug())) { (kind.title()) } " (" (kind.status().as_u16()) ")" }
            }
        }
    };
    layout::page(
        Language::English,
        "Kinds of problem \u{b7} Subimago",
        "Kinds of problem that the interface answers with.",
        &body,
    )
}

/// One kind, if there is one of that name.
pub(crate) fn one(slug: &str) -> Option<Markup> {
    let kind = Kind::ALL.iter().find(|kind| kind.slug() == slug)?;
    let body = html! {
        (layout::way_up(Language::English, &[("Kinds of problem", "/problems/".to_owned())]))
        h1 { (kind.title()) }
        p { "Status " (kind.status().as_u16()) "." }
        p.lead { (kind.help()) }
    };
    Some(layout::page(Language::English, &format!("{} \u{b7} Subimago", kind.title()), kind.help(), &body))
}

/// What a reader sees in place of the page asked for.
pub(crate) fn refused(kind: Kind, detail: &str, request_id: &str) -> Markup {
    let body = html! {
        h1 { (kind.title()) }
        p.lead { (detail) }
        p { (kind.help()) }
        p { a href="/" { "All waters" } }
        p.quiet { "Status " (kind.status().as_u16()) ", request " code { (request_id) } "." }
    };
    layout::page(Language::English, &format!("{} \u{b7} Subimago", kind.title()), kind.help(), &body)
}
