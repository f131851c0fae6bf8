//! Temperatures of a reach with the help of other gauges of its watershed.
//!
//! In order of preference:
//!
//! 1. The reach has a yearly cycle of its own: its days, short gaps filled; every other day up to
//!    the last one used is filled by regression of its anomaly on that of the best correlated
//!    neighbour that has the day, with the residual standard deviation as its error, or from the air
//!    ([`WaterFromAir`]) where that errs less or no neighbour has the day.
//! 2. Its own days are too few for a yearly cycle but overlap a neighbour's in warm and cold water:
//!    all days by regression on that neighbour, its climatology mapped the same way, the error with
//!    the usual term for prediction away from the mean.
//! 3. Otherwise the mean of the neighbours: mean climatology plus mean anomaly, with an error of the
//!    day and an error of the level, which holds all year. With two neighbours or more both are
//!    measured by how the neighbours differ; with one they are [`LONE_LEVEL_SD_C`] and
//!    [`LONE_DAY_SD_C`] (our choice, no source).
//!
//! Days measured on the reach itself are always kept as measured.

use chrono::NaiveDate;

use super::TemperatureError;
use super::climatology::Climatology;
use super::from_air::WaterFromAir;
use super::gaps::{Completed, CompletedDay, DayBasis};
use super::series::Series;
use crate::domain::Slug;

/// Error of the level of a reach known from one neighbour alone, degrees Celsius.
pub const LONE_LEVEL_SD_C: f64 = 2.0;
/// Error of one day of a reach known from one neighbour alone, degrees Celsius.
pub const LONE_DAY_SD_C: f64 = 1.0;
/// The error of the level is never taken as less, degrees Celsius.
const SMALLEST_LEVEL_SD_C: f64 = 1.0;
/// The error of a day borrowed from neighbours is never taken as less, degrees Celsius.
const SMALLEST_DAY_SD_C: f64 = 0.3;
/// Fewest common days for a regression of anomalies.
const FEWEST_COMMON: usize = 60;
/// Weakest correlation of anomalies worth using: below it a regression says no more than the climatology.
const WEAKEST_CORRELATION: f64 = 0.3;
/// Fewest common days for a regression of temperatures.
const FEWEST_COMMON_SHORT: usize = 30;
/// Smallest spread of the neighbour over the common days, degrees Celsius, that tells a slope.
const SMALLEST_SPREAD_C: f64 = 2.0;

/// Another gauge of the watershed.
#[derive(Debug, Clone, Copy)]
pub struct Neighbour<'a> {
    /// Which one.
    pub gauge: &'a Slug,
    /// Its daily series; days after the last one used are not looked at.
    pub series: &'a Series,
}

/// How a reach's temperatures came about; to be stated where they are shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SiteMethod {
    /// Its own gauge, helped out by these in long gaps.
    Own {
        /// Gauges that filled days, best first.
        helpers: Vec<Slug>,
    },
    /// Regression on one neighbour.
    Regression {
        /// The neighbour.
        gauge: Slug,
    },
    /// Between two gauges of the same water, weighted by the way to each.
    Between {
        /// The gauge above.
        upper: Slug,
        /// The gauge below.
        lower: Slug,
    },
    /// Mean of the neighbours, level uncertain.
    NeighbourMean {
        /// The neighbours.
        gauges: Vec<Slug>,
    },
}

/// What is known of a reach's temperature up to a day.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteTemperature {
    /// Known days.
    pub completed: Completed,
    /// The usual year.
    pub climatology: Climatology,
    /// How it came about.
    pub method: SiteMethod,
    /// Days estimated from the air.
    pub days_from_air: usize,
}

