//! How good forecasts of one taxon and brood would have been: every year left out, forecast as of
//! days before and in its season, with the water known by then.
//!
//! Forecasts are made every fortnight from twelve weeks before the usual middle of the season to five
//! weeks after it, so that what is scored does not depend on what happened. A record, or the observed
//! 10 % date, that lies so many days after the day of issue counts for the largest of [`LEADS`] that
//! is not larger. Reports of the season itself are not used.

use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::model::clock::Drivers;
use crate::model::curve::with_strays;
use crate::model::likelihood::ordinal::class_probabilities;
use crate::model::posterior::layout::D50;
use crate::model::posterior::{Observation, Outcome, Unit};

use super::classes::CountClasses;
use super::draws::{DrawnSeason, NewYear, Target};
use super::effects::Present;
use super::fit_taxon::{Candidates, FitInput, kernel};
use super::fitted::Member;
use super::folds::YearFold;
use super::hour_scores::{FlightSkill, HourSkill, score_flights, score_hours};
use super::kernel::{ClassKernel, Warmth, mixed};
use super::schedule::{for_site, open_year, schedules};
use super::select::Choice;
use super::shown::{Scale, Shown};
use super::tally::{Case, ClassForecast, SkillRow, Tally};
use super::{simulate, widen};

/// Days ahead that skill is told for.
pub const LEADS: [usize; 6] = [0, 3, 7, 14, 28, 56];
/// Nothing further ahead is scored, days.
pub const FURTHEST_DAYS: usize = 84;
/// First and last day of issue from the usual middle of the season, and the days between issues.
const ISSUES: (i64, i64, usize) = (-84, 35, 14);
/// Draws per clock and day of issue.
const DRAWS: usize = 80;
const SEED: u64 = 0x5c0_4e5;
/// Mixed into class probabilities, as into published ones.
const CLASS_FLOOR: f64 = 1e-3;

/// Water that a season may bring a site, as known by the end of a day of that season: site, season,
/// day number (may lie before 1); all of one length. `None` where no water is known.
pub type WaterKnown<'a> = dyn Fn(usize, i32, i64) -> Option<Vec<Drivers>> + Sync + 'a;

/// How good forecasts would have been.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Assessment {
    /// Scores of the four clocks and of what is shipped, by lead.
    pub rows: Vec<SkillRow>,
    /// Errors of the hours of emergence.
    pub hours: Option<HourSkill>,
    /// Scores of spinner flights.
    pub flights: Option<FlightSkill>,
}

/// Scores every left-out year; `None` with too few years to leave any out or without a clock.
#[must_use]
pub fn assess(input: &FitInput, water: &WaterKnown<'_>) -> Option<Assessment> {
    assess_candidates(&Candidates::fit(input)?, input, water)
}

/// As [`assess`], from fits already made to `input`.
#[must_use]
pub fn assess_candidates(candidates: &Candidates, input: &FitInput, water: &WaterKnown<'_>) -> Option<Assessment> {
    if candidates.folds.is_empty() {
        return None;
    }
    let mut total = Tally::default();
    for tally in by_fold(candidates, input, water, &|tally: &mut Tally, f| tally.add(&f.case, f.observed, &f.drawn)) {
        total.merge(tally);
    }
    let choice = candidates.choice(None);
    Some(Assessment {
        rows: total.rows(),
        hours: score_hours(candidates, &choice, input),
        flights: score_flights(candidates, &choice, input),
    })
}

/// Every forecast that [`assess_candidates`] scores, in one list per left-out year in the order of
/// [`Candidates::folds`]: for one season, reach and day of issue that of each clock and then what is
/// shipped. From these its rows can be computed by others.
#[must_use]
pub fn scored(candidates: &Candidates, input: &FitInput, water: &WaterKnown<'_>) -> Vec<Vec<Scored>> {
    by_fold(candidates, input, water, &|list: &mut Vec<Scored>, one| list.push(one))
}

/// What `take` makes of the forecasts of each left-out year.
fn by_fold<T: Default + Send>(
    candidates: &Candidates,
    input: &FitInput,
    water: &WaterKnown<'_>,
    take: &(dyn Fn(&mut T, Scored) + Sync),
) -> Vec<T> {
    let prepared: Vec<Prepared<'_>> = candidates
        .folds
        .par_iter()
        .enumerate()
        .map(|(index, fold)| Prepared::new(candidates, index, fold, input))
        .collect();
    prepared
        .par_iter()
        .enumerate()
        .map(|(index, fold)| {
            let others = prepared.iter().enumerate().filter(|(other, _)| *other != index);
            let ratios: Vec<f64> = others.flat_map(|(_, other)| other.ratios.iter().copied()).collect();
            let mut taken = T::default();
            fold.forecast(candidates, input, water, widen::factor(&ratios), &mut |one| take(&mut taken, one));
            taken
        })
        .collect()
}

