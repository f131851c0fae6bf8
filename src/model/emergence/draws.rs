//! Parameter draws for one reach and season, known or new.

use std::cmp::Reverse;

use crate::domain::fit::ClockKind;
use crate::model::clock::{ClockRun, Drivers, reading};
use crate::model::curve::Curve;
use crate::model::likelihood::time_of_day::{Midnight, REFERENCE_WATER_C, hours_terms};
use crate::model::posterior::data::COVARIATES;
use crate::model::posterior::layout::{BETA, D50, DC, H0, H1, TB};
use crate::model::posterior::objective::Common;
use crate::model::posterior::{Hours, Layout, Protocol};

use super::fit_clock::FittedClock;
use super::fitted::CalendarForm;

/// Which reach and season is asked for, in the indices of the fit; `None` for one without records.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Target {
    /// The site.
    pub site: Option<usize>,
    /// The year.
    pub year: Option<usize>,
    /// The site-year.
    pub unit: Option<usize>,
    /// Where a year without records is expected to lie.
    pub new_year: NewYear,
}

/// Where a new year is expected on the curve's scale.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct NewYear {
    /// Weights of the known years' shifts whose sum is the expected shift; `None`: zero.
    pub weights: Option<[(usize, f64); MAX_YEARS]>,
}

/// Most years that a trend looks back on, the newest.
pub const MAX_YEARS: usize = 40;

impl NewYear {
    /// The expectation for season `year` under `form`, from the seasons `years` that have records
    /// (`present`: their indices in the fit): zero, the mean of the ten years before, or a straight line through the
    /// newest [`MAX_YEARS`] of them. Zero, too, where none of these years has records.
    #[must_use]
    pub fn expected(form: CalendarForm, years: &[i32], present: &[usize], year: i32) -> Self {
        let mut past: Vec<(usize, f64)> = match form {
            CalendarForm::Fixed => return Self::default(),
            CalendarForm::Rolling => {
                present.iter().filter(|&&i| years[i] < year && years[i] >= year - 10).map(|&i| (i, 1.0)).collect()
            }
            CalendarForm::Trend => present.iter().map(|&i| (i, 1.0)).collect(),
        };
        if past.is_empty() {
            return Self::default();
        }
        if past.len() > MAX_YEARS {
            past.sort_unstable_by_key(|(i, _)| Reverse(years[*i]));
            past.truncate(MAX_YEARS);
        }
        let n = past.len() as f64;
        let mean = past.iter().map(|(i, _)| f64::from(years[*i])).sum::<f64>() / n;
        let spread: f64 = past.iter().map(|(i, _)| (f64::from(years[*i]) - mean).powi(2)).sum();
        let tilt = if form == CalendarForm::Trend && spread > 0.0 { (f64::from(year) - mean) / spread } else { 0.0 };
        for (i, weight) in &mut past {
            *weight = 1.0 / n + tilt * (f64::from(years[*i]) - mean);
        }
        let mut weights = [(0, 0.0); MAX_YEARS];
        weights[..past.len()].copy_from_slice(&past);
        Self { weights: Some(weights) }
    }

    /// The known years whose shifts it rests on.
    pub(super) fn years(&self) -> impl Iterator<Item = usize> {
        self.weights.into_iter().flatten().filter(|(_, weight)| *weight != 0.0).map(|(year, _)| year)
    }

    fn shift(&self, theta: &[f64], layout: Layout) -> f64 {
        self.weights.map_or(0.0, |list| list.iter().map(|(year, weight)| weight * theta[layout.v(*year)]).sum())
    }
}

/// One draw of everything a season needs.
#[derive(Debug, Clone)]
pub struct DrawnSeason {
    /// The clock.
    pub clock: ClockKind,
    /// Base temperature, degrees Celsius.
    pub base_temp_c: f64,
    /// Gate, hours.
    pub gate_hours: f64,
    /// The curve on ln C.
    pub curve: Curve,
    /// Shared parameters of the record likelihoods.
    pub common: Common,
    /// Log level of counts.
    pub alpha: f64,
    /// How much more a trap catches, log scale.
    pub trap_level: f64,
    /// Level of the site and season.
    pub level: f64,
    /// Hour of the peak at the reference water, local mean solar time, and hours per degree beside it.
    pub hours: [f64; 2],
    /// Effects of the covariates.
    pub beta: [f64; COVARIATES],
}

impl FittedClock {
    /// The season at the posterior mean, effects without records at zero; `None` where the reference clock does not
    /// run.
    #[must_use]
    pub fn expected(&self, climate: &Drivers, target: Target) -> Option<DrawnSeason> {
        let theta = &self.mean;
        let common = Common::new(theta, self.layout, self.log_reference(theta, climate)?);
        Some(self.season(theta, common, &target, 0.0, &[0.0; 6]))
    }

    /// ln C at the median day in `climate`; `None` where the clock does not run by then.
    pub(super) fn log_reference(&self, theta: &[f64], climate: &Drivers) -> Option<f64> {
        // Nothing after the median day is needed.
        let days = (theta[D50].ceil().max(0.0) as usize + 1).min(climate.len());
        let c = reading(&ClockRun::sums(self.clock, climate, theta[TB], theta[DC], days), theta[D50]);
        (c > 0.0).then(|| c.ln())
    }

