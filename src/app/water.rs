//! Water temperature of every reach of a watershed, as it was known at a time.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};

use crate::domain::season::Season;
use crate::domain::{Quality, Reach, ReadingTime, Slug, Watershed};
use crate::model::clock::Drivers;
use crate::model::daylength::day_length_hours;
use crate::model::temperature::{
    DayTemp, Neighbour, Series, SiteTemperature, central_season, days_from_instants, site_temperature,
};
use crate::store::{Span, StoreError, Tx, place, reading};

/// Water of the reaches of one watershed.
#[derive(Debug, Clone, Default)]
pub struct Water {
    /// By reach; absent where neither the reach nor a neighbour has enough.
    pub reaches: BTreeMap<Slug, SiteTemperature>,
    /// Last day with a good reading anywhere.
    pub newest: Option<NaiveDate>,
}

/// Reads the good readings known by `known_by` up to and with `through` and completes them per reach.
///
/// A reach's own series is that of its first gauge with readings; all other gauges are neighbours.
///
/// # Errors
/// [`StoreError`] from the database.
pub async fn load(
    tx: &mut Tx,
    watershed: &Watershed,
    reaches: &[Reach],
    known_by: Option<DateTime<Utc>>,
    through: NaiveDate,
) -> Result<Water, StoreError> {
    let mut series: BTreeMap<Slug, Series> = BTreeMap::new();
    for gauge in place::gauges(tx, &watershed.slug).await? {
        let days = gauge_series(tx, watershed, &gauge.slug, known_by, through).await?;
        if !days.is_empty() {
            series.insert(gauge.slug, days);
        }
    }
    let newest = series.values().filter_map(|s| s.keys().next_back().copied()).max();
    let empty = Series::new();
    let mut found = BTreeMap::new();
    for reach in reaches {
        let own = reach.gauges.iter().find(|g| series.contains_key(*g));
        let neighbours: Vec<Neighbour<'_>> = series
            .iter()
            .filter(|(gauge, _)| Some(*gauge) != own)
            .map(|(gauge, series)| Neighbour { gauge, series })
            .collect();
        let own = own.and_then(|gauge| series.get(gauge)).unwrap_or(&empty);
        if let Ok(site) = site_temperature(own, &neighbours, through) {
            found.insert(reach.slug.clone(), site);
        }
    }
    Ok(Water { reaches: found, newest })
}

async fn gauge_series(
    tx: &mut Tx,
    watershed: &Watershed,
    gauge: &Slug,
    known_by: Option<DateTime<Utc>>,
    through: NaiveDate,
) -> Result<Series, StoreError> {
    let instants: Vec<(DateTime<Utc>, f64)> =
        reading::instant_readings(tx, &watershed.slug, gauge, known_by, Span { from: None, to: None })
            .await?
            .into_iter()
            .filter(|r| r.quality == Quality::Good)
            .filter_map(|r| match r.time {
                ReadingTime::Instant { at, value_c } => Some((at, value_c)),
                ReadingTime::Day { .. } => None,
            })
            .collect();
    let mut days = days_from_instants(&instants, watershed.time_zone);
    days.retain(|date, _| *date <= through);
    let dates = Span { from: None, to: Some(through) };
    for reading in reading::daily_readings(tx, &watershed.slug, gauge, known_by, dates).await? {
        if let ReadingTime::Day { date, tmean_c, tmin_c, tmax_c } = reading.time
            && reading.quality == Quality::Good
        {
            days.insert(date, DayTemp { tmean_c, tmin_c, tmax_c });
        }
    }
    Ok(days)
}

impl Water {
    /// The likeliest water of `season` on `reach`; zeros without any water, for the calendar alone.
    #[must_use]
    pub fn central(&self, reach: &Reach, season: Season) -> Drivers {
        match self.reaches.get(&reach.slug) {
            Some(site) => {
                let days = central_season(&site.completed, &site.climatology, season);
                drivers(reach, season, days.iter().map(|d| d.temp))
            }
            None => drivers(reach, season, std::iter::repeat_n(DayTemp::of_mean(0.0), season.len())),
        }
    }

    /// The usual year of `reach`; `None` without water.
    #[must_use]
    pub fn usual(&self, reach: &Reach, season: Season) -> Option<Drivers> {
        let site = self.reaches.get(&reach.slug)?;
        Some(drivers(reach, season, (1..=season.len()).map(|day| site.climatology.usual_day(season.date(day)))))
    }
}

/// Clock drivers of `days` of `season` at `reach`.
pub fn drivers(reach: &Reach, season: Season, days: impl Iterator<Item = DayTemp>) -> Drivers {
    let (tmin_c, tmax_c) = days.map(|d| (d.tmin_c, d.tmax_c)).unzip();
    let day_length_hours =
        (1..=season.len()).map(|day| day_length_hours(season.date(day), reach.latitude, reach.longitude)).collect();
    Drivers { tmin_c, tmax_c, day_length_hours }
}
