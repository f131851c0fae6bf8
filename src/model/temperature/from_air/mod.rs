//! Water temperature driven by air temperature, with its error.
//!
//! [`WaterFromAir`] is air2stream with five parameters (no discharge: its future is not known),
//! stepped by Crank and Nicolson, running freely on the air. What the water was above that run, the
//! residual, has a yearly cycle and a spread by season of its own and follows an autoregression of
//! order one; all three are measured on the same days, by the same sums as for the water itself
//! ([`Climatology`]).
//!
//! Holes of the air up to [`LONGEST_AIR_GAP`] days are filled linearly on the anomaly, longer ones
//! with the usual air; days in the longer ones and a month after them are not fitted to.

mod ahead;
mod forecast;
mod gaps;

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use super::air2stream::{Air2StreamError, Fitted, Forcing, Scheme, Version, fit, run};
use super::climatology::Climatology;
use super::gaps::{Completed, CompletedDay};
use super::series::{DayTemp, Series};
use super::{TemperatureError, WATER_FLOOR_C};

pub use ahead::ensemble_with_air;
pub use forecast::{AirForecast, AirForecastDay, days_of_forecast, error_c};

/// Daily mean air temperatures by local civil date, degrees Celsius; missing days are absent.
pub type AirSeries = BTreeMap<NaiveDate, f64>;

/// Longest hole of the air that is filled from its two ends, days.
pub const LONGEST_AIR_GAP: i64 = 14;
/// Days after a longer hole until the run has forgotten it.
const FORGOTTEN_AFTER_DAYS: i64 = 30;

/// Air2stream fitted to one water, its run through the past and its error.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterFromAir {
    pub(super) fitted: Fitted,
    /// Air of every day from the first to the last one known, without holes.
    pub(super) air: Completed,
    pub(super) air_usual: Climatology,
    /// The run, for the same days; degrees Celsius.
    pub(super) run: BTreeMap<NaiveDate, f64>,
    /// Measured water minus the run.
    pub(super) residual: Climatology,
    through: NaiveDate,
}

impl WaterFromAir {
    /// Fits the model to the days of `water` and `air` up to and with `through`; later days are not
    /// looked at.
    ///
    /// # Errors
    /// [`TemperatureError::TooFewDays`] when the air, or the days that have both, do not cover enough
    /// of the year; [`TemperatureError::Air2Stream`] for an air temperature that is not finite.
    pub fn fit(water: &Series, air: &AirSeries, through: NaiveDate) -> Result<Self, TemperatureError> {
        let measured: Series = air.range(..=through).map(|(date, air_c)| (*date, DayTemp::of_mean(*air_c))).collect();
        if let Some(day) = measured.values().position(|day| !day.tmean_c.is_finite()) {
            return Err(Air2StreamError::Value { what: "air temperature", day }.into());
        }
        let air_usual = Climatology::fit(&measured, through)?;
        let Whole { first, air_c, trusted } = Whole::of(&measured, &air_usual);
        let forcing = Forcing::new(first, &air_c, None)?;
        let date = |index: usize| first + Days::new(index as u64);
        let water_c: Vec<Option<f64>> = trusted
            .iter()
            .enumerate()
            .map(|(index, trusted)| trusted.then(|| water.get(&date(index)).map(|day| day.tmean_c)).flatten())
            .collect();
        // Plain least squares: weighing by the error's memory forecasts the first day a little better and
        // from a week on worse, with intervals that are too short.
        let fitted = fit(&forcing, &water_c, Version::Five, Scheme::CrankNicolson)?;
        let run = run(&fitted.parameters, &forcing, fitted.scheme, water_c[0])?;
        let pairs = water_c.iter().zip(&run).enumerate();
        let residuals: Series = pairs
            .filter_map(|(index, (measured, run))| Some((date(index), DayTemp::of_mean((*measured)? - run))))
            .collect();
        let residual = Climatology::fit(&residuals, through)?;
        let known = |(index, air_c): (usize, &f64)| (date(index), CompletedDay::measured(DayTemp::of_mean(*air_c)));
        let days = air_c.iter().enumerate().map(known).collect();
        Ok(Self {
            fitted,
            air: Completed { days, through, level_sd_c: 0.0 },
            air_usual,
            run: run.into_iter().enumerate().map(|(index, water_c)| (date(index), water_c)).collect(),
            residual,
            through,
        })
    }

