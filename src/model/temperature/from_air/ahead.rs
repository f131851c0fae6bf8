//! Seasons that may come when the air drives the water.
//!
//! Each member draws its own air: what was measured, then the forecast within its error, then the
//! anomaly goes on from the last of these as in [`super::super::ensemble`]: with the anomalies of a
//! random past year, or as a simulated autoregression where past years are few. The model runs on
//! that air from the last day it was measured. The residual goes on from the last day on which the
//! water is known, as an autoregression about its yearly cycle.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use super::super::air2stream::{ForcingDay, advance};
use super::super::climatology::Climatology;
use super::super::ensemble::{FEWEST_TRACES, ensemble};
use super::super::gaps::Completed;
use super::super::series::DayTemp;
use super::super::traces::{LARGEST_MOVE, SMALLEST_SD_C, Trace, past_traces};
use super::super::{TemperatureError, WATER_FLOOR_C};
use super::{AirForecast, WaterFromAir};
use crate::domain::season::Season;

/// As [`ensemble`], with the days after the last known one driven by the air where the reach has a
/// model for that; known days and days between known ones are the same, and so is each day's range
/// about its mean. Nothing known after `as_of` is used.
///
/// A forecast of the air is asked for because measured air alone gains nothing: on six rivers left out
/// year by year it was as good as past traces or worse, by up to a third on the first day. A forecast without days
/// is one of nothing.
///
/// # Errors
/// [`TemperatureError::LooksAhead`] when `completed`, `climatology` or `driven` has seen days after
/// `as_of`, or the forecast was issued after it.
#[allow(clippy::too_many_arguments, reason = "those of `ensemble` and the air")]
pub fn ensemble_with_air<R: Rng>(
    completed: &Completed,
    climatology: &Climatology,
    driven: Option<(&WaterFromAir, &AirForecast)>,
    season: Season,
    as_of: NaiveDate,
    members: usize,
    rng: &mut R,
) -> Result<Vec<Vec<DayTemp>>, TemperatureError> {
    let mut seasons = ensemble(completed, climatology, season, as_of, members, rng)?;
    let Some((model, forecast)) = driven else { return Ok(seasons) };
    let through = model.through().max(forecast.issued());
    if through > as_of {
        return Err(TemperatureError::LooksAhead { through, as_of });
    }
    let last_day = season.date(season.len());
    let known_to = completed.days().keys().next_back().copied();
    if known_to.is_some_and(|date| date >= last_day) {
        return Ok(seasons);
    }
    let Some(air) = AirAhead::new(model, forecast, last_day) else { return Ok(seasons) };
    let first = season.first_day();
    let from = known_to.map_or(0, |date| usize::try_from((date - first).num_days() + 1).unwrap_or(0));
    for days in &mut seasons {
        let run = air.run(model, rng);
        let at = |date: NaiveDate| run.get(&date).or_else(|| model.run.get(&date)).copied();
        // The residual of the last known day; drawn anew where the water or the run is not known there.
        let start = known_to.and_then(|date| {
            let known_c = match usize::try_from((date - first).num_days()) {
                Ok(index) => days[index].tmean_c,
                Err(_) => completed.days()[&date].temp.tmean_c,
            };
            let sd_c = model.residual.sd_c(date).max(SMALLEST_SD_C);
            Some((date, (known_c - at(date)? - model.residual.mean_c(date)) / sd_c))
        });
        let mut residual = Walk::from(start, first + Days::new(from as u64), model.residual.phi(), rng);
        for (index, day) in days.iter_mut().enumerate().skip(from) {
            let date = first + Days::new(index as u64);
            let z = residual.next(rng);
            if let Some(run) = at(date) {
                let mean = run + model.residual.mean_c(date) + model.residual.sd_c(date).max(SMALLEST_SD_C) * z;
                *day = day.shifted(mean - day.tmean_c).floored(WATER_FLOOR_C);
            }
        }
    }
    Ok(seasons)
}

/// An autoregression of order one with standard deviation 1.
struct Walk {
    z: f64,
    phi: f64,
}

impl Walk {
    /// About to give the value of `first`, from that of an earlier day.
    fn from<R: Rng>(start: Option<(NaiveDate, f64)>, first: NaiveDate, phi: f64, rng: &mut R) -> Self {
        let power = start.map_or(0.0, |(date, _)| phi.powf(((first - date).num_days() - 1).max(0) as f64));
        let spread = (1.0 - power * power).sqrt();
        let fresh = if spread > 0.0 { spread * normal(rng) } else { 0.0 };
        Self { z: power * start.map_or(0.0, |(_, z)| z) + fresh, phi }
    }

    fn next<R: Rng>(&mut self, rng: &mut R) -> f64 {
        self.z = self.phi * self.z + (1.0 - self.phi * self.phi).sqrt() * normal(rng);
        self.z
    }
}

