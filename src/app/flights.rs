//! From stored records and field reports to watches for spinners, and when the sun sets their hour.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;

use super::fit::Known;
use super::observations::{Subject, brood_of, solar_hours};
use super::visits::report_visits;
use crate::domain::flight::{Anchor, FlightHabit};
use crate::domain::season::{Cycle, Season};
use crate::domain::{AbundanceClass, Reach, Record, RecordKind, Slug, Taxon};
use crate::model::daylength::{Daylight, SUNRISE_DEPRESSION_DEG, daylight};
use crate::model::emergence::flight::{self, FlightInput, FlightObservation, FlightUnit};
use crate::model::posterior::{Hours, Outcome};

/// The order whose winged insects moult once more and fly as spinners.
const MAYFLIES: &str = "Ephemeroptera";

/// When spinners of `taxon` fly; `None` for other orders and where its traits do not tell.
#[must_use]
pub fn habit(taxon: &Taxon) -> Option<FlightHabit> {
    let mayfly = taxon.order.as_deref() == Some(MAYFLIES);
    taxon.spinner_time.as_deref().filter(|_| mayfly).and_then(FlightHabit::from_words)
}

/// Local mean solar hour of `anchor` on `date` at `reach`; `None` where the sun does not rise or set.
#[must_use]
pub fn anchor_hour(anchor: Anchor, reach: &Reach, date: NaiveDate) -> Option<f64> {
    let hour = |utc_min: f64| utc_min / 60.0 + reach.longitude / 15.0;
    match (anchor, daylight(date, reach.latitude, reach.longitude, SUNRISE_DEPRESSION_DEG)) {
        (Anchor::Noon, _) => Some(12.0),
        (Anchor::Sunrise, Daylight::RiseAndSet { rise_utc_min, .. }) => Some(hour(rise_utc_min)),
        (Anchor::Sunset, Daylight::RiseAndSet { set_utc_min, .. }) => Some(hour(set_utc_min)),
        (_, Daylight::AlwaysLight | Daylight::AlwaysDark) => None,
    }
}

/// Watches for spinners of a taxon and brood; `None` where its traits do not tell when they fly.
#[must_use]
pub fn flights(known: &Known, taxon: &Taxon, brood: u8) -> Option<FlightInput> {
    let habit = habit(taxon)?;
    let reach_of = |slug: &Slug| known.reaches.iter().find(|reach| reach.slug == *slug);
    let mut watches: Vec<Watch> =
        known.records.iter().filter_map(|r| of_record(known, reach_of(&r.reach)?, r, taxon)).collect();
    watches.extend(report_visits(taxon, &known.reports, Subject::Flight).into_iter().filter_map(|v| {
        Some(Watch {
            date: v.date(known.watershed.time_zone),
            hours: v.solar_hours(reach_of(&v.reach)?),
            reach: v.reach,
            class: v.class,
            people: v.people,
            x: flight::covariates(None, None, None),
        })
    }));
    // Where nobody ever notes spinners, a blank page does not say that none flew.
    if watches.iter().all(|w| w.class == AbundanceClass::None) {
        watches.clear();
    }
    watches.retain(|w| w.class == AbundanceClass::None || brood_of(taxon, w.date) == brood);
    let cycle = Cycle::of_brood(taxon, brood);
    let mut units: BTreeMap<(usize, i32), Vec<FlightObservation>> = BTreeMap::new();
    for watch in watches {
        let Some(site) = known.reaches.iter().position(|r| r.slug == watch.reach) else { continue };
        let season = cycle.containing(watch.date);
        if let Some(observation) = place(&known.reaches[site], habit.anchor, season, &watch) {
            units.entry((site, season.year)).or_default().push(observation);
        }
    }
    let units = units.into_iter().map(|((site, year), mut observations)| {
        // The order of rows in a file must not matter.
        observations.sort_by(|a, b| {
            a.day
                .cmp(&b.day)
                .then(a.hours.0.total_cmp(&b.hours.0))
                .then_with(|| format!("{a:?}").cmp(&format!("{b:?}")))
        });
        let drivers = Arc::new(known.water.central(&known.reaches[site], cycle.season(year)));
        FlightUnit { site, year, drivers, observations }
    });
    Some(FlightInput { habit, units: units.collect() })
}

/// Somebody looked for spinners.
struct Watch {
    reach: Slug,
    date: NaiveDate,
    hours: Hours,
    class: AbundanceClass,
    people: f64,
    x: [f64; flight::COVARIATES],
}

/// A visit's record that names spinners, or that found nothing at all of the taxon.
fn of_record(known: &Known, reach: &Reach, record: &Record, taxon: &Taxon) -> Option<Watch> {
    if record.taxon != taxon.slug || record.kind != RecordKind::Visit {
        return None;
    }
    let seen = match (record.abundance_class, record.count) {
        (Some(class), _) => class,
        (None, Some(0)) => AbundanceClass::None,
        (None, Some(_)) => AbundanceClass::Sparse,
        (None, None) => return None,
    };
    let tells = Subject::Flight.is_told_by(record.stage) || (record.stage.is_none() && seen == AbundanceClass::None);
    let (start, end) = record.hours.filter(|_| tells)?;
    Some(Watch {
        reach: record.reach.clone(),
        date: record.date_to,
        hours: solar_hours(&known.watershed, reach, record.date_to, start, end),
        class: seen,
        people: record.effort.max(f64::MIN_POSITIVE),
        x: flight::covariates(record.weather.wind_kmh, record.weather.air_c, record.weather.rain_mm),
    })
}

fn place(reach: &Reach, anchor: Anchor, season: Season, watch: &Watch) -> Option<FlightObservation> {
    let anchor = anchor_hour(anchor, reach, watch.date)?;
    Some(FlightObservation {
        day: usize::try_from(season.day_number(watch.date)).ok()?,
        outcome: Outcome::Class(watch.class.index()),
        log_effort: 0.5 * watch.people.ln(),
        hours: (watch.hours.start - anchor, watch.hours.end - anchor),
        x: watch.x,
    })
}
