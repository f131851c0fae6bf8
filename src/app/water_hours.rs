//! The hours of the days to come at a reach: its daily water by the course of a usual day.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, Offset as _, TimeZone as _, Utc};
use chrono_tz::Tz;

use super::fit::Known;
use super::said::said;
use super::season_water::SeasonWater;
use super::water_air::by_nearness;
use crate::domain::said::Said;
use crate::domain::season::Season;
use crate::domain::water_hours::{HOURS, HoursBasis, WaterDay, WaterHours};
use crate::domain::{Gauge, Reach, Slug};
use crate::model::temperature::diel::hours_so_far;
use crate::model::temperature::hourly::{OwnRange, borrowed, common, hours};
use crate::model::temperature::{DayBasis, DayTemp, DielShape, SiteMethod, UsualDay};
use crate::say;

/// Days of which the hours are told, today the first.
pub const DAYS: u64 = 8;
/// Days before a gauge's last reading whose measured hours are kept.
const KEPT_DAYS: u64 = 9;

/// What the readings of one gauge say of the hours of a day.
#[derive(Debug, Clone)]
pub(super) struct GaugeHours {
    gauge: Slug,
    place: Option<(f64, f64)>,
    shape: Arc<DielShape>,
    /// Hours of the last days that were measured.
    measured: Arc<BTreeMap<NaiveDate, [Option<f64>; HOURS]>>,
}

impl GaugeHours {
    /// Of the good readings at instants; `None` without any.
    pub(super) fn of(gauge: &Gauge, instants: &[(DateTime<Utc>, f64)], time_zone: Tz) -> Option<Self> {
        let last = instants.iter().map(|(at, _)| *at).max()?.with_timezone(&time_zone).date_naive();
        let first = last.checked_sub_days(Days::new(KEPT_DAYS)).unwrap_or(last);
        Some(Self {
            gauge: gauge.slug.clone(),
            place: gauge.latitude.zip(gauge.longitude),
            shape: Arc::new(DielShape::from_instants(instants, time_zone)),
            measured: Arc::new(hours_so_far(instants, time_zone, first)),
        })
    }
}

/// What tells the hours of a day at one reach, the best first.
#[derive(Debug, Clone)]
pub struct ReachHours(Vec<Source>);

#[derive(Debug, Clone)]
struct Source {
    hours: GaugeHours,
    /// Named by the reach.
    own: bool,
    /// How far from the reach, km; `None` when the reach names the gauge or nobody knows.
    away_km: Option<f64>,
}

impl ReachHours {
    /// Of `reach`: the gauges that it names in its order, then the nearest, those of no known place last. `None` without
    /// any gauge that is read by the hour.
    pub(super) fn of(reach: &Reach, gauges: &[GaugeHours]) -> Option<Self> {
        let order = by_nearness(gauges, reach, |one| (&one.gauge, one.place));
        let source = |(named, away, hours): (usize, f64, &GaugeHours)| {
            let own = named != usize::MAX;
            Source { hours: hours.clone(), own, away_km: (!own && away.is_finite()).then_some(away) }
        };
        (!order.is_empty()).then(|| Self(order.into_iter().map(source).collect()))
    }

    /// The best source that knows the month of `date`.
    fn knowing(&self, date: NaiveDate) -> Option<(&Source, UsualDay)> {
        self.0.iter().find_map(|source| Some((source, source.hours.shape.usual_day(date)?)))
    }

    /// The hours of `date` that the reach's first own gauge measured.
    fn measured(&self, own: Option<&Slug>, date: NaiveDate) -> [Option<f64>; HOURS] {
        let source = self.0.iter().find(|source| own == Some(&source.hours.gauge));
        source.and_then(|source| source.hours.measured.get(&date)).copied().unwrap_or([None; HOURS])
    }
}

