//! How good the hours of emergence and the spinner flights would have been, with years left out.
//!
//! Hours: the middle of left-out visits that met at least moderate numbers, against the peak hour expected
//! for the water of that day, beside the hour that traits alone tell. People choose their hours, so this
//! says how well they are met, not when insects would have been seen unwatched.
//! Flights: classes of left-out watches that touch the usual hours of a flight, by the ranked probability
//! score, beside the score of the classes' frequencies in the other years.

use rand::SeedableRng;
use rand_pcg::Pcg64;

use crate::model::likelihood::ordinal::class_probabilities;
use crate::model::posterior::{Observation, Outcome};
use crate::model::scores::rps;

use super::draws::{NewYear, Target};
use super::effects::Present;
use super::fit_taxon::{Candidates, FitInput, flights};
use super::fitted::Member;
use super::flight::{FlightInput, FlightObservation, FlightUnit};
use super::folds::YearFold;
use super::prior::peak_hour;
use super::select::Choice;

/// Visits longer than this do not place an hour.
const LONGEST_VISIT_HOURS: f64 = 4.0;
/// A watch so near the usual middle of a flight, at its nearer end, can tell of it, hours.
const NEAR_HOURS: f64 = 2.0;
/// Hour of peak where traits tell none, as in the prior.
const NO_HOUR: f64 = 14.0;
const DRAWS: usize = 60;
const SEED: u64 = 0xf119_5c0e;

/// Errors of the hour of emergence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HourSkill {
    /// Visits scored.
    pub visits: usize,
    /// Years they lie in.
    pub years: usize,
    /// Mean distance of the visits' middle from the expected peak, hours.
    pub error_hours: f64,
    /// The same from the hour of the traits alone.
    pub error_by_traits_hours: f64,
}

/// Scores of spinner flights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlightSkill {
    /// Watches scored.
    pub watches: usize,
    /// Years they lie in.
    pub years: usize,
    /// Mean ranked probability score, not divided by three.
    pub rps: f64,
    /// The same of the frequencies of other years.
    pub rps_of_frequencies: f64,
}

/// Errors of the hours over all left-out years; `None` without a visit to score.
#[must_use]
pub fn score_hours(candidates: &Candidates, choice: &Choice, input: &FitInput) -> Option<HourSkill> {
    let by_traits = input.prior.hour.map_or(NO_HOUR, |(hour, _)| hour);
    let (mut visits, mut years, mut error, mut error_by_traits) = (0, 0, 0.0, 0.0);
    for fold in &candidates.folds {
        let Some(fit) = fold.heaviest(&choice.weights) else { continue };
        let mut scored = false;
        let units = candidates.data.units.iter().filter(|unit| unit.year == fold.year);
        for (middle, water_c) in units.flat_map(|unit| unit.observations.iter().filter_map(good_visit)) {
            error += apart(middle, peak_hour(&fit.mean, water_c));
            error_by_traits += apart(middle, by_traits);
            visits += 1;
            scored = true;
        }
        years += usize::from(scored);
    }
    let n = visits as f64;
    (visits > 0).then(|| HourSkill {
        visits,
        years,
        error_hours: error / n,
        error_by_traits_hours: error_by_traits / n,
    })
}

/// Middle and water of a visit that met at least moderate numbers.
fn good_visit(o: &Observation) -> Option<(f64, f64)> {
    let hours = o.hours.filter(|h| h.end - h.start <= LONGEST_VISIT_HOURS && h.water_c.is_finite())?;
    matches!(o.outcome, Outcome::Class(2..)).then_some((0.5 * (hours.start + hours.end), hours.water_c))
}

/// Hours between two hours of the day, the shorter way.
fn apart(a: f64, b: f64) -> f64 {
    let off = (a - b).rem_euclid(24.0);
    off.min(24.0 - off)
}

