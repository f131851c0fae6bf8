//! A reach between two gauges of the same water.
//!
//! At the share s of the way from the upper gauge (0) to the lower one (1) the water is taken as
//! (1 - s) upper + s lower, day by day; the way is measured along the river or, where only heights
//! are known, by the fall. Days of the reach's own, where there are some, set its level: the mean of
//! what they lie above the weighted mean.
//!
//! The error is that of a random walk along the river that is known at both gauges: variance
//! s (1 - s) V, where V is the mean square of the difference between the gauges, of its yearly cycle
//! for the level and of its anomaly for the single day (our choice, no source; a tributary does what
//! it wants, so neither is taken as less than [`MIDWAY_LEVEL_SD_C`] and [`MIDWAY_DAY_SD_C`] half-way). A
//! day that only one gauge has takes that gauge's anomaly, with the variance of the way to it.
//! Own days show the error of a day where that is larger, and of the level as far as they cover the year.

use std::collections::BTreeSet;

use chrono::{Datelike, NaiveDate};

use super::TemperatureError;
use super::climatology::{Climatology, DielRange};
use super::gaps::{Completed, CompletedDay, DayBasis};
use super::neighbours::{Neighbour, SiteMethod, SiteTemperature};
use super::series::Series;

/// Least error of the level half-way between the gauges, degrees Celsius (our choice).
pub const MIDWAY_LEVEL_SD_C: f64 = 1.0;
/// Least error of a day half-way between the gauges, degrees Celsius (our choice).
pub const MIDWAY_DAY_SD_C: f64 = 0.3;
/// Fewest days of the reach's own that set its level.
const FEWEST_OWN_DAYS: usize = 10;

/// Two gauges of the same water and a place between them.
#[derive(Debug, Clone, Copy)]
pub struct Between<'a> {
    upper: Neighbour<'a>,
    lower: Neighbour<'a>,
    share: f64,
}

