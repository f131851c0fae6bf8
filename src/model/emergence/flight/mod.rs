//! Spinner flights: the day's emergence some days before, at an hour set by the sun.
//!
//! Classes of flights are read with the likelihood of emergence classes (see
//! [`crate::model::likelihood::ordinal`]): eta = b (log q + log S + effort) + level + delta + x'beta, where q is
//! the share that emerged `lag_days` before and S the part of the flight within the hours watched. The
//! emergence part (q, b, level, thresholds) is that of the emergence fit and held; six parameters are
//! the flight's own. Their priors are common practice, without source.

mod fit;

pub use fit::fit_flights;

use std::sync::Arc;

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::domain::flight::FlightHabit;
use crate::model::clock::{Drivers, expit};
use crate::model::curve::with_strays;
use crate::model::laplace::Laplace;
use crate::model::likelihood::time_of_day::{Midnight, hours_terms};
use crate::model::posterior::data::rain_covariate;
use crate::model::posterior::{Outcome, Prior, Priors};

use super::draws::DrawnSeason;

/// Covariates of a flight: wind, cold air and rain.
pub const COVARIATES: usize = 3;
/// Places of the parameters: how much more than at emergence is seen (class scale), hours from the anchor
/// to the middle of the flight, log of its spread in hours, then the covariates.
pub(super) const DELTA: usize = 0;
pub(super) const OFFSET: usize = 1;
pub(super) const LOG_SPREAD: usize = 2;
pub(super) const BETA: usize = 3;
const PARAMETERS: usize = BETA + COVARIATES;

/// Hours before and after the middle of a flight for which its chance is told.
pub const WATCHED_HOURS: f64 = 1.0;

/// Wind at which its covariate is zero, and its unit, km/h.
const WIND_KMH: f64 = 10.0;
/// Air below which a dusk is cold, and the unit of its covariate, degrees Celsius.
const COLD_BELOW_C: f64 = 12.0;
const COLD_UNIT_C: f64 = 5.0;

/// The covariates of an evening (or morning): wind in units of 10 km/h from 10 km/h, and cold in units of 5
/// degrees below 12 C; rain as for duns. All are zero where nothing is known.
#[must_use]
pub fn covariates(wind_kmh: Option<f64>, air_c: Option<f64>, rain_mm: Option<f64>) -> [f64; COVARIATES] {
    [
        wind_kmh.map_or(0.0, |wind| ((wind - WIND_KMH) / WIND_KMH).clamp(-1.0, 3.0)),
        air_c.map_or(0.0, |air| ((COLD_BELOW_C - air) / COLD_UNIT_C).clamp(0.0, 3.0)),
        rain_covariate(rain_mm),
    ]
}

/// One watch for spinners on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightObservation {
    /// Day number.
    pub day: usize,
    /// Class, or seen without one.
    pub outcome: Outcome,
    /// Log effort, as for emergence.
    pub log_effort: f64,
    /// Start and end of watching, hours from the anchor.
    pub hours: (f64, f64),
    /// See [`covariates`].
    pub x: [f64; COVARIATES],
}

/// The watches of one site and season.
#[derive(Debug, Clone)]
pub struct FlightUnit {
    /// Index of the site in the emergence fit.
    pub site: usize,
    /// The season.
    pub year: i32,
    /// Its water.
    pub drivers: Arc<Drivers>,
    /// Its watches.
    pub observations: Vec<FlightObservation>,
}

/// What is known of a taxon's flights before and by its records.
#[derive(Debug, Clone)]
pub struct FlightInput {
    /// The habit that its traits tell.
    pub habit: FlightHabit,
    /// Watches; those that saw nothing count only where somebody noted spinners at all.
    pub units: Vec<FlightUnit>,
}

impl FlightInput {
    /// The same without the watches of season `year`.
    #[must_use]
    pub fn without_year(&self, year: i32) -> Self {
        Self { habit: self.habit, units: self.units.iter().filter(|u| u.year != year).cloned().collect() }
    }

    /// Number of watches.
    #[must_use]
    pub fn len(&self) -> usize {
        self.units.iter().map(|u| u.observations.len()).sum()
    }

