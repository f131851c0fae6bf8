//! The page of a watershed: words, picture, table.

use maud::{Markup, html};

use super::called::called;
use super::picture::season_picture;
use super::season::lines;
use super::table::season_table;
use super::{PageView, embed, layout, told, words};
use crate::http::state::Settings;

/// The page.
pub(crate) fn watershed(page: &PageView, settings: &Settings) -> Markup {
    let view = &page.view;
    let lines = lines(&view.taxa, &page.forecasts);
    let slug = &view.watershed.slug;
    let several = view.reaches.len() > 1;
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned())]))
        h1 { (view.watershed.name) }
        (words::as_of(&page.forecasts))
        (words::stale(&page.forecasts))
        (words::fitting(page))
        (told::notices(page, None))
        p { a.act href=(format!("/report?w={slug}")) { "Report a visit" } }
        @if !lines.is_empty() {
            section aria-labelledby="now" {
                h2 id="now" { "Today, " (page.today.format("%-d %B %Y")) }
                (words::now(&lines, page.today, |forecast| words::reach_name(&view.reaches, forecast)))
                (words::meanings(&lines))
            }
        }
        (words::cautions(&page.forecasts, page.units))
        @if !lines.is_empty() {
            section aria-labelledby="season" {
                h2 id="season" { "Season " (page.season) }
                (season_picture(&lines, page.today, if several { "All reaches together" } else { "The season" }))
                (season_table(&lines, page.today, several))
                p.links {
                    a href=(format!("/w/{slug}/season")) { "Reach after reach" }
                    a href=(format!("/w/{slug}/print")) { "One sheet to print" }
                    a href=(format!("/w/{slug}/skill")) { "How good the forecasts are" }
                }
            }
            section aria-labelledby="insects" {
                h2 id="insects" { "Insects" }
                ul.insects {
                    @for taxon in &view.taxa {
                        li { a href=(format!("/w/{slug}/taxa/{}", taxon.slug)) { (called(taxon)) } }
                    }
                }
            }
        }
        @if !view.reaches.is_empty() {
            section aria-labelledby="reaches" {
                h2 id="reaches" { "Reaches" }
                ul.cards {
                    @for reach in &view.reaches {
                        li {
                            a href=(format!("/w/{slug}/reaches/{}", reach.slug)) { (reach.name) }
                            @if let Some(kind) = reach.water_type {
                                p.quiet { "mostly " (kind.as_str().replace('-', " ")) }
                            }
                        }
                    }
                }
            }
        }
        (words::credits(&view.gauges))
        section aria-labelledby="take" {
            h2 id="take" { "Take it with you" }
            (subscribe(page, settings))
            p { "The week as text: " a href=(format!("/w/{slug}/digest.txt")) { "plain, to be mailed" } "." }
            p { "Numbers: " a href=(format!("/v1/watersheds/{slug}/forecasts")) { "forecasts as JSON" } "." }
            (embed::snippet(slug, &view.watershed.name, settings))
        }
    };
    let about = format!("When water insects are expected on {}.", view.watershed.name);
    let news = (!view.feeds_private).then(|| format!("/feeds/{slug}.atom"));
    let extras = layout::Extras { news, ..layout::Extras::default() };
    layout::page_with(&format!("{} \u{b7} Subimago", view.watershed.name), &about, &body, &extras)
}

/// The feeds, or whom to ask for them.
fn subscribe(page: &PageView, settings: &Settings) -> Markup {
    let slug = &page.view.watershed.slug;
    let feed = format!("{}/calendars/{slug}.ics", settings.public_url);
    html! {
        @if page.view.feeds_private {
            p { "Calendar and news are for members: ask a keeper for an address of your own." }
        } @else {
            p {
                "Calendar: " a href=(format!("/calendars/{slug}.ics")) { (feed) }
                ". Add this address to your calendar as a subscription; some take a day to follow changes. "
                "Add " code { "?reach=" } ", " code { "?taxon=" } ", " code { "?at_least=moderate" } " or "
                code { "?kind=onset,flight" } " for less."
            }
            p {
                "News: " a href=(format!("/feeds/{slug}.atom")) { "what is near or has moved, and notices" }
                ", for a feed reader."
            }
        }
    }
}
