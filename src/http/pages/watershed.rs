//! The page of a watershed: words, picture, table.

use maud::{Markup, html};

use super::called::called;
use super::picture::season_picture;
use super::season::lines;
use super::table::season_table;
use super::{PageView, embed, layout, told, words};
use crate::app::said::in_language;
use crate::http::state::Settings;
use crate::{say, tell};

/// The page.
pub(crate) fn watershed(page: &PageView, settings: &Settings) -> Markup {
    let (view, language) = (&page.view, page.language);
    let lines = lines(page);
    let slug = &view.watershed.slug;
    let several = view.reaches.len() > 1;
    let body = html! {
        (layout::trail(language, &[]))
        h1 { (view.watershed.name) }
        (words::as_of(language, &page.forecasts))
        (words::stale(language, &page.forecasts))
        (words::fitting(page))
        (told::notices(page, None))
        p { a.act href=(format!("/report?w={slug}")) { (say!(language, "report-title")) } }
        @if !lines.is_empty() {
            section aria-labelledby="now" {
                h2 id="now" { (say!(language, "today-title", date = language.date(page.today))) }
                (words::now(language, &lines, page.today, |forecast| words::reach_name(&view.reaches, forecast)))
                (words::meanings(language, &lines))
            }
        }
        (words::cautions(language, &page.forecasts, &view.reaches, page.units))
        @if !lines.is_empty() {
            section aria-labelledby="season" {
                h2 id="season" { (say!(language, "season-title", season = page.season.to_string())) }
                (season_picture(language, &lines, page.today, &if several { say!(language, "season-all-reaches") } else { say!(language, "season-one") }))
                (season_table(language, &lines, page.today, several))
                p.links {
                    a href=(format!("/w/{slug}/season")) { (say!(language, "season-by-reach")) }
                    a href=(format!("/w/{slug}/print")) { (say!(language, "sheet-link")) }
                    a href=(format!("/w/{slug}/skill")) { (say!(language, "skill-title")) }
                }
            }
            section aria-labelledby="insects" {
                h2 id="insects" { (say!(language, "watershed-insects")) }
                ul.insects {
                    @for taxon in &view.taxa {
                        li { a href=(format!("/w/{slug}/taxa/{}", taxon.slug)) { (called(language, taxon)) } }
                    }
                }
            }
        }
        @if !view.reaches.is_empty() {
            section aria-labelledby="reaches" {
                h2 id="reaches" { (say!(language, "watershed-reaches")) }
                ul.cards {
                    @for reach in &view.reaches {
                        li {
                            a href=(format!("/w/{slug}/reaches/{}", reach.slug)) { (reach.name) }
                            @if let Some(kind) = reach.water_type {
                                p.quiet { (say!(language, "watershed-mostly", water = language.word("water-type", kind.as_str()))) }
                            }
                        }
                    }
                }
            }
        }
        (words::credits(language, &view.gauges))
        section aria-labelledby="take" {
            h2 id="take" { (say!(language, "watershed-take")) }
            (subscribe(page, settings))
            p { (tell!(language, "watershed-digest", link = html! { a href=(format!("/w/{slug}/digest.txt")) { (say!(language, "watershed-digest-link")) } })) }
            p { (tell!(language, "watershed-numbers", link = html! { a href=(format!("/v1/watersheds/{slug}/forecasts")) { (say!(language, "watershed-numbers-link")) } })) }
            (embed::snippet(language, slug, &view.watershed.name, settings))
        }
    };
    let about = say!(language, "watershed-about", water = &view.watershed.name);
    let news = (!view.feeds_private).then(|| in_language(language, format!("/feeds/{slug}.atom")));
    let extras = layout::Extras { news, ..layout::Extras::default() };
    layout::page_with(language, &say!(language, "layout-title", what = &view.watershed.name), &about, &body, &extras)
}

/// The feeds, or whom to ask for them.
fn subscribe(page: &PageView, settings: &Settings) -> Markup {
    let (slug, language) = (&page.view.watershed.slug, page.language);
    let path = in_language(language, format!("/calendars/{slug}.ics"));
    let feed = format!("{}{path}", settings.public_url);
    let news = in_language(language, format!("/feeds/{slug}.atom"));
    let join = if path.contains('?') { '&' } else { '?' };
    let narrowed = |query: &str| html! { code { (join) (query) } };
    html! {
        @if page.view.feeds_private {
            p { (say!(language, "subscribe-private")) }
        } @else {
            p {
                (tell!(
                    language,
                    "subscribe-calendar",
                    link = html! { a href=(path) { (feed) } },
                    reach = narrowed("reach="),
                    taxon = narrowed("taxon="),
                    class = narrowed("at_least=moderate"),
                    kind = narrowed("kind=onset,flight"),
                ))
            }
            p {
                (tell!(language, "subscribe-news", link = html! { a href=(news) { (say!(language, "subscribe-news-link")) } }))
            }
        }
    }
}
