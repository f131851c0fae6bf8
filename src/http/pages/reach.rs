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
use crate::domain::Reach;

/// Days ahead in the table.
const DAYS_AHEAD: u64 = 16;

/// The page; `page.forecasts`, `advice` and the `silent` gauges are those of `reach` alone.
pub(crate) fn reach(page: &PageView, reach: &Reach, advice: &GuidanceDocument, silent: &[SilentGauge]) -> Markup {
    let view = &page.view;
    let lines = lines(&view.taxa, &page.forecasts);
    let slug = &view.watershed.slug;
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (reach.name) }
        (words::as_of(&page.forecasts))
        (words::stale(&page.forecasts))
        (words::fitting(page))
        (water_line(page, silent))
        (told::notices(page, Some(&reach.slug)))
        p.links {
            a.act href=(format!("/report?w={slug}&r={}", reach.slug)) { "Report a visit" }
            a.act href=(format!("/w/{slug}/reaches/{}/seen", reach.slug)) { "What did I just see?" }
        }
        @if !lines.is_empty() {
            section aria-labelledby="now" {
                h2 id="now" { "Today, " (page.today.format("%-d %B %Y")) }
                (words::now(&lines, page.today, |_| None))
                (words::meanings(&lines))
                (clock_strip(&lines, page.today, page.units))
            }
        }
        (put_on(advice, view.watershed.time_zone, |slug| view.taxa.iter().find(|taxon| taxon.slug.as_str() == slug).map(|taxon| &**taxon)))
        (words::cautions(&page.forecasts, page.units))
        p.links {
            a href=(format!("/w/{slug}/reaches/{}/card", reach.slug)) { "A card for this evening, to print" }
            @if !view.feeds_private {
                a href=(format!("/calendars/{slug}.ics?reach={}", reach.slug)) { "Calendar of this reach" }
            }
        }
        @if !lines.is_empty() {
            section aria-labelledby="days" {
                h2 id="days" { "The coming days" }
                (days_table(&lines, page.today, DAYS_AHEAD, page.units))
            }
            section aria-labelledby="season" {
                h2 id="season" { "Season " (page.season) }
                (season_picture(&lines, page.today, "The season on this reach"))
                (season_table(&lines, page.today, false))
            }
        }
        (words::credits(&view.gauges))
    };
    let about = format!("When water insects are expected at {}, {}.", reach.name, view.watershed.name);
    layout::page(&format!("{}, {} \u{b7} Subimago", reach.name, view.watershed.name), &about, &body)
}