/// The usual day of `date` at `reach`, what it rests on, and that in words.
fn usual_day(known: &Known, reach: &Reach, date: NaiveDate) -> (UsualDay, HoursBasis, Said) {
    let site = known.water.reaches.get(&reach.slug);
    let range = site.map_or(OwnRange::Unknown, |site| {
        let own = matches!(site.method, SiteMethod::Own { .. });
        OwnRange::of(site.climatology.diel(date), own)
    });
    match known.water.hours.get(&reach.slug).and_then(|hours| hours.knowing(date)) {
        Some((source, day)) if source.own => {
            let gauge = known.water.gauge_name(&source.hours.gauge);
            let words = said(|language| say!(language, "hours-own", month = language.month(date), gauge = gauge));
            (day, HoursBasis::OwnDays, words)
        }
        Some((source, day)) => {
            let gauge = known.water.gauge_name(&source.hours.gauge);
            let words = said(|language| {
                let away = |km: f64| say!(language, "water-away", km = format!("{km:.0}"));
                let away = source.away_km.map_or_else(String::new, away);
                let stretched =
                    if range == OwnRange::Unknown { String::new() } else { say!(language, "hours-stretched") };
                let month = language.month(date);
                say!(language, "hours-other", month = month, gauge = gauge, away = away, stretched = stretched)
            });
            (borrowed(&day, range), HoursBasis::OtherGauge, words)
        }
        None => {
            let course = common(date, reach.latitude, clock_ahead_h(known.watershed.time_zone, reach, date), range);
            let words = said(|language| match range {
                OwnRange::Unknown => say!(language, "hours-common-small"),
                OwnRange::Measured(_) | OwnRange::Estimated(_) => say!(language, "hours-common"),
            });
            (course, HoursBasis::CommonCourse, words)
        }
    }
}

/// Hours that the clock shows more than mean solar time at noon of `date`.
fn clock_ahead_h(time_zone: Tz, reach: &Reach, date: NaiveDate) -> f64 {
    let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or(NaiveTime::MIN);
    let offset = time_zone.offset_from_utc_datetime(&date.and_time(noon)).fix();
    f64::from(offset.local_minus_utc()) / 3600.0 - reach.longitude / 15.0
}

/// By how much the warmest hour of a usual day lies above its mean on `date` at `reach`, degrees Celsius.
pub(super) fn warmest_departure_c(known: &Known, reach: &Reach, date: NaiveDate) -> f64 {
    usual_day(known, reach, date).0.departures_c.into_iter().fold(0.0, f64::max)
}

/// The hours of `today` and the days after it as far as they are in `season`; `None` without water.
#[must_use]
pub fn of(known: &Known, reach: &Reach, season: Season, water: &SeasonWater, today: NaiveDate) -> Option<WaterHours> {
    let site = known.water.reaches.get(&reach.slug)?;
    let own = known.water.own.get(&reach.slug);
    let mut first_words = None;
    let mut days = Vec::new();
    for date in today.iter_days().take(DAYS as usize) {
        let Some(index) = usize::try_from(season.day_number(date) - 1).ok().filter(|index| *index < season.len())
        else {
            continue;
        };
        let (Some(mean), Some(from)) = (water.daily[index], water.from[index]) else { continue };
        let (usual, basis, words) = usual_day(known, reach, date);
        // Only a day that was measured has extremes of its own.
        let day = site.completed.days().get(&date).filter(|day| day.basis == DayBasis::Measured);
        let temp = day.map_or_else(|| DayTemp::of_mean(mean.p50), |day| day.temp);
        let reach_hours = known.water.hours.get(&reach.slug);
        let measured = reach_hours.map_or([None; HOURS], |hours| hours.measured(own, date));
        let basis = if measured.iter().all(Option::is_some) { HoursBasis::Measured } else { basis };
        days.push(WaterDay { date, basis, hours: hours(temp, from.error_c, &usual, &measured) });
        first_words.get_or_insert(words);
    }
    Some(WaterHours { words: first_words?, days })
}
