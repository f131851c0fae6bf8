//! A simulated club as the service sees it: class visits with hours on three reaches, zeros included,
//! daily water, and what was known of the water on any day of a season that is left out.

use std::sync::Arc;

use subimago::domain::season::Cycle;
use subimago::domain::season::Season;
use subimago::model::clock::Drivers;
use subimago::model::emergence::{FitInput, TaxonPrior};
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::{Dataset, Hours, Observation, Outcome, Protocol, Unit, WHOLE_SEASON};
use subimago::model::temperature::{DayTemp, LeftOutSeason, Series, SiteTemperature, central_season, site_temperature};

use crate::world::{DAYS, Truth, World};

const FIRST_YEAR: i32 = 2001;
pub(crate) const REACHES: usize = 3;
/// What a drifting logger reads too much for each month since New Year.
const DRIFT_C_PER_MONTH: f64 = 0.3;

/// The six worlds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Thermal,
    Gated,
    Calendar,
    TwoBroods,
    Discharge,
    Drift,
}

impl Kind {
    pub(crate) const ALL: [Self; 6] =
        [Self::Thermal, Self::Gated, Self::Calendar, Self::TwoBroods, Self::Discharge, Self::Drift];

    /// Whether the model holds a clock for it.
    pub(crate) fn is_sound(self) -> bool {
        matches!(self, Self::Thermal | Self::Gated | Self::Calendar)
    }

    fn truth(self, seed: u64, years: usize) -> Truth {
        let truth = match self {
            Self::Thermal | Self::Drift => Truth::thermal(),
            Self::Gated => Truth::gated(),
            Self::Calendar => Truth::calendar(),
            Self::TwoBroods => Truth::two_broods(),
            Self::Discharge => Truth::discharge(),
        };
        // A long season is looked at for longer.
        let visits = if self == Self::TwoBroods { 12.0 } else { 8.0 };
        Truth { sites: REACHES, years, visits, base_temp_c: (seed % 5) as f64, ..truth }
    }
}

/// One club.
pub(crate) struct Club {
    pub(crate) world: World,
    pub(crate) input: FitInput,
    water: Vec<SiteTemperature>,
    left_out: Vec<Vec<LeftOutSeason>>,
}

impl Club {
    pub(crate) fn new(kind: Kind, seed: u64, years: usize) -> Self {
        let world = World::new(kind.truth(seed, years), seed);
        let drift = if kind == Kind::Drift { DRIFT_C_PER_MONTH } else { 0.0 };
        let seasons: Vec<i32> = (0..years as i32).map(|y| FIRST_YEAR + y).collect();
        let water: Vec<SiteTemperature> = (0..REACHES)
            .map(|site| {
                let series = readings(&world, site, &seasons, drift);
                let last = *series.keys().next_back().expect("there are days");
                site_temperature(&series, &[], last).expect("whole years")
            })
            .collect();
        let left_out = water
            .iter()
            .map(|site| {
                let one =
                    |y: &i32| LeftOutSeason::new(&site.completed, &site.climatology, Season::of_year(*y), &seasons);
                seasons.iter().map(one).collect()
            })
            .collect();
        let input = input(kind, seed, &world, &seasons, &water);
        Self { world, input, water, left_out }
    }

    /// Water that `season` may bring reach `site`, known by the end of day `issue`.
    pub(crate) fn water_known(&self, site: usize, season: i32, issue: i64) -> Option<Vec<Drivers>> {
        let of_season = &self.left_out[site][usize::try_from(season - FIRST_YEAR).ok()?];
        let members = of_season.members(issue);
        Some(members.into_iter().map(|days| drivers(&self.world, days.into_iter())).collect())
    }
}

/// What the logger of a reach noted; 31 December of a leap year repeats the day before.
fn readings(world: &World, site: usize, seasons: &[i32], drift: f64) -> Series {
    let mut series = Series::new();
    for (year, season) in seasons.iter().enumerate() {
        let season = Season::of_year(*season);
        let water = &world.climate[site][year];
        for day in 1..=season.len() {
            let index = day.min(DAYS) - 1;
            let (tmean_c, tmin_c, tmax_c) = (water.tmean_c[index], water.tmin_c[index], water.tmax_c[index]);
            let true_day = DayTemp { tmean_c, tmin_c, tmax_c };
            series.insert(season.date(day), true_day.shifted(drift * (day - 1) as f64 / 30.4375));
        }
    }
    series
}

fn drivers(world: &World, days: impl Iterator<Item = DayTemp>) -> Drivers {
    let (tmin_c, tmax_c): (Vec<f64>, Vec<f64>) = days.map(|d| (d.tmin_c, d.tmax_c)).unzip();
    let day_length_hours = (0..tmin_c.len()).map(|day| world.day_length_hours[day.min(DAYS - 1)]).collect();
    Drivers { tmin_c, tmax_c, day_length_hours, idle_days: 0 }
}

fn input(kind: Kind, seed: u64, world: &World, seasons: &[i32], water: &[SiteTemperature]) -> FitInput {
    let mut units = Vec::new();
    for (site, known) in water.iter().enumerate() {
        for (year, season) in seasons.iter().enumerate() {
            let days = central_season(&known.completed, &known.climatology, Season::of_year(*season));
            let drivers = drivers(world, days.into_iter().map(|d| d.temp));
            let observations: Vec<Observation> = world
                .visits
                .iter()
                .filter(|v| (v.site, v.year) == (site, year))
                .map(|v| Observation {
                    from_day: v.day - 1,
                    to_day: v.day,
                    outcome: Outcome::Class(v.class),
                    protocol: Protocol::Visit,
                    log_effort: v.log_effort_term,
                    hours: Some(Hours {
                        start: v.hour_start,
                        end: v.hour_end,
                        water_c: 0.5 * (drivers.tmin_c[v.day - 1] + drivers.tmax_c[v.day - 1]),
                    }),
                    x: [v.cloud, v.flow, 0.0],
                    weight: 1.0,
                })
                .collect();
            if !observations.is_empty() {
                units.push(Unit { site, year, drivers: Arc::new(drivers), observations });
            }
        }
    }
    let data = Dataset {
        sites: water.len(),
        years: seasons.len(),
        climate: Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref())),
        units,
        midnight: Midnight::Wraps,
        window: WHOLE_SEASON,
    };
    FitInput {
        sites: Vec::new(),
        cycle: Cycle::Calendar,
        data,
        years: seasons.to_vec(),
        prior: prior(kind, seed),
        has_water: true,
        hours_known: true,
        flights: None,
    }
}

/// What the traits say: every other club has a source for the base temperature, right where there is
/// one to be right about; windows are some days off; two broods in one row have no window.
fn prior(kind: Kind, seed: u64) -> TaxonPrior {
    let off = [-10.0, 4.0, -3.0, 9.0][(seed % 4) as usize];
    TaxonPrior {
        base_temp_c: if seed.is_multiple_of(2) { ((seed % 5) as f64, 1.0) } else { (0.0, 0.0) },
        median_day: (kind != Kind::TwoBroods).then_some((136.0 + off, 20.0)),
        width_days: None,
        species: true,
        one_of_several: false,
        hour: Some((14.0, 3.0)),
    }
}