impl<'a> Between<'a> {
    /// The place `at` between the gauges at `upper_at` and `lower_at`, all three in kilometres along
    /// the river or all three in metres of height.
    ///
    /// # Errors
    /// [`TemperatureError::NotBetween`] when it does not lie between them.
    pub fn new(
        (upper, upper_at): (Neighbour<'a>, f64),
        (lower, lower_at): (Neighbour<'a>, f64),
        at: f64,
    ) -> Result<Self, TemperatureError> {
        let share = (at - upper_at) / (lower_at - upper_at);
        if (0.0..=1.0).contains(&share) { Ok(Self { upper, lower, share }) } else { Err(TemperatureError::NotBetween) }
    }

    /// Share of the way from the upper gauge, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.share
    }
}

/// What is known up to and with `through` of a reach that lies `between` two gauges and has few days
/// of its `own`, or none. Measured days stay as measured, all others are estimates.
///
/// # Errors
/// [`TemperatureError`] of a gauge that does not know its usual year.
pub fn between(own: &Series, between: Between<'_>, through: NaiveDate) -> Result<SiteTemperature, TemperatureError> {
    let Between { upper, lower, share } = between;
    let above = Climatology::fit(upper.series, through)?;
    let below = Climatology::fit(lower.series, through)?;
    let mut climatology = Climatology::weighted(&above, &below, share);

    let common = |date: &NaiveDate| Some((upper.series.get(date)?.tmean_c, lower.series.get(date)?.tmean_c));
    let mixed = |(up, low): (f64, f64)| (1.0 - share) * up + share * low;
    let differences: Vec<f64> = upper
        .series
        .range(..=through)
        .filter_map(|(date, _)| common(date).map(|(up, low)| (low - below.mean_c(*date)) - (up - above.mean_c(*date))))
        .collect();
    let usual_differences: Vec<f64> = above.mean_c.iter().zip(&below.mean_c).map(|(a, b)| b - a).collect();
    let midway = (share * (1.0 - share)).sqrt();
    let day_variance = mean_square(&differences).max((2.0 * MIDWAY_DAY_SD_C).powi(2));
    let mut day_sd_c = midway * day_variance.sqrt();
    let mut level_sd_c = midway * mean_square(&usual_differences).sqrt().max(2.0 * MIDWAY_LEVEL_SD_C);

    let excess: Vec<f64> =
        own.range(..=through).filter_map(|(date, day)| Some(day.tmean_c - mixed(common(date)?))).collect();
    if excess.len() >= FEWEST_OWN_DAYS {
        let n = excess.len() as f64;
        let level = excess.iter().sum::<f64>() / n;
        climatology = climatology.mapped(level, 1.0, 0.0);
        let shown = (excess.iter().map(|e| (e - level).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        day_sd_c = day_sd_c.max(shown);
        // Neighbouring days are alike, so that they tell the level less well than their number says,
        // and those of one season tell nothing of the others.
        let free = (n * (1.0 - climatology.phi()) / (1.0 + climatology.phi())).max(1.0);
        let days: BTreeSet<u32> = own.range(..=through).map(|(date, _)| date.ordinal()).collect();
        let unseen = (1.0 - days.len() as f64 / 365.0).max(0.0);
        level_sd_c = level_sd_c.min((shown / free.sqrt()).hypot(unseen * level_sd_c));
    }

    let measured = own.range(..=through).map(|(date, day)| {
        let temp = if day.is_mean_only() { climatology.with_range(*date, day.tmean_c) } else { *day };
        (*date, CompletedDay::measured(temp))
    });
    let mut completed = Completed { days: measured.collect(), through, level_sd_c };
    let gauges = [(upper.series, &above, share), (lower.series, &below, 1.0 - share)];
    for (series, usual, way) in gauges {
        for (date, day) in series.range(..=through) {
            let (anomaly, sd_c) = match common(date) {
                Some((up, low)) => (mixed((up - above.mean_c(*date), low - below.mean_c(*date))), day_sd_c),
                None => (day.tmean_c - usual.mean_c(*date), day_sd_c.hypot((way * day_variance).sqrt())),
            };
            completed.insert_estimate(
                *date,
                climatology.with_range(*date, climatology.mean_c(*date) + anomaly),
                sd_c,
                DayBasis::Between,
            );
        }
    }
    let method = SiteMethod::Between { upper: upper.gauge.clone(), lower: lower.gauge.clone() };
    Ok(SiteTemperature { completed, climatology, method, days_from_air: 0 })
}

impl Climatology {
    /// The usual year at the share of the way from `upper` to `lower`.
    fn weighted(upper: &Self, lower: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| (1.0 - share) * a + share * b;
        let both = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| mix(*a, *b)).collect();
        let range = |month: usize| match (upper.diel[month], lower.diel[month]) {
            (Some(a), Some(b)) => {
                Some(DielRange { below_c: mix(a.below_c, b.below_c), above_c: mix(a.above_c, b.above_c) })
            }
            (a, b) => a.or(b),
        };
        Self {
            coefficients: std::array::from_fn(|k| mix(upper.coefficients[k], lower.coefficients[k])),
            sd_c: both(&upper.sd_c, &lower.sd_c),
            mean_c: both(&upper.mean_c, &lower.mean_c),
            phi: mix(upper.phi, lower.phi),
            diel: std::array::from_fn(range),
            through: upper.through.max(lower.through),
        }
    }
}

fn mean_square(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum::<f64>() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Slug;
    use crate::model::temperature::DayTemp;

    fn date(year: i32, ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(year, ordinal).expect("a date")
    }

    /// Two years of a wave about `level_c` with weather of amplitude `weather_c`.
    fn gauge(level_c: f64, weather_c: f64) -> Series {
        let day = |d: NaiveDate| {
            let turn = std::f64::consts::TAU * f64::from(d.to_epoch_days());
            let mean = level_c - 6.0 * (turn / 365.25).cos() + weather_c * (turn / 17.0).sin();
            (d, DayTemp { tmean_c: mean, tmin_c: mean - 1.0, tmax_c: mean + 2.0 })
        };
        date(2001, 1).iter_days().take(730).map(day).collect()
    }

    fn slugs() -> (Slug, Slug) {
        (Slug::new("upper").expect("a slug"), Slug::new("lower").expect("a slug"))
    }

    #[test]
    fn a_reach_a_quarter_of_the_way_down_is_a_quarter_of_the_way_warmer() {
        let (upper, lower, (up, low)) = (gauge(8.0, 1.0), gauge(12.0, 3.0), slugs());
        let (up, low) = (Neighbour { gauge: &up, series: &upper }, Neighbour { gauge: &low, series: &lower });
        // By kilometres below the upper gauge or by heights, it is the same place.
        let place = Between::new((up, 0.0), (low, 20.0), 5.0).expect("between");
        let heights = Between::new((up, 400.0), (low, 320.0), 380.0).expect("between");
        assert_eq!((place.share(), heights.share()), (0.25, 0.25));
        for outside in [-1.0, 21.0, f64::NAN] {
            assert_eq!(Between::new((up, 0.0), (low, 20.0), outside).err(), Some(TemperatureError::NotBetween));
        }
        let site = between(&Series::new(), place, date(2002, 365)).expect("two gauges");
        let day = date(2002, 190);
        let found = site.completed.days()[&day];
        assert!((found.temp.tmean_c - 0.75 * upper[&day].tmean_c - 0.25 * lower[&day].tmean_c).abs() < 1e-9);
        assert!((found.temp.tmax_c - found.temp.tmean_c - 2.0).abs() < 1e-9 && found.is_estimated());
        // The level differs by 4 all year: sqrt(3/16) 4 = 1.73. The weather by 2 in amplitude, of
        // which the mean square is 2: sqrt(3/16) sqrt(2) = 0.61.
        assert!((site.completed.level_sd_c() - 1.73).abs() < 0.05, "{}", site.completed.level_sd_c());
        assert!((found.sd_c - 0.61).abs() < 0.05, "{}", found.sd_c);
        assert!(matches!(site.method, SiteMethod::Between { .. }));
        // At a gauge itself nothing is left to err.
        let at = Between::new((up, 0.0), (low, 20.0), 0.0).expect("between");
        let site = between(&Series::new(), at, date(2002, 365)).expect("two gauges");
        assert!(site.completed.level_sd_c() < 1e-9 && site.completed.days()[&day].sd_c < 1e-3);
    }

    #[test]
    fn own_days_set_the_level_and_a_day_of_one_gauge_alone_errs_more() {
        let (upper, mut lower, (up, low)) = (gauge(8.0, 1.0), gauge(12.0, 3.0), slugs());
        // A cold spring runs in: three degrees below the mean of the gauges.
        let own: Series = upper
            .iter()
            .map(|(d, t)| (*d, DayTemp::of_mean(f64::midpoint(t.tmean_c, lower[d].tmean_c) - 3.0)))
            .filter(|(d, _)| (date(2001, 100)..date(2001, 140)).contains(d))
            .collect();
        lower.remove(&date(2002, 50));
        let (up, low) = (Neighbour { gauge: &up, series: &upper }, Neighbour { gauge: &low, series: &lower });
        let place = Between::new((up, 0.0), (low, 20.0), 10.0).expect("between");
        let site = between(&own, place, date(2002, 365)).expect("two gauges");
        let day = date(2002, 190);
        let found = site.completed.days()[&day].temp.tmean_c;
        assert!((found - f64::midpoint(upper[&day].tmean_c, lower[&day].tmean_c) + 3.0).abs() < 1e-6, "{found}");
        // Forty days of the year have shown the level, which leaves 0.89 of its error of 2.
        assert!(
            (site.completed.level_sd_c() - 0.89 * 2.0).abs() < 0.1
                && !site.completed.days()[&date(2001, 120)].is_estimated()
        );
        assert!(site.completed.days()[&date(2002, 50)].sd_c > site.completed.days()[&date(2002, 51)].sd_c + 0.5);
    }
}
