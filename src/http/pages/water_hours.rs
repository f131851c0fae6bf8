//! Today's water by the hour: words, a curve on the clock, and the hours as a table.

use std::fmt::Write as _;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::units::Units;
use crate::app::cautions::CARE_FROM_C;
use crate::app::document::ForecastDocument;
use crate::app::document::forecast::WaterDayDocument;
use crate::domain::water_hours::{HoursBasis, WaterHour};

/// Height of the curve and the room left above and below it, px.
const HEIGHT_PX: f64 = 44.0;
const ROOM_PX: f64 = 5.0;

/// The hours of `today` from the first of `forecasts` that tells them; nothing where none does.
pub(crate) fn by_the_hour<'f>(
    mut forecasts: impl Iterator<Item = &'f ForecastDocument>,
    today: NaiveDate,
    units: Units,
) -> Markup {
    let told = forecasts.find_map(|forecast| {
        let hours = forecast.water_hours.as_ref()?;
        Some((hours, hours.day(today)?))
    });
    let Some((hours, day)) = told else { return html! {} };
    let Some(words) = words(day, units) else { return html! {} };
    let measured = day.basis == HoursBasis::Measured.as_str();
    html! {
        p.water { (words) @if !measured { " " (hours.words) } }
        (curve(day))
        details {
            summary { "Water hour by hour" }
            div.scroll tabindex="0" role="region" aria-label="Water hour by hour" {
                table {
                    caption { "Mean water of each hour today, " (units.symbol()) ", and by how much it may be off" }
                    thead { tr { th scope="col" { "From" } th scope="col" { "Water" } th scope="col" { "Give or take" } } }
                    tbody {
                        @for (hour, WaterHour { water_c, error_c }) in day.hours() {
                            tr {
                                th scope="row" { (clock(hour)) }
                                td { (units.number(water_c, 1)) }
                                td { @if error_c > 0.0 { (units.difference(error_c, 1)) } @else { "measured" } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Coolest and warmest hour, and when the water may be too warm for trout that are released.
fn words(day: &WaterDayDocument, units: Units) -> Option<String> {
    let ((coolest_at, coolest), (warmest_at, warmest)) = day.ends()?;
    let told = |hour: WaterHour| {
        let mut words = units.temperature(hour.water_c, 1);
        if hour.error_c > 0.0 {
            let _ = write!(words, ", give or take {}", units.difference(hour.error_c, 1));
        }
        words
    };
    let mut words = format!(
        "By the hour: coolest about {} ({}), warmest about {} ({}).",
        clock(coolest_at),
        told(coolest),
        clock(warmest_at),
        told(warmest),
    );
    let warm = |hour: &(u32, WaterHour)| hour.1.water_c + hour.1.error_c >= CARE_FROM_C;
    let limit = units.temperature(CARE_FROM_C, 0);
    match (day.hours().find(warm), day.hours().filter(warm).last()) {
        _ if day.hours().all(|hour| warm(&hour)) => {
            let _ = write!(words, " It may be {limit} or warmer all day.");
        }
        (Some((from, _)), Some((to, _))) => {
            let _ = write!(words, " It may be {limit} or warmer between {} and {}.", clock(from), clock(to + 1));
        }
        _ => {}
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
