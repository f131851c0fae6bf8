//! What this is, how far to trust it, and what to beware of.

use maud::{Markup, html};

use super::units::Units;
use super::{layout, words};
pub(crate) use crate::app::cautions::STANDING as STANDING_CAUTIONS;
use crate::words::Language;
use crate::{say, tell};

/// The page.
pub(crate) fn about(units: Units, language: Language) -> Markup {
    let body = html! {
        h1 { (say!(language, "about-title")) }
        p.lead { (say!(language, "about-lead")) }
        h2 { (say!(language, "about-read")) }
        ul {
            li { (say!(language, "about-read-shares")) }
            li { (say!(language, "about-read-ranges")) }
            li { (say!(language, "about-read-chances")) }
            li {
                @for (index, (class, meaning)) in words::CLASSES.map(|word| words::class(language, word)).iter().enumerate() {
                    @if index > 0 { "; " }
                    (class) ": " (meaning)
                }
                ". "
                (say!(language, "about-read-counts"))
            }
            li { (say!(language, "about-read-few")) }
        }
        h2 { (say!(language, "about-people")) }
        p {
            (tell!(
                language,
                "about-people-words",
                form = html! { a href="/report" { (say!(language, "about-people-form")) } },
            ))
        }
        h2 id="cautions" { (say!(language, "about-cautions")) }
        ul {
            @for (code, text, source) in STANDING_CAUTIONS {
                (words::caution_line(language, &words::standing(language, code, text), source, units))
            }
        }
        (words::unsourced(language))
        p { strong { (say!(language, "about-safety")) } " " (say!(language, "about-authorities")) }
        h2 { (say!(language, "about-machines")) }
        p {
            a href="/reference" { (say!(language, "about-reference")) } ", "
            a href="/openapi.json" { (say!(language, "about-openapi")) } ", "
            a href="/problems/" { (say!(language, "about-problems")) } "."
        }
    };
    let title = say!(language, "layout-title", what = say!(language, "layout-about"));
    layout::page(language, &title, &say!(language, "about-about"), &body)
}
