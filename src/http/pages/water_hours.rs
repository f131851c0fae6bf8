//! Today's water by the hour: words, a curve on the clock, and the hours as a table.

use std::fmt::Write as _;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::units::Units;
use crate::app::cautions::CARE_FROM_C;
use crate::app::document::ForecastDocument;
use crate::app::document::forecast::WaterDayDocument;
use crate::domain::water_hours::{HoursBasis, WaterHour};
use crate::say;
use crate::words::Language;

/// Height of the curve and the room left above and below it, px.
const HEIGHT_PX: f64 = 44.0;
const ROOM_PX: f64 = 5.0;

/// The hours of `today` from the first of `forecasts` that tells them; nothing where none does.
pub(crate) fn by_the_hour<'f>(
    language: Language,
    mut forecasts: impl Iterator<Item = &'f ForecastDocument>,
    today: NaiveDate,
    units: Units,
) -> Markup {
    let told = forecasts.find_map(|forecast| {
        let hours = forecast.water_hours.as_ref()?;
        Some((hours, hours.day(today)?))
    });
    let Some((hours, day)) = told else { return html! {} };
    let Some(words) = words(language, day, units) else { return html! {} };
    let measured = day.basis == HoursBasis::Measured.as_str();
    html! {
        p.water { (words) @if !measured { " " (hours.words_in(language)) } }
        (curve(day))
        details {
            summary { (say!(language, "hours-title")) }
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "hours-title")) {
                table {
                    caption { (say!(language, "hours-caption", unit = units.symbol())) }
                    thead { tr { th scope="col" { (say!(language, "hours-from")) } th scope="col" { (say!(language, "hours-water")) } th scope="col" { (say!(language, "hours-error")) } } }
                    tbody {
                        @for (hour, WaterHour { water_c, error_c }) in day.hours() {
                            tr {
                                th scope="row" { (clock(hour)) }
                                td { (language.decimals(&units.number(water_c, 1))) }
                                td { @if error_c > 0.0 { (language.decimals(&units.difference(error_c, 1))) } @else { (say!(language, "hours-measured")) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Coolest and warmest hour, and when the water may be too warm for trout that are released.
fn words(language: Language, day: &WaterDayDocument, units: Units) -> Option<String> {
    let ((coolest_at, coolest), (warmest_at, warmest)) = day.ends()?;
    let told = |hour: WaterHour| {
        let water = language.decimals(&units.temperature(hour.water_c, 1));
        if hour.error_c <= 0.0 {
            return water;
        }
        let difference = language.decimals(&units.difference(hour.error_c, 1));
        say!(language, "hours-give-or-take", water = water, difference = difference)
    };
    let mut words = say!(
        language,
        "hours-ends",
        coolest_at = clock(coolest_at),
        coolest = told(coolest),
        warmest_at = clock(warmest_at),
        warmest = told(warmest),
    );
    let warm = |hour: &(u32, WaterHour)| hour.1.water_c + hour.1.error_c >= CARE_FROM_C;
    let limit = units.temperature(CARE_FROM_C, 0);
    let warm_between = match (day.hours().find(warm), day.hours().filter(warm).last()) {
        _ if day.hours().all(|hour| warm(&hour)) => Some(say!(language, "hours-warm-all-day", limit = limit)),
        (Some((from, _)), Some((to, _))) => {
            Some(say!(language, "hours-warm-between", limit = limit, from = clock(from), to = clock(to + 1)))
        }
        _ => None,
    };
    if let Some(warm_between) = warm_between {
        let _ = write!(words, " {warm_between}");
    }
    Some(words)
}

/// The hours as one line over the clock; the words and the table say the same.
fn curve(day: &WaterDayDocument) -> Markup {
    let Some(((_, coolest), (_, warmest))) = day.ends() else { return html! {} };
    let span = (warmest.water_c - coolest.water_c).max(0.1);
    let points = day.hours().fold(String::new(), |mut points, (hour, water)| {
        let height = (water.water_c - coolest.water_c) / span * (HEIGHT_PX - 2.0 * ROOM_PX);
        // The mean of an hour stands in its middle.
        let _ = write!(points, "{:.1},{:.1} ", f64::from(hour) + 0.5, HEIGHT_PX - ROOM_PX - height);
        points
    });
    html! {
        svg.ridge.water-curve width="100%" height=(HEIGHT_PX) viewBox=(format!("0 0 24 {HEIGHT_PX}"))
            preserveAspectRatio="none" aria-hidden="true" {
            polyline points=(points.trim_end()) vector-effect="non-scaling-stroke" {}
        }
    }
}

fn clock(hour: u32) -> String {
    format!("{hour:02}:00")
}
