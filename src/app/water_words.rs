//! Where the water temperatures of a reach come from, in words.

use super::water::Water;
use crate::domain::Slug;
use crate::model::temperature::{SiteMethod, SiteTemperature};
use crate::say;
use crate::words::Language;

/// One or more sentences on `site`, the water of the reach of that slug in `water`.
pub(super) fn of(language: Language, water: &Water, reach: &Slug, site: &SiteTemperature) -> String {
    let (own, air) = (water.own.get(reach), water.air.get(reach));
    let name = |gauge| water.gauge_name(gauge);
    let gauges = |list: &[Slug]| {
        let names: Vec<&str> = list.iter().map(|gauge| water.gauge_name(gauge)).collect();
        say!(language, "water-gauges", count = names.len(), names = names.join(", "))
    };
    let mut sentences = vec![match &site.method {
        SiteMethod::Own { helpers } => {
            let at = own.map_or_else(
                || say!(language, "water-on-reach"),
                |gauge| say!(language, "water-at-gauge", gauge = name(gauge)),
            );
            match helpers.as_slice() {
                [] => say!(language, "water-measured", at = at),
                some => say!(language, "water-measured-with", at = at, gauges = gauges(some)),
            }
        }
        SiteMethod::Regression { gauge } => say!(language, "water-regression", gauge = name(gauge)),
        SiteMethod::Between { upper, lower } => {
            say!(language, "water-between", upper = name(upper), lower = name(lower))
        }
        SiteMethod::NeighbourMean { gauges: others } => {
            say!(language, "water-neighbours", gauges = gauges(others))
        }
    }];
    if let Some(air) = air {
        let away = air.away_km.map_or_else(String::new, |km| say!(language, "water-away", km = format!("{km:.0}")));
        if site.days_from_air > 0 {
            let (days, gauge) = (site.days_from_air, name(&air.gauge));
            sentences.push(say!(language, "water-from-air", days = days, gauge = gauge, away = &away));
        }
        if let Some((forecast, made_at)) = &air.forecast
            && let Some(last) = forecast.days().last()
        {
            let made = made_at.format("%Y-%m-%d %H:%M UTC").to_string();
            let (to, gauge) = (last.date.to_string(), name(&air.gauge));
            sentences.push(say!(language, "water-ahead", to = to, gauge = gauge, away = &away, made = made));
        }
    }
    sentences.join(" ")
}
