//! The words that stand before every picture.

use std::sync::Arc;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::season::{Line, Phase, running, when};
use super::table::percent;
use super::units::Units;
use super::{PageView, called};
use crate::app::document::ForecastDocument;
use crate::app::sync::source_of;
use crate::domain::forecast::Basis;
use crate::domain::source::Credit;
use crate::domain::{Gauge, Reach};

/// What is said of advice that everyone gives and nobody measured.
const NO_SOURCE: &str = "common practice, no source";

/// The guide of reporters to the classes.
pub(crate) const CLASSES: [(&str, &str); 3] = [
    ("sparse", "some seen in ten minutes of watching"),
    ("moderate", "always a few in view"),
    ("heavy", "more than one can count"),
];

/// Whom to thank for the water temperatures, and on what terms they may be passed on; nothing where nobody says so.
pub(crate) fn credits(gauges: &[Arc<Gauge>]) -> Markup {
    let asked = |gauge: &Gauge| source_of(gauge.source.as_deref()).map(|source| source.credit());
    let told: Vec<(&Gauge, Option<Credit>)> = gauges.iter().map(|gauge| (&**gauge, asked(gauge))).collect();
    let told: Vec<_> = told.iter().filter(|(gauge, credit)| credit.is_some() || !gauge.rights.is_empty()).collect();
    html! {
        @if !told.is_empty() {
            section aria-labelledby="water" {
                h2 id="water" { "Water temperature" }
                ul {
                    @for (gauge, credit) in told {
                        @if let Some(credit) = credit {
                            li { "From " a href=(credit.url) { (credit.text) } " (" (credit.licence) ")" }
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
            p.lead { "Nothing is forecast to be on the water today." }
        } @else {
            p.lead { "On the water today:" }
            ul.now {
                @for line in on_now.iter().take(6) {
                    li {
                        (line.label)
                        @if let Some((forecast, plenty)) = line.best_reach(today) {
                            @if let Some(reach) = reach_name(forecast) { ", best at " (reach) }
                            ": "
                            strong { (chance_at(forecast, today)) " in 100" }
                            " to see any, " (percent(plenty)) " for moderate or heavy numbers"
                            @if let Some(hours) = forecast.hours.as_ref().filter(|hours| hours.date == today) {
                                ", likeliest " (hours.from) " to " (hours.to)
                            }
                            @if let Some(flight) = forecast.spinner.as_ref().filter(|flight| flight.date == today) {
                                "; spinners " (flight.from) " to " (flight.to) ", "
                                (percent(flight.chance)) " in 100 " (forecast.weather_of_flight())
                            }
                            "."
                        }
                    }
                }
                @if on_now.len() > 6 { li { "and " (on_now.len() - 6) " more, in the table below." } }
            }
        }
        @if !coming.is_empty() {
            p { "Next to start: "
                @for (index, line) in coming.iter().take(3).enumerate() {
                    @if index > 0 { "; " }
                    (line.label) " (" (when(line.onset())) ")"
                }
                "."
            }
        }
        @if !over.is_empty() {
            p.quiet {
                "Over for the year: "
                @for (index, line) in over.iter().enumerate() { @if index > 0 { "; " } (line.label) }
                "."
            }
        }
    }
}

/// Chance of seeing any at the reach of `forecast` on `date`.
fn chance_at(forecast: &ForecastDocument, date: NaiveDate) -> String {
    forecast.day(date).map(|day| percent(1.0 - day.class_probabilities.none)).unwrap_or_default()
}

/// When the forecast was made, from what, in which time zone.
pub(crate) fn as_of(forecasts: &[std::sync::Arc<ForecastDocument>]) -> Markup {
    let Some(newest) = forecasts.iter().max_by_key(|forecast| forecast.issued_at) else { return html! {} };
    let data = forecasts.iter().map(|forecast| forecast.data_as_of).max().unwrap_or(newest.data_as_of);
    let zone: chrono_tz::Tz = newest.time_zone.parse().unwrap_or(chrono_tz::UTC);
    let issued = newest.issued_at.with_timezone(&zone);
    html! {
        p.as-of {
            "Data up to " time datetime=(data.to_string()) { (data.format("%-d %B %Y")) }
            ". Computed " time datetime=(newest.issued_at.to_rfc3339()) { (issued.format("%-d %B %Y, %H:%M")) }
            ". Days and hours are local (" (newest.time_zone) ")."
        }
    }
}

/// A banner when temperatures are out of date.
pub(crate) fn stale(forecasts: &[std::sync::Arc<ForecastDocument>]) -> Markup {
    let late: Vec<NaiveDate> = forecasts.iter().filter(|f| f.stale).map(|f| f.data_as_of).collect();
    html! {
        @if let Some(oldest) = late.iter().min() {
            p.banner.stale role="status" {
                strong { "Out of date. " }
                "No water temperature has come in lately (data up to " (oldest.format("%-d %B %Y"))
                "). Trust dates near the end of their ranges as much as the middle."
            }
        }
    }
}

/// What the words of a forecast mean: shut, for those who come again.
pub(crate) fn meanings(lines: &[Line]) -> Markup {
    let broods = lines.iter().any(|line| line.taxon.broods.len() > 1);
    let days = || lines.iter().flat_map(|line| &line.forecasts).flat_map(|forecast| &forecast.days);
    let counted = days().any(|day| day.basis == Basis::Counts.as_str());
    html! {
        details {
            summary { "What the words mean" }
            dl {
                @for (class, meaning) in CLASSES { dt { (class) } dd { (meaning) } }
                @if counted {
                    dt { "where records are counts" }
                    dd {
                        "the smallest, the middle and the largest third of all catches with any in them, in the same order"
                    }
                }
                @if broods {
                    dt { "first, second generation" }
                    dd { "the broods of one year: an insect with several has a forecast for each, in the order of their dates" }
                }
            }
        }
    }
}

/// A banner while models are fitted.
pub(crate) fn fitting(page: &PageView) -> Markup {
    let nothing_yet = page.forecasts.is_empty();
    html! {
        @if let Some(progress) = &page.fitting {
            p.banner.fitting role="status" {
                strong { "Fitting " (progress.done) " of " (progress.total) ". " }
                @if nothing_yet {
                    "The first forecasts appear here when this is done. Load the page again in a little while."
                } @else {
                    "Some insects are missing here or do not yet count the newest records; load the page again in a little while."
                }
                @if !progress.pending.is_empty() {
                    " Still to come: "
                    (called::all_by_slug(&progress.pending, &page.view.taxa))
                    "."
                }
            }
        } @else if nothing_yet {
            p.banner { strong { "No forecast yet. " } "A keeper has to import records and temperatures and start a fit." }
        }
    }
}

/// Cautions, each once.
pub(crate) fn cautions(forecasts: &[std::sync::Arc<ForecastDocument>], units: Units) -> Markup {
    let mut seen: Vec<&str> = Vec::new();
    let mut shown = Vec::new();
    for caution in forecasts.iter().flat_map(|forecast| forecast.cautions.iter()) {
        if !seen.contains(&caution.text.as_str()) {
            seen.push(&caution.text);
            shown.push(caution);
        }
    }
    let codes: Vec<&str> = shown.iter().map(|caution| &*caution.code).collect();
    html! {
        section.cautions aria-labelledby="cautions" {
            h2 id="cautions" { "Before you go" }
            ul {
                @for caution in shown { (caution_line(&caution.text, &caution.source, units)) }
                @for (code, text, source) in super::about::STANDING_CAUTIONS.iter().take(4) {
                    @if !codes.iter().any(|known| known.starts_with(code)) { (caution_line(text, source, units)) }
                }
            }
            (unsourced())
            p { a href="/about#cautions" { "All cautions" } }
        }
    }
}

/// One caution, with its source where it has one.
pub(crate) fn caution_line(text: &str, source: &str, units: Units) -> Markup {
    html! { li { (units.words(text)) @if source != NO_SOURCE { " " span.source { "(" (units.words(source)) ")" } } } }
}

/// What stands behind the cautions of a list that name no source.
pub(crate) fn unsourced() -> Markup {
    html! { p.source { "What names no source here: " (NO_SOURCE) "." } }
}

/// Name of a forecast's reach.
pub(crate) fn reach_name(reaches: &[std::sync::Arc<Reach>], forecast: &ForecastDocument) -> Option<String> {
    let reach = reaches.iter().find(|reach| reach.slug.as_str().eq_ignore_ascii_case(&forecast.reach))?;
    Some(reach.name.clone())
}