/// One fold ready to forecast its year.
struct Prepared<'a> {
    fold: &'a YearFold,
    members: Vec<Member>,
    choice: Choice,
    ratios: Vec<f64>,
    limits: Option<CountClasses>,
    kernel: Option<ClassKernel>,
}

impl<'a> Prepared<'a> {
    fn new(candidates: &Candidates, index: usize, fold: &'a YearFold, input: &FitInput) -> Self {
        let fits: Vec<_> = fold.fits.iter().flatten().cloned().collect();
        let members = candidates.members(&fits, &fold.training, |_| true);
        let choice = candidates.choice(Some(index));
        let ratios =
            widen::of_fold(&candidates.data, &fold.training, fold.year, &members, &choice, input, index as u64);
        Self {
            fold,
            members,
            choice,
            ratios,
            limits: CountClasses::learn(&fold.training),
            kernel: kernel(&fold.training),
        }
    }

    fn forecast(
        &self,
        candidates: &Candidates,
        input: &FitInput,
        water: &WaterKnown<'_>,
        widening: f64,
        take: &mut dyn FnMut(Scored),
    ) {
        let find = |clock| self.members.iter().find(|m: &&Member| m.fit.clock == clock);
        let Some(calendar) = find(ClockKind::Calendar) else { return };
        let (scale, middle) = (Scale::of(&calendar.fit), calendar.fit.mean[D50].round() as i64);
        let season = input.years[self.fold.year];
        let warmth = Warmth::of(&self.fold.training.climate);
        let closed = Some(self.fold.year) != open_year(&candidates.data);
        for unit in candidates.data.units.iter().filter(|u| u.year == self.fold.year) {
            let observed = Shown::observed(unit, candidates.data.window, &scale)
                .filter(|_| closed)
                .and_then(|shown| shown.dates())
                .map(|dates| dates[1]);
            for issue in (middle + ISSUES.0..=middle + ISSUES.1).step_by(ISSUES.2) {
                let Some(waters) = water(unit.site, season, issue) else { continue };
                let drawn: Vec<(ClockKind, Drawn)> = self
                    .members
                    .iter()
                    .map(|member| (member.fit.clock, self.draw(member, unit, issue, &waters, input)))
                    .collect();
                let mut shipped = mix(&drawn, &self.choice.weights);
                if let Some(kernel) = &self.kernel {
                    let thermal = warmth.days(&Drivers::mean_of(&waters));
                    let thermal_day =
                        |day| usize::try_from(day).ok().and_then(|day: usize| thermal.get(day).copied().flatten());
                    let days = shipped.classes.iter().map(|c| (c.day as f64, thermal_day(c.day)));
                    let by_kernel = kernel.probabilities(days);
                    for (c, by_kernel) in shipped.classes.iter_mut().zip(by_kernel) {
                        c.probabilities = mixed(c.probabilities, by_kernel);
                    }
                }
                let case = Case { clock: None, season, issue, middle, widening };
                for (clock, drawn) in drawn {
                    take(Scored { case: Case { clock: Some(clock), widening: 1.0, ..case }, observed, drawn });
                }
                take(Scored { case, observed, drawn: shipped });
            }
        }
    }

