//! The evening of a reach on a card of A6: what, at what hour, at which stage, of what size, how sure, and cautions.

use chrono::{DateTime, NaiveTime, Timelike, Utc};
use maud::{Markup, html};

use super::called::by_slug;
use super::put_on::{first, size, stage};
use super::season::{Line, lines};
use super::table::percent;
use super::{PageView, layout, told, words};
use crate::app::document::GuidanceDocument;
use crate::app::document::forecast_parts::HoursDocument;
use crate::domain::Reach;
use crate::{say, tell};

/// From this hour on it is evening, local clock, and until that one it is still its night.
const EVENING_FROM_HOUR: u32 = 16;
const NIGHT_UNTIL_HOUR: u32 = 4;
/// Chance from which an insect is named.
const NAMED_FROM: f64 = 0.1;
/// Most insects and stages on a card.
const MOST: usize = 5;
const STAGES: usize = 3;
/// Cautions of an evening by the beginning of their codes; others are on the page of all cautions.
const CAUTIONS: [&str; 5] = ["water-", "wading", "lightning", "alone", "not-a-safety-statement"];

/// One insect of the evening.
pub(crate) struct Expected<'a> {
    line: &'a Line,
    /// Chance of seeing any at its hour.
    chance: f64,
    /// Hours of emergence, where they reach into the evening.
    hours: Option<[NaiveTime; 3]>,
    /// Hours of the spinner flight and its chance.
    flight: Option<([NaiveTime; 3], f64)>,
}

/// What the evening of `page.today` may bring, likeliest first.
fn expected<'a>(lines: &'a [Line], page: &PageView) -> Vec<Expected<'a>> {
    // What is likeliest in the afternoon is not the evening's, however long it goes on.
    let evening = |[_, middle, _]: &[NaiveTime; 3]| !(NIGHT_UNTIL_HOUR..EVENING_FROM_HOUR).contains(&middle.hour());
    let mut all: Vec<Expected<'a>> = lines
        .iter()
        .filter_map(|line| {
            let forecast = line.forecasts.first()?;
            let any = 1.0 - forecast.day(page.today)?.class_probabilities.none;
            let hours = forecast.hours.as_ref().filter(|hours| hours.date == page.today).and_then(HoursDocument::times);
            let hours = hours.filter(evening).filter(|_| any >= NAMED_FROM);
            let flight = forecast.spinner.as_ref().filter(|flight| flight.date == page.today).and_then(|flight| {
                let read = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").ok();
                let times = [read(&flight.from)?, read(&flight.peak)?, read(&flight.to)?];
                (evening(&times) && flight.chance >= NAMED_FROM).then_some((times, flight.chance))
            });
            (hours.is_some() || flight.is_some()).then_some(Expected { line, chance: any, hours, flight })
        })
        .collect();
    all.sort_by(|a, b| b.weight().total_cmp(&a.weight()));
    all.truncate(MOST);
    all
}

impl Expected<'_> {
    fn weight(&self) -> f64 {
        let emergence = if self.hours.is_some() { self.chance } else { 0.0 };
        emergence.max(self.flight.map_or(0.0, |(_, chance)| chance))
    }

    /// The likeliest time of what is likeliest.
    fn middle(&self) -> Option<NaiveTime> {
        match (self.hours, self.flight) {
            (Some([_, middle, _]), Some((_, chance))) if self.chance >= chance => Some(middle),
            (_, Some(([_, middle, _], _))) | (Some([_, middle, _]), None) => Some(middle),
            (None, None) => None,
        }
    }
}

/// The moment of the evening at which most is expected; `None` where nothing is.
pub(crate) fn moment(page: &PageView) -> Option<DateTime<Utc>> {
    let lines = lines(page);
    let middle = expected(&lines, page).first()?.middle()?;
    let at = page.today.and_time(middle).and_local_timezone(page.view.watershed.time_zone).earliest()?;
    Some(at.with_timezone(&Utc))
}

