//! Predictive milestones are shifted so that, on average, they meet the dates of the training years.
//!
//! The likelihood weighs every record on the log scale, so that a late tail can drag the dates of the
//! bulk. The shift per share is taken over training site-years from observed minus predicted median
//! date, each predicted as a new year at its own site under its own water: the mean on the calendar,
//! which makes its forecast the plain mean date (of all but site-years that are far from all others), and
//! the mean of the middle half on heat clocks, close to the median that the published middle date
//! promises. Heat clocks are shifted only as far as the shift is known: few site-years far apart say
//! nothing of where the curve is wrong.

use std::collections::BTreeMap;

use rand::SeedableRng;
use rand_pcg::Pcg64;

use crate::domain::fit::ClockKind;
use crate::model::posterior::Dataset;

use super::draws::Target;
use super::fit_clock::FittedClock;
use super::schedule::{Schedule, for_site, open_year, schedule_of};
use super::season::quantile;
use super::shown::{Scale, Shown};
use super::simulate;

/// Site-years with observed dates needed before dates are shifted.
const LEAST_SITE_YEARS: usize = 6;
/// Draws over all site-years, and fewest and most for one of them.
const ALL_DRAWS: usize = 6000;
const DRAWS: (usize, usize) = (120, 480);
/// Robust sds from the median beyond which a site-year is not asked; an sd is 1.4826 times the median
/// distance from the median where errors are normal.
const FAR: f64 = 6.0;
const NORMAL_MAD: f64 = 1.4826;
/// Sd of a heat clock's true error over taxa, days: where fits were tried, likelihoods missed the dates of
/// early and middle emergence by so much (ours, from the trials on real trap counts).
const USUAL_ERROR_DAYS: f64 = 3.0;
/// Seed of the draws: the shift must not depend on the caller. Each site-year draws its own seasons, or
/// the same few luckless draws would move the mean over all of them.
const SEED: u64 = 0x0ca1_1b4a;

/// Dates that the records of each site-year show on `scale`, by index of the unit.
#[must_use]
pub fn observed_dates(data: &Dataset, scale: &Scale) -> BTreeMap<usize, [f64; 5]> {
    let open = open_year(data);
    let closed = data.units.iter().enumerate().filter(|(_, unit)| Some(unit.year) != open);
    closed.filter_map(|(index, unit)| Some((index, Shown::observed(unit, data.window, scale)?.dates()?))).collect()
}

/// The shift per milestone, days; zero with too few site-years.
#[must_use]
pub fn calibration(fit: &FittedClock, data: &Dataset, schedules: &[Schedule]) -> [f64; 5] {
    let errors = errors(fit, data, schedules);
    if errors[0].len() < LEAST_SITE_YEARS {
        return [0.0; 5];
    }
    errors.map(|list| match fit.clock {
        ClockKind::Calendar => mean_of_near(list),
        _ => known_part(&list) * middle_half(list),
    })
}

/// By how many days the 10 % and 50 % dates of the records part from the fit's, on average; zero with too few
/// site-years.
#[must_use]
pub fn misses(fit: &FittedClock, data: &Dataset, schedules: &[Schedule]) -> [f64; 2] {
    let [_, onset, half, ..] = errors(fit, data, schedules);
    if onset.len() < LEAST_SITE_YEARS {
        return [0.0; 2];
    }
    [onset, half].map(if fit.clock == ClockKind::Calendar { mean_of_near } else { middle_half })
}

