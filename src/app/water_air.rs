//! The air of a watershed as it was known at a time, and which of it belongs to which reach.
//!
//! A gauge has air when somebody measured it there, or when it names a weather service whose forecasts
//! are kept. A day that nobody measured takes the newest forecast of it that was made before it was over.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::evening::ReachWeather;
use crate::domain::air::AirIssue;
use crate::domain::civil::end_of_day;
use crate::domain::{Gauge, Quality, Quantity, Reach, Reading, ReadingTime, Slug, Watershed};
use crate::model::temperature::{
    AirForecast, AirSeries, DayTemp, LONGEST_AIR_GAP, Series, WaterFromAir, days_from_instants,
};
use crate::store::air::air_forecasts;
use crate::store::reading::{daily_readings_of, each_instant_of};
use crate::store::{Span, StoreError, Tx};

/// Radius of the earth, km: the mean one of the ellipsoid.
const EARTH_KM: f64 = 6371.0;

/// Air at one gauge.
#[derive(Debug, Clone)]
pub(super) struct GaugeAir {
    gauge: Slug,
    place: Option<(f64, f64)>,
    /// Daily means, degrees Celsius: measured, else as forecast last.
    series: AirSeries,
    /// The newest forecast and the local day it was made on.
    issue: Option<(NaiveDate, Arc<AirIssue>)>,
}

/// What drives the water of a reach besides itself.
#[derive(Debug, Clone)]
pub struct ReachAir {
    /// The gauge whose air it is.
    pub gauge: Slug,
    /// How far from the reach, km; `None` when the reach names the gauge or nobody knows.
    pub away_km: Option<f64>,
    /// The model fitted to both.
    pub model: WaterFromAir,
    /// The forecast that is used, and when it was made; none when there is none or it is over.
    pub forecast: Option<(AirForecast, DateTime<Utc>)>,
}

/// The air of every gauge that has any, known by `known_by` and of days up to `through`.
///
/// # Errors
/// [`StoreError`] of the database.
pub(super) async fn load(
    tx: &mut Tx,
    watershed: &Watershed,
    gauges: &[Gauge],
    known_by: Option<DateTime<Utc>>,
    through: Option<NaiveDate>,
) -> Result<Vec<GaugeAir>, StoreError> {
    let mut found = Vec::new();
    for gauge in gauges {
        let air = gauge_readings(tx, watershed, &gauge.slug, Quantity::AirTemperature, known_by, through).await?;
        let mut series: AirSeries =
            air.days(watershed.time_zone).into_iter().map(|(date, day)| (date, day.tmean_c)).collect();
        let issues = air_forecasts(tx, &watershed.slug, &gauge.slug, known_by).await?;
        let day = |issue: &AirIssue| issue.made_at.with_timezone(&watershed.time_zone).date_naive();
        let last = through.unwrap_or(NaiveDate::MAX);
        let mut bridged = AirSeries::new();
        for issue in issues.iter().filter(|issue| day(issue) <= last) {
            // In the order they were made in, so that the newest stays.
            let over = day(issue);
            bridged.extend(issue.days.iter().filter(|d| d.date >= over).map(|d| (d.date, d.tmean_c)));
        }
        let issue =
            issues.into_iter().rev().find(|issue| day(issue) <= last).map(|issue| (day(&issue), Arc::new(issue)));
        // What is still to come is no series: the days up to the newest forecast's own.
        let known_to = issue.as_ref().map_or(NaiveDate::MIN, |(made, _)| *made);
        for (date, tmean_c) in bridged.range(..=known_to.min(last)) {
            series.entry(*date).or_insert(*tmean_c);
        }
        if !series.is_empty() || issue.is_some() {
            let place = gauge.latitude.zip(gauge.longitude);
            found.push(GaugeAir { gauge: gauge.slug.clone(), place, series, issue });
        }
    }
    Ok(found)
}

/// Good readings of one gauge.
#[derive(Debug, Default)]
pub(super) struct GaugeReadings {
    /// At instants.
    pub(super) instants: Vec<(DateTime<Utc>, f64)>,
    /// Of whole days.
    daily: Series,
}

impl GaugeReadings {
    /// Daily values; what was read by the day goes before what is made of instants.
    pub(super) fn days(&self, time_zone: Tz) -> Series {
        let mut days = days_from_instants(&self.instants, time_zone);
        days.extend(self.daily.iter().map(|(date, day)| (*date, *day)));
        days
    }
}

/// The good readings of `quantity` known by `known_by`, of days up to `through`.
pub(super) async fn gauge_readings(
    tx: &mut Tx,
    watershed: &Watershed,
    gauge: &Slug,
    quantity: Quantity,
    known_by: Option<DateTime<Utc>>,
    through: Option<NaiveDate>,
) -> Result<GaugeReadings, StoreError> {
    let slug = &watershed.slug;
    let mut found = GaugeReadings::default();
    let last = through.map(|date| end_of_day(watershed.time_zone, date));
    // One by one, for a reading as it is stored is many times its time and value.
    let mut take = |reading: Reading| {
        if let (Quality::Good, ReadingTime::Instant { at, value }) = (reading.quality, reading.time) {
            found.instants.push((at, value));
        }
    };
    let span = Span { from: None, to: last };
    each_instant_of(tx, slug, gauge, quantity, known_by, span, &mut take).await?;
    let dates = Span { from: None, to: through };
    for reading in daily_readings_of(tx, slug, gauge, quantity, known_by, dates).await? {
        if let (Quality::Good, ReadingTime::Day { date, mean, low, high }) = (reading.quality, reading.time) {
            found.daily.insert(date, DayTemp { tmean_c: mean, tmin_c: low, tmax_c: high });
        }
    }
    Ok(found)
}

