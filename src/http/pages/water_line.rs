//! How the water temperatures behind a reach's forecast came about, whether they still come in, and the weather that a
//! service forecasts for the evening.

use maud::{Markup, html};

use super::PageView;
use super::words::in_english;
use crate::app::document::ForecastDocument;
use crate::app::document::forecast_parts::EveningDocument;
use crate::app::gauge_detail::SilentGauge;
use crate::domain::forecast::WaterBasis;
use crate::words::Language;
use crate::{say, tell};

/// Shares of the sky under clouds.
const CLEAR_BELOW: f64 = 0.3;
const CLOUDED_FROM: f64 = 0.8;
/// Less than this within an hour is no rain.
const LEAST_RAIN_MM: f64 = 0.05;
/// A last measured day that lies further back is told with its age.
const FRESH_DAYS: i64 = 2;

/// Words on today's water, and on gauges whose source cannot be read.
pub(crate) fn water_line(page: &PageView, silent: &[SilentGauge]) -> Markup {
    let language = page.language;
    let words = page.forecasts.iter().find_map(|forecast| of_today(forecast, page));
    let evening = page.forecasts.iter().find_map(|f| f.evening.as_ref().filter(|evening| evening.date == page.today));
    html! {
        @if let Some(evening) = evening { p.water-line { (at_sunset(evening, page)) } }
        @if words.is_some() || !silent.is_empty() {
            p.water-line {
                @if let Some(words) = words { (words) }
                @for gauge in silent { " " (is_silent(language, gauge)) }
            }
        }
    }
}

fn is_silent(language: Language, gauge: &SilentGauge) -> Markup {
    let last = match gauge.done_on {
        Some(date) => say!(language, "water-silent-last", date = language.date(date)),
        None => say!(language, "water-silent-never"),
    };
    let failure = in_english(language, gauge.failure.trim_end_matches('.'));
    tell!(language, "water-silent", gauge = html! { strong { (gauge.name) } }, failure = failure, last = last)
}

fn at_sunset(evening: &EveningDocument, page: &PageView) -> String {
    let language = page.language;
    let made = evening.made_at.with_timezone(&page.view.watershed.time_zone).naive_local();
    let wind = evening.wind_kmh.map(|wind| say!(language, "water-sunset-wind", kmh = language.number(wind, 0)));
    let sky = evening.cloud.map(|cloud| match cloud {
        share if share < CLEAR_BELOW => say!(language, "water-sunset-clear"),
        share if share < CLOUDED_FROM => say!(language, "water-sunset-broken"),
        _ => say!(language, "water-sunset-clouds"),
    });
    let rain = evening.rain_mm.map(|rain| match rain {
        rain if rain >= LEAST_RAIN_MM => say!(language, "water-sunset-rain", mm = language.number(rain, 1)),
        _ => say!(language, "water-sunset-dry"),
    });
    say!(
        language,
        "water-sunset",
        air = page.units.temperature(evening.air_c, 0),
        wind = wind.unwrap_or_default(),
        sky = sky.unwrap_or_default(),
        rain = rain.unwrap_or_default(),
        made = language.day_and_time(made),
    )
}

/// `None` for forecasts made before this was told.
fn of_today(forecast: &ForecastDocument, page: &PageView) -> Option<Markup> {
    let (language, today, units) = (page.language, page.today, page.units);
    let now = forecast.day(today)?;
    let Some(water) = now.water_c else { return Some(html! { (say!(language, "water-unknown")) }) };
    let basis = word(now.water_basis.as_deref()?)?;
    let error_c = now.water_error_c.filter(|error_c| basis != WaterBasis::Measured && *error_c >= 0.05);
    let error = error_c.map_or_else(String::new, |error_c| {
        say!(language, "water-today-error", difference = language.decimals(&units.difference(error_c, 1)))
    });
    let temperature = language.decimals(&units.temperature(water.p50, 1));
    let how = language.word("water-basis", basis.as_str());
    let told = say!(language, "water-today", temperature = temperature, how = how, error = error);
    let measured = |day: &&crate::app::document::forecast_parts::DayDocument| {
        day.date <= today && day.water_basis.as_deref() == Some(WaterBasis::Measured.as_str())
    };
    let last = match forecast.days.iter().rev().find(measured).map(|day| day.date) {
        Some(last) if (today - last).num_days() > FRESH_DAYS => {
            Some(say!(language, "water-last-day", date = language.day(last), age = (today - last).num_days()))
        }
        Some(_) => None,
        None => Some(say!(language, "water-no-day")),
    };
    let from = forecast.water_words_in(language);
    let translated = forecast.water_words_translations.contains_key(language.tag());
    Some(html! {
        (told)
        @if let Some(last) = last { " " (last) }
        @if let Some(from) = from {
            " "
            @if translated { (from) } @else { (in_english(language, from)) }
        }
    })
}

fn word(text: &str) -> Option<WaterBasis> {
    WaterBasis::WORDS.iter().find(|(_, known)| *known == text).map(|(basis, _)| *basis)
}
