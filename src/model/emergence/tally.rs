//! Sums of scores by clock, lead and year, and the table they make.

use std::collections::BTreeMap;

use crate::domain::fit::ClockKind;
use crate::model::scores::{brier, brier_parts, crps_ensemble_fair, rps};

use super::assess::{Drawn, LEADS, lead_of};
use super::season::quantile;

/// A record so far from the usual middle of the season is in season, days.
const IN_SEASON_DAYS: i64 = 35;
/// Bins of probability, and fewest cases for telling reliability.
const BINS: usize = 10;
const LEAST_CASES: usize = 10;
/// Fewest draws behind a date.
const LEAST_DRAWS: usize = 10;

/// What a forecast stands for.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// The clock; `None` for what is shipped.
    pub clock: Option<ClockKind>,
    /// The season.
    pub season: i32,
    /// Day of issue.
    pub issue: i64,
    /// The usual middle of the season.
    pub middle: i64,
    /// Factor on the date's interval.
    pub widening: f64,
}

/// The class of one record and what was said of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassForecast {
    /// Day of the record.
    pub day: i64,
    /// Its class.
    pub class: usize,
    /// Probabilities of the four classes.
    pub probabilities: [f64; 4],
}

#[derive(Debug, Clone, Default)]
struct Sums {
    dates: f64,
    error: f64,
    crps: f64,
    inside: f64,
    records: f64,
    rps: f64,
    in_season: f64,
    rps_in_season: f64,
}

#[derive(Debug, Clone, Default)]
struct Cell {
    years: BTreeMap<i32, Sums>,
    any: Vec<(f64, bool)>,
    pit: [f64; 10],
}

/// All sums.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    cells: BTreeMap<(Option<ClockKind>, usize), Cell>,
}

/// Scores of one clock at one lead.
#[derive(Debug, Clone, PartialEq)]
pub struct SkillRow {
    /// The clock; `None` for what is shipped.
    pub clock: Option<ClockKind>,
    /// Days ahead, one of [`LEADS`].
    pub lead_days: usize,
    /// Years left out that had something to score.
    pub years: usize,
    /// Dates scored, one per site-year and day of issue.
    pub dates: usize,
    /// Records scored, once per day of issue.
    pub records: usize,
    /// Mean absolute error of the middle 10 % date.
    pub mae_days: Option<f64>,
    /// Mean continuous ranked probability score of the 10 % date.
    pub crps_days: Option<f64>,
    /// Mean ranked probability score of classes, not divided by their number.
    pub rps: Option<f64>,
    /// The same within five weeks of the usual middle of the season.
    pub rps_in_season: Option<f64>,
    /// Mean Brier score of "at least sparse".
    pub brier: Option<f64>,
    /// Its reliability part, from bins of a tenth; `None` with few cases.
    pub reliability: Option<f64>,
    /// Its resolution part.
    pub resolution: Option<f64>,
    /// Share of observed 10 % dates inside the 80 % interval.
    pub cover80: Option<f64>,
    /// Share of observed 10 % dates in each tenth of the forecast distribution.
    pub pit: Option<[f64; 10]>,
    /// 1 - CRPS/CRPS of the best calendar at the same lead.
    pub skill_crps: Option<f64>,
    /// Standard error of that skill over years.
    pub skill_se: Option<f64>,
}

impl Tally {
    /// Adds a forecast, `observed` being the 10 % date that the season's records show.
    pub fn add(&mut self, case: &Case, observed: Option<f64>, drawn: &Drawn) {
        if let Some(day) = observed
            && drawn.onset.len() >= LEAST_DRAWS
            && let Some(lead) = lead_of((day - case.issue as f64).floor() as i64)
        {
            let cell = self.cells.entry((case.clock, lead)).or_default();
            let mut draws = drawn.onset.clone();
            draws.sort_by(f64::total_cmp);
            let middle = quantile(&draws, 0.5);
            for draw in &mut draws {
                *draw = middle + case.widening * (*draw - middle);
            }
            let sums = cell.years.entry(case.season).or_default();
            sums.dates += 1.0;
            sums.error += (middle - day).abs();
            sums.crps += crps_ensemble_fair(&draws, day);
            sums.inside += f64::from(u8::from((quantile(&draws, 0.1)..=quantile(&draws, 0.9)).contains(&day)));
            let below = draws.partition_point(|d| *d < day) as f64 / draws.len() as f64;
            cell.pit[((below * 10.0) as usize).min(9)] += 1.0;
        }
        for forecast in &drawn.classes {
            let Some(lead) = lead_of(forecast.day - case.issue) else { continue };
            let cell = self.cells.entry((case.clock, lead)).or_default();
            let sums = cell.years.entry(case.season).or_default();
            let score = rps(&forecast.probabilities, forecast.class);
            sums.records += 1.0;
            sums.rps += score;
            if (forecast.day - case.middle).abs() <= IN_SEASON_DAYS {
                sums.in_season += 1.0;
                sums.rps_in_season += score;
            }
            cell.any.push((1.0 - forecast.probabilities[0], forecast.class > 0));
        }
    }