/// Puts together what is known of a reach's temperature up to and with the day `through`.
///
/// # Errors
/// [`TemperatureError::NoTemperature`] when neither the reach nor a neighbour has days enough.
pub fn site_temperature(
    own: &Series,
    neighbours: &[Neighbour<'_>],
    through: NaiveDate,
) -> Result<SiteTemperature, TemperatureError> {
    site_temperature_with_air(own, neighbours, None, through)
}

/// As [`site_temperature`], with days from the air where the reach has a model for that, fitted to its
/// own days up to `through` at the latest.
///
/// # Errors
/// As [`site_temperature`]; [`TemperatureError::LooksAhead`] when `air` has seen days after `through`.
pub fn site_temperature_with_air(
    own: &Series,
    neighbours: &[Neighbour<'_>],
    air: Option<&WaterFromAir>,
    through: NaiveDate,
) -> Result<SiteTemperature, TemperatureError> {
    if let Some(seen) = air.map(WaterFromAir::through).filter(|seen| *seen > through) {
        return Err(TemperatureError::LooksAhead { through: seen, as_of: through });
    }
    // A neighbour with too few days for a cycle is of no help, which is no fault.
    let known: Vec<Known<'_>> = neighbours
        .iter()
        .filter_map(|n| {
            let climatology = Climatology::fit(n.series, through).ok()?;
            Some(Known { gauge: n.gauge, series: n.series, climatology })
        })
        .collect();
    if let Ok(climatology) = Climatology::fit(own, through) {
        return Ok(own_with_helpers(own, climatology, &known, air, through));
    }
    if let Some(site) = by_regression(own, &known, through) {
        return Ok(site);
    }
    by_mean(own, &known, through).ok_or(TemperatureError::NoTemperature)
}

struct Known<'a> {
    gauge: &'a Slug,
    series: &'a Series,
    climatology: Climatology,
}

/// A straight line y = intercept + slope x through pairs.
struct Line {
    n: f64,
    mean_x: f64,
    sxx: f64,
    intercept: f64,
    slope: f64,
    correlation: f64,
    residual_sd: f64,
}

impl Line {
    fn through(pairs: &[(f64, f64)]) -> Option<Self> {
        let n = pairs.len() as f64;
        if pairs.len() < 3 {
            return None;
        }
        let mean_x = pairs.iter().map(|p| p.0).sum::<f64>() / n;
        let mean_y = pairs.iter().map(|p| p.1).sum::<f64>() / n;
        let sum = |f: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|p| f(p.0 - mean_x, p.1 - mean_y)).sum::<f64>();
        let (sxx, sxy, syy) = (sum(&|x, _| x * x), sum(&|x, y| x * y), sum(&|_, y| y * y));
        if sxx <= 0.0 {
            return None;
        }
        let slope = sxy / sxx;
        let correlation = if syy > 0.0 { sxy / (sxx * syy).sqrt() } else { 0.0 };
        let residual_sd = ((syy - slope * sxy).max(0.0) / (n - 2.0)).sqrt();
        Some(Self { n, mean_x, sxx, intercept: mean_y - slope * mean_x, slope, correlation, residual_sd })
    }

    fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// Standard error of a new value at `x`; the pairs count as `share` of their number because
    /// neighbouring days are alike.
    fn prediction_sd(&self, x: f64, share: f64) -> f64 {
        let away = (x - self.mean_x).powi(2) / (self.sxx * share);
        self.residual_sd * (1.0 + (self.n * share).recip() + away).sqrt()
    }
}

/// A neighbour's anomaly made into the reach's own.
struct Helper<'a> {
    gauge: &'a Slug,
    series: &'a Series,
    /// Usual years of the reach and of the neighbour that the anomalies are taken from.
    own: Climatology,
    there: Climatology,
    line: Line,
}

