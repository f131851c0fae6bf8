//! The season on one sheet of paper, A4 or Letter, legible in black and white.

use maud::{Markup, html};

use super::picture::ridges;
use super::season::{Line, lines, when};
use super::{PageView, layout, words};

/// The page.
pub(crate) fn sheet(page: &PageView, public_url: &str) -> Markup {
    let view = &page.view;
    let slug = &view.watershed.slug;
    let lines = lines(&view.taxa, &page.forecasts);
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        div.sheet {
            h1 { (view.watershed.name) ", season " (page.season) }
            (words::as_of(&page.forecasts))
            (words::stale(&page.forecasts))
            (words::fitting(page))
            @if let Some((axis, drawn)) = ridges(&lines, page.today) {
                p.key {
                    "Ridge: how much to expect on a day, all reaches together. Hatched: when the start may fall, four "
                    "chances in five. Hours are local; sizes are bodies without tails."
                }
                div.scroll tabindex="0" role="region" aria-label="The season in rows" {
                    table {
                        caption { "Insects by the date of their start" }
                        thead {
                            tr {
                                th scope="col" { "Insect" }
                                th.drawn scope="col" { span.unseen { "Expected through the season" } (axis) }
                                th scope="col" { "Starts" }
                                th scope="col" { "Ends" }
                                th scope="col" { "Hour" }
                                th scope="col" { "mm" }
                            }
                        }
                        tbody {
                            @for (line, ridge) in lines.iter().zip(drawn) {
                                tr {
                                    th scope="row" { (line.label) }
                                    td.drawn { (ridge) }
                                    td { (when(line.onset())) }
                                    td { (middle(line)) }
                                    td { (hour(line)) }
                                    td { @if let Some((small, large)) = line.taxon.body_mm { (small) "\u{2013}" (large) } }
                                }
                            }
                        }
                    }
                }
            }
            p.small {
                "A forecast is not a safety statement: look at the water before you wade, heed local rules, clean, check "
                "and dry your gear between waters. Newer: " (public_url) "/w/" (slug)
            }
        }
    };
    let about = format!("The season of water insects on {} on one sheet.", view.watershed.name);
    layout::page(&format!("Season sheet, {} \u{b7} Subimago", view.watershed.name), &about, &body)
}

fn middle(line: &Line) -> String {
    line.end().p50.map_or_else(|| "\u{2013}".to_owned(), |day| day.format("about %-d %b").to_string())
}

/// The likeliest hours of the fullest reach.
fn hour(line: &Line) -> String {
    let hours = line.forecasts.iter().find_map(|forecast| forecast.hours.as_ref());
    hours.map_or_else(|| "\u{2013}".to_owned(), |hours| format!("{}\u{2013}{}", hours.from, hours.to))
}
