//! The words that stand before every picture.

use std::sync::Arc;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::season::{Line, Phase, running, when};
use super::table::percent;
use super::units::Units;
use super::{PageView, called};
use crate::app::document::ForecastDocument;
use crate::app::document::forecast::CautionDocument;
use crate::app::sync::source_of;
use crate::domain::forecast::Basis;
use crate::domain::source::Credit;
use crate::domain::{Gauge, Reach};
use crate::words::Language;
use crate::{say, tell};

/// Cautions that an answer shows; all stand on the page about the service.
const CAUTIONS_TOLD: usize = 6;

/// What is said of advice that everyone gives and nobody measured.
const NO_SOURCE: &str = "common practice, no source";

/// The classes that are seen.
pub(crate) const CLASSES: [&str; 3] = ["sparse", "moderate", "heavy"];

/// A class and what it means: the guide of reporters.
pub(crate) fn class(language: Language, class: &str) -> (String, String) {
    (language.word("class", class), language.word("class-meaning", class))
}

/// Whom to thank for the water temperatures, and on what terms they may be passed on; nothing where nobody says so.
pub(crate) fn credits(language: Language, gauges: &[Arc<Gauge>]) -> Markup {
    let asked = |gauge: &Gauge| source_of(gauge.source.as_deref()).map(|source| source.credit());
    let told: Vec<(&Gauge, Option<Credit>)> = gauges.iter().map(|gauge| (&**gauge, asked(gauge))).collect();
    let told: Vec<_> = told.iter().filter(|(gauge, credit)| credit.is_some() || !gauge.rights.is_empty()).collect();
    html! {
        @if !told.is_empty() {
            section aria-labelledby="water" {
                h2 id="water" { (say!(language, "credits-title")) }
                ul {
                    @for (gauge, credit) in told {
                        @if let Some(credit) = credit {
                            li { (tell!(language, "credits-from", source = html! { a href=(credit.url) lang=[foreign(language)] { (credit.text) } }, licence = credit.licence)) }
                        }
                        @if !gauge.rights.is_empty() {
                            li {
                                (gauge.name)
                                @if let Some(citation) = &gauge.rights.citation { ": " (citation) }
                                @if let Some(licence) = &gauge.rights.licence { " (" (licence) ")" }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What is on the water, what comes next, what is over.
pub(crate) fn now(
    language: Language,
    lines: &[Line],
    today: NaiveDate,
    reach_name: impl Fn(&ForecastDocument) -> Option<String>,
) -> Markup {
    let on_now = running(lines, today);
    let coming: Vec<&Line> =
        lines.iter().filter(|line| line.phase(today) == Phase::Coming && line.onset().p50.is_some()).collect();
    let over: Vec<&Line> = lines.iter().filter(|line| line.phase(today) == Phase::Over).collect();
    html! {
        @if on_now.is_empty() {
            p.lead { (say!(language, "now-nothing")) }
        } @else {
            p.lead { (say!(language, "now-title")) }
            ul.now {
                @for line in on_now.iter().take(6) {
                    li {
                        @match line.best_reach(today) {
                            Some(best) => (insect_now(language, line, best, reach_name(best.0), today)),
                            None => (line.label),
                        }
                    }
                }
                @if on_now.len() > 6 { li { (say!(language, "now-more", count = on_now.len() - 6)) } }
            }
        }
        @if !coming.is_empty() {
            p {
                (tell!(language, "now-next", insects = html! {
                    @for (index, line) in coming.iter().take(3).enumerate() {
                        @if index > 0 { "; " }
                        (line.label) " (" (when(language, line.onset())) ")"
                    }
                }))
            }
        }
        @if !over.is_empty() {
            p.quiet {
                (tell!(language, "now-over", insects = html! {
                    @for (index, line) in over.iter().enumerate() { @if index > 0 { "; " } (line.label) }
                }))
            }
        }
    }
}

/// An insect that is on the water, with its chances at its best reach, its hours and its flight, and how sure that is.
fn insect_now(
    language: Language,
    line: &Line,
    (forecast, plenty): (&ForecastDocument, f64),
    reach: Option<String>,
    today: NaiveDate,
) -> Markup {
    let place = reach.map_or_else(String::new, |reach| say!(language, "now-place", reach = reach));
    let hours = forecast.hours.as_ref().filter(|hours| hours.date == today);
    let hours = hours.map_or_else(String::new, |hours| say!(language, "now-hours", from = &hours.from, to = &hours.to));
    let flight = forecast.spinner.as_ref().filter(|flight| flight.date == today);
    let spinners = flight.map_or_else(String::new, |flight| {
        let (chance, weather) = (percent(language, flight.chance), forecast.weather_of_flight(language));
        say!(language, "now-spinners", from = &flight.from, to = &flight.to, chance = chance, weather = weather)
    });
    let any = forecast.day(today).map(|day| percent(language, 1.0 - day.class_probabilities.none)).unwrap_or_default();
    let chance = html! { strong { (say!(language, "in-100", chance = any)) } };
    let (insect, plenty) = (html! { (line.label) }, percent(language, plenty));
    let sentence = tell!(
        language,
        "now-insect",
        insect = insect,
        place = place,
        chance = chance,
        plenty = plenty,
        hours = hours,
        spinners = spinners,
    );
    html! { (sentence) " " span.quiet { (say!(language, "now-sure", footing = line.how_sure(language))) } }
}

/// When the forecast was made, from what, in which time zone.
pub(crate) fn as_of(language: Language, forecasts: &[std::sync::Arc<ForecastDocument>]) -> Markup {
    let Some(newest) = forecasts.iter().max_by_key(|forecast| forecast.issued_at) else { return html! {} };
    let data = forecasts.iter().map(|forecast| forecast.data_as_of).max().unwrap_or(newest.data_as_of);
    let zone: chrono_tz::Tz = newest.time_zone.parse().unwrap_or(chrono_tz::UTC);
    let issued = newest.issued_at.with_timezone(&zone);
    html! {
        p.as-of {
            (tell!(
                language,
                "as-of",
                data = html! { time datetime=(data.to_string()) { (language.date(data)) } },
                computed = html! {
                    time datetime=(newest.issued_at.to_rfc3339()) { (language.date_and_time(issued.naive_local())) }
                },
                zone = &newest.time_zone,
            ))
        }
    }
}

/// A banner when temperatures are out of date.
pub(crate) fn stale(language: Language, forecasts: &[std::sync::Arc<ForecastDocument>]) -> Markup {
    let late: Vec<NaiveDate> = forecasts.iter().filter(|f| f.stale).map(|f| f.data_as_of).collect();
    html! {
        @if let Some(oldest) = late.iter().min() {
            p.banner.stale role="status" {
                strong { (say!(language, "stale-title")) " " }
                (say!(language, "stale-words", date = language.date(*oldest)))
            }
        }
    }
}

/// What the words of a forecast mean: shut, for those who come again.
pub(crate) fn meanings(language: Language, lines: &[Line]) -> Markup {
    let broods = lines.iter().any(|line| line.taxon.broods.len() > 1);
    let days = || lines.iter().flat_map(|line| &line.forecasts).flat_map(|forecast| &forecast.days);
    let counted = days().any(|day| day.basis == Basis::Counts.as_str());
    html! {
        details {
            summary { (say!(language, "meanings-title")) }
            dl {
                @for (class, meaning) in CLASSES.map(|word| class(language, word)) { dt { (class) } dd { (meaning) } }
                dt { (say!(language, "meanings-starts")) }
                dd { (say!(language, "meanings-starts-words")) }
                @if counted {
                    dt { (say!(language, "meanings-counts")) }
                    dd { (say!(language, "meanings-counts-words")) }
                }
                @if broods {
                    dt { (say!(language, "meanings-generations")) }
                    dd { (say!(language, "meanings-generations-words")) }
                }
            }
        }
    }
}

/// A banner while models are fitted.
pub(crate) fn fitting(page: &PageView) -> Markup {
    let (language, nothing_yet) = (page.language, page.forecasts.is_empty());
    html! {
        @if let Some(progress) = &page.fitting {
            p.banner.fitting role="status" {
                strong { (say!(language, "fitting-count", done = progress.done, total = progress.total)) ". " }
                @if nothing_yet { (say!(language, "fitting-first")) } @else { (say!(language, "fitting-again")) }
                @if !progress.pending.is_empty() {
                    " "
                    (tell!(language, "fitting-pending", insects = called::all_by_slug(language, &progress.pending, &page.view.taxa)))
                }
            }
        } @else if nothing_yet {
            p.banner { strong { (say!(language, "no-forecast")) " " } (say!(language, "no-forecast-words")) }
        }
    }
}

/// The cautions of `forecasts`, each once with the reaches it speaks of, none where it speaks of all; water that is too
/// warm first.
pub(crate) fn cautions_by_place<'f>(
    forecasts: &'f [Arc<ForecastDocument>],
    reaches: &[Arc<Reach>],
) -> Vec<(&'f CautionDocument, Vec<String>)> {
    let mut places: Vec<&str> = forecasts.iter().map(|forecast| &*forecast.reach).collect();
    places.sort_unstable();
    places.dedup();
    let mut told: Vec<(&CautionDocument, Vec<&ForecastDocument>)> = Vec::new();
    for (forecast, caution) in forecasts.iter().flat_map(|f| f.cautions.iter().map(move |caution| (&**f, caution))) {
        match told.iter_mut().find(|(known, _)| known.text == caution.text) {
            Some((_, of)) if of.iter().any(|known| known.reach == forecast.reach) => {}
            Some((_, of)) => of.push(forecast),
            None => told.push((caution, vec![forecast])),
        }
    }
    told.sort_by_key(|(caution, _)| !caution.code.starts_with("water-too-warm"));
    let named = |of: Vec<&ForecastDocument>| -> Vec<String> {
        if of.len() == places.len() {
            return Vec::new();
        }
        of.into_iter().filter_map(|forecast| reach_name(reaches, forecast)).collect()
    };
    told.into_iter().map(|(caution, of)| (caution, named(of))).collect()
}

/// `text` of a caution, with the places it speaks of where they are not all.
pub(crate) fn caution_at(language: Language, places: &[String], text: String) -> String {
    if places.is_empty() { text } else { say!(language, "caution-at", places = places.join(", "), caution = text) }
}

/// The cautions of warm water alone, in plain words, for what has no room for more.
pub(crate) fn warm_water(page: &PageView) -> Vec<String> {
    let told = cautions_by_place(&page.forecasts, &page.view.reaches);
    let warm = told.iter().filter(|(caution, _)| caution.code.starts_with("water-"));
    let said = |(caution, places): &(&CautionDocument, Vec<String>)| {
        caution_at(page.language, places, page.units.words(caution.text_in(page.language)))
    };
    warm.map(said).collect()
}

/// Cautions, each once.
pub(crate) fn cautions(
    language: Language,
    forecasts: &[Arc<ForecastDocument>],
    reaches: &[Arc<Reach>],
    units: Units,
) -> Markup {
    let shown = cautions_by_place(forecasts, reaches);
    let codes: Vec<&str> = shown.iter().map(|(caution, _)| &*caution.code).collect();
    html! {
        section.cautions aria-labelledby="cautions" {
            h2 id="cautions" { (say!(language, "cautions-title")) }
            ul {
                @for (caution, places) in &shown { (caution_of_forecast(language, caution, places, units)) }
                @for (code, text, source) in super::about::STANDING_CAUTIONS.iter().take(4) {
                    @if !codes.iter().any(|known| known.starts_with(code)) {
                        (caution_line(language, &standing(language, code, text), source, units))
                    }
                }
            }
            (unsourced(language))
            p { a href="/about#cautions" { (say!(language, "cautions-all")) } }
        }
    }
}

/// The cautions of an answer, the most pressing first as it has them.
pub(crate) fn cautions_told(language: Language, cautions: &[CautionDocument], units: Units) -> Markup {
    html! {
        section.cautions aria-labelledby="cautions" {
            h2 id="cautions" { (say!(language, "cautions-title")) }
            ul { @for caution in cautions.iter().take(CAUTIONS_TOLD) { (caution_of_forecast(language, caution, &[], units)) } }
            (unsourced(language))
            p { a href="/about#cautions" { (say!(language, "cautions-all")) } }
        }
    }
}

/// One caution, with its source where it has one.
pub(crate) fn caution_line(language: Language, text: &str, told: &str, units: Units) -> Markup {
    html! {
        li {
            (units.words(text))
            (source_of_caution(language, told, units))
        }
    }
}

/// Where a caution comes from; nothing where it has no source.
fn source_of_caution(language: Language, told: &str, units: Units) -> Markup {
    html! { @if told != NO_SOURCE { " " span.source { "(" (source(language, told, |words| units.words(words))) ")" } } }
}

/// A caution of a forecast; one that was stored in English alone stands in it.
fn caution_of_forecast(language: Language, caution: &CautionDocument, places: &[String], units: Units) -> Markup {
    let foreign = !caution.translations.contains_key(language.tag());
    let text = caution_at(language, places, units.words(caution.text_in(language)));
    html! {
        li {
            @if foreign { (in_english(language, &text)) } @else { (text) }
            (source_of_caution(language, &caution.source, units))
        }
    }
}

/// A caution that always holds.
pub(crate) fn standing(language: Language, code: &str, text: &str) -> String {
    language.of_table("caution", code, text)
}

/// Where something comes from: in the language where it is one of the usual sources, else as it was written.
pub(crate) fn source(language: Language, told: &str, finish: impl Fn(&str) -> String) -> Markup {
    if language.has_table_row("source", told) {
        html! { (finish(&language.of_table("source", told, told))) }
    } else {
        in_english(language, &finish(told))
    }
}

/// Where something comes from without the tag that whoever made the table put on what was opened.
pub(crate) fn plainly(told: &str) -> String {
    told.trim_start_matches("READ: ").replace(" READ:", ":").replace(" READ", "")
}

/// English words as they were written, marked where the page is in another language.
pub(crate) fn in_english(language: Language, text: &str) -> Markup {
    html! { @if let Some(tag) = foreign(language) { span lang=(tag) { (text) } } @else { (text) } }
}

/// The mark on English words that stand in a page of another language.
pub(crate) fn foreign(language: Language) -> Option<&'static str> {
    (language != Language::English).then_some("en")
}

/// What stands behind the cautions of a list that name no source.
pub(crate) fn unsourced(language: Language) -> Markup {
    html! { p.source { (say!(language, "unsourced", words = language.of_table("source", NO_SOURCE, NO_SOURCE))) } }
}

/// Name of a forecast's reach.
pub(crate) fn reach_name(reaches: &[std::sync::Arc<Reach>], forecast: &ForecastDocument) -> Option<String> {
    let reach = reaches.iter().find(|reach| reach.slug.as_str().eq_ignore_ascii_case(&forecast.reach))?;
    Some(reach.name.clone())
}

#[cfg(test)]
mod tests {
    use super::plainly;

    #[test]
    fn tags_of_the_table_are_not_shown() {
        assert_eq!(plainly("READ: an abstract; two figures READ, none here"), "an abstract; two figures, none here");
        assert_eq!(
            plainly("eggs under water READ: a study; rest from memory"),
            "eggs under water: a study; rest from memory"
        );
    }
}
