//! What readers see in place of a page that was refused, and the pages that problem types resolve to.

use maud::{Markup, html};

use super::faults::told_by_name;
use super::layout;
use super::units::Shown;
use super::words::in_english;
use crate::http::problem::{Kind, Problem};
use crate::words::Language;
use crate::{say, tell};

fn title(language: Language, kind: Kind) -> String {
    language.of_table("problem", kind.slug(), kind.title())
}

fn help(language: Language, kind: Kind) -> String {
    language.of_table("problem-help", kind.slug(), kind.help())
}

fn framed(language: Language, title: &str, about: &str, body: &Markup) -> Markup {
    layout::page(language, &say!(language, "layout-title", what = title), about, body)
}

/// All kinds.
pub(crate) fn index(language: Language) -> Markup {
    let name = say!(language, "problems-title");
    let body = html! {
        h1 { (name) }
        p { (say!(language, "problems-lead")) }
        ul {
            @for kind in Kind::ALL {
                li { a href=(format!("/problems/{}", kind.slug())) { (title(language, *kind)) } " (" (kind.status().as_u16()) ")" }
            }
        }
    };
    framed(language, &name, &say!(language, "problems-about"), &body)
}

/// One kind, if there is one of that name.
pub(crate) fn one(language: Language, slug: &str) -> Option<Markup> {
    let kind = *Kind::ALL.iter().find(|kind| kind.slug() == slug)?;
    let (name, help) = (title(language, kind), help(language, kind));
    let body = html! {
        (layout::way_up(language, &[(&say!(language, "problems-title"), "/problems/".to_owned())]))
        h1 { (name) }
        p { (say!(language, "problems-status", status = kind.status().as_u16().to_string())) }
        p.lead { (help) }
    };
    Some(framed(language, &name, &help, &body))
}

/// What a reader sees in place of the page asked for.
pub(crate) fn refused(shown: &Shown, problem: &Problem, request_id: &str) -> Markup {
    let (language, kind) = (shown.written_in(), problem.kind());
    let name = title(language, kind);
    let of_address = kind == Kind::BadQuery && !problem.faults().is_empty();
    let help = if of_address { say!(language, "refused-address-help") } else { help(language, kind) };
    let status = kind.status().as_u16().to_string();
    let body = html! {
        h1 { (name) }
        @if of_address {
            p.lead { (say!(language, "refused-address")) }
            ul { @for fault in problem.faults() { li { (told_by_name(language, fault)) } } }
        } @else {
            p.lead {
                @match problem.occurrence().told(language) {
                    Some(told) => (told),
                    None => (in_english(language, &problem.occurrence().in_english())),
                }
            }
        }
        p { (help) }
        p { a href="/" { (say!(language, "refused-waters")) } }
        p.quiet { (tell!(language, "refused-status", status = status, request = html! { code { (request_id) } })) }
    };
    framed(language, &name, &help, &body)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_rows_in_every_language() {
        for kind in Kind::ALL {
            for family in ["problem", "problem-help"] {
                assert!(Language::German.has_table_row(family, kind.slug()), "{family} of {kind:?}");
            }
        }
    }
}
