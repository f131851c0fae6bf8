//! What the water usually is on a date: mean, spread, daily range, and how long a departure lasts.
//!
//! The mean is two harmonics of the year by least squares, c(d) = b0 + sum over k = 1, 2 of
//! b_kc cos(2 pi k d / 365.25) + b_ks sin(2 pi k d / 365.25) with d = day of year - 1. The anomaly
//! x = T - c follows an autoregression of order one: x(d + h) = phi^h x(d) on average, with
//! variance sd^2 (1 - phi^(2h)).

use std::f64::consts::TAU;

use chrono::{Datelike, Days, NaiveDate};
use nalgebra::{Matrix5, Vector5};

use super::TemperatureError;
use super::series::{DayTemp, Series};

/// Fewest different days of the year that carry a yearly cycle.
pub const FEWEST_DAYS: usize = 180;
/// Days in the table by day of year.
const TABLE: usize = 366;
const TABLE_DAYS: i64 = 366;
/// Half-width of the triangular window that smooths the spread by season, days.
const SPREAD_WINDOW: i64 = 45;
/// Fewest pairs that settle the correlation at one lag.
const FEWEST_PAIRS: usize = 30;
/// Correlation where the data cannot tell: the middle of what we measured on four rivers (0.80 to 0.91).
const USUAL_PHI: f64 = 0.85;
/// Upper bound of the correlation, to keep forecasts returning to the mean.
const LARGEST_PHI: f64 = 0.99;
/// Prior sd of the coefficients of the two harmonics, degrees Celsius. They matter only where part
/// of the year has no data: without them the second harmonic swings freely there.
const PRIOR_SD: [f64; 5] = [f64::INFINITY, 15.0, 15.0, 2.0, 2.0];

/// Usual distance of a day's extremes from its mean, degrees Celsius, both positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DielRange {
    /// Mean minus minimum.
    pub below_c: f64,
    /// Maximum minus mean.
    pub above_c: f64,
}

/// The usual year of one reach.
#[derive(Debug, Clone, PartialEq)]
pub struct Climatology {
    /// b0, b1 cos, b1 sin, b2 cos, b2 sin; degrees Celsius.
    pub(super) coefficients: [f64; 5],
    /// Standard deviation of the anomaly by day of year, degrees Celsius; 366 values.
    pub(super) sd_c: Vec<f64>,
    /// Mean by day of year, from the coefficients.
    pub(super) mean_c: Vec<f64>,
    /// Correlation of the anomaly from one day to the next.
    pub(super) phi: f64,
    /// Usual daily range by month; `None` where only means are known.
    pub(super) diel: [Option<DielRange>; 12],
    /// The last day whose data were used.
    pub(super) through: NaiveDate,
}

impl Climatology {
    /// Fits the usual year to the days of `series` up to and with `through`; later days are not looked at.
    ///
    /// # Errors
    /// [`TemperatureError::TooFewDays`] with fewer than [`FEWEST_DAYS`] different days of the year.
    pub fn fit(series: &Series, through: NaiveDate) -> Result<Self, TemperatureError> {
        let basis: Vec<Vector5<f64>> = (0..TABLE).map(harmonics).collect();
        let mut count = [0_u32; TABLE];
        let mut sum = [0.0; TABLE];
        for (date, day) in series.range(..=through) {
            count[date.ordinal0() as usize] += 1;
            sum[date.ordinal0() as usize] += day.tmean_c;
        }
        let days = count.iter().filter(|n| **n > 0).count();
        if days < FEWEST_DAYS {
            return Err(TemperatureError::TooFewDays { days, needed: FEWEST_DAYS });
        }
        let mut normal = Matrix5::zeros();
        let mut right = Vector5::zeros();
        for (index, h) in basis.iter().enumerate() {
            normal += h * h.transpose() * f64::from(count[index]);
            right += h * sum[index];
        }
        // Two passes: the first without priors gives the residual variance that weighs them.
        let mut coefficients = solve(normal, right)?;
        let mut phi = 0.0;
        for pass in 0..2 {
            let mean_c: Vec<f64> = basis.iter().map(|h| h.dot(&coefficients)).collect();
            let anomalies = Anomalies::of(series, through, &mean_c);
            phi = anomalies.phi();
            if pass == 0 {
                // A run of like anomalies counts as one observation of (1 - phi) / (1 + phi) weight.
                let weight = anomalies.variance() * (1.0 + phi) / (1.0 - phi);
                let penalty = Vector5::from_iterator(PRIOR_SD.iter().map(|sd| weight / (sd * sd)));
                coefficients = solve(normal + Matrix5::from_diagonal(&penalty), right)?;
            }
        }
        let mean_c: Vec<f64> = basis.iter().map(|h| h.dot(&coefficients)).collect();
        let sd_c = Anomalies::of(series, through, &mean_c).spread_by_season();
        let diel = usual_ranges(series, through);
        Ok(Self { coefficients: coefficients.into(), sd_c, mean_c, phi, diel, through })
    }

