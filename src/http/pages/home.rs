//! The list of waters.

use std::sync::Arc;

use maud::{Markup, html};

use super::layout;
use crate::app::{FittingProgress, WatershedView};
use crate::words::Language;
use crate::{say, tell};

/// The page.
pub(crate) fn home(language: Language, waters: &[(Arc<WatershedView>, Option<FittingProgress>)]) -> Markup {
    let body = html! {
        h1 { (say!(language, "layout-waters")) }
        p.lead { (say!(language, "home-lead")) }
        @if waters.is_empty() {
            p.banner {
                (tell!(language, "home-empty", command = html! { code { "subimago import setup FILE.toml" } }))
            }
        }
        ul.cards {
            @for (view, state) in waters {
                li {
                    a href=(format!("/w/{}", view.watershed.slug)) { (view.watershed.name) }
                    p.quiet {
                        (say!(language, "home-holds", reaches = view.reaches.len(), insects = view.taxa.len()))
                        @if let Some(progress) = state {
                            ". " (say!(language, "fitting-count", done = progress.done, total = progress.total))
                        }
                    }
                }
            }
        }
    };
    layout::page(language, "Subimago", &say!(language, "home-about"), &body)
}
