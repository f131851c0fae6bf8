//! Doubts about a fit, in words for those who read the forecast.
//!
//! A base temperature below zero speaks against warmth only where the records moved it there: it must
//! lie below zero by more than its posterior sd, and not be held by its prior.
//!
//! Effects of years and reaches are no such sign by their size on the log of the clock: real orders at
//! base 0 show as much and are early in warm springs all the same. What tells is their size in days
//! against the calendar's: warmth that drives a taxon leaves reaches and years less far apart than
//! plain dates do. In simulated clubs of eight years the quotient was 0.4 to 0.75 where warmth was the
//! truth and 1.0 to 2.1 where the calendar was; for three real orders (Hubbard Brook, four years) 0.68
//! to 0.80. [`FURTHER_APART`] stands between.
//!
//! A logger that drifts alike every year cannot be told from records: the requirement takes it up.

use crate::domain::fit::ClockKind;
use crate::model::clock::ClockRun;
use crate::model::posterior::Dataset;
use crate::model::posterior::layout::{D50, DC, TB};

use super::fit_clock::FittedClock;
use super::fit_taxon::{Candidates, FitInput};
use super::prior::log_slope_per_day;
use super::select::{Choice, LeftOut, gain};

/// Effects of reaches, years and site-years on the heat clock, against the calendar's, from which
/// warmth explains nothing.
const FURTHER_APART: f64 = 1.2;
/// What to doubt of `candidates`, from which `choice` was made; empty when nothing speaks against it.
#[must_use]
pub fn doubts(candidates: &Candidates, input: &FitInput, choice: &Choice) -> Vec<String> {
    let mut doubts = Vec::new();
    if !candidates.support.knows_onset && !input.data.is_empty() {
        doubts.push("records hold too few empty visits before the first insects: prior used alone".to_owned());
    }
    let heat = ClockKind::WORDS.iter().map(|(clock, _)| *clock).find(|clock| {
        *clock != ClockKind::Calendar && choice.weights[clock.index()] + choice.weights_elsewhere[clock.index()] > 0.0
    });
    let of = |clock: ClockKind| candidates.fits.iter().find(|fit| fit.clock == clock);
    if let Some(fit) = heat.and_then(of) {
        if base_below_zero(fit) {
            doubts.push("the base temperature runs below 0 C: warmth may not drive this taxon here".to_owned());
        }
        if candidates.support.enough
            && let Some(calendar) = of(ClockKind::Calendar)
            && let (Some(hot), Some(plain)) =
                (days_apart(fit, &candidates.data), days_apart(calendar, &candidates.data))
            && hot > FURTHER_APART * plain
        {
            doubts.push(format!(
                "warmth does not explain the dates: years and reaches lie {hot:.0} days apart when warmth is counted, \
                 {plain:.0} when days are"
            ));
        }
        if choice.weights[fit.clock.index()] == 0.0 {
            doubts.push("in years left out warmth added nothing: the forecast goes by the date alone".to_owned());
        }
        if calendar_is_better(&candidates.by_year, fit.clock) {
            doubts.push(
                "warmth does not drive this taxon here: in years left out the plain calendar did better".to_owned(),
            );
        }
    }
    if let Some([first, second]) = candidates.generations {
        let date = |day: usize| input.cycle.season(2001).date(day).format("%-d %B");
        doubts.push(format!(
            "records hold two generations: one about {}, one about {}; give the taxon two broods",
            date(first),
            date(second)
        ));
    }
    doubts
}

/// The base temperature lies below zero by more than its posterior sd.
fn base_below_zero(fit: &FittedClock) -> bool {
    let sd = fit.laplace.sds()[TB];
    sd > 0.0 && fit.mean[TB] < -sd
}

/// Sd of reaches, years and site-years together, in days of the mean climate.
fn days_apart(fit: &FittedClock, data: &Dataset) -> Option<f64> {
    let (mean, effects) = (&fit.mean, &fit.effects);
    let reference = ClockRun::new(fit.clock, &data.climate, mean[TB], mean[DC], data.climate.len());
    let slope = log_slope_per_day(&reference, mean[D50])?;
    Some(effects.site_shift.hypot(effects.year_shift).hypot(effects.unit_shift) / slope)
}

