//! Forecasts from stored fits: the latest fit, the water known by a day, a whole season.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use chrono::{DateTime, Days, NaiveDate, Utc};
use rayon::prelude::*;
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::fit::ClockKind;
use crate::domain::forecast::{Basis, DateQuantiles, ForecastDay, MILESTONE_SHARES, Milestone, Progress};
use crate::domain::season::{Cycle, Season, WhichSeason};
use crate::domain::{Fit, Forecast, Reach, Slug};
use crate::model::clock::{ClockRun, Drivers};
use crate::model::emergence::refresh::refresh;
use crate::model::emergence::{FittedForm, FittedTaxon, SeasonRequest, forecast_season};
use crate::model::posterior::layout::{DC, TB};
use crate::model::temperature::DayBasis;
use crate::store::{Db, StoreError, fit as fits};

use super::cautions;
use super::fit::{FitError, Known, brood_numbers, input, load};
use super::in_season::InSeason;
use super::season_water::{SeasonWater, SeasonWaters, seed};
use super::threads;

/// Parameter draws of a forecast.
pub const DRAWS: usize = 400;
/// A forecast whose newest reading is older than this is stale, days.
pub const STALE_AFTER_DAYS: i64 = 3;

/// Which of the stored fits forecasts are made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FitChoice {
    /// The last one, also one made for a hindcast with `--through`.
    Latest,
    /// The last one that saw all data.
    Published,
}

/// Days after today whose visits are weighed for the visit plan.
pub const PLAN_DAYS: usize = 13;
/// Draws with weight, as a share of proposals, below which the fit is made anew.
const LEAST_EFFECTIVE: f64 = 0.08;

/// What is asked for.
#[derive(Debug, Clone)]
pub struct ForecastRequest {
    /// The watershed.
    pub watershed: Slug,
    /// One reach; all when `None`.
    pub reach: Option<Slug>,
    /// These taxa; all residents when empty.
    pub taxa: Vec<Slug>,
    /// Which season of each taxon.
    pub season: WhichSeason,
    /// Use water known up to this day; everything when `None`.
    pub as_of: Option<NaiveDate>,
    /// The civil date on which it is asked.
    pub today: NaiveDate,
    /// From which fits.
    pub fits: FitChoice,
    /// Whether reports and records of the season that the fit has not seen move the forecast.
    pub in_season: bool,
    /// Whether to compute what a visit on each of the coming days is worth.
    pub weigh_visits: bool,
}