/// The last day on which air was measured or a forecast of it was made.
pub(super) fn newest(air: &[GaugeAir]) -> Option<NaiveDate> {
    let measured = air.iter().filter_map(|one| one.series.keys().next_back().copied());
    measured.chain(air.iter().filter_map(|one| one.issue.as_ref().map(|(made, _)| *made))).max()
}

/// The air for a gauge: its own, else that of the nearest gauge with a known place, else of any.
pub(super) fn of_gauge<'a>(air: &'a [GaugeAir], gauge: &Gauge) -> Option<&'a AirSeries> {
    let place = gauge.latitude.zip(gauge.longitude);
    let away = |one: &GaugeAir| place.zip(one.place).map_or(f64::INFINITY, |(here, there)| km(here, there));
    let own = air.iter().find(|one| one.gauge == gauge.slug);
    own.or_else(|| air.iter().min_by(|a, b| away(a).total_cmp(&away(b)))).map(|one| &one.series)
}

/// The newest forecast of the weather for `reach`: of the first gauge it names that has one, else of the nearest.
pub(super) fn weather_of(air: &[GaugeAir], reach: &Reach) -> Option<ReachWeather> {
    let issues = by_nearness(air, reach, GaugeAir::stands).into_iter().filter_map(|(_, _, air)| air.issue.as_ref());
    let hourly = issues.map(|(_, issue)| issue).find(|issue| !issue.hours.is_empty());
    hourly.map(|issue| ReachWeather(issue.clone()))
}

/// What stands at gauges, those that `reach` names in its order, then the nearest first, with the place in that order
/// (`usize::MAX` where it is not named) and how far away, km. `gauge` tells gauge and place.
pub(super) fn by_nearness<'a, T>(
    all: &'a [T],
    reach: &Reach,
    gauge: impl Fn(&'a T) -> (&'a Slug, Option<(f64, f64)>),
) -> Vec<(usize, f64, &'a T)> {
    let mut order: Vec<(usize, f64, &'a T)> = all
        .iter()
        .map(|one| {
            let (slug, place) = gauge(one);
            let named = reach.gauges.iter().position(|gauge| gauge == slug).unwrap_or(usize::MAX);
            // Gauges of no known place come last.
            let away = place.map_or(f64::INFINITY, |place| km((reach.latitude, reach.longitude), place));
            (named, away, one)
        })
        .collect();
    order.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then_with(|| gauge(a.2).0.cmp(gauge(b.2).0)));
    order
}

/// Chooses air for reaches, and fits each water to each air once.
pub(super) struct Choice<'a> {
    air: &'a [GaugeAir],
    through: NaiveDate,
    fitted: BTreeMap<(Slug, Slug), Option<WaterFromAir>>,
}

impl<'a> Choice<'a> {
    /// Among `air`; days after `through` are not looked at.
    pub(super) fn among(air: &'a [GaugeAir], through: NaiveDate) -> Self {
        Self { air, through, fitted: BTreeMap::new() }
    }

    /// What drives `reach`, whose own water is that of the gauge `own`: the air of the first gauge it names
    /// that has enough, else of the nearest one. None without enough air.
    pub(super) fn of(&mut self, reach: &Reach, own: &Slug, water: &Series) -> Option<ReachAir> {
        let order = by_nearness(self.air, reach, GaugeAir::stands);
        order.into_iter().find_map(|(named, away_km, air)| {
            let through = self.through;
            let fitted = self
                .fitted
                .entry((own.clone(), air.gauge.clone()))
                .or_insert_with(|| WaterFromAir::fit(water, &air.series, through).ok());
            let model = fitted.clone()?;
            let away_km = (named == usize::MAX && away_km.is_finite()).then_some(away_km);
            let forecast = air.ahead(&model, through);
            Some(ReachAir { gauge: air.gauge.clone(), away_km, model, forecast })
        })
    }
}

impl GaugeAir {
    fn stands(&self) -> (&Slug, Option<(f64, f64)>) {
        (&self.gauge, self.place)
    }

    /// The newest forecast as far as it still speaks of days to come and joins the air that is known.
    fn ahead(&self, model: &WaterFromAir, through: NaiveDate) -> Option<(AirForecast, DateTime<Utc>)> {
        let (made, issue) = self.issue.as_ref().filter(|(made, _)| *made <= through)?;
        let last = *self.series.range(..=through).next_back()?.0;
        let days: Vec<(NaiveDate, f64)> =
            issue.days.iter().filter(|day| day.date > last).map(|day| (day.date, day.tmean_c)).collect();
        let joins = days.first().is_some_and(|(first, _)| (*first - last).num_days() <= LONGEST_AIR_GAP + 1);
        let comes = days.last().is_some_and(|(date, _)| *date > through);
        let forecast = model.coming(*made, &days).ok().filter(|_| joins && comes)?;
        Some((forecast, issue.made_at))
    }
}

/// Distance of two places, degrees north and east, along a great circle.
pub(super) fn km((lat_a, lon_a): (f64, f64), (lat_b, lon_b): (f64, f64)) -> f64 {
    let (north, east) = ((lat_b - lat_a).to_radians() / 2.0, (lon_b - lon_a).to_radians() / 2.0);
    let (a, b) = (lat_a.to_radians().cos(), lat_b.to_radians().cos());
    let haversine = north.sin().powi(2) + a * b * east.sin().powi(2);
    2.0 * EARTH_KM * haversine.sqrt().min(1.0).asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_degree_of_latitude_is_111_km() {
        assert!((km((52.0, -3.0), (53.0, -3.0)) - 111.19).abs() < 0.01);
        assert!((km((60.0, 0.0), (60.0, 1.0)) - 55.6).abs() < 0.1);
        assert_eq!(km((52.0, -3.0), (52.0, -3.0)), 0.0);
    }
}
