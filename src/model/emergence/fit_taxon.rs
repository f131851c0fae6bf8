//! The fit of one taxon and brood: every clock, its left-out scores, the choice, the calibration.

use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::model::posterior::layout::{D50, DC, TB};
use crate::model::posterior::{Dataset, Outcome, Unit};

use super::calibrate::calibration;
use super::classes::CountClasses;
use super::draws::NewYear;
use super::effects::Present;
use super::fit_clock::{FittedClock, fit_clock, fit_clock_from, refit};
use super::fitted::{CalendarForm, FittedTaxon, Member};
use super::hindcast::log_scores;
use super::prior::TaxonPrior;
use super::schedule::schedules;
use super::select::{LeftOut, YEARS_TO_JUDGE, choose};

/// Fewest years, records in season and positives for a fit to leave its prior.
const LEAST_YEARS: usize = 3;
const LEAST_IN_SEASON: usize = 25;
const LEAST_POSITIVE: usize = 8;
/// Fewest empty visits before the first positive of their season: without them onset is unknown.
const LEAST_ZEROS_BEFORE: usize = 5;
/// Counts carry onset in their rise: visits before 20 % of the catch.
const LEAST_BEFORE_FIFTH: usize = 3;
/// A gate that opens at a shorter day is a start date in disguise.
const GATE_AS_START_HOURS: f64 = 11.0;

/// A species keeps one part when its 10 % and 50 % dates meet those of the records so closely, days.
const ONE_PART_MEETS_DAYS: f64 = 3.0;
/// Gain in log evidence that a second part must bring.
const EVIDENCE_GAIN: f64 = 2.0;

/// What a fit is given.
#[derive(Debug, Clone)]
pub struct FitInput {
    /// Records and water.
    pub data: Dataset,
    /// Seasons by year index.
    pub years: Vec<i32>,
    /// What is known beforehand.
    pub prior: TaxonPrior,
    /// False when there is no water temperature at all: only the calendar can run.
    pub has_water: bool,
    /// True when traits or records tell an hour of the day.
    pub hours_known: bool,
}

/// Fits every clock that the data can carry and chooses; `None` when not even the calendar can run.
#[must_use]
pub fn fit_taxon(input: &FitInput) -> Option<FittedTaxon> {
    let mut warnings = Vec::new();
    let support = Support::of(&input.data);
    let mut data = input.data.clone();
    if !support.knows_onset {
        // Positives without zeros would only say when people looked.
        data.units.clear();
        if !input.data.is_empty() {
            warnings.push("records hold too few empty visits before the first insects: prior used alone".to_owned());
        }
    }
    let years_present = Present::of(&data).years.len();
    let clocks: Vec<ClockKind> = ClockKind::WORDS
        .iter()
        .map(|(clock, _)| *clock)
        .filter(|clock| match clock {
            ClockKind::Calendar => true,
            ClockKind::Thermal => input.has_water,
            ClockKind::Photothermal | ClockKind::Gated => input.has_water && years_present >= YEARS_TO_JUDGE,
        })
        .collect();
    let fits: Vec<FittedClock> =
        clocks.par_iter().filter_map(|&clock| fit_best_shape(clock, &data, &input.prior)).collect();
    if fits.is_empty() {
        return None;
    }
    let (by_year, form) = left_out_years(&fits, input, &data);
    let by_site = left_out_sites(&fits, input, &data);
    let available: Vec<ClockKind> = fits
        .iter()
        .filter(|f| f.clock != ClockKind::Gated || f.laplace.mode[DC] >= GATE_AS_START_HOURS)
        .map(|f| f.clock)
        .collect();
    let choice = choose(&available, &by_year, &by_site);
    for fit in &fits {
        if fit.clock == ClockKind::Thermal && fit.laplace.mode[TB] < 0.0 && input.prior.base_temp_c.1 > 0.0 {
            warnings.push("the base temperature runs below 0 C: warmth may not drive this taxon here".to_owned());
        }
    }
    let usual = schedules(&data);
    let members = fits
        .into_par_iter()
        .filter(|fit| {
            let index = fit.clock.index();
            choice.weights[index] > 0.0 || choice.weights_elsewhere[index] > 0.0 || fit.clock == ClockKind::Calendar
        })
        .map(|fit| Member {
            calibration_days: calibration(&fit, &data, &usual),
            form: if fit.clock == ClockKind::Calendar { form } else { CalendarForm::Fixed },
            fit,
        })
        .collect();
    Some(FittedTaxon {
        members,
        weights: choice.weights,
        weights_elsewhere: choice.weights_elsewhere,
        beats_calendar: choice.beats_calendar,
        climate: data.climate.clone(),
        schedules: usual,
        count_classes: CountClasses::learn(&data),
        has_classes: any(&data, |o| matches!(o, Outcome::Class(_) | Outcome::Seen)),
        hours_known: input.hours_known,
        units: data.units.iter().map(|u| (u.site, u.year)).collect(),
        years: input.years.clone(),
        records: input.data.len(),
        years_used: Present::of(&input.data).years.len(),
        prior_driven: !(support.enough && support.knows_onset),
        warnings,
    })
}

