//! How the water temperatures behind a reach's forecast came about, whether they still come in, and the weather that a
//! service forecasts for the evening.

use std::fmt::Write as _;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::PageView;
use super::units::Units;
use crate::app::document::ForecastDocument;
use crate::app::document::forecast_parts::EveningDocument;
use crate::app::gauge_detail::SilentGauge;
use crate::domain::forecast::WaterBasis;

/// Shares of the sky under clouds.
const CLEAR_BELOW: f64 = 0.3;
const CLOUDED_FROM: f64 = 0.8;
/// Less than this within an hour is no rain.
const LEAST_RAIN_MM: f64 = 0.05;
/// A last measured day that lies further back is told with its age.
const FRESH_DAYS: i64 = 2;

/// Words on today's water, and on gauges whose source cannot be read.
pub(crate) fn water_line(page: &PageView, silent: &[SilentGauge]) -> Markup {
    let words = page.forecasts.iter().find_map(|forecast| of_today(forecast, page.today, page.units));
    let day = |date: NaiveDate| date.format("%-d %B %Y").to_string();
    let evening = page.forecasts.iter().find_map(|f| f.evening.as_ref().filter(|evening| evening.date == page.today));
    html! {
        @if let Some(evening) = evening { p.water-line { (at_sunset(evening, page)) } }
        @if words.is_some() || !silent.is_empty() {
            p.water-line {
                @if let Some(words) = words { (words) }
                @for gauge in silent {
                    " Fetching from " strong { (gauge.name) } " fails ("
                    (gauge.failure.trim_end_matches('.')) "). "
                    @match gauge.done_on {
                        Some(date) => { "It last went well on " (day(date)) "." }
                        None => { "It has never gone well." }
                    }
                }
            }
        }
    }
}

fn at_sunset(evening: &EveningDocument, page: &PageView) -> String {
    let made = evening.made_at.with_timezone(&page.view.watershed.time_zone);
    let mut words = format!("At sunset: air {}", page.units.temperature(evening.air_c, 0));
    if let Some(wind) = evening.wind_kmh {
        let _ = write!(words, ", wind {wind:.0} km/h");
    }
    if let Some(cloud) = evening.cloud {
        words.push_str(match cloud {
            share if share < CLEAR_BELOW => ", clear sky",
            share if share < CLOUDED_FROM => ", broken cloud",
            _ => ", clouds all over",
        });
    }
    match evening.rain_mm {
        Some(rain) if rain >= LEAST_RAIN_MM => drop(write!(words, ", {rain:.1} mm of rain an hour")),
        Some(_) => words.push_str(", no rain"),
        None => {}
    }
    let _ = write!(words, " (forecast of {}).", made.format("%-d %B, %H:%M"));
    words
}

/// `None` for forecasts made before this was told.
fn of_today(forecast: &ForecastDocument, today: NaiveDate, units: Units) -> Option<String> {
    let now = forecast.day(today)?;
    let Some(water) = now.water_c else { return Some("No water temperature is known here for today.".to_owned()) };
    let basis = word(now.water_basis.as_deref()?)?;
    let mut words = format!("Water today about {}: {}", units.temperature(water.p50, 1), how(basis));
    if basis != WaterBasis::Measured
        && let Some(error_c) = now.water_error_c.filter(|error_c| *error_c >= 0.05)
    {
        let _ = write!(words, ", give or take {}", units.difference(error_c, 1));
    }
    words.push('.');
    let measured = |day: &&crate::app::document::forecast_parts::DayDocument| {
        day.date <= today && day.water_basis.as_deref() == Some(WaterBasis::Measured.as_str())
    };
    match forecast.days.iter().rev().find(measured).map(|day| day.date) {
        Some(last) if (today - last).num_days() > FRESH_DAYS => {
            let (last, age) = (last.format("%-d %B"), (today - last).num_days());
            let _ = write!(words, " The last day measured for this reach is {last}, {age} days ago.");
        }
        Some(_) => {}
        None => words.push_str(" No day of this season was measured for this reach itself."),
    }
    if let Some(from) = &forecast.water_words {
        words.push(' ');
        words.push_str(from);
    }
    Some(words)
}

fn word(text: &str) -> Option<WaterBasis> {
    WaterBasis::WORDS.iter().find(|(_, known)| *known == text).map(|(basis, _)| *basis)
}

fn how(basis: WaterBasis) -> &'static str {
    match basis {
        WaterBasis::Measured => "measured",
        WaterBasis::Gap => "not measured, estimated between the days before and after",
        WaterBasis::Gauge => "not measured here, estimated from another gauge",
        WaterBasis::Gauges => "not measured here, estimated from other gauges",
        WaterBasis::Between => "not measured here, estimated between the gauges above and below",
        WaterBasis::Air => "not measured, estimated from the air",
        WaterBasis::Ahead => "not measured yet, expected from past years and the last days",
        WaterBasis::AheadWithAir => "not measured yet, expected from a forecast of the air",
    }
}