    /// What the air says of the water on each day of the air: the run with its usual error taken
    /// off, degrees Celsius. For days that were not measured; [`Self::sd_c`] is the error left.
    #[must_use]
    pub fn series(&self) -> Series {
        let day = |(date, run): (&NaiveDate, &f64)| {
            (*date, DayTemp::of_mean((run + self.residual.mean_c(*date)).max(WATER_FLOOR_C)))
        };
        self.run.iter().map(day).collect()
    }

    /// Standard error of [`Self::series`] on `date`, degrees Celsius.
    #[must_use]
    pub fn sd_c(&self, date: NaiveDate) -> f64 {
        self.residual.sd_c(date)
    }

    /// Mean over the year of [`Self::sd_c`].
    pub(super) fn mean_sd_c(&self) -> f64 {
        self.residual.mean_sd_c()
    }

    /// The parameters and how well they fit.
    #[must_use]
    pub fn fitted(&self) -> &Fitted {
        &self.fitted
    }

    /// Correlation of the error from one day to the next.
    #[must_use]
    pub fn residual_phi(&self) -> f64 {
        self.residual.phi()
    }

    /// The last day whose data were used.
    #[must_use]
    pub fn through(&self) -> NaiveDate {
        self.through
    }
}

/// Air of every day from the first to the last.
struct Whole {
    first: NaiveDate,
    air_c: Vec<f64>,
    /// False in long holes and some time after them.
    trusted: Vec<bool>,
}

impl Whole {
    fn of(measured: &Series, usual: &Climatology) -> Self {
        let days: Vec<(NaiveDate, f64)> = measured.iter().map(|(date, day)| (*date, day.tmean_c)).collect();
        let first = days.first().map_or(NaiveDate::MIN, |day| day.0);
        let mut whole = Self { first, air_c: Vec::new(), trusted: Vec::new() };
        let mut doubted = 0;
        for pair in days.windows(2) {
            let ((from, left), (to, right)) = (pair[0], pair[1]);
            let span = (to - from).num_days();
            whole.push(left, doubted == 0);
            doubted = (doubted - 1).max(0);
            let long = span > LONGEST_AIR_GAP + 1;
            let (left, right) = (left - usual.mean_c(from), right - usual.mean_c(to));
            for k in 1..span {
                let date = from + Days::new(k as u64);
                let share = k as f64 / span as f64;
                let anomaly = if long { 0.0 } else { (1.0 - share) * left + share * right };
                whole.push(usual.mean_c(date) + anomaly, !long && doubted == 0);
            }
            if long {
                doubted = FORGOTTEN_AFTER_DAYS;
            }
        }
        if let Some((_, last)) = days.last() {
            whole.push(*last, doubted == 0);
        }
        whole
    }

    fn push(&mut self, air_c: f64, trusted: bool) {
        self.air_c.push(air_c);
        self.trusted.push(trusted);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(year: i32, ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(year, ordinal).expect("a date")
    }

    #[test]
    fn holes_of_the_air_are_filled_and_long_ones_are_not_fitted_to() {
        let air = |d: NaiveDate| DayTemp::of_mean(5.0 + f64::from(d.to_epoch_days() % 50) / 10.0);
        let hole = |d: NaiveDate| {
            (date(2002, 50)..date(2002, 53)).contains(&d) || (date(2002, 100)..date(2002, 120)).contains(&d)
        };
        let measured: Series = date(2001, 1).iter_days().take(800).filter(|d| !hole(*d)).map(|d| (d, air(d))).collect();
        let usual = Climatology::fit(&measured, date(2004, 1)).expect("two years");
        let whole = Whole::of(&measured, &usual);
        assert_eq!((whole.first, whole.air_c.len()), (date(2001, 1), 800));
        let at = |ordinal: usize| 365 + ordinal - 1;
        let anomaly = |ordinal: usize| whole.air_c[at(ordinal)] - usual.mean_c(date(2002, ordinal as u32));
        let middle = f64::midpoint(anomaly(49), anomaly(53));
        assert!((anomaly(51) - middle).abs() < 1e-9);
        assert!(anomaly(110).abs() < 1e-9);
        let untrusted: Vec<usize> = (0..800).filter(|i| !whole.trusted[*i]).collect();
        assert_eq!(untrusted, (at(100)..at(150)).collect::<Vec<_>>());
    }
}
