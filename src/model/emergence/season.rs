//! The forecast of one season on one reach: draws of parameters times an ensemble of water.

use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::domain::forecast::MILESTONE_SHARES;
use crate::model::clock::Drivers;
use crate::model::curve::with_strays;
use crate::model::likelihood::ordinal::Thresholds;
use crate::model::likelihood::time_of_day::{Midnight, hours_terms};
use crate::model::posterior::Observation;
use crate::model::posterior::data::COVARIATES;

use super::catch_grid::CatchGrid;
use super::drawer::Drawer;
use super::draws::{DrawnSeason, NewYear, Target};
use super::effects::Present;
use super::fitted::{FittedTaxon, Member};
use super::kernel::{Warmth, mixed};
use super::news::{self, News};
use super::plan::Worth;
use super::schedule::for_site;
use super::summary::{OneDraw, Summary, day_of_completion};
use super::{evening, flight, simulate};

/// Days whose shares differ by no more than this part have the same classes.
const SAME_SHARE: f64 = 1e-5;
/// Draws that are worked on and added up in one go.
const DRAWS_TOGETHER: usize = 20;
/// Keeps the random numbers of flights apart from those of emergence.
const FLIGHT_STREAM: u64 = 0xf117_0000_0000_0001;

/// What a season forecast is asked for.
#[derive(Debug, Clone)]
pub struct SeasonRequest<'a> {
    /// The site's index in the fit; `None` for a reach without records.
    pub site: Option<usize>,
    /// The season.
    pub year: i32,
    /// Water of the season, one per ensemble member; all of one length.
    pub water: &'a [Drivers],
    /// Number of draws.
    pub draws: usize,
    /// Seed: the same seed and inputs give the same forecast.
    pub seed: u64,
    /// Records of this season that the fit has not seen, of all sites.
    pub news: &'a [News],
    /// Visits of this season at the site, by day.
    pub here: &'a [Observation],
    /// Day numbers whose odds of at least sparse are multiplied, with the factor.
    pub raised: &'a [(usize, f64)],
    /// First and last day number for which the worth of a visit is computed.
    pub plan: Option<(usize, usize)>,
    /// Weather forecast for its days; usual weather without.
    pub weather: Option<&'a SeasonWeather>,
}

/// Weather of the days of a season as covariates; index 0 is day 1, zeros stand for usual weather.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeasonWeather {
    /// At the hour of duns, as records have it.
    pub duns: Vec<[f64; COVARIATES]>,
    /// At the hour of spinners: see [`flight::covariates`].
    pub flights: Vec<[f64; flight::COVARIATES]>,
}

impl<'a> SeasonRequest<'a> {
    /// A request that knows nothing of the season but its water.
    #[must_use]
    pub fn new(site: Option<usize>, year: i32, water: &'a [Drivers], draws: usize, seed: u64) -> Self {
        Self { site, year, water, draws, seed, news: &[], here: &[], raised: &[], plan: None, weather: None }
    }
}

/// A season forecast in day numbers; index 0 of lists is day 1.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonForecast {
    /// Posterior mean share per day.
    pub share: Vec<f64>,
    /// Posterior mean share completed.
    pub cumulative: Vec<f64>,
    /// Class probabilities per day.
    pub classes: Vec<[f64; 4]>,
    /// 10, 50, 90 % quantiles of the date of each milestone; `None` after the season's last day.
    pub milestones: [[Option<f64>; 3]; 5],
    /// 10, 50, 90 % quantiles of the day of largest share.
    pub peak: [Option<f64>; 3],
    /// Weights of the four clocks used.
    pub weights: [f64; 4],
    /// Share of proposals that the news left with weight; 1 without news. When it is small the fit
    /// has to be made anew.
    pub effective: f64,
    /// What a visit on each day of the plan would teach of the season's date: that of its 10 % point, or of its middle
    /// once the plan begins after that.
    pub visits: Vec<Worth>,
    /// Chance of at least a sparse spinner flight per day, for one person who watches the two hours around
    /// its middle in usual weather; empty where nothing is known of flights.
    pub flights: Vec<f64>,
}