    /// The five coefficients: b0, b1 cos, b1 sin, b2 cos, b2 sin, degrees Celsius.
    pub fn coefficients(&self) -> [f64; 5] {
        self.coefficients
    }

    /// Usual daily mean on `date`, degrees Celsius.
    pub fn mean_c(&self, date: NaiveDate) -> f64 {
        self.mean_c[date.ordinal0() as usize]
    }

    /// Standard deviation of daily means about the usual one on `date`, degrees Celsius.
    pub fn sd_c(&self, date: NaiveDate) -> f64 {
        self.sd_c[date.ordinal0() as usize]
    }

    /// Mean over the year of the standard deviation of daily means, degrees Celsius.
    pub(super) fn mean_sd_c(&self) -> f64 {
        self.sd_c.iter().sum::<f64>() / TABLE as f64
    }

    /// Correlation of the anomaly from one day to the next, 0 to 0.99.
    pub fn phi(&self) -> f64 {
        self.phi
    }

    /// Usual daily range in the month of `date`; `None` where only means are known.
    pub fn diel(&self, date: NaiveDate) -> Option<DielRange> {
        self.diel[date.month0() as usize]
    }

    /// The last day whose data were used.
    pub fn through(&self) -> NaiveDate {
        self.through
    }

    /// The usual day of `date`: mean and usual range.
    pub fn usual_day(&self, date: NaiveDate) -> DayTemp {
        self.with_range(date, self.mean_c(date))
    }

    /// A day with mean `tmean_c` and the month's usual range.
    pub fn with_range(&self, date: NaiveDate, tmean_c: f64) -> DayTemp {
        let range = self.diel(date).unwrap_or(DielRange { below_c: 0.0, above_c: 0.0 });
        DayTemp { tmean_c, tmin_c: tmean_c - range.below_c, tmax_c: tmean_c + range.above_c }
    }

    /// The usual year of water that runs as `offset_c + slope` times this one, with `residual_sd_c`
    /// of its own on top. Its daily ranges are scaled alike.
    pub(super) fn mapped(&self, offset_c: f64, slope: f64, residual_sd_c: f64) -> Self {
        let mut coefficients = self.coefficients.map(|b| slope * b);
        coefficients[0] += offset_c;
        let scale = |r: DielRange| DielRange { below_c: slope.abs() * r.below_c, above_c: slope.abs() * r.above_c };
        Self {
            coefficients,
            sd_c: self.sd_c.iter().map(|sd| (slope * sd).hypot(residual_sd_c)).collect(),
            mean_c: self.mean_c.iter().map(|m| offset_c + slope * m).collect(),
            phi: self.phi,
            diel: self.diel.map(|range| range.map(scale)),
            through: self.through,
        }
    }

    /// The mean of several usual years; `None` of none. Ranges are averaged over those that know one.
    pub(super) fn mean_of(all: &[Self]) -> Option<Self> {
        let n = all.len() as f64;
        let first = all.first()?;
        let average = |get: &dyn Fn(&Self) -> f64| all.iter().map(get).sum::<f64>() / n;
        let diel = std::array::from_fn(|month| {
            let known: Vec<DielRange> = all.iter().filter_map(|c| c.diel[month]).collect();
            let m = known.len() as f64;
            (!known.is_empty()).then(|| DielRange {
                below_c: known.iter().map(|r| r.below_c).sum::<f64>() / m,
                above_c: known.iter().map(|r| r.above_c).sum::<f64>() / m,
            })
        });
        Some(Self {
            coefficients: std::array::from_fn(|k| average(&|c| c.coefficients[k])),
            sd_c: (0..TABLE).map(|i| average(&|c| c.sd_c[i])).collect(),
            mean_c: (0..TABLE).map(|i| average(&|c| c.mean_c[i])).collect(),
            phi: average(&|c| c.phi),
            diel,
            through: all.iter().map(|c| c.through).max().unwrap_or(first.through),
        })
    }
}

