//! How the water temperatures behind a reach's forecast came about, and whether they still come in.

use std::fmt::Write as _;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::PageView;
use super::units::Units;
use crate::app::document::ForecastDocument;
use crate::app::gauge_detail::SilentGauge;
use crate::domain::forecast::WaterBasis;

/// A last measured day that lies further back is told with its age.
const FRESH_DAYS: i64 = 2;

/// Words on today's water, and on gauges whose source cannot be read.
pub(crate) fn water_line(page: &PageView, silent: &[SilentGauge]) -> Markup {
    let words = page.forecasts.iter().find_map(|forecast| of_today(forecast, page.today, page.units));
    let day = |date: NaiveDate| date.format("%-d %B %Y").to_string();
    html! {
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
