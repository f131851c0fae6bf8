//! The whole season of a water: the picture, and how starts follow each other from reach to reach.

use chrono::NaiveDate;
use maud::{Markup, html};

use super::picture::season_picture;
use super::season::{Line, lines, when};
use super::table::season_table;
use super::{PageView, layout, words};
use crate::domain::Reach;
use crate::say;
use crate::words::Language;

/// The page.
pub(crate) fn season_page(page: &PageView) -> Markup {
    let (view, language) = (&page.view, page.language);
    let slug = &view.watershed.slug;
    let lines = lines(page);
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (say!(language, "season-of", water = &view.watershed.name, season = page.season.to_string())) }
        (words::as_of(language, &page.forecasts))
        (words::stale(language, &page.forecasts))
        (words::fitting(page))
        @if !lines.is_empty() {
            (season_picture(language, &lines, page.today, &say!(language, "season-all-reaches")))
            (season_table(language, &lines, page.today, view.reaches.len() > 1))
            @if view.reaches.len() > 1 {
                section aria-labelledby="order" {
                    h2 id="order" { (say!(language, "season-by-reach")) }
                    (starts(language, &lines, &view.reaches))
                }
            }
            p { a href=(format!("/w/{slug}/print")) { (say!(language, "season-sheet")) } }
        }
    };
    let about = say!(language, "season-about", water = &view.watershed.name);
    let title = say!(language, "season-page-title", water = &view.watershed.name);
    layout::page(language, &say!(language, "layout-title", what = title), &about, &body)
}

/// When each insect starts on each reach, the earliest reach of most insects first.
fn starts(language: Language, lines: &[Line], reaches: &[std::sync::Arc<Reach>]) -> Markup {
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
        div.scroll tabindex="0" role="region" aria-label=(say!(language, "season-starts")) {
            table {
                caption { (say!(language, "season-starts-caption")) }
                thead {
                    tr {
                        th scope="col" { (say!(language, "table-insect")) }
                        @for reach in &ordered { th scope="col" { (reach.name) } }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            th scope="row" { (line.label) }
                            @for reach in &ordered {
                                td { @match on(line, reach) { Some(f) => (when(language, f.onset())), None => "\u{2013}" } }
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