/// Forecasts a season; `None` when no draw runs on this water.
#[must_use]
pub fn forecast_season(fitted: &FittedTaxon, request: &SeasonRequest<'_>) -> Option<SeasonForecast> {
    let site_known = request.site.is_some_and(|site| fitted.units.iter().any(|u| u.0 == site));
    let weights = if site_known { fitted.weights } else { fitted.weights_elsewhere };
    let plan = allocate(&weights, request.draws);
    let year = fitted.years.iter().position(|y| *y == request.year);
    let present = Present::among(&fitted.units).years;
    let known_year = year.filter(|y| present.contains(y));
    let usual = for_site(&fitted.schedules, request.site);
    let target_of = |clock: ClockKind, site: usize| Target {
        site: Some(site).filter(|s| fitted.units.iter().any(|u| u.0 == *s)),
        year: known_year,
        unit: fitted.units.iter().position(|u| u.0 == site && Some(u.1) == known_year),
        new_year: fitted
            .member(clock)
            .map_or_else(NewYear::default, |m| NewYear::expected(m.form, &fitted.years, &present, request.year)),
    };
    let (chosen, effective): (Vec<(ClockKind, u64)>, f64) = if request.news.is_empty() {
        let seeds = plan.iter().enumerate();
        (seeds.map(|(k, clock)| (*clock, request.seed.wrapping_add(k as u64))).collect(), 1.0)
    } else {
        let chosen = news::choose(fitted, &plan, request.news, request.seed, &target_of, request.site);
        (chosen.draws, chosen.effective)
    };
    let drawers: Vec<(&Member, [bool; COVARIATES], Drawer<'_>)> = fitted
        .members
        .iter()
        .map(|member| {
            let target = target_of(member.fit.clock, request.site.unwrap_or(usize::MAX));
            let asked = request.weather.is_some() || !request.here.is_empty();
            let told = if asked { member.fit.weather_told() } else { [false; COVARIATES] };
            (member, told, member.fit.drawer(&fitted.climate, &[target]))
        })
        .collect();
    let nothing = SeasonWeather::default();
    let weather = request.weather.unwrap_or(&nothing);
    let drawn: Vec<_> = chosen
        .par_iter()
        .enumerate()
        .filter_map(|(k, &(clock, seed))| {
            let (member, told, drawer) = drawers.iter().find(|(member, ..)| member.fit.clock == clock)?;
            let mut rng = Pcg64::seed_from_u64(seed);
            let drawn = drawer.draw(&mut rng)?;
            Some((k, seed, (*member, *told), drawn, rng))
        })
        .collect();
    let limits = fitted.count_classes.filter(|_| !fitted.has_classes);
    let catches = limits.as_ref().map(|limits| CatchGrid::of(limits, drawn.iter().map(|(_, _, _, drawn, _)| drawn)));
    // Pieces of fixed size, put together in order: sums do not depend on how many threads there are.
    let pieces: Vec<Summary> = drawn
        .par_chunks(DRAWS_TOGETHER)
        .map(|together| {
            let mut summary = Summary::new(request.plan);
            for (k, seed, (member, told), drawn, rng) in together {
                let Some(water) = request.water.get(k % request.water.len().max(1)) else { continue };
                let schedule = (!usual.is_empty()).then(|| usual[k % usual.len()]);
                let mut rng = rng.clone();
                let sight =
                    Sight { catches: catches.as_ref(), here: request.here, weather: &weather.duns, told: *told };
                let mut one = one_draw(member, drawn, water, schedule, &sight, &mut rng);
                if let Some(flight) = &fitted.flight {
                    let mut rng = Pcg64::seed_from_u64(seed ^ FLIGHT_STREAM);
                    one.flights = flight.draw(&mut rng).chances(drawn, &one.completed, &weather.flights);
                }
                summary.add(&one);
            }
            summary
        })
        .collect();
    let summary = pieces.into_iter().reduce(Summary::followed_by)?;
    let mut season = summary.forecast(weights, fitted.widening)?;
    if let Some(kernel) = &fitted.kernel {
        let thermal = Warmth::of(&fitted.climate).days(&Drivers::mean_of(request.water));
        let days = (1..=season.classes.len()).map(|day| (day as f64, thermal.get(day).copied().flatten()));
        for (p, by_kernel) in season.classes.iter_mut().zip(kernel.probabilities(days)) {
            *p = mixed(*p, by_kernel);
        }
    }
    season.effective = effective;
    for &(day, factor) in request.raised {
        if let Some(p) = day.checked_sub(1).and_then(|index| season.classes.get_mut(index)) {
            *p = evening::raised(*p, factor);
        }
    }
    Some(season)
}

/// What decides how the insects of a drawn day are met.
struct Sight<'a> {
    /// Where classes rest on catches.
    catches: Option<&'a CatchGrid<'a>>,
    /// Visits of this season at the site.
    here: &'a [Observation],
    /// Weather of the days at the hour of duns.
    weather: &'a [[f64; COVARIATES]],
    /// Which of the covariates the records told something of.
    told: [bool; COVARIATES],
}

