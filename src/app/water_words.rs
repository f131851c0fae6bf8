//! Where the water temperatures of a reach come from, in words.

use std::fmt::Write as _;

use super::water_air::ReachAir;
use crate::domain::Slug;
use crate::model::temperature::{SiteMethod, SiteTemperature};

/// One or more sentences; gauges by their short names. `own` is the gauge whose series is the reach's own.
pub(super) fn of(own: Option<&Slug>, site: &SiteTemperature, air: Option<&ReachAir>) -> String {
    let mut words = match &site.method {
        SiteMethod::Own { helpers } => {
            let at = own.map_or_else(|| "on the reach".to_owned(), |gauge| format!("at gauge {gauge}"));
            match helpers.as_slice() {
                [] => format!("Measured {at}."),
                some => format!("Measured {at}; missing days from {}.", gauges(some)),
            }
        }
        SiteMethod::Regression { gauge } => {
            format!("Estimated from gauge {gauge}, with the few days that were measured here.")
        }
        SiteMethod::Between { upper, lower } => format!("Estimated between gauges {upper} and {lower}."),
        SiteMethod::NeighbourMean { gauges: others } => {
            format!("Not measured here: estimated from {}.", gauges(others))
        }
    };
    let Some(air) = air else { return words };
    let away = air.away_km.map_or_else(String::new, |km| format!(", {km:.0} km away"));
    if site.days_from_air > 0 {
        let _ = write!(words, " {} days from the air at gauge {}{away}.", site.days_from_air, air.gauge);
    }
    if let Some((forecast, made_at)) = &air.forecast
        && let Some(last) = forecast.days().last()
    {
        let made = made_at.format("%Y-%m-%d %H:%M UTC");
        let to = last.date;
        let _ = write!(words, " Ahead to {to} by the forecast of the air at gauge {}{away}, made {made}.", air.gauge);
    }
    words
}

fn gauges(list: &[Slug]) -> String {
    let names: Vec<&str> = list.iter().map(Slug::as_str).collect();
    match names.as_slice() {
        [one] => format!("gauge {one}"),
        names => format!("gauges {}", names.join(", ")),
    }
}