/// Scores of flights over all left-out years; `None` without a watch to score.
#[must_use]
pub fn score_flights(candidates: &Candidates, choice: &Choice, input: &FitInput) -> Option<FlightSkill> {
    let all = input.flights.as_ref().filter(|all| !all.is_empty())?;
    let (mut watches, mut years, mut score, mut null) = (0, 0, 0.0, 0.0);
    for fold in &candidates.folds {
        let season = *input.years.get(fold.year)?;
        let training = all.without_year(season);
        let frequencies = frequencies(&training);
        let left_out: Vec<&FlightUnit> = all.units.iter().filter(|u| u.year == season).collect();
        let mut scored = false;
        for (class, probabilities) in forecasts(candidates, choice, input, fold, &training, &left_out) {
            score += rps(&probabilities, class);
            null += rps(&frequencies, class);
            watches += 1;
            scored = true;
        }
        years += usize::from(scored);
    }
    let n = watches as f64;
    (watches > 0).then(|| FlightSkill { watches, years, rps: score / n, rps_of_frequencies: null / n })
}

/// Class and forecast of every telling watch of a left-out year.
fn forecasts(
    candidates: &Candidates,
    choice: &Choice,
    input: &FitInput,
    fold: &YearFold,
    training: &FlightInput,
    left_out: &[&FlightUnit],
) -> Vec<(usize, [f64; 4])> {
    let members: Vec<Member> = fold
        .heaviest(&choice.weights)
        .map(|fit| Member { fit: fit.clone(), calibration_days: [0.0; 5], form: candidates.form })
        .into_iter()
        .collect();
    let flight = flights(Some(training), &members, &choice.weights, &fold.training, &input.years);
    let (Some(member), Some(flight)) = (members.first(), flight) else { return Vec::new() };
    let present = Present::of(&fold.training);
    let season = input.years[fold.year];
    let mut found = Vec::new();
    for unit in left_out {
        let target = Target {
            site: Some(unit.site).filter(|s| present.sites.contains(s)),
            new_year: NewYear::expected(member.form, &input.years, &present.years, season),
            ..Target::default()
        };
        let mut rng = Pcg64::seed_from_u64(SEED ^ ((unit.site as u64) << 32) ^ fold.year as u64);
        let telling = unit.observations.iter().filter_map(|o| Some((o, telling(training, o)?, [0.0; 4])));
        let mut watched: Vec<(&FlightObservation, usize, [f64; 4])> = telling.collect();
        let mut draws = 0.0;
        let drawer = member.fit.drawer(&fold.training.climate, &[target]);
        for _ in 0..DRAWS {
            let Some(drawn) = drawer.draw(&mut rng) else { continue };
            let completed = drawn.completed(&drawn.sums(&unit.drivers, unit.drivers.len()));
            let flying = flight.draw(&mut rng);
            for (o, _, sums) in &mut watched {
                let p = class_probabilities(flying.eta(&drawn, &completed, o), &drawn.common.tau);
                sums.iter_mut().zip(p).for_each(|(sum, p)| *sum += p);
            }
            draws += 1.0;
        }
        if draws > 0.0 {
            found.extend(watched.into_iter().map(|(_, class, sums)| (class, sums.map(|sum| sum / draws))));
        }
    }
    found
}

/// The class of a watch that touches the usual hours of a flight.
fn telling(input: &FlightInput, o: &FlightObservation) -> Option<usize> {
    let near = |hour: f64| (hour - input.habit.offset_hours).abs() <= NEAR_HOURS;
    let around = o.hours.0 <= input.habit.offset_hours && input.habit.offset_hours <= o.hours.1;
    match o.outcome {
        Outcome::Class(class) if around || near(o.hours.0) || near(o.hours.1) => Some(class),
        _ => None,
    }
}

/// Frequencies of the classes among telling watches, one of each added.
fn frequencies(input: &FlightInput) -> [f64; 4] {
    let mut counts = [1.0; 4];
    for class in input.units.iter().flat_map(|u| &u.observations).filter_map(|o| telling(input, o)) {
        counts[class.min(3)] += 1.0;
    }
    let sum: f64 = counts.iter().sum();
    counts.map(|count| count / sum)
}

#[cfg(test)]
mod tests {
    use super::apart;

    #[test]
    fn hours_are_apart_the_shorter_way() {
        assert_eq!(apart(23.5, 0.5), 1.0);
        assert_eq!(apart(14.0, 12.5), 1.5);
        assert_eq!(apart(24.5, 0.0), 0.5);
    }
}
