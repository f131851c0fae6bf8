//! The page of a reach: today by the clock, the coming days, the season.

use maud::{Markup, html};

use super::clock_strip::clock_strip;
use super::picture::season_picture;
use super::put_on::put_on;
use super::season::lines;
use super::table::{days_table, season_table};
use super::water_line::water_line;
use super::{PageView, layout, told, words};
use crate::app::document::GuidanceDocument;
use crate::app::gauge_detail::SilentGauge;
use crate::app::said::in_language;
use crate::domain::Reach;
use crate::say;

/// Days ahead in the table.
const DAYS_AHEAD: u64 = 16;

/// The page; `page.forecasts`, `advice` and the `silent` gauges are those of `reach` alone.
pub(crate) fn reach(page: &PageView, reach: &Reach, advice: &GuidanceDocument, silent: &[SilentGauge]) -> Markup {
    let (view, language) = (&page.view, page.language);
    let lines = lines(page);
    let slug = &view.watershed.slug;
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (reach.name) }
        (words::as_of(language, &page.forecasts))
        (words::stale(language, &page.forecasts))
        (words::fitting(page))
        (water_line(page, silent))
        (told::notices(page, Some(&reach.slug)))
        p.links {
            a.act href=(format!("/report?w={slug}&r={}", reach.slug)) { (say!(language, "report-title")) }
            a.act href=(format!("/w/{slug}/reaches/{}/seen", reach.slug)) { (say!(language, "seen-title")) }
        }
        @if !lines.is_empty() {
            section aria-labelledby="now" {
                h2 id="now" { (say!(language, "today-title", date = language.date(page.today))) }
                (words::now(language, &lines, page.today, |_| None))
                (words::meanings(language, &lines))
                (clock_strip(language, &lines, page.today, page.units))
            }
        }
        (put_on(language, advice, view.watershed.time_zone, Some(&format!("/w/{slug}/reaches/{}/guidance", reach.slug)), |slug| view.taxa.iter().find(|taxon| taxon.slug.as_str() == slug).map(|taxon| &**taxon)))
        (words::cautions(language, &page.forecasts, &view.reaches, page.units))
        p.links {
            a href=(format!("/w/{slug}/reaches/{}/card", reach.slug)) { (say!(language, "card-link")) }
            @if !view.feeds_private {
                a href=(in_language(language, format!("/calendars/{slug}.ics?reach={}", reach.slug))) { (say!(language, "reach-calendar")) }
            }
        }
        @if !lines.is_empty() {
            section aria-labelledby="days" {
                h2 id="days" { (say!(language, "days-title")) }
                (days_table(language, &lines, page.today, DAYS_AHEAD, page.units))
            }
            section aria-labelledby="season" {
                h2 id="season" { (say!(language, "season-title", season = page.season.to_string())) }
                (season_picture(language, &lines, page.today, &say!(language, "season-on-reach")))
                (season_table(language, &lines, page.today, false))
            }
        }
        (words::credits(language, &view.gauges))
    };
    let about = say!(language, "reach-about", reach = &reach.name, water = &view.watershed.name);
    let title = say!(language, "layout-title", what = format!("{}, {}", reach.name, view.watershed.name));
    layout::page(language, &title, &about, &body)
}
