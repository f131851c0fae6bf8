//! The list of waters.

use std::sync::Arc;

use maud::{Markup, html};

use super::layout;
use crate::app::WatershedView;

/// The page.
pub(crate) fn home(waters: &[(Arc<WatershedView>, Option<String>)]) -> Markup {
    let body = html! {
        h1 { "Waters" }
        p.lead { "When the mayflies and their kin are expected on these waters." }
        @if waters.is_empty() {
            p.banner {
                "No water is set up yet. The operator declares one with " code { "subimago import setup FILE.toml" } "."
            }
        }
        ul.cards {
            @for (view, state) in waters {
                li {
                    a href=(format!("/w/{}", view.watershed.slug)) { (view.watershed.name) }
                    p.quiet {
                        (view.reaches.len()) @if view.reaches.len() == 1 { " reach, " } @else { " reaches, " }
                        (view.taxa.len()) @if view.taxa.len() == 1 { " insect" } @else { " insects" }
                        @if let Some(state) = state { ". " (state) }
                    }
                }
            }
        }
    };
    layout::page("Subimago", "Forecasts of mayfly and other insect emergence, by water.", &body)
}