fn harmonics(ordinal0: usize) -> Vector5<f64> {
    let w = TAU * ordinal0 as f64 / 365.25;
    Vector5::new(1.0, w.cos(), w.sin(), (2.0 * w).cos(), (2.0 * w).sin())
}

fn solve(normal: Matrix5<f64>, right: Vector5<f64>) -> Result<Vector5<f64>, TemperatureError> {
    normal.cholesky().map(|factor| factor.solve(&right)).ok_or(TemperatureError::Unsolvable)
}

/// Departures from the usual mean, in order of date.
struct Anomalies(Vec<(NaiveDate, f64)>);

impl Anomalies {
    fn of(series: &Series, through: NaiveDate, mean_c: &[f64]) -> Self {
        let departure = |(date, day): (&NaiveDate, &DayTemp)| (*date, day.tmean_c - mean_c[date.ordinal0() as usize]);
        Self(series.range(..=through).map(departure).collect())
    }

    fn variance(&self) -> f64 {
        self.0.iter().map(|(_, x)| x * x).sum::<f64>() / self.0.len() as f64
    }

    /// The correlation at the shortest lag with enough pairs, as one per day. Weekly spot readings
    /// have no neighbouring days, but pairs a week apart.
    fn phi(&self) -> f64 {
        for lag in 1..=14_u64 {
            let (mut pairs, mut both, mut square) = (0, 0.0, 0.0);
            let mut ahead = 0;
            for (date, x) in &self.0 {
                let wanted = *date + Days::new(lag);
                while ahead < self.0.len() && self.0[ahead].0 < wanted {
                    ahead += 1;
                }
                if let Some((found, y)) = self.0.get(ahead)
                    && *found == wanted
                {
                    pairs += 1;
                    both += x * y;
                    square += x * x;
                }
            }
            if pairs >= FEWEST_PAIRS && square > 0.0 {
                return (both / square).max(0.0).powf((lag as f64).recip()).min(LARGEST_PHI);
            }
        }
        USUAL_PHI
    }

    /// Standard deviation by day of year in a triangular window. Where the window holds too few
    /// days to tell, the largest value of the rest of the year stands in.
    fn spread_by_season(&self) -> Vec<f64> {
        let (mut count, mut square) = ([0.0; TABLE], [0.0; TABLE]);
        for (date, x) in &self.0 {
            count[date.ordinal0() as usize] += 1.0;
            square[date.ordinal0() as usize] += x * x;
        }
        let smooth = |centre: i64| {
            let (mut weights, mut sum) = (0.0, 0.0);
            for step in -SPREAD_WINDOW..=SPREAD_WINDOW {
                let index = (centre + step).rem_euclid(TABLE_DAYS) as usize;
                let weight = (SPREAD_WINDOW + 1 - step.abs()) as f64 / (SPREAD_WINDOW + 1) as f64;
                weights += weight * count[index];
                sum += weight * square[index];
            }
            (weights >= FEWEST_PAIRS as f64 / 2.0).then(|| (sum / weights).sqrt())
        };
        let known: Vec<Option<f64>> = (0..TABLE_DAYS).map(smooth).collect();
        let largest = known.iter().flatten().copied().fold(0.0, f64::max);
        let fallback = if largest > 0.0 { largest } else { self.variance().sqrt() };
        known.into_iter().map(|sd| sd.unwrap_or(fallback)).collect()
    }
}

