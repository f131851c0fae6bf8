//! What the visit plan is worth, over seasons that no fit has seen: visits where and when it advises, where most is
//! expected to emerge, and anywhere, each judged by how much narrower they leave the date on which a tenth of the season
//! has emerged.
//!
//! The forecasts, their ranking of visits and what a finding leaves of their draws are the service's own; the season,
//! and what a visit to it would find, are the world's. A visit's narrowing is the mean over the four classes, by the
//! world's probabilities: the luck of one visit is no matter of the plan, nor is that of draws made anew.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use subimago::model::clock::Drivers;
use subimago::model::emergence::{FittedTaxon, SeasonForecast, SeasonRequest, fit_taxon, forecast_season};

use crate::club::{Club, Kind, REACHES};
use crate::stats::Mean;
use crate::world::Visit;

/// Years of records, then seasons to plan for.
const YEARS: usize = 8;
const SEASONS: usize = 2;
/// So many clubs that what one fit has wrong does not decide.
const CLUBS: [(Kind, std::ops::RangeInclusive<u64>); 3] =
    [(Kind::Thermal, 1..=10), (Kind::Gated, 1..=10), (Kind::Calendar, 1..=5)];
/// Days planned for, and how long before the usual start of emergence that is done.
const DAYS: usize = 14;
const BEFORE_START: f64 = 7.0;
/// So many that picking the best of some forty reach-days hardly picks the luck of draws.
const DRAWS: usize = 2000;
/// By how much the plan must beat each other way to choose.
const BETTER: f64 = 1.2;
/// Index of the 10 % date among the milestones.
const TENTH: usize = 1;

/// A fit on the first years of a club, and a season after them.
struct Plan<'a> {
    club: &'a Club,
    fitted: &'a FittedTaxon,
    year: usize,
    issue: usize,
    /// What the water may bring each reach.
    water: Vec<Vec<Drivers>>,
}

impl Plan<'_> {
    fn forecast(&self, reach: usize) -> SeasonForecast {
        let season = 2001 + self.year as i32;
        let request = SeasonRequest {
            plan: Some((self.issue + 1, self.issue + DAYS)),
            ..SeasonRequest::new(Some(reach), season, &self.water[reach], DRAWS, 7)
        };
        forecast_season(self.fitted, &request).expect("the water runs")
    }

    /// Narrowing of the date's sd by a visit to `reach` on the plan's day `ahead`, days.
    fn realised(&self, season: &SeasonForecast, reach: usize, ahead: usize) -> f64 {
        let visit = self.visit(reach, self.issue + 1 + ahead);
        season.visits[ahead].narrowing_by(self.club.world.class_probabilities(&visit))
    }

    /// One person, two hours around the hour of peak, usual weather.
    fn visit(&self, site: usize, day: usize) -> Visit {
        let (world, year) = (&self.club.world, self.year);
        let water_c = world.climate[site][year].tmean_c[day - 1];
        let peak = world.truth.h0 + world.truth.h1 * (water_c - 12.0);
        Visit {
            site,
            year,
            day,
            hour_start: peak - 1.0,
            hour_end: peak + 1.0,
            log_effort_term: 0.0,
            cloud: 0.0,
            flow: 0.0,
            water_c,
            class: 0,
            count: 0,
        }
    }
}

/// The fit of the first years alone.
fn fit_of_first_years(club: &Club) -> FittedTaxon {
    let mut input = club.input.clone();
    input.data.units.retain(|unit| unit.year < YEARS);
    input.data.years = YEARS;
    input.data.climate = Drivers::mean_of(input.data.units.iter().map(|unit| unit.drivers.as_ref()));
    input.years.truncate(YEARS);
    fit_taxon(&input).expect("years of records")
}

/// The largest of `values` by reach and day.
fn largest(values: &[Vec<f64>]) -> (usize, usize) {
    let places = (0..values.len()).flat_map(|reach| (0..values[reach].len()).map(move |ahead| (reach, ahead)));
    places.max_by(|a, b| values[a.0][a.1].total_cmp(&values[b.0][b.1])).expect("a place")
}

#[test]
fn planned_visits_narrow_more_than_those_on_the_fullest_day_and_than_any() {
    let mut rng = Pcg64::seed_from_u64(21);
    // By season: narrowing by a planned visit, on the fullest day, on any; and what there was to narrow.
    let mut seasons_seen: Vec<[f64; 4]> = Vec::new();
    for (kind, seed) in CLUBS.into_iter().flat_map(|(kind, seeds)| seeds.map(move |seed| (kind, seed))) {
        let club = Club::new(kind, seed, YEARS + SEASONS);
        let fitted = fit_of_first_years(&club);
        for year in YEARS..YEARS + SEASONS {
            let water = |issue: i64| -> Vec<Vec<Drivers>> {
                (0..REACHES).map(|reach| club.water_known(reach, 2001 + year as i32, issue).expect("water")).collect()
            };
            let mut plan = Plan { club: &club, fitted: &fitted, year, issue: 90, water: water(90) };
            let starts = plan.forecast(0).milestones[TENTH][1].expect("a date");
            plan.issue = (starts - BEFORE_START) as usize;
            plan.water = water(plan.issue as i64);
            let seasons: Vec<SeasonForecast> = (0..REACHES).map(|reach| plan.forecast(reach)).collect();
            let by_plan = largest(
                &seasons
                    .iter()
                    .map(|s| s.visits.iter().map(|visit| visit.narrowing_days).collect())
                    .collect::<Vec<_>>(),
            );
            let shares = seasons.iter().map(|s| s.share[plan.issue..plan.issue + DAYS].to_vec());
            let by_share = largest(&shares.collect::<Vec<_>>());
            let by_chance = (rng.random_range(0..REACHES), rng.random_range(0..DAYS));
            let realised = |(reach, ahead): (usize, usize)| plan.realised(&seasons[reach], reach, ahead);
            let before = seasons.iter().map(|s| s.visits[0].before_days).sum::<f64>() / REACHES as f64;
            seasons_seen.push([realised(by_plan), realised(by_share), realised(by_chance), before]);
        }
    }
    let mean = |of: &dyn Fn(&[f64; 4]) -> f64| Mean::of(&seasons_seen.iter().map(of).collect::<Vec<_>>());
    let [planned, fullest, random, before] = std::array::from_fn(|k| mean(&move |season| season[k]));
    let lead = |other: usize| mean(&move |season| season[0] - BETTER * season[other]);
    println!(
        "{} seasons: sd of the 10 % date {before:.2} d; narrowed by a planned visit {planned:.2} d, on the fullest day \
         {fullest:.2}, on any {random:.2}; planned less 1.2 of the fullest {:.2}, of any {:.2}",
        seasons_seen.len(),
        lead(1),
        lead(2)
    );
    // Beyond what the luck of fifty seasons would show.
    for other in [1, 2] {
        assert!(lead(other).mean > 2.0 * lead(other).se, "{}", lead(other));
    }
}
