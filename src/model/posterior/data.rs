//! What the likelihood sees: site-years with their water and their records.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::model::clock::Drivers;
use crate::model::likelihood::time_of_day::Midnight;

/// Number of covariates of a visit: cloud (0..1), flow or wind on a unit scale, rain.
pub const COVARIATES: usize = 3;
/// Place of rain among the covariates.
pub const RAIN: usize = 2;
/// Rain within an hour at which its covariate grows half as fast as in the first drops, mm.
const RAIN_MM: f64 = 0.5;
/// The covariate of rain is never more: that of 5 mm within an hour, a downpour.
const MOST_RAIN: f64 = 2.4;

/// The covariate of `rain_mm` within an hour; zero where nothing is known.
#[must_use]
pub fn rain_covariate(rain_mm: Option<f64>) -> f64 {
    rain_mm.map_or(0.0, |rain| (rain.max(0.0) / RAIN_MM).ln_1p().min(MOST_RAIN))
}

/// Hours watched, local mean solar time; `end` above `start`, past 24 when over midnight.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Hours {
    /// Start.
    pub start: f64,
    /// End.
    pub end: f64,
    /// Water temperature at the time, degrees Celsius; moves the expected hour.
    pub water_c: f64,
}

/// How a record came about: catches of different ways are not of one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Protocol {
    /// Somebody watched.
    Visit,
    /// A trap stood.
    Trap,
}

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Outcome {
    /// Abundance class 0..=3.
    Class(usize),
    /// Presence only: at least sparse.
    Seen,
    /// Insects counted.
    Count(u32),
    /// First sighting of the season; `false` when nobody had looked before.
    First {
        /// Whether somebody had looked in vain on the first day of the interval.
        looked_before: bool,
    },
}

/// One record. The days covered are `from_day + 1 ..= to_day`; a visit covers one day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Observation {
    /// Day before the first day covered.
    pub from_day: usize,
    /// Last day covered.
    pub to_day: usize,
    /// What was found.
    pub outcome: Outcome,
    /// How.
    pub protocol: Protocol,
    /// Log effort: 0.5 ln(people) for visits, ln(traps) for traps.
    pub log_effort: f64,
    /// Hours watched; `None` for whole days (S = 1).
    pub hours: Option<Hours>,
    /// Covariates.
    pub x: [f64; COVARIATES],
    /// Part of a record that it counts as, below 1 where others tell of the same day; its log probability is
    /// multiplied with it. First sightings count whole.
    #[serde(default = "whole", skip_serializing_if = "is_whole")]
    pub weight: f64,
}

fn whole() -> f64 {
    1.0
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the form that serde asks for")]
fn is_whole(weight: &f64) -> bool {
    weight.total_cmp(&whole()).is_eq()
}

/// One site in one year.
#[derive(Debug, Clone)]
pub struct Unit {
    /// Index of the site.
    pub site: usize,
    /// Index of the year.
    pub year: usize,
    /// Water of this season.
    pub drivers: Arc<Drivers>,
    /// Records.
    pub observations: Vec<Observation>,
}

impl Unit {
    /// Last day any record covers.
    #[must_use]
    pub fn last_day(&self) -> usize {
        self.observations.iter().map(|o| o.to_day).max().unwrap_or(0)
    }
}

/// All records of one taxon and brood.
#[derive(Debug, Clone)]
pub struct Dataset {
    /// Number of sites.
    pub sites: usize,
    /// Number of years.
    pub years: usize,
    /// Site-years with records.
    pub units: Vec<Unit>,
    /// The mean climate in which `d50` is a date.
    pub climate: Drivers,
    /// Whether hours close to a circle.
    pub midnight: Midnight,
    /// First and last day on which insects found count for this brood; those of other days are of
    /// another brood, and only blanks of such days are among the records.
    pub window: (usize, usize),
}

/// The window of a taxon's only brood: the whole season.
pub const WHOLE_SEASON: (usize, usize) = (0, usize::MAX);

impl Dataset {
    /// Number of records.
    #[must_use]
    pub fn len(&self) -> usize {
        self.units.iter().map(|u| u.observations.len()).sum()
    }

    /// True without any record.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The same without the records of `year`; indices keep their meaning.
    #[must_use]
    pub fn without_year(&self, year: usize) -> Self {
        self.filtered(|unit| unit.year != year)
    }

    /// The same without the records of `site`; indices keep their meaning.
    #[must_use]
    pub fn without_site(&self, site: usize) -> Self {
        self.filtered(|unit| unit.site != site)
    }

    fn filtered(&self, keep: impl Fn(&Unit) -> bool) -> Self {
        let units: Vec<Unit> = self.units.iter().filter(|unit| keep(unit)).cloned().collect();
        Self { units, climate: self.climate.clone(), ..*self }
    }
}