fn one_draw(
    member: &Member,
    drawn: &DrawnSeason,
    water: &Drivers,
    schedule: Option<&super::schedule::Schedule>,
    sight: &Sight<'_>,
    rng: &mut Pcg64,
) -> OneDraw {
    let sums = drawn.sums_while_on(water);
    let completed = drawn.completed(&sums);
    let days = completed.len() - 1;
    let classes = classes_of_days(drawn, &completed, sight);
    // Without records there is no usual visit.
    let dates = schedule.and_then(|schedule| simulate::dates(member, drawn, &sums, schedule, rng));
    // What is reached in the course of day 150 lies between 149, its beginning, and 150, its end.
    let reached = MILESTONE_SHARES.map(|share| day_of_completion(&completed, share) + 0.5);
    let peak = (1..=days)
        .max_by(|a, b| (completed[*a] - completed[a - 1]).total_cmp(&(completed[*b] - completed[b - 1])))
        .unwrap_or(1) as f64;
    OneDraw { completed, classes, dates, reached, peak, flights: Vec::new() }
}

/// Class probabilities of each day's standard visit, or catch where classes rest on catches.
fn classes_of_days(drawn: &DrawnSeason, completed: &[f64], sight: &Sight<'_>) -> Vec<[f64; 4]> {
    // Two hours around the expected peak hour: the same share whatever the hour.
    let log_hours = hours_terms(11.0, 13.0, 12.0, drawn.common.spread, Midnight::Wraps).value.ln();
    let catches = sight.catches.map(|grid| (grid.limits(), grid.row(drawn.common.theta)));
    let thresholds = Thresholds::new(&drawn.common.tau);
    let interval_days = catches.as_ref().map_or(1, |(limits, _)| limits.usual_days);
    let effect = |x: &[f64; COVARIATES]| (0..COVARIATES).filter(|k| sight.told[*k]).map(|k| drawn.beta[k] * x[k]).sum();
    let plain = |day: usize| {
        sight.here.iter().all(|o| o.to_day != day)
            && sight.weather.get(day - 1).is_none_or(|weather| *weather == [0.0; COVARIATES])
    };
    let days = completed.len().saturating_sub(1);
    let mut found: Vec<[f64; 4]> = Vec::with_capacity(days);
    let mut before: Option<(f64, [f64; 4])> = None;
    while found.len() < days {
        let day = found.len() + 1;
        let from = day.saturating_sub(interval_days);
        let q = with_strays(completed[day] - completed[from], (day - from) as f64);
        let same_day: Vec<&Observation> = sight.here.iter().filter(|o| o.to_day == day).collect();
        let by_weather = sight.weather.get(day - 1).map_or(0.0, &effect);
        let same = |b: &(f64, [f64; 4])| (b.0 - q).abs() < SAME_SHARE * q && by_weather == 0.0;
        let known = before.filter(|b| same_day.is_empty() && same(b));
        let classes = match (known, &catches) {
            (Some((_, classes)), _) => classes,
            (None, Some((limits, row))) => {
                row.probabilities(drawn.log_mean_catch(q.ln(), limits.usual_log_effort, limits.protocol))
            }
            (None, None) => {
                let eta = drawn.eta(q.ln() + log_hours) + by_weather;
                if same_day.is_empty() {
                    thresholds.probabilities(eta)
                } else {
                    evening::class_probabilities_given(drawn, completed, eta, &same_day, effect)
                }
            }
        };
        if known.is_none() && (catches.is_some() || same_day.is_empty()) {
            before = (by_weather == 0.0).then_some((q, classes));
        }
        // Most days of a year have strays alone, and the same classes up to where something emerges again.
        let still = day >= interval_days && completed[day] <= completed[from] && plain(day);
        let until = if still { day + completed[day..].partition_point(|c| *c <= completed[day]) } else { day + 1 };
        let alike = 1 + (day + 1..until).take_while(|day| plain(*day)).count();
        found.resize(found.len() + alike, classes);
    }
    found
}

/// The `p` quantile of `sorted`, linear between neighbours; NaN when empty.
#[must_use]
pub fn quantile(sorted: &[f64], p: f64) -> f64 {
    let place = p * sorted.len().saturating_sub(1) as f64;
    let (Some(low), Some(high)) = (sorted.get(place.floor() as usize), sorted.get(place.ceil() as usize)) else {
        return f64::NAN;
    };
    let part = place - place.floor();
    if part > 0.0 { low + part * (high - low) } else { *low }
}

/// Which clock each draw runs on: systematic, so that a prefix holds every clock in proportion.
#[must_use]
pub fn allocate(weights: &[f64; 4], draws: usize) -> Vec<ClockKind> {
    let mut given = [0.0; 4];
    (1..=draws)
        .map(|n| {
            let (clock, _) = ClockKind::WORDS[(0..4)
                .max_by(|&a, &b| (weights[a] * n as f64 - given[a]).total_cmp(&(weights[b] * n as f64 - given[b])))
                .unwrap_or(0)];
            given[clock.index()] += 1.0;
            clock
        })
        .collect()
}