/// Mean range by month over the days that have one; months without take the mean of the others.
fn usual_ranges(series: &Series, through: NaiveDate) -> [Option<DielRange>; 12] {
    let mut sums = [(0.0, 0.0, 0.0); 12];
    for (date, day) in series.range(..=through).filter(|(_, day)| !day.is_mean_only()) {
        let month = &mut sums[date.month0() as usize];
        month.0 += 1.0;
        month.1 += day.tmean_c - day.tmin_c;
        month.2 += day.tmax_c - day.tmean_c;
    }
    let range = |(n, below, above): (f64, f64, f64)| DielRange { below_c: below / n, above_c: above / n };
    let known: Vec<DielRange> = sums.iter().filter(|s| s.0 > 0.0).map(|s| range(*s)).collect();
    if known.is_empty() {
        return [None; 12];
    }
    let n = known.len() as f64;
    let overall = DielRange {
        below_c: known.iter().map(|r| r.below_c).sum::<f64>() / n,
        above_c: known.iter().map(|r| r.above_c).sum::<f64>() / n,
    };
    sums.map(|s| Some(if s.0 > 0.0 { range(s) } else { overall }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use rand_pcg::Pcg64;

    fn date(year: i32, ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(year, ordinal).expect("a date")
    }

    fn usual(date: NaiveDate) -> f64 {
        harmonics(date.ordinal0() as usize).dot(&Vector5::new(9.0, -7.0, -2.0, 0.4, -0.3))
    }

    #[test]
    fn an_exact_cycle_is_found_again() {
        let series: Series = date(2001, 1).iter_days().take(1461).map(|d| (d, DayTemp::of_mean(usual(d)))).collect();
        let climatology = Climatology::fit(&series, date(2010, 1)).expect("four years");
        for (found, true_value) in climatology.coefficients().iter().zip([9.0, -7.0, -2.0, 0.4, -0.3]) {
            assert!((found - true_value).abs() < 1e-9);
        }
        assert!(climatology.sd_c(date(2003, 100)) < 1e-9);
        assert_eq!(climatology.diel(date(2003, 100)), None);
    }

    #[test]
    fn spread_correlation_and_range_are_recovered() {
        let mut rng = Pcg64::seed_from_u64(3);
        let (phi, mut x) = (0.9_f64, 0.0);
        let mut series = Series::new();
        for d in date(1990, 1).iter_days().take(365 * 20) {
            let z: f64 = StandardNormal.sample(&mut rng);
            x = phi * x + (1.0 - phi * phi).sqrt() * z;
            let sd = if (121..=300).contains(&d.ordinal()) { 2.0 } else { 1.0 };
            let mean = usual(d) + sd * x;
            series.insert(d, DayTemp { tmean_c: mean, tmin_c: mean - 1.0, tmax_c: mean + 1.5 });
        }
        let climatology = Climatology::fit(&series, date(2030, 1)).expect("twenty years");
        assert!((climatology.phi() - phi).abs() < 0.02, "{}", climatology.phi());
        assert!((climatology.sd_c(date(2000, 210)) - 2.0).abs() < 0.2);
        assert!((climatology.sd_c(date(2000, 30)) - 1.0).abs() < 0.2);
        let range = climatology.diel(date(2000, 30)).expect("ranges known");
        assert!((range.below_c - 1.0).abs() < 1e-9 && (range.above_c - 1.5).abs() < 1e-9);
        // The same series thinned to one reading a week still tells the daily correlation.
        let weekly: Series = series.into_iter().step_by(7).collect();
        let thin = Climatology::fit(&weekly, date(2030, 1)).expect("a thousand weeks");
        assert!((thin.phi() - phi).abs() < 0.04, "{}", thin.phi());
    }

    #[test]
    fn nothing_after_the_last_day_is_looked_at() {
        let cut = date(2002, 200);
        let mut series: Series = date(2000, 1)
            .iter_days()
            .take(1000)
            .map(|d| (d, DayTemp::of_mean(usual(d) + f64::from(d.ordinal() % 3))))
            .collect();
        let before = Climatology::fit(&series, cut).expect("long enough");
        for (d, day) in &mut series {
            if *d > cut {
                *day = DayTemp { tmean_c: 40.0, tmin_c: 30.0, tmax_c: 50.0 };
            }
        }
        assert_eq!(Climatology::fit(&series, cut).expect("long enough"), before);
    }

    #[test]
    fn half_a_year_without_data_does_not_swing_away() {
        // March to October only: the winter comes from the first harmonic, within a few degrees.
        let series: Series = date(2000, 1)
            .iter_days()
            .take(1461)
            .filter(|d| (3..=10).contains(&d.month()))
            .map(|d| (d, DayTemp::of_mean(usual(d) + 2.0 * f64::from(d.year() - 2001) / 2.0)))
            .collect();
        let climatology = Climatology::fit(&series, date(2010, 1)).expect("eight months");
        let winter = date(2003, 10);
        assert!((climatology.mean_c(winter) - usual(winter)).abs() < 3.0, "{}", climatology.mean_c(winter));
        assert!(Climatology::fit(&series, date(2000, 200)).is_err(), "four months are no year");
    }
}
