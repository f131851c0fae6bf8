//! What keepers tell, on pages.

use chrono::NaiveDate;
use maud::{Markup, html};

use super::PageView;
use crate::app::feed::one_line_within;
use crate::domain::{Audience, Notice, Slug};
use crate::say;
use crate::words::Language;

/// The notices of today that everyone may see; with `reach` only those about it. Nothing where there are none.
pub(crate) fn notices(page: &PageView, reach: Option<&Slug>) -> Markup {
    let told = page.view.notices_on(page.today, Audience::Everyone, reach);
    html! {
        @if !told.is_empty() {
            section.notices aria-labelledby="notices" {
                h2 id="notices" { (say!(page.language, "notices-title")) }
                ul {
                    @for notice in told {
                        li {
                            @if let Some(place) = place(page, notice).filter(|_| reach.is_none()) { strong { (place) ": " } }
                            span.words { (notice.words) } " " span.quiet { "(" (until(page.language, notice, page.today)) ")" }
                        }
                    }
                }
            }
        }
    }
}

/// Notices on a card, and letters of each: more would not fit.
const ON_CARD: usize = 2;
const LETTERS_ON_CARD: usize = 160;

/// The first notices about `reach`, cut to what a card holds.
pub(crate) fn short_notices(page: &PageView, reach: &Slug) -> Markup {
    let told = page.view.notices_on(page.today, Audience::Everyone, Some(reach));
    html! {
        @if !told.is_empty() {
            section.notices aria-labelledby="notices" {
                h2 id="notices" { (say!(page.language, "notices-title")) }
                ul {
                    @for notice in told.iter().take(ON_CARD) {
                        li {
                            (one_line_within(&notice.words, LETTERS_ON_CARD)) " "
                            span.quiet { "(" (until(page.language, notice, page.today)) ")" }
                        }
                    }
                    @if told.len() > ON_CARD { li { (say!(page.language, "notices-more", count = told.len() - ON_CARD)) } }
                }
            }
        }
    }
}

/// The notices of today that everyone may see, each with its place in front, for the reaches shown.
pub(crate) fn lines(page: &PageView, reaches: &[Slug]) -> Vec<String> {
    let about = |notice: &&Notice| reaches.is_empty() || reaches.iter().any(|reach| notice.is_about(reach));
    let told = page.view.notices_on(page.today, Audience::Everyone, None);
    told.into_iter()
        .filter(about)
        .map(|notice| {
            let place = place(page, notice).map(|place| format!("{place}: ")).unwrap_or_default();
            format!("{place}{} ({})", notice.words, until(page.language, notice, page.today))
        })
        .collect()
}

/// Name of the reach that a notice is about; `None` for the whole water.
fn place(page: &PageView, notice: &Notice) -> Option<String> {
    let slug = notice.reach.as_ref()?;
    let reach = page.view.reaches.iter().find(|reach| reach.slug == *slug);
    Some(reach.map_or_else(|| slug.to_string(), |reach| reach.name.clone()))
}

fn until(language: Language, notice: &Notice, today: NaiveDate) -> String {
    if notice.until == today {
        say!(language, "notices-until-today")
    } else {
        say!(language, "notices-until", day = language.day(notice.until))
    }
}
