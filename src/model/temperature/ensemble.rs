//! Seasons of daily temperatures that may come, given what is known up to a day.
//!
//! Each member holds the measured days as they are and the estimated days within their error,
//! correlated from day to day. What comes after the last known day continues from that day's
//! anomaly x0, in units of the season's standard deviation:
//!
//! - with [`FEWEST_TRACES`] past years or more, by the anomalies of a random past year from the same
//!   time of year, a(h) + phi^h (x0 - a(0)), moved by up to [`LARGEST_MOVE`] days either way so that
//!   few years give more than a few futures (historical-trace ensemble, Day 1985). Whole runs of
//!   warm and cold days stay together, and so does each day's range;
//! - otherwise by the climatology and a simulated autoregression, whose variance after h days is
//!   sd^2 (1 - phi^(2h)).
//!
//! Unknown days between known ones are drawn from the autoregression given both ends.

use chrono::{Days, NaiveDate};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use super::autoregression::bridge_mean;
use super::climatology::Climatology;
use super::gaps::Completed;
use super::series::DayTemp;
use super::traces::{LARGEST_MOVE, SMALLEST_SD_C, Trace, past_traces};
use super::{TemperatureError, WATER_FLOOR_C};
use crate::domain::season::Season;

/// Fewest past years for an ensemble of past traces.
pub const FEWEST_TRACES: usize = 5;
/// After this many days nothing of an anomaly is left that matters.
const MEMORY_DAYS: usize = 60;

/// `members` seasons of daily temperatures; each has [`Season::len`] days. Nothing known after
/// `as_of` is used.
///
/// # Errors
/// [`TemperatureError::LooksAhead`] when `completed` or `climatology` has seen days after `as_of`.
pub fn ensemble<R: Rng>(
    completed: &Completed,
    climatology: &Climatology,
    season: Season,
    as_of: NaiveDate,
    members: usize,
    rng: &mut R,
) -> Result<Vec<Vec<DayTemp>>, TemperatureError> {
    let through = completed.through().max(climatology.through());
    if through > as_of {
        return Err(TemperatureError::LooksAhead { through, as_of });
    }
    let plan = Plan::new(completed, climatology, season);
    let mut z = vec![0.0; plan.days.len()];
    Ok((0..members).map(|_| plan.member(&mut z, rng)).collect())
}

/// The likeliest season: known days as they are, unknown ones by the mean of the autoregression
/// given the days around them. For fits to past seasons; `known` says which days are not unknown.
#[must_use]
pub fn central_season(completed: &Completed, climatology: &Climatology, season: Season) -> Vec<SeasonDay> {
    let plan = Plan::new(completed, climatology, season);
    let mut z = vec![0.0; plan.days.len()];
    plan.known_z(&mut z, 0.0, || 0.0);
    for run in &plan.runs {
        let before = run.before(&z);
        let after = run.followed.then(|| z[run.to]);
        let span = (run.lead + run.to - run.from) as f64;
        for (step, slot) in z[run.from..run.to].iter_mut().enumerate() {
            let k = (run.lead + step) as f64;
            *slot = bridge_mean(plan.phi, k, span, before, after);
        }
    }
    let day = |(index, planned): (usize, &PlannedDay)| match planned.slot {
        Slot::Measured(temp) | Slot::Estimated(temp, _) => SeasonDay { temp, known: true },
        Slot::Unknown => SeasonDay { temp: planned.usual_at(z[index]).floored(WATER_FLOOR_C), known: false },
    };
    plan.days.iter().enumerate().map(day).collect()
}

/// One day of [`central_season`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonDay {
    /// Mean and extremes.
    pub temp: DayTemp,
    /// False when the day was neither measured nor estimated from neighbouring days or gauges.
    pub known: bool,
}

#[derive(Debug, Clone, Copy)]
enum Slot {
    Measured(DayTemp),
    /// With its standard error.
    Estimated(DayTemp, f64),
    Unknown,
}

#[derive(Debug, Clone, Copy)]
struct PlannedDay {
    slot: Slot,
    /// Usual mean, spread and range of the date.
    mean_c: f64,
    sd_c: f64,
    below_c: f64,
    above_c: f64,
}