/// Why there is no forecast.
#[derive(Debug, Error)]
pub enum ForecastError {
    /// No such watershed, or the database failed.
    #[error("what the forecast needs could not be read")]
    Load(#[from] FitError),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// No such reach.
    #[error("there is no reach {0} in this watershed")]
    NoReach(Slug),
    /// No such taxon.
    #[error("taxon {0} does not live in this watershed")]
    NoTaxon(Slug),
    /// Nothing was fitted yet.
    #[error("taxon {taxon} has no fit yet: run `subimago fit --watershed {watershed}` first")]
    NoFit {
        /// The watershed.
        watershed: Slug,
        /// The taxon.
        taxon: Slug,
    },
    /// A stored fit is of another version of the program.
    #[error("the stored fit of {0} was made by another version: fit again")]
    OldFit(Slug),
    /// The computation was cut off.
    #[error("the computation was cut off")]
    CutOff,
    /// The season is not a year of the calendar.
    #[error("season {0} is not a year between 1900 and 2200")]
    Season(i32),
}

/// Forecasts of `request`, whole seasons, one per reach, taxon and brood, in order of reach and
/// first milestone.
///
/// # Errors
/// [`ForecastError`].
pub async fn forecast(db: &Db, clock: &dyn Clock, request: &ForecastRequest) -> Result<Vec<Forecast>, ForecastError> {
    Ok(make(db, clock, request).await?.into_iter().map(|made| made.forecast).collect())
}

/// A forecast and what it is worth to look.
#[derive(Debug)]
pub struct Made {
    /// The forecast.
    pub forecast: Forecast,
    /// By how many days a visit today and on each of the next [`PLAN_DAYS`] days is expected to narrow
    /// the season's date; empty unless asked for and the season runs.
    pub narrowing_days: Vec<f64>,
    /// Share of draws that this season's news left with weight.
    effective: f64,
}

/// [`forecast`] with the worth of visits.
///
/// # Errors
/// [`ForecastError`].
pub async fn make(db: &Db, clock: &dyn Clock, request: &ForecastRequest) -> Result<Vec<Made>, ForecastError> {
    if let WhichSeason::Named(year) = request.season
        && !(1900..=2200).contains(&year)
    {
        return Err(ForecastError::Season(year));
    }
    // Before anything is read: who reads later issues later.
    let issued_at = clock.now();
    let known = load(db, &request.watershed, request.as_of).await?;
    if let Some(slug) = &request.reach
        && !known.reaches.iter().any(|r| r.slug == *slug)
    {
        return Err(ForecastError::NoReach(slug.clone()));
    }
    if let Some(slug) = request.taxa.iter().find(|slug| !known.taxa.iter().any(|t| t.slug == **slug)) {
        return Err(ForecastError::NoTaxon(slug.clone()));
    }
    let mut subjects = Vec::new();
    let mut tx = db.read().await?;
    for taxon in known.taxa.iter().filter(|t| request.taxa.is_empty() || request.taxa.contains(&t.slug)) {
        for brood in brood_numbers(taxon) {
            let (watershed, slug) = (&request.watershed, &taxon.slug);
            let fit = match request.fits {
                FitChoice::Latest => fits::latest_fit(&mut tx, watershed, slug, brood).await?,
                FitChoice::Published => fits::fit_to_publish(&mut tx, watershed, slug, brood).await?,
            };
            let none = || ForecastError::NoFit { watershed: watershed.clone(), taxon: slug.clone() };
            subjects.push(fit.ok_or_else(none)?);
        }
    }
    drop(tx);
    let request = request.clone();
    threads::at_once(move || compute(&known, subjects, &request, issued_at)).await.map_err(|_| ForecastError::CutOff)?
}

fn compute(
    known: &Known,
    fits: Vec<Fit>,
    request: &ForecastRequest,
    issued_at: DateTime<Utc>,
) -> Result<Vec<Made>, ForecastError> {
    let as_of = match request.as_of {
        Some(date) => date.min(request.today),
        // What is known may reach into a local day that has not begun where it is asked.
        None => known.water.through.unwrap_or(request.today),
    };
    let fitted: Vec<(Fit, FittedTaxon)> = fits
        .into_par_iter()
        .map(|fit| {
            let form: FittedForm =
                serde_json::from_str(&fit.model_json).map_err(|_| ForecastError::OldFit(fit.taxon.clone()))?;
            let taxon = known.taxa.iter().find(|t| t.slug == fit.taxon);
            let cycle = taxon.map(|taxon| Cycle::of_brood(taxon, fit.brood));
            let fitted = form.into_fitted().filter(|fitted| Some(fitted.cycle) == cycle);
            let fitted = fitted.ok_or_else(|| ForecastError::OldFit(fit.taxon.clone()))?;
            Ok((fit, fitted))
        })
        .collect::<Result<_, ForecastError>>()?;
    let mut waters: BTreeMap<Cycle, SeasonWaters<'_>> = BTreeMap::new();
    for cycle in fitted.iter().map(|(_, model)| model.cycle) {
        if let Entry::Vacant(entry) = waters.entry(cycle) {
            let season = request.season.of(cycle);
            entry.insert(SeasonWaters::new(known, season, request.reach.as_ref(), as_of, request.in_season)?);
        }
    }
    // Taxa side by side: draws of one season alone leave processors idle between them.
    let of_taxon = |(fit, model): &(Fit, FittedTaxon)| -> Vec<(usize, Made)> {
        let Some(SeasonWaters { season, reaches, drivers }) = waters.get(&model.cycle) else { return Vec::new() };
        let taxon = known.taxa.iter().find(|t| t.slug == fit.taxon).filter(|_| request.in_season);
        let now =
            taxon.map(|taxon| InSeason::new(known, taxon, fit.brood, *season, drivers, model)).unwrap_or_default();
        let all = |model: &FittedTaxon, now: &InSeason| -> Vec<(usize, Made)> {
            let one = |(site, reach, water): &(usize, &Reach, SeasonWater)| {
                let context = Context {
                    known,
                    taxon: &fit.taxon,
                    reach,
                    site: *site,
                    season: *season,
                    as_of,
                    issued_at,
                    request,
                    water,
                    now,
                };
                Some((*site, context.one(fit, model)?))
            };
            reaches.iter().filter_map(one).collect()
        };
        let mut here = all(model, &now);
        if here.iter().any(|(_, made)| made.effective < LEAST_EFFECTIVE)
            && let Some(taxon) = taxon
            && let Some(fresh) = refresh(model, &input(known, taxon, fit.brood))
        {
            here = all(&fresh, &now.without_news());
        }
        here
    };
    let mut found: Vec<(usize, Made)> = fitted.par_iter().flat_map_iter(of_taxon).collect();
    found.sort_by_key(|(site, made)| {
        let f = &made.forecast;
        (*site, f.milestones[0].dates.p50.unwrap_or(NaiveDate::MAX), f.taxon.key(), f.brood)
    });
    Ok(found.into_iter().map(|(_, made)| made).collect())
}

pub(super) struct Context<'a> {
    pub(super) known: &'a Known,
    pub(super) taxon: &'a Slug,
    pub(super) reach: &'a Reach,
    pub(super) site: usize,
    pub(super) season: Season,
    pub(super) as_of: NaiveDate,
    pub(super) issued_at: DateTime<Utc>,
    pub(super) request: &'a ForecastRequest,
    pub(super) water: &'a SeasonWater,
    pub(super) now: &'a InSeason,
}

