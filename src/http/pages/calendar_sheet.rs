//! The season on one sheet of paper, A4 or Letter, legible in black and white.

use maud::{Markup, html};

use super::picture::ridges;
use super::season::{Line, lines, when};
use super::{PageView, layout, words};
use crate::app::document::ForecastDocument;
use crate::say;
use crate::words::Language;

/// The page.
pub(crate) fn sheet(page: &PageView, public_url: &str) -> Markup {
    let (view, language) = (&page.view, page.language);
    let slug = &view.watershed.slug;
    let lines = lines(page);
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        div.sheet {
            h1 { (say!(language, "season-of", water = &view.watershed.name, season = page.season.to_string())) }
            (words::as_of(language, &page.forecasts))
            (words::stale(language, &page.forecasts))
            (words::fitting(page))
            @if let Some((axis, drawn)) = ridges(language, &lines, page.today) {
                p.key { (say!(language, "sheet-key")) }
                div.scroll tabindex="0" role="region" aria-label=(say!(language, "sheet-rows")) {
                    table {
                        caption { (say!(language, "sheet-caption")) }
                        thead {
                            tr {
                                th scope="col" { (say!(language, "table-insect")) }
                                th.drawn scope="col" { span.unseen { (say!(language, "sheet-expected")) } (axis) }
                                th scope="col" { (say!(language, "table-starts")) }
                                th scope="col" { (say!(language, "table-ends")) }
                                th scope="col" { (say!(language, "sheet-hour")) }
                                th scope="col" { "mm" }
                            }
                        }
                        tbody {
                            @for (line, ridge) in lines.iter().zip(drawn) {
                                tr {
                                    th scope="row" { (line.label) }
                                    td.drawn { (ridge) }
                                    td { (when(language, line.onset())) }
                                    td { (middle(language, line)) }
                                    td { (hour(line)) }
                                    td { @if let Some((small, large)) = line.taxon.body_mm { (language.plain_number(small)) "\u{2013}" (language.plain_number(large)) } }
                                }
                            }
                        }
                    }
                }
            }
            p.small {
                (say!(language, "sheet-safety", address = format!("{public_url}/w/{slug}")))
            }
        }
    };
    let about = say!(language, "sheet-about", water = &view.watershed.name);
    let title = say!(language, "sheet-title", water = &view.watershed.name);
    layout::page(language, &say!(language, "layout-title", what = title), &about, &body)
}

fn middle(language: Language, line: &Line) -> String {
    let about = |day| say!(language, "sheet-about-day", day = language.short_day(day));
    line.end().p50.map_or_else(|| "\u{2013}".to_owned(), about)
}

/// The likeliest hours of the fullest reach.
fn hour(line: &Line) -> String {
    let fullest = |forecast: &ForecastDocument| {
        forecast.days.iter().map(|day| day.class_probabilities.mean_index()).fold(0.0, f64::max)
    };
    let known = line.forecasts.iter().filter_map(|forecast| Some((fullest(forecast), forecast.hours.as_ref()?)));
    let hours = known.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, hours)| hours);
    hours.map_or_else(|| "\u{2013}".to_owned(), |hours| format!("{}\u{2013}{}", hours.from, hours.to))
}
