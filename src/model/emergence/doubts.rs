//! Doubts about a fit, in words for those who read the forecast.
//!
//! A base temperature below zero speaks against warmth only where the records moved it there: it must
//! lie below zero by more than its posterior sd, and not be held by its prior.
//!
//! Effects of years and reaches are no such sign by their size on the log of the clock: at base 0
//! orders of real insects show 0.10 to 0.14 and are early in warm springs all the same. What tells is
//! the size in days against the calendar's: warmth that drives a taxon leaves reaches and years less
//! far apart than plain dates do. In simulated clubs of eight years the quotient was 0.4 to 0.75 where
//! warmth was the truth and 1.0 to 2.1 where the calendar was; [`FURTHER_APART`] stands between.
//!
//! A logger that drifts alike every year cannot be told from records: the requirement takes it up.

use crate::domain::fit::ClockKind;
use crate::domain::season::Season;
use crate::model::clock::ClockRun;
use crate::model::posterior::layout::{D50, DC, TB};
use crate::model::posterior::{Dataset, Outcome};

use super::fit_clock::FittedClock;
use super::fit_taxon::{Candidates, FitInput};
use super::prior::log_slope_per_day;
use super::select::{Choice, LeftOut, gain};
use super::support::LEAST_POSITIVE;

/// Effects of reaches, years and site-years on the heat clock, against the calendar's, from which
/// warmth explains nothing.
const FURTHER_APART: f64 = 1.2;
/// Days without insects, and blank visits in them, that part two generations (common practice, no source).
const APART_DAYS: usize = 28;
const APART_BLANKS: usize = 2;
/// Fewest years that show both generations.
const LEAST_YEARS: usize = 3;

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
            && let (Some(hot), Some(plain)) = (days_apart(fit, &candidates.data), days_apart(calendar, &candidates.data))
            && hot > FURTHER_APART * plain
        {
            doubts.push(format!(
                "warmth does not explain the dates: years and reaches lie {hot:.0} days apart when warmth is counted, \
                 {plain:.0} when days are"
            ));
        }
        if calendar_is_better(&candidates.by_year, fit.clock) {
            doubts.push(
                "warmth does not drive this taxon here: in years left out the plain calendar did better".to_owned(),
            );
        }
    }
    if input.prior.species
        && !input.prior.one_of_several
        && let Some([first, second]) = generations(&input.data)
    {
        let date = |day: usize| Season::of_year(2001).date(day).format("%-d %B");
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
    sd > 0.0 && fit.laplace.mode[TB] < -sd
}

/// Sd of reaches, years and site-years together, in days of the mean climate.
fn days_apart(fit: &FittedClock, data: &Dataset) -> Option<f64> {
    let (mode, effects) = (&fit.laplace.mode, &fit.effects);
    let reference = ClockRun::new(fit.clock, &data.climate, mode[TB], mode[DC], data.climate.len());
    let slope = log_slope_per_day(&reference, mode[D50])?;
    Some(effects.site_shift.hypot(effects.year_shift).hypot(effects.unit_shift) / slope)
}

/// The calendar's left-out score is better than that of `heat` by more than one standard error.
fn calendar_is_better(by_year: &[LeftOut], heat: ClockKind) -> bool {
    let find = |clock| by_year.iter().find(|s| s.clock == clock).map(LeftOut::fold_sums);
    let (Some(calendar), Some(heat)) = (find(ClockKind::Calendar), find(heat)) else { return false };
    let lead = gain(&calendar, &heat);
    lead.sum > lead.se
}

/// Middle days of two generations, where most years show insects, then blanks over [`APART_DAYS`] or
/// more, then insects again; `None` otherwise.
fn generations(data: &Dataset) -> Option<[usize; 2]> {
    let mut telling = 0;
    let mut parted: Vec<Parted> = Vec::new();
    for year in 0..data.years {
        let mut visits: Vec<(usize, bool)> = data
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
        visits.sort_unstable();
        telling += usize::from(visits.iter().filter(|v| v.1).count() >= 2);
        parted.extend(Parted::of(&visits));
    }
    let all = |side: fn(&Parted) -> &Vec<usize>| {
        let mut days: Vec<usize> = parted.iter().flat_map(|p| side(p).iter().copied()).collect();
        days.sort_unstable();
        days
    };
    let (first, second) = (all(|p| &p.first), all(|p| &p.second));
    let many = parted.len() >= LEAST_YEARS && 2 * parted.len() > telling;
    let enough = first.len().min(second.len()) >= LEAST_POSITIVE;
    // The two must lie apart over all years, not each year elsewhere.
    let apart = || first[first.len() * 9 / 10] + APART_DAYS / 2 < second[second.len() / 10];
    (many && enough && apart()).then(|| [first[first.len() / 2], second[second.len() / 2]])
}

/// Days with insects before and after the widest gap of a year.
#[derive(Debug, PartialEq)]
struct Parted {
    first: Vec<usize>,
    second: Vec<usize>,
}

impl Parted {
    fn of(visits: &[(usize, bool)]) -> Option<Self> {
        let days: Vec<usize> = visits.iter().filter(|v| v.1).map(|v| v.0).collect();
        let at = (1..days.len()).max_by_key(|&k| days[k] - days[k - 1])?;
        let (from, to) = (days[at - 1], days[at]);
        let blanks = visits.iter().filter(|v| !v.1 && from < v.0 && v.0 < to).count();
        (to - from >= APART_DAYS && blanks >= APART_BLANKS)
            .then(|| Self { first: days[..at].to_vec(), second: days[at..].to_vec() })
    }
}