impl Context<'_> {
    fn one(&self, fit: &Fit, model: &FittedTaxon) -> Option<Made> {
        let parts = [fit.id.to_string(), self.reach.slug.key(), self.season.year.to_string(), self.as_of.to_string()];
        let weather = self.weather(model);
        let request = SeasonRequest {
            site: Some(model.site(&self.reach.slug.key(), self.site)),
            year: self.season.year,
            water: &self.water.members,
            draws: DRAWS,
            seed: seed(&[&parts[0], &parts[1], &parts[2], &parts[3]]),
            news: &self.now.news,
            here: self.now.at(self.site).map_or(&[], |site| &site.visits),
            raised: self.now.at(self.site).map_or(&[], |site| &site.raised),
            plan: self.plan(),
            weather: weather.as_ref(),
        };
        let drawn = forecast_season(model, &request)?;
        let date = |day: Option<f64>| day.map(|day| self.season.date(day.round().max(1.0) as usize));
        let dates = |q: [Option<f64>; 3]| DateQuantiles { p10: date(q[0]), p50: date(q[1]), p90: date(q[2]) };
        let milestones =
            std::array::from_fn(|i| Milestone { share: MILESTONE_SHARES[i], dates: dates(drawn.milestones[i]) });
        let basis = match () {
            () if model.units.is_empty() => Basis::Prior,
            () if model.has_classes || model.count_classes.is_none() => Basis::Visits,
            () => Basis::Counts,
        };
        let days: Vec<ForecastDay> = (0..self.season.len())
            .map(|day| ForecastDay {
                date: self.season.date(day + 1),
                share: drawn.share[day],
                cumulative: drawn.cumulative[day],
                class_probabilities: drawn.classes[day],
                basis,
                water_c: self.water.daily[day],
                water_from: self.water.from[day],
                flight_chance: drawn.flights.get(day).copied(),
            })
            .collect();
        let peak = dates(drawn.peak);
        // The reach's own last day, measured or carried over from a neighbour. What the air says hides no
        // silent logger.
        let here = self.known.water.reaches.get(&self.reach.slug);
        let last = here.and_then(|site| {
            let mut days = site.completed.days().iter().rev();
            days.find(|(_, day)| day.basis != DayBasis::Air).map(|(date, _)| *date)
        });
        let newest = last.map(|day| day.min(self.as_of));
        let forecast = Forecast {
            watershed: fit.watershed.clone(),
            reach: self.reach.slug.clone(),
            taxon: fit.taxon.clone(),
            brood: fit.brood,
            season: self.season.year,
            time_zone: self.known.watershed.time_zone,
            issued_at: self.issued_at,
            data_as_of: newest.unwrap_or(self.as_of),
            stale: self.is_stale(newest),
            weights: drawn.weights,
            beats_calendar: fit.beats_calendar,
            milestones,
            peak,
            progress: self.progress(model, &drawn.weights),
            hours: self.hours(model, &drawn, peak.p50),
            spinner: self.spinner(model, &drawn, peak.p50),
            fit_id: fit.id,
            fit_records: fit.records,
            fit_years: fit.years,
            prior_driven: fit.prior_driven,
            cautions: cautions::for_days(&days, &self.water.warmest, self.request.today),
            days,
            water_words: self.water.words.clone(),
            evening: self.evening(),
            water_hours: self.water_hours(),
        };
        let narrowing_days = drawn.visits.iter().map(|visit| visit.narrowing_days).collect();
        Some(Made { forecast, narrowing_days, effective: drawn.effective })
    }

    /// The days whose visits are weighed: today and the next, within the season.
    fn plan(&self) -> Option<(usize, usize)> {
        let first = usize::try_from(self.season.day_number(self.request.today)).ok()?.max(1);
        let last = (first + PLAN_DAYS).min(self.season.len());
        (self.request.weigh_visits && first <= last).then_some((first, last))
    }

    /// Day number of `date`, 0 before the season and its last day after it.
    pub(super) fn day_in_season(&self, date: NaiveDate) -> usize {
        usize::try_from(self.season.day_number(date)).unwrap_or(0).min(self.season.len())
    }

    /// Old readings matter while the season is still to come or running.
    fn is_stale(&self, newest: Option<NaiveDate>) -> bool {
        let asked = self.request.as_of.unwrap_or(self.request.today).min(self.request.today);
        let season_over = self.season.date(self.season.len()) < asked;
        !season_over && newest.is_none_or(|newest| (asked - newest).num_days() > STALE_AFTER_DAYS)
    }

    /// Progress on the clock with most weight, through the day the data end.
    fn progress(&self, model: &FittedTaxon, weights: &[f64; 4]) -> Progress {
        let heaviest = (0..4).max_by(|&a, &b| weights[a].total_cmp(&weights[b])).unwrap_or(0);
        let (clock, _) = ClockKind::WORDS[heaviest];
        let day = self.day_in_season(self.as_of);
        let (base, gate) = model.member(clock).map_or((0.0, 12.5), |m| (m.fit.mean[TB], m.fit.mean[DC]));
        let run = |drivers: &Drivers| ClockRun::new(clock, drivers, base, gate, self.season.len());
        let so_far = run(&self.water.central).c[day];
        let Some(usual) = self.water.usual.as_ref().map(run) else {
            return Progress { units_so_far: so_far, long_run_mean: so_far, thermal_lead_days: 0.0 };
        };
        let reached = usual.day_reaching(so_far).unwrap_or(self.season.len() as f64);
        let lead = if so_far > 0.0 { reached - day as f64 } else { 0.0 };
        Progress { units_so_far: so_far, long_run_mean: usual.c[day], thermal_lead_days: lead }
    }
}

/// Keeps `days` days from `from` on.
pub fn cut_days(forecast: &mut Forecast, from: NaiveDate, days: u64) {
    let until = from + Days::new(days);
    forecast.days.retain(|day| day.date >= from && day.date < until);
}