/// One part or two. A species has one if its dates come out right with it; above that rank, and
/// where they do not, the evidence decides, given enough positives to place a second part.
fn fit_best_shape(clock: ClockKind, data: &Dataset, prior: &TaxonPrior) -> Option<FittedClock> {
    let one = fit_clock(clock, data, prior, false);
    let positives = positive_records(data);
    if positives < 3 * LEAST_POSITIVE || prior.one_of_several {
        return one;
    }
    if prior.species
        && let Some(fit) = &one
    {
        let [_, onset, half, ..] = calibration(fit, data, &schedules(data));
        if onset.abs().max(half.abs()) <= ONE_PART_MEETS_DAYS {
            return one;
        }
    }
    let two = fit_clock_from(clock, data, prior, true, one.as_ref());
    match (one, two) {
        (Some(one), Some(two)) => {
            Some(if two.laplace.log_evidence > one.laplace.log_evidence + EVIDENCE_GAIN { two } else { one })
        }
        (one, two) => one.or(two),
    }
}

/// Left-out scores by year for every clock, and the calendar's best way to see a new year.
fn left_out_years(fits: &[FittedClock], input: &FitInput, data: &Dataset) -> (Vec<LeftOut>, CalendarForm) {
    let years = Present::of(data).years;
    if years.len() < 3 {
        return (Vec::new(), CalendarForm::Fixed);
    }
    let forms: &[CalendarForm] = if years.len() >= 10 {
        &[CalendarForm::Fixed, CalendarForm::Rolling, CalendarForm::Trend]
    } else {
        &[CalendarForm::Fixed]
    };
    let folds: Vec<Vec<Option<Vec<Vec<f64>>>>> = years
        .par_iter()
        .map(|&year| {
            let training = data.without_year(year);
            let present = Present::of(&training).years;
            let left: Vec<&Unit> = data.units.iter().filter(|u| u.year == year).collect();
            fits.iter()
                .map(|full| {
                    let fit = refit(full, data, &training, &input.prior)?;
                    let forms = if full.clock == ClockKind::Calendar { forms } else { &forms[..1] };
                    forms
                        .iter()
                        .map(|&form| {
                            let new_year = NewYear::expected(form, &input.years, &present, input.years[year]);
                            let mut scores = Vec::new();
                            for unit in &left {
                                scores.extend(log_scores(&fit, &training, unit, true, new_year)?);
                            }
                            Some(scores)
                        })
                        .collect()
                })
                .collect()
        })
        .collect();
    let mut best_form = 0;
    let mut found = Vec::new();
    for (index, fit) in fits.iter().enumerate() {
        let tried = if fit.clock == ClockKind::Calendar { forms.len() } else { 1 };
        let candidates: Vec<(usize, Vec<Vec<f64>>)> = (0..tried)
            .filter_map(|form| {
                let rows: Option<Vec<Vec<f64>>> =
                    folds.iter().map(|fold| fold[index].as_ref().map(|forms| forms[form].clone())).collect();
                rows.map(|rows| (form, rows))
            })
            .collect();
        let total = |rows: &[Vec<f64>]| rows.iter().flatten().sum::<f64>();
        if let Some((form, rows)) = candidates.into_iter().max_by(|a, b| total(&a.1).total_cmp(&total(&b.1))) {
            if fit.clock == ClockKind::Calendar {
                best_form = form;
            }
            found.push(LeftOut { clock: fit.clock, folds: rows });
        }
    }
    (found, forms[best_form])
}