    pub(super) fn season(
        &self,
        theta: &[f64],
        common: Common,
        target: &Target,
        year: f64,
        fresh: &[f64; 6],
    ) -> DrawnSeason {
        let (layout, sds) = (self.layout, &self.effects);
        let pick = |index: Option<usize>, sd: f64, z: f64| index.map_or(sd * z, |i| theta[i]);
        let u = pick(target.site.map(|s| layout.u(s)), sds.site_shift, fresh[0]);
        let expected = target.new_year.shift(theta, layout);
        let v = target.year.map_or(expected + sds.year_shift * year, |y| theta[layout.v(y)]);
        let shift = pick(target.unit.map(|i| layout.shift(i)), sds.unit_shift, fresh[2]);
        let a = pick(target.site.map(|s| layout.a(s)), sds.site_level, fresh[3]);
        let level = pick(target.unit.map(|i| layout.level(i)), sds.unit_level, fresh[4]);
        let split = pick(target.unit.map(|i| layout.split(i)), sds.unit_split, fresh[5]);
        let logit_w = self.two_parts.then(|| theta[layout.logit_w()] + split);
        DrawnSeason {
            clock: self.clock,
            base_temp_c: theta[TB],
            gate_hours: theta[DC],
            curve: common.curve(u + v + shift, logit_w),
            common,
            alpha: theta[layout.alpha()],
            trap_level: theta[layout.trap_level()],
            level: a + level,
            hours: [theta[H0], theta[H1]],
            beta: std::array::from_fn(|k| theta[BETA + k]),
        }
    }
}

impl DrawnSeason {
    /// The clock through each day to `last_day`, index 0 before day 1, under the water of `drivers`.
    #[must_use]
    pub fn sums(&self, drivers: &Drivers, last_day: usize) -> Vec<f64> {
        ClockRun::sums(self.clock, drivers, self.base_temp_c, self.gate_hours, last_day)
    }

    /// The clock through each day of `drivers`, infinite from where the season is over: the curve reads the same.
    #[must_use]
    pub fn sums_while_on(&self, drivers: &Drivers) -> Vec<f64> {
        let over = self.curve.over();
        ClockRun::sums_to(over, self.clock, drivers, self.base_temp_c, self.gate_hours, drivers.len())
    }

    /// F where the clock shows each of `sums`, as exactly as forecasts need it.
    #[must_use]
    pub fn completed(&self, sums: &[f64]) -> Vec<f64> {
        self.curve.completed_each(sums)
    }

    /// Mean catch with `log_effort` from a share `seen` (strays included, hours counted in).
    #[must_use]
    pub fn mean_catch(&self, seen: f64, log_effort: f64, protocol: Protocol) -> f64 {
        self.log_mean_catch(seen.ln(), log_effort, protocol).exp()
    }

    /// Its logarithm, from that of the share.
    #[must_use]
    pub fn log_mean_catch(&self, log_seen: f64, log_effort: f64, protocol: Protocol) -> f64 {
        let trapped = if protocol == Protocol::Trap { self.trap_level } else { 0.0 };
        self.alpha + trapped + self.level + log_seen + log_effort
    }

    /// Share of a day's emergence within `hours`, 1 for whole days.
    #[must_use]
    pub fn hours_share(&self, hours: Option<&Hours>) -> f64 {
        hours.map_or(1.0, |h| {
            let peak = self.hours[0] + self.hours[1] * (h.water_c - REFERENCE_WATER_C);
            hours_terms(h.start, h.end, peak, self.common.spread, Midnight::Wraps).value
        })
    }

    /// Class scale at intensity `log_intensity` (log q + log S + effort), usual weather.
    #[must_use]
    pub fn eta(&self, log_intensity: f64) -> f64 {
        self.common.b * log_intensity + self.level
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is expected of season `year` where every year's shift is `shift(year)`.
    fn expected(form: CalendarForm, years: &[i32], year: i32, shift: impl Fn(i32) -> f64) -> f64 {
        let present: Vec<usize> = (0..years.len()).collect();
        let weights = NewYear::expected(form, years, &present, year).weights.expect("years to look back on");
        weights.iter().filter(|(_, weight)| *weight != 0.0).map(|(i, weight)| weight * shift(years[*i])).sum()
    }

    #[test]
    fn a_trend_goes_on_from_the_newest_forty_years() {
        let line = |year: i32| 0.3 - 0.02 * f64::from(year - 2000);
        // In whatever order the years stand; what was before them bends no line.
        let back: Vec<i32> = (1951..=2025).rev().collect();
        for years in [(1951..=2025).collect(), back] {
            let told = expected(CalendarForm::Trend, &years, 2026, |year| if year > 1985 { line(year) } else { 9.0 });
            assert!((told - line(2026)).abs() < 1e-9, "{told}");
            let rolling = expected(CalendarForm::Rolling, &years, 2026, line);
            assert!((rolling - f64::midpoint(line(2020), line(2021))).abs() < 1e-9, "{rolling}");
        }
    }

    #[test]
    fn a_trend_of_forty_years_or_fewer_rests_on_all() {
        for first in [1986, 2020] {
            let years: Vec<i32> = (first..=2025).collect();
            let one = expected(CalendarForm::Trend, &years, 2026, |year| f64::from(year - first).powi(2));
            let without = expected(CalendarForm::Trend, &years[1..], 2026, |year| f64::from(year - first).powi(2));
            assert!((one - without).abs() > 0.1, "the oldest year counts: {one} and {without}");
        }
        assert_eq!(NewYear::expected(CalendarForm::Trend, &[2020], &[], 2026), NewYear::default());
    }
}