    fn draw(&self, member: &Member, unit: &Unit, issue: i64, waters: &[Drivers], input: &FitInput) -> Drawn {
        let training = &self.fold.training;
        let present = Present::of(training).years;
        let usual = schedules(training);
        let visits = for_site(&usual, Some(unit.site));
        let new_year = NewYear::expected(member.form, &input.years, &present, input.years[unit.year]);
        let target = Target { site: Some(unit.site), new_year, ..Target::default() };
        // The same random numbers for every clock.
        let mut rng =
            Pcg64::seed_from_u64(SEED ^ ((unit.site as u64) << 40) ^ ((unit.year as u64) << 20) ^ issue as u64);
        let mut classes: Vec<(&Observation, ClassForecast)> = unit
            .observations
            .iter()
            .filter_map(|o| {
                let day = i64::try_from(o.to_day).ok()?;
                lead_of(day - issue)?;
                Some((o, ClassForecast { day, class: self.class_of(o)?, probabilities: [0.0; 4] }))
            })
            .collect();
        let mut onset = Vec::with_capacity(DRAWS);
        let mut draws = 0.0;
        let drawer = member.fit.drawer(&training.climate, &[target]);
        for k in 0..DRAWS {
            let Some(season) = drawer.draw(&mut rng) else { continue };
            let drivers = &waters[k % waters.len()];
            let sums = season.sums(drivers, drivers.len());
            if !visits.is_empty()
                && let Some(dates) = simulate::dates(member, &season, &sums, visits[k % visits.len()], &mut rng)
            {
                onset.push(dates[1]);
            }
            for (o, forecast) in &mut classes {
                let one = self.probabilities(&season, &sums, o);
                forecast.probabilities.iter_mut().zip(one).for_each(|(sum, p)| *sum += p);
            }
            draws += 1.0;
        }
        for (_, forecast) in &mut classes {
            let mean = |sum: f64| (1.0 - CLASS_FLOOR) * sum / f64::max(draws, 1.0) + CLASS_FLOOR / 4.0;
            forecast.probabilities = forecast.probabilities.map(mean);
        }
        let classes =
            if draws > 0.0 { classes.into_iter().map(|(_, forecast)| forecast).collect() } else { Vec::new() };
        Drawn { onset, classes }
    }

    /// The class that a record shows; `None` for first sightings and counts of the other protocol.
    fn class_of(&self, o: &Observation) -> Option<usize> {
        match o.outcome {
            Outcome::Class(class) => Some(class),
            Outcome::Count(count) => {
                let limits = self.limits.filter(|limits| limits.protocol == o.protocol)?;
                Some(limits.class_of(count, o.log_effort.exp()))
            }
            Outcome::Seen | Outcome::First { .. } => None,
        }
    }

    /// Class probabilities of a record under one draw, with its own hours, effort and weather.
    fn probabilities(&self, drawn: &DrawnSeason, sums: &[f64], o: &Observation) -> [f64; 4] {
        let last = sums.len() - 1;
        let [from, to] = [o.from_day, o.to_day].map(|day| drawn.curve.completed(sums[day.min(last)]));
        let q = with_strays(to - from, (o.to_day - o.from_day) as f64);
        let seen = q * drawn.hours_share(o.hours.as_ref());
        let effects: f64 = drawn.beta.iter().zip(&o.x).map(|(b, x)| b * x).sum();
        match (o.outcome, self.limits) {
            (Outcome::Count(_), Some(limits)) => {
                let mean = drawn.mean_catch(seen, o.log_effort + effects / drawn.common.b, o.protocol);
                limits.probabilities_with(mean, drawn.common.theta, o.log_effort)
            }
            _ => class_probabilities(drawn.eta(seen.ln() + o.log_effort) + effects, &drawn.common.tau),
        }
    }
}

/// A forecast and what came of it.
#[derive(Debug, Clone)]
pub struct Scored {
    /// What it stands for.
    pub case: Case,
    /// The 10 % date that the season's records show, day of the season, where they show one.
    pub observed: Option<f64>,
    /// What was said.
    pub drawn: Drawn,
}

/// What is said of one site-year on one day of issue.
#[derive(Debug, Clone, Default)]
pub struct Drawn {
    /// Draws of the 10 % date.
    pub onset: Vec<f64>,
    /// Classes of the records still to come.
    pub classes: Vec<ClassForecast>,
}

/// The mixture of clocks: draws in proportion, probabilities weighted.
fn mix(drawn: &[(ClockKind, Drawn)], weights: &[f64; 4]) -> Drawn {
    let mut mixed = Drawn::default();
    for (clock, one) in drawn {
        let weight = weights[clock.index()];
        if weight <= 0.0 {
            continue;
        }
        let share = (weight * one.onset.len() as f64).round() as usize;
        mixed.onset.extend(&one.onset[..share.min(one.onset.len())]);
        if mixed.classes.is_empty() {
            mixed.classes = one.classes.iter().map(|c| ClassForecast { probabilities: [0.0; 4], ..*c }).collect();
        }
        for (sum, c) in mixed.classes.iter_mut().zip(&one.classes) {
            sum.probabilities.iter_mut().zip(c.probabilities).for_each(|(a, b)| *a += weight * b);
        }
    }
    mixed
}

/// Which of [`LEADS`] something `days` ahead counts for.
#[must_use]
pub fn lead_of(days: i64) -> Option<usize> {
    let days = usize::try_from(days).ok().filter(|d| *d < FURTHEST_DAYS)?;
    LEADS.iter().rposition(|lead| *lead <= days)
}
