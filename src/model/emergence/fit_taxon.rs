//! The fit of one taxon and brood: every clock, its left-out scores, the choice, the calibration.

use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::domain::season::Cycle;
use crate::model::posterior::layout::DC;
use crate::model::posterior::{Dataset, Observation, Outcome};

use super::calibrate::{calibration, misses};
use super::classes::CountClasses;
use super::doubts::doubts;
use super::draws::{NewYear, Target};
use super::effects::Present;
use super::fit_clock::{FittedClock, fit_clock, fit_clock_from};
use super::fitted::{CalendarForm, FittedTaxon, Member};
use super::flight::{FlightFit, FlightInput, fit_flights};
use super::folds::{YearFold, score_sites, score_years, year_folds};
use super::generations::unforeseen;
use super::kernel::ClassKernel;
use super::prior::TaxonPrior;
use super::schedule::schedules;
use super::select::{Choice, LeftOut, YEARS_TO_JUDGE, choose};
use super::support::{LEAST_POSITIVE, Support, positive_records};
use super::widen;

/// A gate that opens at a shorter day is a start date in disguise.
const GATE_AS_START_HOURS: f64 = 11.0;
/// A species keeps one part when its 10 % and 50 % dates meet those of the records so closely, days.
const ONE_PART_MEETS_DAYS: f64 = 3.0;
/// Gain in log evidence that a second part must bring.
const EVIDENCE_GAIN: f64 = 2.0;
/// Visits with a class, and those of them that met insects, from which classes are those of visits where there are catches
/// too (common practice, no source: the three limits are then known to about half a class).
const CLASS_VISITS: usize = 25;
const CLASS_VISITS_WITH_INSECTS: usize = 8;

/// What a fit is given.
#[derive(Debug, Clone)]
pub struct FitInput {
    /// Records and water.
    pub data: Dataset,
    /// Seasons by year index.
    pub years: Vec<i32>,
    /// Names of the sites by index: whoever asks later may know others, or them in another order.
    pub sites: Vec<String>,
    /// What is known beforehand.
    pub prior: TaxonPrior,
    /// False when there is no water temperature at all: only the calendar can run.
    pub has_water: bool,
    /// True when traits or records tell an hour of the day.
    pub hours_known: bool,
    /// Spinner flights, where traits tell their time.
    pub flights: Option<FlightInput>,
    /// How the year of the taxon and brood is cut: what day numbers mean, and from when clocks run.
    pub cycle: Cycle,
}

/// Every clock fitted to all records, and to all but one year and all but one site.
#[derive(Debug, Clone)]
pub struct Candidates {
    /// The records used; none where they cannot tell onset.
    pub data: Dataset,
    /// Middle days of two generations that the records hold where one was expected.
    pub generations: Option<[usize; 2]>,
    /// What the records can carry.
    pub support: Support,
    /// Fits to all of them.
    pub fits: Vec<FittedClock>,
    /// One fold per year.
    pub folds: Vec<YearFold>,
    /// Left-out scores by year, in the order of the folds.
    pub by_year: Vec<LeftOut>,
    /// Left-out scores by site.
    pub by_site: Vec<LeftOut>,
    /// The calendar's best way to see a new year.
    pub form: CalendarForm,
}

