//! The draws of one season added up: means, dates and what visits would teach.

use super::plan::Worth;
use super::season::{SeasonForecast, quantile};

/// A log score of zero probability is infinite: so much uniform is mixed into published classes.
const CLASS_FLOOR: f64 = 1e-3;
/// Part of the draws whose records must tell dates for these to stand for all.
const LEAST_TOLD: f64 = 0.25;

/// One drawn season.
#[derive(Debug)]
pub(super) struct OneDraw {
    /// Share completed through each day, index 0 before day 1.
    pub(super) completed: Vec<f64>,
    /// Class probabilities of each day.
    pub(super) classes: Vec<[f64; 4]>,
    /// The dates that records would show; `None` with too few insects, or without usual visits.
    pub(super) dates: Option<[f64; 5]>,
    /// The dates of the curve itself, infinite when the season ends before the share is reached.
    pub(super) reached: [f64; 5],
    /// Day of the largest share.
    pub(super) peak: f64,
    /// Chance of a flight on each day; empty where nothing is known of flights.
    pub(super) flights: Vec<f64>,
}

/// Draws added up in order.
#[derive(Debug)]
pub(super) struct Summary {
    plan: Option<(usize, usize)>,
    draws: usize,
    completed: Vec<f64>,
    classes: Vec<[f64; 4]>,
    flights: Vec<f64>,
    dates: Vec<[f64; 5]>,
    /// Of draws whose records would tell no dates, those of the curve.
    untold: Vec<[f64; 5]>,
    peaks: Vec<f64>,
    planned: Vec<Planned>,
}

/// What of one draw tells the worth of visits.
#[derive(Debug)]
struct Planned {
    /// Days on which a tenth and half of the season are done.
    reached: [f64; 2],
    /// Class probabilities of the days of the plan.
    classes: Vec<[f64; 4]>,
}

impl Summary {
    /// Nothing yet; `plan` is the first and last day number whose visits are weighed.
    pub(super) fn new(plan: Option<(usize, usize)>) -> Self {
        Self {
            plan: plan.map(|(from, to)| (from.max(1), to)),
            draws: 0,
            completed: Vec::new(),
            classes: Vec::new(),
            flights: Vec::new(),
            dates: Vec::new(),
            untold: Vec::new(),
            peaks: Vec::new(),
            planned: Vec::new(),
        }
    }

    /// Adds one draw.
    pub(super) fn add(&mut self, one: &OneDraw) {
        self.draws += 1;
        add_each(&mut self.completed, &one.completed);
        add_each(&mut self.flights, &one.flights);
        self.add_classes(&one.classes);
        match one.dates {
            Some(dates) => self.dates.push(dates),
            None => self.untold.push(one.reached),
        }
        self.peaks.push(one.peak);
        if let Some((from, to)) = self.plan {
            self.planned.push(Planned {
                reached: [0.1, 0.5].map(|share| day_of_completion(&one.completed, share)),
                classes: one.classes.iter().take(to).skip(from - 1).copied().collect(),
            });
        }
    }

    /// Both, those of `next` after those of `self`.
    pub(super) fn followed_by(mut self, next: Self) -> Self {
        self.draws += next.draws;
        add_each(&mut self.completed, &next.completed);
        add_each(&mut self.flights, &next.flights);
        self.add_classes(&next.classes);
        self.dates.extend(next.dates);
        self.untold.extend(next.untold);
        self.peaks.extend(next.peaks);
        self.planned.extend(next.planned);
        self
    }

    fn add_classes(&mut self, classes: &[[f64; 4]]) {
        self.classes.resize(self.classes.len().max(classes.len()), [0.0; 4]);
        add_each_to(self.classes.as_flattened_mut(), classes.as_flattened());
    }

    /// The forecast; `None` without a draw.
    pub(super) fn forecast(self, weights: [f64; 4], widening: f64) -> Option<SeasonForecast> {
        let days = self.completed.len().checked_sub(1)?;
        let n = self.draws as f64;
        let mean = |sums: &[f64]| -> Vec<f64> { sums.iter().map(|sum| sum / n).collect() };
        let completed = mean(&self.completed);
        let mut classes = self.classes.clone();
        for p in &mut classes {
            let sum: f64 = p.iter().sum();
            *p = p.map(|v| (1.0 - CLASS_FLOOR) * v / sum + CLASS_FLOOR / 4.0);
        }
        // Where hardly any draw brings insects enough to tell dates, those that do are no fair sample.
        let few = (self.dates.len() as f64) < LEAST_TOLD * n;
        let untold = if few { self.untold.as_slice() } else { &[] };
        let dates = |k: usize| self.dates.iter().chain(untold).map(|dates| dates[k]).collect();
        Some(SeasonForecast {
            share: completed.windows(2).map(|pair| (pair[1] - pair[0]).max(0.0)).collect(),
            milestones: std::array::from_fn(|k| quantiles(dates(k), days, widening)),
            peak: quantiles(self.peaks.clone(), days, 1.0),
            visits: self.visits(days),
            cumulative: completed[1..].to_vec(),
            classes,
            weights,
            effective: 1.0,
            flights: mean(&self.flights),
        })
    }

    /// What a visit on each day of the plan would teach.
    fn visits(&self, days: usize) -> Vec<Worth> {
        let Some((from, to)) = self.plan else { return Vec::new() };
        let at = |k: usize| -> Vec<f64> { self.planned.iter().map(|one| one.reached[k]).collect() };
        let mut begins = at(0);
        begins.sort_by(f64::total_cmp);
        let k = usize::from(quantile(&begins, 0.5) < from as f64);
        // A date past the season's last day counts as the day after it.
        let dates: Vec<f64> = at(k).into_iter().map(|day| day.min(days as f64 + 1.0)).collect();
        let on = |index: usize| self.planned.iter().filter_map(|one| one.classes.get(index).copied()).collect();
        let worth = |index: usize| {
            let classes: Vec<[f64; 4]> = on(index);
            Worth::of(&dates, &classes)
        };
        (0..(to + 1).saturating_sub(from)).map(worth).collect()
    }
}

fn add_each(sums: &mut Vec<f64>, values: &[f64]) {
    sums.resize(sums.len().max(values.len()), 0.0);
    add_each_to(sums, values);
}

fn add_each_to(sums: &mut [f64], values: &[f64]) {
    sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += value);
}

/// The real-valued day on which `completed` reaches `share`; infinite when it never does.
pub(super) fn day_of_completion(completed: &[f64], share: f64) -> f64 {
    let after = completed.partition_point(|f| *f < share);
    if after == 0 || after >= completed.len() {
        return f64::INFINITY;
    }
    let (low, high) = (completed[after - 1], completed[after]);
    (after - 1) as f64 + (share - low) / (high - low)
}

/// The 10, 50 and 90 % quantiles, the outer two `widening` times as far from the middle; `None` past
/// the season's last day.
fn quantiles(mut values: Vec<f64>, days: usize, widening: f64) -> [Option<f64>; 3] {
    if values.is_empty() {
        return [None; 3];
    }
    values.sort_by(f64::total_cmp);
    let middle = quantile(&values, 0.5);
    [0.1, 0.5, 0.9].map(|p| {
        let value = quantile(&values, p);
        let value = if middle.is_finite() && p != 0.5 { middle + widening * (value - middle) } else { value };
        (value.is_finite() && value <= days as f64).then(|| value.max(1.0))
    })
}