/// The air from the day after the last measured one to the end of a season.
struct AirAhead {
    /// The last measured day, its air and the run there.
    origin: NaiveDate,
    origin_air_c: f64,
    origin_run_c: f64,
    days: Vec<AheadDay>,
    /// How many of the days are forecast.
    forecast: usize,
    /// What followed the last forecast day in past years; entry `LARGEST_MOVE` is that day.
    traces: Vec<Trace>,
    phi: f64,
}

struct AheadDay {
    date: NaiveDate,
    /// Forecast mean and its error, else the usual mean and spread.
    mean_c: f64,
    sd_c: f64,
    usual_c: f64,
    usual_sd_c: f64,
}

impl AirAhead {
    /// `None` without any air. No days when the air is known to the end of the season.
    fn new(model: &WaterFromAir, forecast: &AirForecast, last: NaiveDate) -> Option<Self> {
        let usual = &model.air_usual;
        let (origin, air) = model.air.days().iter().next_back()?;
        let origin_run_c = *model.run.get(origin)?;
        let origin_air_c = air.temp.tmean_c;
        let plain = |date: NaiveDate| {
            let (usual_c, usual_sd_c) = (usual.mean_c(date), usual.sd_c(date).max(SMALLEST_SD_C));
            AheadDay { date, mean_c: usual_c, sd_c: usual_sd_c, usual_c, usual_sd_c }
        };
        let mut days: Vec<AheadDay> = origin.iter_days().skip(1).take_while(|d| *d <= last).map(plain).collect();
        let coming: Vec<_> = forecast.days().iter().filter(|d| d.date > *origin).collect();
        let mut forecast = 0;
        if let Some(first) = coming.first() {
            // Days between the last measured and the first forecast one lie on a line of anomalies.
            let gap = (first.date - *origin).num_days();
            let (left, right) = (origin_air_c - usual.mean_c(*origin), first.tmean_c - usual.mean_c(first.date));
            for (step, day) in (1..gap).zip(&mut days) {
                let share = step as f64 / gap as f64;
                (day.mean_c, day.sd_c) = (day.usual_c + (1.0 - share) * left + share * right, first.sd_c);
            }
            let from = usize::try_from(gap - 1).unwrap_or(0);
            for (day, coming) in days.iter_mut().skip(from).zip(&coming) {
                (day.mean_c, day.sd_c) = (coming.tmean_c, coming.sd_c);
            }
            forecast = (from + coming.len()).min(days.len());
        }
        let rest = days.len() - forecast;
        let base = forecast.checked_sub(1).map_or(*origin, |index| days[index].date);
        let traces = if rest > 0 { past_traces(&model.air, usual, base, 1, rest) } else { Vec::new() };
        let phi = usual.phi();
        Some(Self { origin: *origin, origin_air_c, origin_run_c, days, forecast, traces, phi })
    }

    /// One possible air, degrees Celsius, for each of the days.
    fn draw<R: Rng>(&self, model: &WaterFromAir, rng: &mut R) -> Vec<f64> {
        let usual = &model.air_usual;
        let sd_c = usual.sd_c(self.origin).max(SMALLEST_SD_C);
        let mut z = (self.origin_air_c - usual.mean_c(self.origin)) / sd_c;
        let mut air = Vec::with_capacity(self.days.len());
        let (coming, rest) = self.days.split_at(self.forecast);
        let mut error = Walk { z: normal(rng), phi: self.phi };
        for day in coming {
            air.push(day.mean_c + day.sd_c * error.z);
            error.next(rng);
        }
        if let (Some(air_c), Some(day)) = (air.last(), coming.last()) {
            z = (air_c - day.usual_c) / day.usual_sd_c;
        }
        if self.traces.len() >= FEWEST_TRACES {
            let trace = &self.traces[rng.random_range(0..self.traces.len())];
            let offset = rng.random_range(0..=2 * LARGEST_MOVE);
            let mut pull = z - trace.0[offset].z;
            for (day, then) in rest.iter().zip(&trace.0[offset + 1..]) {
                pull *= self.phi;
                air.push(day.usual_c + day.usual_sd_c * (then.z + pull));
            }
        } else {
            let mut walk = Walk { z, phi: self.phi };
            air.extend(rest.iter().map(|day| day.usual_c + day.usual_sd_c * walk.next(rng)));
        }
        air
    }

    /// The run on one possible air, for each of the days.
    fn run<R: Rng>(&self, model: &WaterFromAir, rng: &mut R) -> BTreeMap<NaiveDate, f64> {
        let mut today = ForcingDay::of_air(self.origin, self.origin_air_c);
        let mut water_c = self.origin_run_c;
        let steps = self.draw(model, rng).into_iter().zip(&self.days).map(|(air_c, day)| {
            let tomorrow = ForcingDay::of_air(day.date, air_c);
            water_c = advance(&model.fitted.parameters, model.fitted.scheme, today, tomorrow, water_c);
            today = tomorrow;
            (day.date, water_c)
        });
        steps.collect()
    }
}

fn normal<R: Rng>(rng: &mut R) -> f64 {
    StandardNormal.sample(rng)
}