impl<'a> Helper<'a> {
    fn fit(own: &Series, climatology: &Climatology, n: &Known<'a>, through: NaiveDate) -> Option<Self> {
        let common = |this: &Series, other: &Series| -> Series {
            this.range(..=through).filter(|(date, _)| other.contains_key(date)).map(|(d, t)| (*d, *t)).collect()
        };
        let (mine, theirs) = (common(own, n.series), common(n.series, own));
        if mine.len() < FEWEST_COMMON {
            return None;
        }
        // Both usual years from the same days: a warm spring that one of them missed would else
        // pass for a difference between the two waters.
        let (own, there) = match (Climatology::fit(&mine, through), Climatology::fit(&theirs, through)) {
            (Ok(own), Ok(there)) => (own, there),
            _ => (climatology.clone(), n.climatology.clone()),
        };
        let pairs: Vec<(f64, f64)> = theirs
            .iter()
            .zip(&mine)
            .map(|((date, x), (_, y))| (x.tmean_c - there.mean_c(*date), y.tmean_c - own.mean_c(*date)))
            .collect();
        let line = Line::through(&pairs)?;
        (line.correlation >= WEAKEST_CORRELATION).then_some(Self { gauge: n.gauge, series: n.series, own, there, line })
    }

    /// Share of the anomaly's standard deviation that the neighbour does not tell.
    fn unexplained(&self) -> f64 {
        (1.0 - self.line.correlation.powi(2)).max(0.0).sqrt()
    }

    /// Adds the days that the neighbour has and `completed` lacks.
    fn fill(&self, completed: &mut Completed, climatology: &Climatology) {
        for (date, day) in self.series.range(..=completed.through) {
            if !completed.days.contains_key(date) {
                let anomaly = self.line.at(day.tmean_c - self.there.mean_c(*date));
                let temp = climatology.with_range(*date, self.own.mean_c(*date) + anomaly);
                completed.insert_estimate(*date, temp, self.own.sd_c(*date) * self.unexplained(), DayBasis::Gauge);
            }
        }
    }
}

/// Where a missing day can come from.
enum Source<'a> {
    Gauge(Box<Helper<'a>>),
    Air(&'a WaterFromAir),
}

impl Source<'_> {
    /// Usual error, degrees Celsius.
    fn usual_error_c(&self) -> f64 {
        match self {
            Self::Gauge(helper) => helper.own.mean_sd_c() * helper.unexplained(),
            Self::Air(model) => model.mean_sd_c(),
        }
    }
}

