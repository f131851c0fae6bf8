//! Fits to all but one year, and to all but one site, and what they say of the records left out.

use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::model::posterior::{Dataset, Unit};

use super::draws::NewYear;
use super::effects::Present;
use super::fit_clock::{FittedClock, fit_clock, refit};
use super::fit_taxon::FitInput;
use super::fitted::CalendarForm;
use super::generations::unforeseen;
use super::hindcast::log_scores;
use super::select::LeftOut;

/// Fewest years, and fewest sites, for leaving one out.
const LEAST_FOLDS: usize = 3;
/// Years from which a calendar may follow its last ten years or a trend.
const YEARS_FOR_FORMS: usize = 10;

/// One year left out.
#[derive(Debug, Clone)]
pub struct YearFold {
    /// Index of the year left out.
    pub year: usize,
    /// The records of the other years.
    pub training: Dataset,
    /// Middle days of two generations that they hold against expectation.
    pub generations: Option<[usize; 2]>,
    /// A fit to them per clock, in the order of the full fits; `None` where it failed.
    pub fits: Vec<Option<FittedClock>>,
}

impl YearFold {
    /// The fit with most of `weights`.
    #[must_use]
    pub fn heaviest(&self, weights: &[f64; 4]) -> Option<&FittedClock> {
        let weight = |fit: &&FittedClock| weights[fit.clock.index()];
        self.fits.iter().flatten().max_by(|a, b| weight(a).total_cmp(&weight(b)))
    }
}

/// Leaves every year out in turn; empty with too few years.
#[must_use]
pub fn year_folds(fits: &[FittedClock], input: &FitInput, data: &Dataset) -> Vec<YearFold> {
    let years = Present::of(data).years;
    if years.len() < LEAST_FOLDS {
        return Vec::new();
    }
    years
        .par_iter()
        .map(|&year| {
            let training = data.without_year(year);
            let fits = fits.iter().map(|full| fit_part(full, data, &training, input)).collect();
            let generations = unforeseen(&training, &input.prior);
            YearFold { year, training, generations, fits }
        })
        .collect()
}

/// Fits `training`, a part of `data`, on the clock of `full`: from its mode, or afresh where that mode
/// is none for fewer records. A clock without a fit in one fold would go unjudged.
fn fit_part(full: &FittedClock, data: &Dataset, training: &Dataset, input: &FitInput) -> Option<FittedClock> {
    refit(full, data, training, &input.prior).or_else(|| fit_clock(full.clock, training, &input.prior, full.two_parts))
}

/// Left-out scores by year for every clock, and the calendar's best way to see a new year.
#[must_use]
pub fn score_years(
    folds: &[YearFold],
    clocks: &[ClockKind],
    input: &FitInput,
    data: &Dataset,
) -> (Vec<LeftOut>, CalendarForm) {
    if folds.is_empty() {
        return (Vec::new(), CalendarForm::Fixed);
    }
    let forms: &[CalendarForm] = if folds.len() >= YEARS_FOR_FORMS {
        &[CalendarForm::Fixed, CalendarForm::Rolling, CalendarForm::Trend]
    } else {
        &[CalendarForm::Fixed]
    };
    // By fold, clock and form: log scores of the fold's records.
    let scores: Vec<Vec<Option<Vec<Vec<f64>>>>> = folds
        .par_iter()
        .map(|fold| {
            let present = Present::of(&fold.training).years;
            let left: Vec<&Unit> = data.units.iter().filter(|u| u.year == fold.year).collect();
            let of_clock = |fit: &FittedClock| {
                let forms = if fit.clock == ClockKind::Calendar { forms } else { &forms[..1] };
                let of_form = |&form: &CalendarForm| {
                    let new_year = NewYear::expected(form, &input.years, &present, input.years[fold.year]);
                    let mut scores = Vec::new();
                    for unit in &left {
                        scores.extend(log_scores(fit, &fold.training, unit, true, new_year)?);
                    }
                    Some(scores)
                };
                forms.iter().map(of_form).collect()
            };
            fold.fits.iter().map(|fit| fit.as_ref().and_then(of_clock)).collect()
        })
        .collect();
    let mut best_form = 0;
    let mut found = Vec::new();
    for (index, &clock) in clocks.iter().enumerate() {
        let tried = if clock == ClockKind::Calendar { forms.len() } else { 1 };
        let rows_of = |form: usize| -> Option<Vec<Vec<f64>>> {
            scores.iter().map(|fold| fold[index].as_ref().map(|forms| forms[form].clone())).collect()
        };
        let total = |rows: &[Vec<f64>]| rows.iter().flatten().sum::<f64>();
        let candidates = (0..tried).filter_map(|form| Some((form, rows_of(form)?)));
        if let Some((form, rows)) = candidates.max_by(|a, b| total(&a.1).total_cmp(&total(&b.1))) {
            if clock == ClockKind::Calendar {
                best_form = form;
            }
            found.push(LeftOut { clock, folds: rows });
        }
    }
    (found, forms[best_form])
}

/// Left-out scores by site for every clock; empty with too few sites or clocks.
#[must_use]
pub fn score_sites(fits: &[FittedClock], input: &FitInput, data: &Dataset) -> Vec<LeftOut> {
    let sites = Present::of(data).sites;
    if sites.len() < LEAST_FOLDS || fits.len() < 2 {
        return Vec::new();
    }
    let folds: Vec<Vec<Option<Vec<f64>>>> = sites
        .par_iter()
        .map(|&site| {
            let training = data.without_site(site);
            let of_clock = |full: &FittedClock| {
                let fit = fit_part(full, data, &training, input)?;
                let mut scores = Vec::new();
                for unit in data.units.iter().filter(|u| u.site == site) {
                    scores.extend(log_scores(&fit, &training, unit, false, NewYear::default())?);
                }
                Some(scores)
            };
            fits.iter().map(of_clock).collect()
        })
        .collect();
    fits.iter()
        .enumerate()
        .filter_map(|(index, fit)| {
            let rows: Option<Vec<Vec<f64>>> = folds.iter().map(|fold| fold[index].clone()).collect();
            rows.map(|folds| LeftOut { clock: fit.clock, folds })
        })
        .collect()
}