/// The calendar's left-out score is better than that of `heat` by more than one standard error.
fn calendar_is_better(by_year: &[LeftOut], heat: ClockKind) -> bool {
    let find = |clock| by_year.iter().find(|s| s.clock == clock).map(LeftOut::fold_sums);
    let (Some(calendar), Some(heat)) = (find(ClockKind::Calendar), find(heat)) else { return false };
    let lead = gain(&calendar, &heat);
    lead.sum > lead.se
}

#[cfg(test)]
mod tests {
    use crate::domain::season::Cycle;
    use std::sync::Arc;

    use super::*;
    use crate::model::clock::Drivers;
    use crate::model::emergence::fit_clock::fit_clock;
    use crate::model::emergence::fitted::CalendarForm;
    use crate::model::emergence::generations::unforeseen;
    use crate::model::emergence::prior::TaxonPrior;
    use crate::model::emergence::support::Support;
    use crate::model::likelihood::time_of_day::Midnight;
    use crate::model::posterior::{Observation, Outcome, Protocol, Unit, WHOLE_SEASON};

    fn visit(day: usize, class: usize) -> Observation {
        Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(class),
            protocol: Protocol::Visit,
            log_effort: 0.0,
            hours: None,
            x: [0.0; 3],
            weight: 1.0,
        }
    }

    /// One reach over five years, visited every eighth day; insects on the days of `found`.
    fn club(found: impl Fn(usize) -> bool) -> FitInput {
        let wave = |day: usize| 9.0 - 7.0 * (std::f64::consts::TAU * (day as f64 - 20.0) / 365.0).cos();
        let drivers = Arc::new(Drivers {
            idle_days: 0,
            tmin_c: (1..=365).map(|d| wave(d) - 1.0).collect(),
            tmax_c: (1..=365).map(|d| wave(d) + 1.0).collect(),
            day_length_hours: vec![12.0; 365],
        });
        let unit = |year: usize| {
            let days = (60 + year..290).step_by(8);
            let observations = days.map(|day| visit(day, usize::from(found(day)))).collect();
            Unit { site: 0, year, drivers: drivers.clone(), observations }
        };
        let data = Dataset {
            sites: 1,
            years: 5,
            units: (0..5).map(unit).collect(),
            climate: Drivers::mean_of([drivers.as_ref()]),
            midnight: Midnight::Wraps,
            window: WHOLE_SEASON,
        };
        let prior = TaxonPrior {
            base_temp_c: (2.0, 1.0),
            median_day: None,
            width_days: None,
            species: true,
            one_of_several: false,
            hour: None,
        };
        FitInput {
            sites: Vec::new(),
            data,
            years: (2001..=2005).collect(),
            prior,
            has_water: true,
            hours_known: false,
            flights: None,
            cycle: Cycle::Calendar,
        }
    }

    fn candidates(input: &FitInput) -> Candidates {
        let fit = |clock| fit_clock(clock, &input.data, &input.prior, false).expect("a fit");
        Candidates {
            data: input.data.clone(),
            generations: unforeseen(&input.data, &input.prior),
            support: Support::of(&input.data),
            fits: [ClockKind::Calendar, ClockKind::Thermal].map(fit).to_vec(),
            folds: Vec::new(),
            by_year: Vec::new(),
            by_site: Vec::new(),
            form: CalendarForm::Fixed,
        }
    }

    fn told(candidates: &Candidates, input: &FitInput) -> Vec<String> {
        let weights = [0.25, 0.75, 0.0, 0.0];
        doubts(candidates, input, &Choice { weights, weights_elsewhere: weights, beats_calendar: true })
    }

    #[test]
    fn a_sound_club_is_not_doubted() {
        let input = club(|day| (130..160).contains(&day));
        assert_eq!(told(&candidates(&input), &input), Vec::<String>::new());
    }

    #[test]
    fn a_base_temperature_moved_below_zero_is_told() {
        let input = club(|day| (130..160).contains(&day));
        let mut fitted = candidates(&input);
        let sd = fitted.fits[1].laplace.sds()[TB];
        // No matter how far apart the years lie.
        fitted.support.enough = false;
        fitted.fits[1].mean[TB] = -0.9 * sd;
        assert_eq!(told(&fitted, &input), Vec::<String>::new(), "within its error of zero, sd {sd}");
        fitted.fits[1].mean[TB] = -1.1 * sd;
        let found = told(&fitted, &input);
        assert!(found.len() == 1 && found[0].starts_with("the base temperature runs below 0 C"), "{found:?}");
    }

    #[test]
    fn warmth_that_leaves_years_further_apart_than_days_do_is_told() {
        let input = club(|day| (130..160).contains(&day));
        let mut fitted = candidates(&input);
        // The log of the heat clock runs faster than that of days: the same log effect is fewer days.
        fitted.fits[0].effects.year_shift = 0.05;
        fitted.fits[1].effects.year_shift = 0.12;
        assert_eq!(told(&fitted, &input), Vec::<String>::new());
        fitted.fits[1].effects.year_shift = 0.30;
        let found = told(&fitted, &input);
        assert!(found.len() == 1 && found[0].starts_with("warmth does not explain the dates"), "{found:?}");
    }

    #[test]
    fn a_calendar_that_does_better_in_years_left_out_is_told() {
        let input = club(|day| (130..160).contains(&day));
        let mut fitted = candidates(&input);
        let scores = |clock, years: [f64; 5]| LeftOut { clock, folds: years.map(|s| vec![s]).to_vec() };
        let heat = scores(ClockKind::Thermal, [-3.0, -2.5, -3.5, -3.0, -3.0]);
        fitted.by_year = vec![scores(ClockKind::Calendar, [-2.5, -3.0, -2.9, -3.1, -2.9]), heat.clone()];
        assert!(told(&fitted, &input).is_empty(), "within one standard error");
        fitted.by_year = vec![scores(ClockKind::Calendar, [-2.0, -2.0, -2.9, -2.4, -2.0]), heat];
        let found = told(&fitted, &input);
        assert!(found.len() == 1 && found[0].starts_with("warmth does not drive this taxon here"), "{found:?}");
    }

    #[test]
    fn heat_that_carries_nothing_is_told() {
        let input = club(|day| (130..160).contains(&day));
        let weights = [1.0, 0.0, 0.0, 0.0];
        let choice = Choice { weights, weights_elsewhere: [0.0, 1.0, 0.0, 0.0], beats_calendar: false };
        let found = doubts(&candidates(&input), &input, &choice);
        assert!(found.len() == 1 && found[0].starts_with("in years left out warmth added nothing"), "{found:?}");
        // Without any clock on heat there was nothing to add.
        let found = doubts(&candidates(&input), &input, &Choice { weights_elsewhere: weights, ..choice });
        assert!(found.is_empty(), "{found:?}");
    }

    #[test]
    fn two_generations_are_told_with_their_dates() {
        let input = club(|day| (120..145).contains(&day) || (200..235).contains(&day));
        assert!(
            told(&candidates(&input), &input).iter().any(|text| {
                text == "records hold two generations: one about 14 May, one about 4 August; give the taxon two broods"
            }),
            "{:?}",
            told(&candidates(&input), &input)
        );
        // Scores of records left out move no weight then.
        let mut fitted = candidates(&input);
        let scores =
            |clock, by: f64| LeftOut { clock, folds: (0..6).map(|y| vec![by + 0.01 * f64::from(y)]).collect() };
        fitted.by_year = vec![scores(ClockKind::Calendar, -9.0), scores(ClockKind::Thermal, -2.0)];
        let choice = fitted.choice(None);
        assert_eq!((choice.weights, choice.beats_calendar), ([0.25, 0.75, 0.0, 0.0], false));
        fitted.generations = None;
        let choice = fitted.choice(None);
        assert!(choice.weights[1] > 0.95 && choice.beats_calendar, "{choice:?}");
        // One of two broods is not two, nor is an order with late species.
        for prior in [TaxonPrior { one_of_several: true, ..input.prior }, TaxonPrior { species: false, ..input.prior }]
        {
            let other = FitInput { prior, ..input.clone() };
            assert!(!told(&candidates(&other), &other).iter().any(|text| text.contains("generations")));
        }
    }
}
