//! What this is, how far to trust it, and what to beware of.

use maud::{Markup, html};

use super::units::Units;
use super::{layout, words};
pub(crate) use crate::app::cautions::STANDING as STANDING_CAUTIONS;

/// The page.
pub(crate) fn about(units: Units) -> Markup {
    let body = html! {
        h1 { "About Subimago" }
        p.lead {
            "Subimago forecasts when mayflies and other water insects emerge, from the temperature of the water, "
            "the length of the day, and what people saw and wrote down, blank visits included."
        }
        h2 { "How to read a forecast" }
        ul {
            li { "Start, half and end are the days by which 5, 50 and 95 in 100 of the season's insects are out." }
            li { "A range holds four chances in five. One time in five the truth lies outside it; that is not a fault." }
            li {
                "Chances for a day answer one question: what would one person see, watching the two hours around "
                "that day's likeliest hour, at usual flow and cloud?"
            }
            li {
                @for (class, meaning) in words::CLASSES { (class) ": " (meaning) ". " }
                "Where records are counts, the classes are the smallest, the middle and the largest third of all "
                "catches with any in them."
            }
            li {
                "Where records are too few, the forecast rests on general knowledge of the insect and says so. Where "
                "it is not shown to be better than going by the date alone, it says that too."
            }
        }
        h2 { "Places and people" }
        p {
            "Reports are published by reach and day only: no spots, no hours, no notes, no names. "
            "This site sets no cookies and loads nothing from elsewhere. The " a href="/report" { "report form" }
            " keeps your token and the reports that are not yet sent in your browser, and nowhere else."
        }
        h2 id="cautions" { "Cautions" }
        ul { @for (_, text, source) in STANDING_CAUTIONS { (words::caution_line(text, source, units)) } }
        (words::unsourced())
        p { strong { "A forecast is not a safety statement." } " Follow local authorities and licensed guides." }
        h2 { "For machines" }
        p {
            a href="/reference" { "Reference of the interface" } ", "
            a href="/openapi.json" { "its OpenAPI document" } ", "
            a href="/problems/" { "kinds of problem" } "."
        }
    };
    layout::page("About \u{b7} Subimago", "What Subimago forecasts, how to read it, and what to beware of.", &body)
}