    /// True without any watch.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Fitted flights.
#[derive(Debug, Clone)]
pub struct FlightFit {
    /// Days from emergence to the flight.
    pub lag_days: usize,
    /// The six parameters.
    pub laplace: Laplace,
    /// Watches used.
    pub records: usize,
}

/// One draw of the flight's parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrawnFlight {
    delta: f64,
    offset_hours: f64,
    spread_hours: f64,
    beta: [f64; COVARIATES],
    lag_days: usize,
}

/// Priors of the six parameters.
fn priors(habit: &FlightHabit) -> Priors {
    Priors(vec![
        Prior::normal(0.0, 1.5),
        Prior::normal(habit.offset_hours, habit.offset_sd_hours),
        Prior::normal(0.75_f64.ln(), 0.4),
        // Wind above some 20 km/h or a cold dusk delays a flight or calls it off.
        Prior::normal(-0.7, 0.5),
        Prior::normal(-0.5, 0.5),
        // Rain keeps spinners in the trees: half the odds in 1 mm within an hour, a fifth in a downpour (common
        // practice, no source).
        Prior::normal(-0.7, 0.5),
    ])
}

impl FlightFit {
    /// Hours from the anchor to the middle of the flight.
    #[must_use]
    pub fn offset_hours(&self) -> f64 {
        self.laplace.mode[OFFSET]
    }

    /// Spread of the flight around its middle, hours.
    #[must_use]
    pub fn spread_hours(&self) -> f64 {
        self.laplace.mode[LOG_SPREAD].exp()
    }

    /// A draw from the posterior.
    pub fn draw<R: Rng>(&self, rng: &mut R) -> DrawnFlight {
        let z: [f64; PARAMETERS] = std::array::from_fn(|_| StandardNormal.sample(rng));
        self.at(&self.laplace.draw(&z))
    }

    /// The mode as a draw.
    #[must_use]
    pub fn mode(&self) -> DrawnFlight {
        self.at(&self.laplace.mode)
    }

    fn at(&self, theta: &[f64]) -> DrawnFlight {
        DrawnFlight {
            delta: theta[DELTA],
            offset_hours: theta[OFFSET],
            spread_hours: theta[LOG_SPREAD].exp(),
            beta: std::array::from_fn(|k| theta[BETA + k]),
            lag_days: self.lag_days,
        }
    }
}

impl DrawnFlight {
    /// Class scale of a watch on `day` for `hours` from the anchor.
    #[must_use]
    pub fn eta(&self, season: &DrawnSeason, completed: &[f64], o: &FlightObservation) -> f64 {
        let hours = hours_terms(o.hours.0, o.hours.1, self.offset_hours, self.spread_hours, Midnight::Wraps).value;
        let effects: f64 = self.beta.iter().zip(&o.x).map(|(b, x)| b * x).sum();
        season.eta(emerged(completed, o.day, self.lag_days).ln() + hours.ln() + o.log_effort) + self.delta + effects
    }

    /// Chance of at least a sparse flight on each day (index 0 is day 1) for one person who watches the two
    /// hours around the middle of the flight, in the `weather` of the day of that index; in usual weather where it
    /// has none.
    #[must_use]
    pub fn chances(&self, season: &DrawnSeason, completed: &[f64], weather: &[[f64; COVARIATES]]) -> Vec<f64> {
        let watched = hours_terms(-WATCHED_HOURS, WATCHED_HOURS, 0.0, self.spread_hours, Midnight::Wraps).value.ln();
        (1..completed.len())
            .map(|day| {
                let eta = season.eta(emerged(completed, day, self.lag_days).ln() + watched) + self.delta;
                let effects: f64 =
                    weather.get(day - 1).map_or(0.0, |x| self.beta.iter().zip(x).map(|(b, x)| b * x).sum());
                expit(eta + effects - season.common.tau[0])
            })
            .collect()
    }
}

/// Share that emerged `lag_days` before `day`, strays included.
fn emerged(completed: &[f64], day: usize, lag_days: usize) -> f64 {
    let last = completed.len() - 1;
    let to = day.saturating_sub(lag_days).min(last);
    with_strays(completed[to] - completed[to.saturating_sub(1)], 1.0)
}
