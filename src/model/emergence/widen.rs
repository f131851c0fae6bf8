//! How much wider intervals must be than the model draws them, from years left out.
//!
//! For each left-out site-year whose records tell dates, the distance of the observed 10 % and 50 %
//! date from the middle of the forecast, in units of the distance of the 80 % interval's end on that
//! side. The 80 % quantile of these ratios is the factor under which 80 % of them would have been
//! covered; with few of them it is drawn towards 1. Intervals are never made narrower.

use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::model::posterior::Dataset;

use super::drawer::Drawer;
use super::draws::{NewYear, Target};
use super::effects::Present;
use super::fit_taxon::{Candidates, FitInput};
use super::fitted::Member;
use super::schedule::{for_site, open_year, schedules};
use super::season::{allocate, quantile};
use super::select::Choice;
use super::shown::{Scale, Shown};
use super::simulate;

/// Draws per left-out site-year.
const DRAWS: usize = 100;
/// Seed of the draws.
const SEED: u64 = 0x71de_2a55;
/// Weight of "no widening", in dates.
const PRIOR_DATES: f64 = 10.0;
/// Nothing is widened beyond this: a forecast so wrong is to be told by its skill.
const MOST: f64 = 3.0;
/// Nominal cover of published intervals.
pub const COVER: f64 = 0.8;

/// Ratios of all left-out dates. The members' calibration saw all years, so these are a little kind.
#[must_use]
pub fn ratios(candidates: &Candidates, members: &[Member], choice: &Choice, input: &FitInput) -> Vec<f64> {
    let open = open_year(&candidates.data);
    candidates
        .folds
        .par_iter()
        .enumerate()
        .filter(|(_, fold)| Some(fold.year) != open)
        .flat_map_iter(|(index, fold)| {
            let kept: Vec<Member> = members
                .iter()
                .filter_map(|m| {
                    let fit = fold.fits.iter().flatten().find(|f| f.clock == m.fit.clock)?.clone();
                    Some(Member { fit, ..m.clone() })
                })
                .collect();
            of_fold(&candidates.data, &fold.training, fold.year, &kept, choice, input, index as u64)
        })
        .collect()
}

/// Ratios of one left-out year, `members` being fitted to the other years.
#[must_use]
pub fn of_fold(
    data: &Dataset,
    training: &Dataset,
    year: usize,
    members: &[Member],
    choice: &Choice,
    input: &FitInput,
    stream: u64,
) -> Vec<f64> {
    let Some(first) = members.first() else { return Vec::new() };
    let scale = Scale::of(&first.fit);
    let usual = schedules(training);
    let present = Present::of(training).years;
    let plan = allocate(&choice.weights, DRAWS);
    let mut found = Vec::new();
    for unit in data.units.iter().filter(|u| u.year == year) {
        let Some(observed) = Shown::observed(unit, data.window, &scale).and_then(|shown| shown.dates()) else {
            continue;
        };
        let visits = for_site(&usual, Some(unit.site));
        if visits.is_empty() {
            continue;
        }
        let mut rng = Pcg64::seed_from_u64(SEED ^ (stream << 32) ^ unit.site as u64);
        let mut drawn: [Vec<f64>; 2] = Default::default();
        let drawers: Vec<(&Member, Drawer<'_>)> = members
            .iter()
            .map(|member| {
                let new_year = NewYear::expected(member.form, &input.years, &present, input.years[year]);
                let target = Target { site: Some(unit.site), new_year, ..Target::default() };
                (member, member.fit.drawer(&training.climate, &[target]))
            })
            .collect();
        for (k, clock) in plan.iter().enumerate() {
            let Some((member, drawer)) = drawers.iter().find(|(m, _)| m.fit.clock == *clock) else { continue };
            let Some(season) = drawer.draw(&mut rng) else { continue };
            let schedule = visits[k % visits.len()];
            let sums = season.sums(&unit.drivers, schedule.last_day());
            if let Some(dates) = simulate::dates(member, &season, &sums, schedule, &mut rng) {
                drawn.iter_mut().zip(&dates[1..3]).for_each(|(list, day)| list.push(*day));
            }
        }
        for (list, day) in drawn.iter_mut().zip(&observed[1..3]) {
            if list.len() < DRAWS / 4 {
                continue;
            }
            list.sort_by(f64::total_cmp);
            let [low, middle, high] = [0.1, 0.5, 0.9].map(|p| quantile(list, p));
            let side = if *day > middle { high - middle } else { middle - low };
            found.push((day - middle).abs() / side.max(0.5));
        }
    }
    found
}

/// The factor, at least 1, from ratios; 1 without any.
#[must_use]
pub fn factor(ratios: &[f64]) -> f64 {
    if ratios.is_empty() {
        return 1.0;
    }
    let mut sorted = ratios.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let needed = quantile(&sorted, COVER).max(1.0);
    ((n * needed + PRIOR_DATES) / (n + PRIOR_DATES)).min(MOST)
}

#[cfg(test)]
mod tests {
    use super::factor;

    #[test]
    fn intervals_that_cover_stay_and_narrow_ones_are_widened() {
        let even: Vec<f64> = (0..100).map(|k| f64::from(k) / 80.0).collect();
        assert!((factor(&even) - 1.0).abs() < 0.02, "{}", factor(&even));
        let narrow: Vec<f64> = even.iter().map(|r| 2.0 * r).collect();
        assert!((1.7..2.0).contains(&factor(&narrow)), "{}", factor(&narrow));
        assert_eq!(factor(&[]), 1.0);
        assert!(factor(&[2.5]) < 1.2, "one date alone does not widen much");
    }
}