/// Observed minus predicted median date per milestone, of every site-year that tells dates.
fn errors(fit: &FittedClock, data: &Dataset, schedules: &[Schedule]) -> [Vec<f64>; 5] {
    let scale = Scale::of(fit);
    let observed = observed_dates(data, &scale);
    let mut errors: [Vec<f64>; 5] = Default::default();
    if observed.len() < LEAST_SITE_YEARS {
        return errors;
    }
    let draws = (ALL_DRAWS / observed.len()).clamp(DRAWS.0, DRAWS.1);
    for (&index, dates) in &observed {
        let unit = &data.units[index];
        let target = Target { site: Some(unit.site), ..Target::default() };
        let mut rng = Pcg64::seed_from_u64(SEED + index as u64);
        // Heat clocks are judged on the visits that were made: a year whose first visit came late
        // shows late dates, and that is no error of the curve. The calendar is to give the mean of
        // what records show, late first visits included, so it is judged on the usual visits.
        let Some(made) = schedule_of(unit, data.window) else { continue };
        let usual = if fit.clock == ClockKind::Calendar { for_site(schedules, Some(unit.site)) } else { vec![&made] };
        let mut drawn: [Vec<f64>; 5] = Default::default();
        let spread = fit.drawer(&data.climate, &[target]).draw_spread(draws, &mut rng);
        for (k, season) in spread.into_iter().enumerate() {
            let Some(season) = season else { continue };
            let schedule = usual[k % usual.len()];
            let sums = season.sums(&unit.drivers, schedule.last_day());
            let shown = simulate::records(&season, &sums, schedule, &scale, &mut rng);
            if let Some(days) = shown.dates() {
                drawn.iter_mut().zip(days).for_each(|(list, day)| list.push(day));
            }
        }
        if drawn[0].len() < draws / 8 {
            continue;
        }
        for (share, list) in drawn.iter_mut().enumerate() {
            list.sort_by(f64::total_cmp);
            errors[share].push(dates[share] - list[list.len() / 2]);
        }
    }
    errors
}

/// How much of a shift is the curve's and not the luck of few site-years: the usual variance of such
/// errors, as a part of itself and the variance of their mean (the posterior mean under a normal prior
/// about zero).
fn known_part(errors: &[f64]) -> f64 {
    let middle = mean(errors);
    let squares: f64 = errors.iter().map(|e| (e - middle).powi(2)).sum();
    let n = errors.len() as f64;
    let of_mean = squares / ((n - 1.0) * n);
    USUAL_ERROR_DAYS.powi(2) / (USUAL_ERROR_DAYS.powi(2) + of_mean)
}

fn mean(list: &[f64]) -> f64 {
    list.iter().sum::<f64>() / list.len() as f64
}

/// Mean of those within [`FAR`] robust sds of the median: one reach where insects come a month after all
/// others must not move the dates of those.
fn mean_of_near(mut list: Vec<f64>) -> f64 {
    list.sort_by(f64::total_cmp);
    let median = quantile(&list, 0.5);
    let mut off: Vec<f64> = list.iter().map(|e| (e - median).abs()).collect();
    off.sort_by(f64::total_cmp);
    let most = FAR * NORMAL_MAD * quantile(&off, 0.5).max(1.0);
    list.retain(|e| (e - median).abs() <= most);
    mean(&list)
}

/// Mean of the middle half: as deaf to single years as the median, without its jumps from one to the
/// next of a few errors far apart.
fn middle_half(mut list: Vec<f64>) -> f64 {
    list.sort_by(f64::total_cmp);
    let quarter = list.len() / 4;
    mean(&list[quarter..list.len() - quarter])
}

#[cfg(test)]
mod tests {
    use super::{known_part, mean_of_near};

    #[test]
    fn a_shift_counts_as_far_as_it_is_known() {
        let spread =
            |by: f64, n: usize| (0..n).map(|k| if k % 2 == 0 { 2.0 + by } else { 2.0 - by }).collect::<Vec<_>>();
        // All agree: whole. A standard error as large as the usual error: half. Many site-years: whole again.
        assert_eq!(known_part(&spread(0.0, 8)), 1.0);
        assert!((known_part(&spread(9.0, 10)) - 0.5).abs() < 1e-12);
        assert!(known_part(&spread(9.0, 1000)) > 0.99);
    }

    #[test]
    fn one_reach_far_from_the_others_moves_no_date() {
        let near = [-3.0, -1.0, 0.0, 2.0, 2.0, 3.0];
        assert_eq!(mean_of_near(near.to_vec()), 0.5);
        assert_eq!(mean_of_near([&near[..], &[45.0]].concat()), 0.5);
        assert!(mean_of_near([&near[..], &[6.0]].concat()) > 1.0);
    }
}