/// The page; `page.forecasts` are those of `reach` alone, `advice` is for [`moment`].
pub(crate) fn card(page: &PageView, reach: &Reach, advice: Option<&GuidanceDocument>, public_url: &str) -> Markup {
    let (view, language) = (&page.view, page.language);
    let slug = &view.watershed.slug;
    let date = language.date(page.today);
    let lines = lines(page);
    let rows = expected(&lines, page);
    let own = format!("/w/{slug}/reaches/{}", reach.slug);
    let body = html! {
        (layout::trail(language, &[
            (&view.watershed.name, format!("/w/{slug}")),
            (&reach.name, own.clone()),
        ]))
        div.evening {
            h1 { (say!(language, "card-title", reach = &reach.name, date = &date)) }
            p.small { (view.watershed.name) }
            (words::stale(language, &page.forecasts))
            @if page.fitting.is_some() { p { (say!(language, "card-fitting")) } }
            (told::short_notices(page, &reach.slug))
            @if rows.is_empty() {
                @if !page.forecasts.is_empty() { p { (say!(language, "card-nothing")) } }
            } @else {
                table {
                    caption { (say!(language, "card-caption")) }
                    thead { tr { th scope="col" { (say!(language, "card-what")) } th scope="col" { (say!(language, "card-emerges")) } th scope="col" { (say!(language, "card-spinners")) } } }
                    tbody {
                        @for row in &rows {
                            tr {
                                th scope="row" { (row.line.label) }
                                td { @match row.hours { Some(times) => { (span(times)) ", " (percent(language, row.chance)) } None => { "\u{2013}" } } }
                                td { @match row.flight { Some((times, chance)) => { (span(times)) ", " (percent(language, chance)) } None => { "\u{2013}" } } }
                            }
                        }
                    }
                }
            }
            @if let Some(advice) = advice { (put_on(advice, page)) }
            @if !rows.is_empty() {
                p {
                    strong { (say!(language, "card-sure")) " " }
                    @if let Some(row) = rows.first() { (row.line.label) ": " (row.line.footing(language)) }
                    " " (say!(language, "card-chances"))
                }
            }
            (cautions(page))
            (words::as_of(language, &page.forecasts))
            p.small { (say!(language, "card-safety", about = format!("{public_url}/about"), card = format!("{public_url}{own}/card"))) }
        }
    };
    let about = say!(language, "card-about", date = date, reach = &reach.name);
    let title = say!(language, "card-page-title", reach = &reach.name);
    layout::page(language, &say!(language, "layout-title", what = title), &about, &body)
}

/// The insect that stage and size are told of: it need not be the one that is likeliest to be seen.
fn taken(advice: &GuidanceDocument, page: &PageView) -> Markup {
    let language = page.language;
    html! {
        @if let Some(row) = advice.taxa.first() {
            @let known = page.view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(&row.taxon));
            (tell!(language, "guidance-taken", insects = html! {
                (by_slug(language, &row.taxon, known.into_iter().map(|taxon| &**taxon)))
                " (" (say!(language, "in-100", chance = percent(language, row.weight))) ")"
            }))
        }
    }
}

fn put_on(advice: &GuidanceDocument, page: &PageView) -> Markup {
    let language = page.language;
    let at = advice.at.with_timezone(&page.view.watershed.time_zone).format("%H:%M").to_string();
    let stages: Vec<String> = advice
        .stages
        .iter()
        .take(STAGES)
        .map(|row| {
            let chance = say!(language, "chance-in-list", chance = percent(language, row.weight));
            format!("{} ({chance})", stage(language, &row.stage))
        })
        .collect();
    html! {
        @if !advice.taxa.is_empty() {
            p {
                strong { (say!(language, "card-stage")) } " "
                (say!(language, "card-stages", time = at, stages = stages.join(", "))) " "
                strong { (say!(language, "card-put-on")) " " } (first(language, advice)) "."
            }
            p { (taken(advice, page)) " " (size(language, advice)) }
        }
    }
}

/// The cautions of the forecasts, or those that always hold where the forecasts have none of that kind.
fn cautions(page: &PageView) -> Markup {
    let language = page.language;
    let mut told: Vec<String> = Vec::new();
    for head in CAUTIONS {
        let of_forecast = page.forecasts.iter().flat_map(|forecast| &forecast.cautions);
        let of_forecast = of_forecast.into_iter().find(|caution| caution.code.starts_with(head));
        let standing = super::about::STANDING_CAUTIONS.iter().find(|(code, ..)| *code == head);
        let standing = || standing.map(|(code, text, _)| words::standing(language, code, text));
        told.extend(of_forecast.map(|caution| caution.text_in(language).to_owned()).or_else(standing));
    }
    html! {
        section.cautions aria-labelledby="cautions" {
            h2 id="cautions" { (say!(language, "cautions-title")) }
            ul { @for text in told { li { (page.units.words(&text)) } } }
        }
    }
}

fn span([from, _, to]: [NaiveTime; 3]) -> String {
    format!("{}\u{2013}{}", from.format("%H:%M"), to.format("%H:%M"))
}