impl PlannedDay {
    fn usual_at(&self, z: f64) -> DayTemp {
        let tmean_c = self.mean_c + self.sd_c * z;
        DayTemp { tmean_c, tmin_c: tmean_c - self.below_c, tmax_c: tmean_c + self.above_c }
    }
}

/// Unknown days `from..to` of the season.
#[derive(Debug, Clone, Copy)]
struct Run {
    from: usize,
    to: usize,
    /// Days from the last known day to the first of the run.
    lead: usize,
    /// Anomaly of the last known day when it lies before the season.
    earlier: Option<f64>,
    /// True when a known day precedes the run at all.
    has_before: bool,
    /// True when a known day of the season follows.
    followed: bool,
}

impl Run {
    /// True when nothing of the last known day's anomaly is left.
    fn is_long_past(&self) -> bool {
        !self.has_before || self.lead > MEMORY_DAYS
    }

    /// Anomaly of the last known day before the run, given those of the season's known days.
    fn before(&self, z: &[f64]) -> Option<f64> {
        self.has_before.then(|| self.earlier.unwrap_or_else(|| z[self.from - 1]))
    }
}

struct Plan {
    days: Vec<PlannedDay>,
    runs: Vec<Run>,
    traces: Vec<Trace>,
    phi: f64,
    /// phi^h.
    powers: Vec<f64>,
    level_sd_c: f64,
}

impl Plan {
    fn new(completed: &Completed, climatology: &Climatology, season: Season) -> Self {
        let first = season.first_day();
        let days: Vec<PlannedDay> =
            first.iter_days().take(season.len()).map(|date| planned(completed, climatology, date)).collect();
        let earlier = completed.days.range(..first).next_back().map(|(date, day)| {
            let sd = climatology.sd_c(*date).max(SMALLEST_SD_C);
            ((first - *date).num_days(), (day.temp.tmean_c - climatology.mean_c(*date)) / sd)
        });
        let mut runs: Vec<Run> = Vec::new();
        let mut from = None;
        for index in 0..=days.len() {
            let unknown = days.get(index).is_some_and(|d| matches!(d.slot, Slot::Unknown));
            match (from, unknown) {
                (None, true) => from = Some(index),
                (Some(start), false) => {
                    let lead = if start > 0 { 1 } else { earlier.map_or(1, |(gap, _)| gap as usize) };
                    runs.push(Run {
                        from: start,
                        to: index,
                        lead,
                        earlier: if start > 0 { None } else { earlier.map(|(_, z)| z) },
                        has_before: start > 0 || earlier.is_some(),
                        followed: index < days.len(),
                    });
                    from = None;
                }
                _ => {}
            }
        }
        let phi = climatology.phi();
        let longest = runs.iter().map(|r| r.lead + r.to - r.from).max().unwrap_or(0);
        let powers = (0..=longest).map(|h| phi.powi(i32::try_from(h).unwrap_or(i32::MAX))).collect();
        let traces = match runs.last() {
            Some(tail) if !tail.followed => {
                let lead = if tail.is_long_past() { 1 } else { tail.lead };
                let origin = season.date(tail.from + 1) - Days::new(lead as u64);
                past_traces(completed, climatology, origin, lead, lead + tail.to - tail.from - 1)
            }
            _ => Vec::new(),
        };
        Self { days, runs, traces, phi, powers, level_sd_c: completed.level_sd_c() }
    }