fn own_with_helpers(
    own: &Series,
    climatology: Climatology,
    known: &[Known<'_>],
    air: Option<&WaterFromAir>,
    through: NaiveDate,
) -> SiteTemperature {
    let mut completed = Completed::from_measured(own, &climatology, through);
    let gauges = known
        .iter()
        .filter_map(|n| Helper::fit(own, &climatology, n, through))
        .map(|helper| Source::Gauge(Box::new(helper)));
    let mut sources: Vec<Source<'_>> = gauges.chain(air.map(Source::Air)).collect();
    sources.sort_by(|a, b| a.usual_error_c().total_cmp(&b.usual_error_c()));
    let (mut helpers, mut days_from_air) = (Vec::new(), 0);
    for source in &sources {
        let before = completed.days.len();
        match source {
            Source::Gauge(helper) => helper.fill(&mut completed, &climatology),
            Source::Air(model) => model.fill(&mut completed, &climatology),
        }
        let filled = completed.days.len() - before;
        match source {
            Source::Gauge(helper) if filled > 0 => helpers.push(helper.gauge.clone()),
            Source::Gauge(_) => {}
            Source::Air(_) => days_from_air = filled,
        }
    }
    SiteTemperature { completed, climatology, method: SiteMethod::Own { helpers }, days_from_air }
}

fn by_regression(own: &Series, known: &[Known<'_>], through: NaiveDate) -> Option<SiteTemperature> {
    let fitted = known.iter().filter_map(|n| {
        let pairs: Vec<(f64, f64)> =
            own.range(..=through).filter_map(|(date, day)| Some((n.series.get(date)?.tmean_c, day.tmean_c))).collect();
        let line = Line::through(&pairs)?;
        let spread = (line.sxx / line.n).sqrt();
        (pairs.len() >= FEWEST_COMMON_SHORT && spread >= SMALLEST_SPREAD_C && line.slope > 0.0).then_some((n, line))
    });
    let (n, line) = fitted.min_by(|a, b| a.1.residual_sd.total_cmp(&b.1.residual_sd))?;
    let climatology = n.climatology.mapped(line.intercept, line.slope, line.residual_sd);
    let share = (1.0 - climatology.phi()) / (1.0 + climatology.phi());
    let mut completed = Completed::from_measured(own, &climatology, through);
    for (date, day) in n.series.range(..=through) {
        let temp = climatology.with_range(*date, line.at(day.tmean_c));
        completed.insert_estimate(*date, temp, line.prediction_sd(day.tmean_c, share), DayBasis::Gauge);
    }
    Some(SiteTemperature {
        completed,
        climatology,
        method: SiteMethod::Regression { gauge: n.gauge.clone() },
        days_from_air: 0,
    })
}

fn by_mean(own: &Series, known: &[Known<'_>], through: NaiveDate) -> Option<SiteTemperature> {
    let all: Vec<Climatology> = known.iter().map(|n| n.climatology.clone()).collect();
    let climatology = Climatology::mean_of(&all)?;
    let n = all.len() as f64;
    let level_sd_c = if all.len() < 2 {
        LONE_LEVEL_SD_C
    } else {
        let centre = climatology.coefficients()[0];
        let variance = all.iter().map(|c| (c.coefficients()[0] - centre).powi(2)).sum::<f64>() / (n - 1.0);
        // A new reach differs from the mean of n others by its own departure and by theirs.
        (variance * (1.0 + n.recip())).sqrt().max(SMALLEST_LEVEL_SD_C)
    };
    let mut dates: Vec<NaiveDate> = known.iter().flat_map(|k| k.series.range(..=through).map(|(d, _)| *d)).collect();
    dates.sort_unstable();
    dates.dedup();
    let anomalies: Vec<(NaiveDate, Vec<f64>)> = dates
        .into_iter()
        .map(|date| {
            let departure = |k: &Known<'_>| Some(k.series.get(&date)?.tmean_c - k.climatology.mean_c(date));
            (date, known.iter().filter_map(departure).collect())
        })
        .collect();
    let day_sd_c = disagreement(&anomalies).map_or(LONE_DAY_SD_C, |sd| sd.max(SMALLEST_DAY_SD_C));

    // Only the days themselves: a gap between two of them is for the neighbours to fill.
    let measured = own.range(..=through).map(|(date, day)| {
        let temp = if day.is_mean_only() { climatology.with_range(*date, day.tmean_c) } else { *day };
        (*date, CompletedDay::measured(temp))
    });
    let mut completed = Completed { days: measured.collect(), through, level_sd_c };
    for (date, values) in &anomalies {
        let m = values.len() as f64;
        let mean = climatology.mean_c(*date) + values.iter().sum::<f64>() / m;
        let sd = day_sd_c * (1.0 + m.recip()).sqrt();
        completed.insert_estimate(*date, climatology.with_range(*date, mean), sd, DayBasis::Gauges);
    }
    let gauges = known.iter().map(|k| k.gauge.clone()).collect();
    Some(SiteTemperature { completed, climatology, method: SiteMethod::NeighbourMean { gauges }, days_from_air: 0 })
}

/// Pooled standard deviation of the neighbours' anomalies about their mean of the day; `None`
/// without a day that two of them share.
fn disagreement(anomalies: &[(NaiveDate, Vec<f64>)]) -> Option<f64> {
    let (mut square, mut free) = (0.0, 0.0);
    for (_, values) in anomalies.iter().filter(|(_, values)| values.len() > 1) {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        square += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        free += values.len() as f64 - 1.0;
    }
    (free > 0.0).then(|| (square / free).sqrt())
}
