//! Where the water temperatures of a reach come from, in words.

use super::water_air::ReachAir;
use crate::domain::Slug;
use crate::model::temperature::{SiteMethod, SiteTemperature};
use crate::say;
use crate::words::Language;

/// One or more sentences; gauges by their short names. `own` is the gauge whose series is the reach's own.
pub(super) fn of(language: Language, own: Option<&Slug>, site: &SiteTemperature, air: Option<&ReachAir>) -> String {
    let mut sentences = vec![match &site.method {
        SiteMethod::Own { helpers } => {
            let at = own.map_or_else(
                || say!(language, "water-on-reach"),
                |gauge| say!(language, "water-at-gauge", gauge = gauge.as_str()),
            );
            match helpers.as_slice() {
                [] => say!(language, "water-measured", at = at),
                some => say!(language, "water-measured-with", at = at, gauges = gauges(language, some)),
            }
        }
        SiteMethod::Regression { gauge } => say!(language, "water-regression", gauge = gauge.as_str()),
        SiteMethod::Between { upper, lower } => {
            say!(language, "water-between", upper = upper.as_str(), lower = lower.as_str())
        }
        SiteMethod::NeighbourMean { gauges: others } => {
            say!(language, "water-neighbours", gauges = gauges(language, others))
        }
    }];
    if let Some(air) = air {
        let away = air.away_km.map_or_else(String::new, |km| say!(language, "water-away", km = format!("{km:.0}")));
        if site.days_from_air > 0 {
            let (days, gauge) = (site.days_from_air, air.gauge.as_str());
            sentences.push(say!(language, "water-from-air", days = days, gauge = gauge, away = &away));
        }
        if let Some((forecast, made_at)) = &air.forecast
            && let Some(last) = forecast.days().last()
        {
            let made = made_at.format("%Y-%m-%d %H:%M UTC").to_string();
            let (to, gauge) = (last.date.to_string(), air.gauge.as_str());
            sentences.push(say!(language, "water-ahead", to = to, gauge = gauge, away = &away, made = made));
        }
    }
    sentences.join(" ")
}

fn gauges(language: Language, list: &[Slug]) -> String {
    let names: Vec<&str> = list.iter().map(Slug::as_str).collect();
    say!(language, "water-gauges", count = names.len(), names = names.join(", "))
}