    /// Adds another tally's sums.
    pub fn merge(&mut self, other: Self) {
        for (key, cell) in other.cells {
            let mine = self.cells.entry(key).or_default();
            mine.any.extend(cell.any);
            mine.pit.iter_mut().zip(cell.pit).for_each(|(a, b)| *a += b);
            for (year, s) in cell.years {
                let m = mine.years.entry(year).or_default();
                for (a, b) in [
                    (&mut m.dates, s.dates),
                    (&mut m.error, s.error),
                    (&mut m.crps, s.crps),
                    (&mut m.inside, s.inside),
                    (&mut m.records, s.records),
                    (&mut m.rps, s.rps),
                    (&mut m.in_season, s.in_season),
                    (&mut m.rps_in_season, s.rps_in_season),
                ] {
                    *a += b;
                }
            }
        }
    }

    /// The table, by lead, the four clocks in their order and then what is shipped.
    #[must_use]
    pub fn rows(&self) -> Vec<SkillRow> {
        let clocks: Vec<Option<ClockKind>> =
            ClockKind::WORDS.iter().map(|(clock, _)| Some(*clock)).chain([None]).collect();
        let mut rows = Vec::new();
        for (lead, lead_days) in LEADS.into_iter().enumerate() {
            let null = self.cells.get(&(Some(ClockKind::Calendar), lead));
            for clock in &clocks {
                if let Some(cell) = self.cells.get(&(*clock, lead)) {
                    rows.push(cell.row(*clock, lead_days, null));
                }
            }
        }
        rows
    }
}

impl Cell {
    fn row(&self, clock: Option<ClockKind>, lead_days: usize, null: Option<&Self>) -> SkillRow {
        let sum = |value: fn(&Sums) -> f64| self.years.values().map(value).sum::<f64>();
        let (dates, records, in_season) = (sum(|s| s.dates), sum(|s| s.records), sum(|s| s.in_season));
        let mean = |value: fn(&Sums) -> f64, n: f64| (n > 0.0).then(|| sum(value) / n);
        let brier_mean = self.any.iter().map(|(f, o)| brier(*f, *o)).sum::<f64>() / self.any.len().max(1) as f64;
        let parts = brier_parts(&self.any, BINS).filter(|_| self.any.len() >= LEAST_CASES);
        let gain = null.and_then(|null| self.gain_on(null));
        SkillRow {
            clock,
            lead_days,
            years: self.years.len(),
            dates: dates as usize,
            records: records as usize,
            mae_days: mean(|s| s.error, dates),
            crps_days: mean(|s| s.crps, dates),
            rps: mean(|s| s.rps, records),
            rps_in_season: mean(|s| s.rps_in_season, in_season),
            brier: (!self.any.is_empty()).then_some(brier_mean),
            reliability: parts.map(|p| p.reliability),
            resolution: parts.map(|p| p.resolution),
            cover80: mean(|s| s.inside, dates),
            pit: (dates > 0.0).then(|| self.pit.map(|n| n / dates)),
            skill_crps: gain.map(|g| g.0),
            skill_se: gain.and_then(|g| g.1),
        }
    }

    /// Skill of the 10 % date's CRPS against `null`, and its standard error over years.
    fn gain_on(&self, null: &Self) -> Option<(f64, Option<f64>)> {
        let pairs: Vec<(f64, f64)> = self
            .years
            .iter()
            .filter_map(|(year, s)| {
                let n = null.years.get(year)?;
                (s.dates > 0.0 && n.dates > 0.0).then(|| (s.crps / s.dates, n.crps / n.dates))
            })
            .collect();
        let years = pairs.len() as f64;
        let base = pairs.iter().map(|p| p.1).sum::<f64>() / years;
        if pairs.is_empty() || base <= 0.0 {
            return None;
        }
        let gains: Vec<f64> = pairs.iter().map(|(score, null)| (null - score) / base).collect();
        let mean = gains.iter().sum::<f64>() / years;
        let variance = gains.iter().map(|g| (g - mean).powi(2)).sum::<f64>() / (years - 1.0);
        Some((mean, (pairs.len() > 1).then(|| (variance / years).sqrt())))
    }
}
