//! Whether records of what should be one generation hold two.
//!
//! No curve of one generation, nor of two parts on one clock's widths, gives their dates; records left out are no judge
//! of clocks then, for one clock may fit the first generation alone and gain by it. So the weights of the clocks stay
//! where they start ([`super::select`]), and the reader is told.

use crate::model::posterior::{Dataset, Outcome};

use super::prior::TaxonPrior;
use super::support::LEAST_POSITIVE;

/// Days without insects, and blank visits in them, that part two generations (common practice, no source).
const APART_DAYS: usize = 28;
const APART_BLANKS: usize = 2;
/// Fewest years that show both generations.
const LEAST_YEARS: usize = 3;

/// Middle days of the two generations that records of a species hold, where `prior` knows of one; orders and families
/// hold late species.
pub(super) fn unforeseen(data: &Dataset, prior: &TaxonPrior) -> Option<[usize; 2]> {
    if prior.species && !prior.one_of_several { generations(data) } else { None }
}

/// Middle days of two generations: most years show insects before and after one day of the year,
/// with [`APART_DAYS`] or more and blanks between; `None` where no day parts them so.
fn generations(data: &Dataset) -> Option<[usize; 2]> {
    let years: Vec<Vec<(usize, bool)>> = (0..data.years).map(|year| looks(data, year)).collect();
    let telling = years.iter().filter(|looks| looks.iter().filter(|l| l.1).count() >= 2).count();
    let parted = |day: usize| years.iter().filter(|looks| is_parted(looks, day)).count();
    let most = (1..data.climate.len()).map(parted).max()?;
    let days: Vec<usize> = (1..data.climate.len()).filter(|day| parted(*day) == most).collect();
    let between = days[days.len() / 2];
    let mut found: Vec<usize> = years.iter().flatten().filter(|l| l.1).map(|l| l.0).collect();
    found.sort_unstable();
    let (first, second) = found.split_at(found.partition_point(|day| *day < between));
    let enough = first.len().min(second.len()) >= LEAST_POSITIVE;
    (enough && most >= LEAST_YEARS && 2 * most > telling).then(|| [first[first.len() / 2], second[second.len() / 2]])
}

/// Days looked at in `year`, in order, and whether insects were found.
fn looks(data: &Dataset, year: usize) -> Vec<(usize, bool)> {
    let mut looks: Vec<(usize, bool)> = data
        .units
        .iter()
        .filter(|unit| unit.year == year)
        .flat_map(|unit| &unit.observations)
        .filter_map(|o| match o.outcome {
            Outcome::Class(class) => Some((o.to_day, class > 0)),
            Outcome::Count(count) => Some((o.to_day, count > 0)),
            Outcome::Seen => Some((o.to_day, true)),
            Outcome::First { .. } => None,
        })
        .collect();
    looks.sort_unstable();
    looks
}

/// Insects were found before `day` and from then on, far apart and with blanks between.
fn is_parted(looks: &[(usize, bool)], day: usize) -> bool {
    let (before, after) = looks.split_at(looks.partition_point(|l| l.0 < day));
    let (Some(last), Some(next)) = (before.iter().rposition(|l| l.1), after.iter().position(|l| l.1)) else {
        return false;
    };
    let blanks = before.len() - 1 - last + next;
    after[next].0 - before[last].0 >= APART_DAYS && blanks >= APART_BLANKS
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::model::clock::Drivers;
    use crate::model::likelihood::time_of_day::Midnight;
    use crate::model::posterior::{Observation, Protocol, Unit, WHOLE_SEASON};

    fn visit(day: usize, found: bool) -> Observation {
        Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(usize::from(found)),
            protocol: Protocol::Visit,
            log_effort: 0.0,
            hours: None,
            x: [0.0; 3],
            weight: 1.0,
        }
    }

    #[test]
    fn strays_and_gaps_that_nobody_watched_are_no_second_generation() {
        let parted = |visits: &[(usize, bool)]| (100..220).any(|day| is_parted(visits, day));
        assert!(!parted(&[(120, true), (130, true), (200, true)]), "nobody looked between");
        assert!(!parted(&[(120, true), (130, false), (140, false), (147, true)]), "four weeks apart at least");
        assert!(parted(&[(120, true), (125, true), (140, false), (160, false), (200, true)]));
        assert!(!parted(&[(120, true), (125, true), (140, false), (160, false)]));
        // A late stray in one year of five, on a reach visited every eighth day.
        let water = vec![10.0; 365];
        let drivers = Arc::new(Drivers {
            idle_days: 0,
            tmin_c: water.clone(),
            tmax_c: water.clone(),
            day_length_hours: vec![12.0; 365],
        });
        let unit = |year: usize| {
            let days = (60 + year..290).step_by(8).map(|day| visit(day, (130..160).contains(&day)));
            let stray = (year == 2).then(|| visit(280, true));
            Unit { site: 0, year, drivers: drivers.clone(), observations: days.chain(stray).collect() }
        };
        let data = Dataset {
            sites: 1,
            years: 5,
            units: (0..5).map(unit).collect(),
            climate: Drivers::mean_of([drivers.as_ref()]),
            midnight: Midnight::Wraps,
            window: WHOLE_SEASON,
        };
        assert_eq!(generations(&data), None);
    }
}