fn left_out_sites(fits: &[FittedClock], input: &FitInput, data: &Dataset) -> Vec<LeftOut> {
    let sites = Present::of(data).sites;
    if sites.len() < 3 || fits.len() < 2 {
        return Vec::new();
    }
    let folds: Vec<Vec<Option<Vec<f64>>>> = sites
        .par_iter()
        .map(|&site| {
            let training = data.without_site(site);
            fits.iter()
                .map(|full| {
                    let fit = refit(full, data, &training, &input.prior)?;
                    let mut scores = Vec::new();
                    for unit in data.units.iter().filter(|u| u.site == site) {
                        scores.extend(log_scores(&fit, &training, unit, false, NewYear::default())?);
                    }
                    Some(scores)
                })
                .collect()
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

/// Whether records can carry a fit.
struct Support {
    enough: bool,
    knows_onset: bool,
}

impl Support {
    fn of(data: &Dataset) -> Self {
        let years = Present::of(data).years.len();
        let (mut zeros_before, mut before_fifth, mut first_sightings) = (0, 0, 0);
        let mut positive_days: Vec<usize> = Vec::new();
        for unit in &data.units {
            let mut records: Vec<(usize, f64, bool)> = Vec::new();
            for o in &unit.observations {
                match o.outcome {
                    Outcome::Count(n) => records.push((o.to_day, f64::from(n), true)),
                    Outcome::Class(class) => records.push((o.to_day, class as f64, false)),
                    Outcome::Seen => records.push((o.to_day, 1.0, false)),
                    Outcome::First { .. } => first_sightings += 1,
                }
            }
            records.sort_by_key(|r| r.0);
            positive_days.extend(records.iter().filter(|r| r.1 > 0.0).map(|r| r.0));
            if records.iter().any(|r| r.1 > 0.0) {
                zeros_before += records.iter().take_while(|r| r.1 == 0.0).filter(|r| !r.2).count();
            }
            let catch: f64 = records.iter().filter(|r| r.2).map(|r| r.1).sum();
            let mut sum = 0.0;
            for record in records.iter().filter(|r| r.2) {
                sum += record.1;
                if catch > 0.0 && sum < 0.2 * catch {
                    before_fifth += 1;
                }
            }
        }
        positive_days.sort_unstable();
        let in_season = match (positive_days.first(), positive_days.last()) {
            (Some(&first), Some(&last)) => data
                .units
                .iter()
                .flat_map(|u| &u.observations)
                .filter(|o| o.to_day + 14 >= first && o.to_day <= last + 14)
                .count(),
            _ => 0,
        };
        let sightings_alone = first_sightings >= LEAST_POSITIVE;
        Self {
            enough: years >= LEAST_YEARS
                && ((in_season >= LEAST_IN_SEASON && positive_days.len() >= LEAST_POSITIVE) || sightings_alone),
            knows_onset: zeros_before >= LEAST_ZEROS_BEFORE
                || before_fifth >= LEAST_BEFORE_FIFTH
                || first_sightings > 0
                // Nothing but zeros tells that nothing was there when people looked.
                || (positive_days.is_empty() && !data.is_empty()),
        }
    }
}

fn positive_records(data: &Dataset) -> usize {
    data.units
        .iter()
        .flat_map(|u| &u.observations)
        .filter(|o| match o.outcome {
            Outcome::Count(n) => n > 0,
            Outcome::Class(class) => class > 0,
            Outcome::Seen | Outcome::First { .. } => true,
        })
        .count()
}

fn any(data: &Dataset, test: impl Fn(&Outcome) -> bool) -> bool {
    data.units.iter().flat_map(|u| &u.observations).any(|o| test(&o.outcome))
}

/// The median day of `fit` in the mean climate.
#[must_use]
pub fn median_day(fit: &FittedClock) -> f64 {
    fit.laplace.mode[D50]
}
