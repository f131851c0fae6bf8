//! The day picture: when of the clock each insect is likely, with the day's water temperature.

use chrono::{NaiveDate, NaiveTime, Timelike};
use maud::{Markup, html};

use super::season::{Line, Phase};
use super::units::Units;
use super::water_hours::by_the_hour;
use crate::words::Language;
use crate::{say, tell};

const ROW_PX: u32 = 26;
/// Hours marked on the clock.
const HOURS: [u32; 7] = [0, 4, 8, 12, 16, 20, 24];

/// The strip for `today`; words when nothing is on the water.
pub(crate) fn clock_strip(language: Language, lines: &[Line], today: NaiveDate, units: Units) -> Markup {
    let shown: Vec<(&Line, [NaiveTime; 3])> = lines
        .iter()
        .filter(|line| line.phase(today) == Phase::Running)
        .filter_map(|line| {
            let window = line.forecasts.first()?.hours.as_ref().filter(|hours| hours.date == today)?.times()?;
            Some((line, window))
        })
        .collect();
    let forecasts = || lines.iter().filter_map(|line| line.forecasts.first()).map(|forecast| &**forecast);
    let water = forecasts().find_map(|forecast| forecast.day(today).and_then(|day| day.water_c));
    html! {
        figure.clock aria-labelledby="clock-title" {
            figcaption id="clock-title" { (say!(language, "clock-title", day = language.day(today))) }
            @if let Some(q) = water {
                p.water {
                    (tell!(
                        language,
                        "clock-water",
                        middle = html! { strong { (language.decimals(&units.temperature(q.p50, 1))) } },
                        low = language.decimals(&units.number(q.p10, 1)),
                        high = language.decimals(&units.temperature(q.p90, 1)),
                    ))
                }
            }
            (by_the_hour(language, forecasts(), today, units))
            @if shown.is_empty() {
                p { (say!(language, "clock-nothing")) }
            } @else {
                svg.axis width="100%" height="18" aria-hidden="true" {
                    @for hour in HOURS {
                        @let anchor = match hour { 0 => "start", 24 => "end", _ => "middle" };
                        text.label x=(format!("{:.2}%", f64::from(hour) / 0.24)) y="13" font-size="12"
                            text-anchor=(anchor) { (hour) }
                    }
                }
                @for (index, (line, window)) in shown.iter().enumerate() { (row(language, index, line, window)) }
            }
        }
    }
}

fn row(language: Language, index: usize, line: &Line, &[from, peak, to]: &[NaiveTime; 3]) -> Markup {
    let clock = |time: NaiveTime| time.format("%H:%M").to_string();
    let words = say!(language, "clock-hours", from = clock(from), to = clock(to), likeliest = clock(peak));
    let (from, to) = (of_day(from), of_day(to));
    // Hours past midnight are drawn where they fall on the clock.
    let bands = if from <= to { vec![(from, to)] } else { vec![(from, 100.0), (0.0, to)] };
    let title = format!("hours-{index}");
    html! {
        div.row {
            p.who { (line.label) " " span.when { (words) } }
            svg.ridge width="100%" height=(ROW_PX) role="img" aria-labelledby=(title) {
                title id=(title) { (line.name()) ": " (words) }
                @for hour in HOURS {
                    @let x = format!("{:.2}%", f64::from(hour) / 0.24);
                    line.grid x1=(x) x2=(x) y1="0" y2=(ROW_PX) {}
                }
                @for (low, high) in bands {
                    rect.band x=(format!("{low:.2}%")) width=(format!("{:.2}%", high - low)) y="6" height="14" rx="7" {}
                }
                circle.likeliest cx=(format!("{:.2}%", of_day(peak))) cy="13" r="6" stroke-width="3" {}
                line.ground x1="0" x2="100%" y1=(ROW_PX - 1) y2=(ROW_PX - 1) {}
            }
        }
    }
}

/// Position in the day, percent.
fn of_day(time: NaiveTime) -> f64 {
    f64::from(time.num_seconds_from_midnight()) / 864.0
}
