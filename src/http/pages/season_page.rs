//! The whole season of a water: the picture, and how starts follow each other from reach to reach.

use chrono::NaiveDate;
use maud::{Markup, html};

use super::picture::season_picture;
use super::season::{Line, lines, when};
use super::table::season_table;
use super::{PageView, layout, words};
use crate::domain::Reach;

/// The page.
pub(crate) fn season_page(page: &PageView) -> Markup {
    let view = &page.view;
    let slug = &view.watershed.slug;
    let lines = lines(&view.taxa, &page.forecasts);
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (view.watershed.name) ", season " (page.season) }
        (words::as_of(&page.forecasts))
        (words::stale(&page.forecasts))
        (words::fitting(page))
        @if !lines.is_empty() {
            (season_picture(&lines, page.today, "All reaches together"))
            (season_table(&lines, page.today, view.reaches.len() > 1))
            @if view.reaches.len() > 1 {
                section aria-labelledby="order" {
                    h2 id="order" { "Reach after reach" }
                    (starts(&lines, &view.reaches))
                }
            }
            p { a href=(format!("/w/{slug}/print")) { "The season on one sheet to print" } }
        }
    };
    let about = format!("The whole season of water insects on {}.", view.watershed.name);
    layout::page(&format!("Season, {} \u{b7} Subimago", view.watershed.name), &about, &body)
}

/// When each insect starts on each reach, the earliest reach of most insects first.
fn starts(lines: &[Line], reaches: &[std::sync::Arc<Reach>]) -> Markup {
    let start = |line: &Line, reach: &Reach| -> Option<NaiveDate> { on(line, reach)?.onset().p50 };
    // By the mean difference from the other reaches' middle, which no insect missing somewhere upsets.
    let lateness = |reach: &Reach| -> f64 {
        let days: Vec<f64> =
            lines.iter().filter_map(|line| Some((start(line, reach)? - line.onset().p50?).num_days() as f64)).collect();
        days.iter().sum::<f64>() / (days.len().max(1) as f64)
    };
    let mut ordered: Vec<&Reach> = reaches.iter().map(|reach| &**reach).collect();
    ordered.sort_by(|a, b| lateness(a).total_cmp(&lateness(b)));
    html! {
        div.scroll tabindex="0" role="region" aria-label="Starts by reach" {
            table {
                caption { "When each insect starts, the reach that is earliest for most insects first" }
                thead {
                    tr {
                        th scope="col" { "Insect" }
                        @for reach in &ordered { th scope="col" { (reach.name) } }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            th scope="row" { (line.label) }
                            @for reach in &ordered {
                                td { @match on(line, reach) { Some(f) => (when(f.onset())), None => "\u{2013}" } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn on<'l>(line: &'l Line, reach: &Reach) -> Option<&'l crate::app::document::ForecastDocument> {
    line.forecasts.iter().find(|f| reach.slug.as_str().eq_ignore_ascii_case(&f.reach)).map(|f| &**f)
}