    fn member<R: Rng>(&self, z: &mut [f64], rng: &mut R) -> Vec<DayTemp> {
        let level = if self.level_sd_c > 0.0 { self.level_sd_c * normal(rng) } else { 0.0 };
        self.known_z(z, level, || normal(rng));
        let mut tail = None;
        for run in &self.runs {
            let before = run.before(z);
            if !run.followed && self.traces.len() >= FEWEST_TRACES {
                let trace = &self.traces[rng.random_range(0..self.traces.len())];
                let offset = rng.random_range(0..=2 * LARGEST_MOVE);
                // A trace starts at the last known day, or at the day before the run when that is long past.
                let (lead, pull) = match before {
                    Some(x0) if !run.is_long_past() => (run.lead, x0 - trace.0[offset].z),
                    _ => (1, 0.0),
                };
                for (step, slot) in z[run.from..run.to].iter_mut().enumerate() {
                    *slot = trace.0[offset + lead + step].z + self.powers[lead + step] * pull;
                }
                tail = Some((run.from, &trace.0[offset + lead..]));
            } else {
                self.simulate(run, before, z, rng);
            }
        }
        let mut days = Vec::with_capacity(self.days.len());
        for (index, planned) in self.days.iter().enumerate() {
            days.push(match planned.slot {
                Slot::Measured(temp) => temp,
                Slot::Estimated(temp, _) => {
                    let mean = planned.mean_c + planned.sd_c * z[index] + level;
                    temp.shifted(mean - temp.tmean_c).floored(WATER_FLOOR_C)
                }
                Slot::Unknown => {
                    let mut day = planned.usual_at(z[index]).shifted(level);
                    if let Some((from, trace)) = tail
                        && index >= from
                        && let Some((below, above)) = trace[index - from].range
                    {
                        day.tmin_c = day.tmean_c - below;
                        day.tmax_c = day.tmean_c + above;
                    }
                    day.floored(WATER_FLOOR_C)
                }
            });
        }
        days
    }

    /// Anomalies of the known days in units of their spread: measured days less the member's level,
    /// estimated days with errors that hang together from day to day.
    fn known_z(&self, z: &mut [f64], level: f64, mut normal: impl FnMut() -> f64) {
        let fresh_share = (1.0 - self.phi * self.phi).sqrt();
        let mut error: Option<f64> = None;
        for (slot, planned) in z.iter_mut().zip(&self.days) {
            match planned.slot {
                Slot::Measured(temp) => {
                    error = None;
                    *slot = (temp.tmean_c - level - planned.mean_c) / planned.sd_c;
                }
                Slot::Estimated(temp, sd) => {
                    let fresh = normal();
                    let now = error.map_or(fresh, |last| self.phi * last + fresh_share * fresh);
                    error = Some(now);
                    *slot = (temp.tmean_c + sd * now - planned.mean_c) / planned.sd_c;
                }
                Slot::Unknown => error = None,
            }
        }
    }

    /// Draws an unknown run from the autoregression: forward, then pulled to the known day after it.
    fn simulate<R: Rng>(&self, run: &Run, before: Option<f64>, z: &mut [f64], rng: &mut R) {
        let fresh_share = (1.0 - self.phi * self.phi).sqrt();
        let start_power = self.powers[run.lead];
        let mut state = match before {
            Some(x0) => start_power * x0 + (1.0 - start_power * start_power).sqrt() * normal(rng),
            None => normal(rng),
        };
        for slot in &mut z[run.from..run.to] {
            *slot = state;
            state = self.phi * state + fresh_share * normal(rng);
        }
        if run.followed {
            // `state` is where the path would stand on the known day; move every day by its share.
            let miss = z[run.to] - state;
            let length = run.to - run.from;
            let variance = |steps: usize| if before.is_some() { 1.0 - self.powers[steps].powi(2) } else { 1.0 };
            for step in 0..length {
                let share = self.powers[length - step] * variance(run.lead + step) / variance(run.lead + length);
                z[run.from + step] += share * miss;
            }
        }
    }
}

fn planned(completed: &Completed, climatology: &Climatology, date: NaiveDate) -> PlannedDay {
    let slot = match completed.days.get(&date) {
        None => Slot::Unknown,
        Some(day) if day.is_estimated() => Slot::Estimated(day.temp, day.sd_c),
        Some(day) => Slot::Measured(day.temp),
    };
    let (below_c, above_c) = climatology.diel(date).map_or((0.0, 0.0), |r| (r.below_c, r.above_c));
    let sd_c = climatology.sd_c(date).max(SMALLEST_SD_C);
    PlannedDay { slot, mean_c: climatology.mean_c(date), sd_c, below_c, above_c }
}

fn normal<R: Rng>(rng: &mut R) -> f64 {
    StandardNormal.sample(rng)
}