impl Candidates {
    /// Fits every clock that the data can carry; `None` when not even the calendar can run.
    #[must_use]
    pub fn fit(input: &FitInput) -> Option<Self> {
        let support = Support::of(&input.data);
        let mut data = input.data.clone();
        if !support.knows_onset {
            // Positives without zeros would only say when people looked.
            data.units.clear();
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
        let folds = year_folds(&fits, input, &data);
        let clocks: Vec<ClockKind> = fits.iter().map(|f| f.clock).collect();
        let (by_year, form) = score_years(&folds, &clocks, input, &data);
        let by_site = score_sites(&fits, input, &data);
        let generations = unforeseen(&input.data, &input.prior);
        Some(Self { data, generations, support, fits, folds, by_year, by_site, form })
    }

    /// The choice among the clocks, from the scores of all left-out years but those `excluded`.
    #[must_use]
    pub fn choice(&self, excluded: Option<usize>) -> Choice {
        let available: Vec<ClockKind> = self
            .fits
            .iter()
            .filter(|f| f.clock != ClockKind::Gated || f.mean[DC] >= GATE_AS_START_HOURS)
            .map(|f| f.clock)
            .collect();
        let generations = excluded.map_or(self.generations, |fold| self.folds[fold].generations);
        if generations.is_some() {
            return choose(&available, &[], &[]);
        }
        let mut by_year = self.by_year.clone();
        if let Some(fold) = excluded {
            for scores in &mut by_year {
                scores.folds.remove(fold);
            }
        }
        choose(&available, &by_year, &self.by_site)
    }

    /// The clocks among `fits` (to `data`) that `keep` names, each calibrated on `data`.
    #[must_use]
    pub fn members(
        &self,
        fits: &[FittedClock],
        data: &Dataset,
        keep: impl Fn(ClockKind) -> bool + Sync,
    ) -> Vec<Member> {
        let usual = schedules(data);
        fits.par_iter()
            .filter(|fit| keep(fit.clock))
            .map(|fit| Member {
                calibration_days: calibration(fit, data, &usual),
                form: if fit.clock == ClockKind::Calendar { self.form } else { CalendarForm::Fixed },
                fit: fit.clone(),
            })
            .collect()
    }
}

/// Fits every clock that the data can carry and chooses; `None` when not even the calendar can run.
#[must_use]
pub fn fit_taxon(input: &FitInput) -> Option<FittedTaxon> {
    let candidates = Candidates::fit(input)?;
    let choice = candidates.choice(None);
    let data = &candidates.data;
    let members = candidates.members(&candidates.fits, data, |clock| {
        let index = clock.index();
        choice.weights[index] > 0.0 || choice.weights_elsewhere[index] > 0.0 || clock == ClockKind::Calendar
    });
    let widening = widen::factor(&widen::ratios(&candidates, &members, &choice, input));
    let flight = flights(input.flights.as_ref(), &members, &choice.weights, data, &input.years);
    Some(FittedTaxon {
        warnings: doubts(&candidates, input, &choice),
        flight,
        members,
        widening,
        weights: choice.weights,
        weights_elsewhere: choice.weights_elsewhere,
        beats_calendar: choice.beats_calendar,
        cycle: input.cycle,
        climate: data.climate.clone(),
        schedules: schedules(data),
        count_classes: CountClasses::learn(data),
        kernel: kernel(data),
        has_classes: has_classes(data),
        hours_known: input.hours_known,
        sites: input.sites.clone(),
        units: data.units.iter().map(|u| (u.site, u.year)).collect(),
        years: input.years.clone(),
        latest: latest(data, &input.years),
        records: data.len(),
        years_used: Present::of(data).years.len(),
        prior_driven: !(candidates.support.enough && candidates.support.knows_onset),
    })
}

/// Flights fitted under the clock with most weight.
#[must_use]
pub fn flights(
    input: Option<&FlightInput>,
    members: &[Member],
    weights: &[f64; 4],
    data: &Dataset,
    years: &[i32],
) -> Option<FlightFit> {
    let weight = |m: &&Member| weights[m.fit.clock.index()];
    let heaviest = members.iter().max_by(|a, b| weight(a).total_cmp(&weight(b)))?;
    let present = Present::of(data);
    let target = |site: usize, season: i32| {
        let year = years.iter().position(|y| *y == season).filter(|y| present.years.contains(y));
        Target {
            site: Some(site).filter(|s| present.sites.contains(s)),
            year,
            unit: data.units.iter().position(|u| u.site == site && Some(u.year) == year),
            new_year: NewYear::expected(heaviest.form, years, &present.years, season),
        }
    };
    fit_flights(input?, &heaviest.fit, &data.climate, &target)
}

/// Whether visits noted classes often enough to know where one class ends and the next begins. With fewer, catches
/// tell classes where there are any: one report must not undo what years of traps have told.
#[must_use]
pub fn has_classes(data: &Dataset) -> bool {
    let count = |least: usize| {
        let observations = data.units.iter().flat_map(|unit| &unit.observations);
        observations.filter(|o| matches!(o.outcome, Outcome::Class(class) if class >= least)).count()
    };
    count(0) >= CLASS_VISITS && count(1) >= CLASS_VISITS_WITH_INSECTS
}

/// The kernel member of the class mixture, where classes rest on counts alone.
#[must_use]
pub fn kernel(data: &Dataset) -> Option<ClassKernel> {
    CountClasses::learn(data).filter(|_| !has_classes(data)).and_then(|limits| ClassKernel::learn(data, &limits))
}

/// The newest of the seasons `years` and its records among `data`: what a fit to them has seen of it.
#[must_use]
pub fn latest(data: &Dataset, years: &[i32]) -> (i32, Vec<(usize, Observation)>) {
    let Some((index, year)) = years.iter().enumerate().max_by_key(|(_, year)| **year) else {
        return (i32::MIN, Vec::new());
    };
    let units = data.units.iter().filter(|unit| unit.year == index);
    (*year, units.flat_map(|unit| unit.observations.iter().map(|o| (unit.site, o.clone()))).collect())
}

/// One part or two. A species has one if its dates come out right with it; above that rank, and
/// where they do not, the evidence decides, given enough positives to place a second part.
fn fit_best_shape(clock: ClockKind, data: &Dataset, prior: &TaxonPrior) -> Option<FittedClock> {
    let one = fit_clock(clock, data, prior, false);
    if positive_records(data) < 3 * LEAST_POSITIVE || prior.one_of_several {
        return one;
    }
    if prior.species
        && let Some(fit) = &one
    {
        let [onset, half] = misses(fit, data, &schedules(data));
        if onset.abs().max(half.abs()) <= ONE_PART_MEETS_DAYS {
            return one;
        }
    }
    let two = fit_clock_from(clock, data, prior, true, one.as_ref());
    match (one, two) {
        (Some(one), Some(two)) => Some(if two.log_evidence() > one.log_evidence() + EVIDENCE_GAIN { two } else { one }),
        (one, two) => one.or(two),
    }
}
