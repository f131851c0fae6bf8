//! A logger that drifts parts slowly from what it is held against.
//!
//! The reference is another gauge, the middle of several, or what the air says of the water
//! ([`crate::model::temperature::WaterFromAir::series`]). The difference, less its usual value at that
//! time of year in the other years, is fitted by a straight line over [`WINDOW_DAYS`] days, window
//! after window. A window shows drift when the slope is at least [`LEAST_DRIFT_C`] a month, and well
//! beyond any that this pair of series has shown at other times, and when the line fits
//! better than the best single jump: a jump is another fault. Of such a window those days are doubted
//! that lie more than [`OFF_C`] from its first month.
//!
//! What drifts alike every year is the usual difference and is not seen. Waters part by themselves: on
//! brooks of one valley the slopes over half a year have a standard deviation of 0.07 to 0.2 °C a month,
//! so that 0.3 °C a month shows between close neighbours only. The numbers are ours.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike, Days, NaiveDate};

use super::dense::median;
use super::screen::{ByDay, slot};

/// Length of the windows, days.
pub const WINDOW_DAYS: u64 = 180;
/// Least drift that is doubted, °C in 30 days.
pub const LEAST_DRIFT_C: f64 = 0.2;
/// Distance from the start of a drift from which a day is doubted, °C.
pub const OFF_C: f64 = 0.5;
/// Days at the start of a window that a drift is measured from.
const START_DAYS: u64 = 30;
/// Days from one window to the next.
const STEP_DAYS: u64 = 5;
/// Fewest days with a difference in a window.
const FEWEST_DAYS: usize = 120;
/// Days of the year on either side over which usual differences are gathered.
const USUAL_WINDOW_DAYS: usize = 15;
/// Fewest other years that tell the usual difference.
const FEWEST_YEARS: usize = 3;
/// Days between two windows that are other times: a year, so that a drift does not hide itself.
const APART_DAYS: i64 = 360;
/// Fewest windows to judge by.
const FEWEST_WINDOWS: usize = 24;

/// How the reason begins.
pub const PARTS: &str = "parts from";

/// What a gauge is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Another gauge, or the middle of several.
    Gauges,
    /// What the air says of the water.
    Air,
}

impl Against {
    /// Slopes are doubted beyond so many times the steepest one at other times: the air tells less.
    fn times_natural(self) -> f64 {
        match self {
            Self::Gauges => 1.5,
            Self::Air => 2.0,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Gauges => "the other gauges",
            Self::Air => "what the air says",
        }
    }
}

/// One doubted day.
#[derive(Debug, Clone, PartialEq)]
pub struct DriftingDay {
    /// The day.
    pub date: NaiveDate,
    /// Drift in 30 days, °C, in the window in which it is steepest.
    pub per_month_c: f64,
    /// The reason in words.
    pub reason: String,
}

/// Days on which `own` (daily means, °C) has drifted from `reference`, in order. `against` says what
/// the reference is. None with fewer than four years of both.
#[must_use]
pub fn drift(
    own: &BTreeMap<NaiveDate, f64>,
    reference: &BTreeMap<NaiveDate, f64>,
    against: Against,
) -> Vec<DriftingDay> {
    let differences: BTreeMap<NaiveDate, f64> =
        own.iter().filter_map(|(date, value)| Some((*date, value - reference.get(date)?))).collect();
    let unusual = less_usual(&differences);
    let (Some(first), Some(last)) = (unusual.keys().next(), unusual.keys().next_back()) else { return Vec::new() };
    let mut windows = Vec::new();
    let mut from = *first;
    while from + Days::new(WINDOW_DAYS) <= *last + Days::new(1) {
        let to = from + Days::new(WINDOW_DAYS);
        let points: Vec<(f64, f64)> =
            unusual.range(from..to).map(|(date, value)| ((*date - from).num_days() as f64, *value)).collect();
        if points.len() >= FEWEST_DAYS {
            windows.push((from, Line::through(&points), best_jump(&points)));
        }
        from = from + Days::new(STEP_DAYS);
    }

    let mut steepest: BTreeMap<NaiveDate, (f64, NaiveDate)> = BTreeMap::new();
    for (from, line, jump) in &windows {
        let elsewhere = windows.iter().filter(|other| (other.0 - *from).num_days().abs() >= APART_DAYS);
        let slopes: Vec<f64> = elsewhere.map(|other| other.1.slope.abs()).collect();
        let natural = slopes.iter().copied().fold(0.0, f64::max);
        let limit = (LEAST_DRIFT_C / 30.0).max(against.times_natural() * natural);
        if slopes.len() < FEWEST_WINDOWS || line.slope.abs() < limit || line.squares > *jump {
            continue;
        }
        let mut start: Vec<f64> =
            unusual.range(*from..*from + Days::new(START_DAYS)).map(|(_, value)| *value).collect();
        let Some(began) = median(&mut start) else { continue };
        for (date, value) in unusual.range(*from..*from + Days::new(WINDOW_DAYS)) {
            // Off by the line and by itself, on the side that the line goes to.
            let along = line.slope.abs() * (*date - *from).num_days() as f64;
            if along > OFF_C && (value - began) * line.slope.signum() > OFF_C {
                let entry = steepest.entry(*date).or_insert((line.slope, *from));
                if line.slope.abs() > entry.0.abs() {
                    *entry = (line.slope, *from);
                }
            }
        }
    }
    let words = |(date, (slope, from)): (NaiveDate, (f64, NaiveDate))| {
        let per_month_c = 30.0 * slope;
        let reason = format!("{PARTS} {} by {per_month_c:+.1} °C a month since about {from}", against.words());
        DriftingDay { date, per_month_c, reason }
    };
    steepest.into_iter().map(words).collect()
}

/// The middle of several references on each day, less each one's usual difference from `own`, so that
/// a day that one of them lacks does not jump. At least one must have the day.
#[must_use]
pub fn middle_of(own: &BTreeMap<NaiveDate, f64>, others: &[BTreeMap<NaiveDate, f64>]) -> BTreeMap<NaiveDate, f64> {
    let levels: Vec<f64> = others
        .iter()
        .map(|other| {
            let mut differences: Vec<f64> =
                own.iter().filter_map(|(date, value)| Some(value - other.get(date)?)).collect();
            median(&mut differences).unwrap_or(0.0)
        })
        .collect();
    let dates: BTreeSet<NaiveDate> = others.iter().flat_map(|other| other.keys().copied()).collect();
    dates
        .into_iter()
        .filter_map(|date| {
            let mut values: Vec<f64> =
                others.iter().zip(&levels).filter_map(|(other, level)| Some(other.get(&date)? + level)).collect();
            Some((date, median(&mut values)?))
        })
        .collect()
}

/// Differences less their median at that time of the other years; days without enough of those are
/// left out.
fn less_usual(differences: &BTreeMap<NaiveDate, f64>) -> BTreeMap<NaiveDate, f64> {
    let gathered = ByDay::new(differences.iter().map(|(date, value)| (*date, *value)));
    let mut usual: BTreeMap<(usize, i32), Option<f64>> = BTreeMap::new();
    let mut kept = BTreeMap::new();
    for (date, value) in differences {
        let known = *usual.entry((slot(*date), date.year())).or_insert_with(|| {
            // Each year counts alike, however many days of it were measured.
            let mut years: BTreeMap<i32, Vec<f64>> = BTreeMap::new();
            for (year, value) in gathered.window(slot(*date), USUAL_WINDOW_DAYS).filter(|v| v.0 != date.year()) {
                years.entry(year).or_default().push(value);
            }
            let mut middles: Vec<f64> = years.values_mut().filter_map(|values| median(values)).collect();
            if middles.len() >= FEWEST_YEARS { median(&mut middles) } else { None }
        });
        if let Some(known) = known {
            kept.insert(*date, value - known);
        }
    }
    kept
}

/// A straight line by least squares.
struct Line {
    /// Per day.
    slope: f64,
    /// Sum of squares about it.
    squares: f64,
}

impl Line {
    fn through(points: &[(f64, f64)]) -> Self {
        let n = points.len() as f64;
        let (mean_x, mean_y) =
            (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
        let sum = |f: fn(f64, f64) -> f64| points.iter().map(|p| f(p.0 - mean_x, p.1 - mean_y)).sum::<f64>();
        let (sxx, sxy, syy) = (sum(|x, _| x * x), sum(|x, y| x * y), sum(|_, y| y * y));
        let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
        Self { slope, squares: (syy - slope * sxy).max(0.0) }
    }
}

/// Sum of squares about the best two levels with one jump between them.
fn best_jump(points: &[(f64, f64)]) -> f64 {
    let total: f64 = points.iter().map(|p| p.1).sum();
    let squares: f64 = points.iter().map(|p| p.1 * p.1).sum();
    let n = points.len() as f64;
    let mut left = 0.0;
    let mut best = squares - total * total / n;
    for (index, point) in points.iter().enumerate().take(points.len() - 1) {
        left += point.1;
        let k = index as f64 + 1.0;
        best = best.min(squares - left * left / k - (total - left).powi(2) / (n - k));
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(year: i32, ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(year, ordinal).expect("a date")
    }

    /// Four years of a reference and of water half a degree warmer with its own yearly cycle and some
    /// wavering, with what `fault` adds on a day.
    fn pair(fault: impl Fn(NaiveDate) -> f64) -> [BTreeMap<NaiveDate, f64>; 2] {
        let turn = |d: NaiveDate, period: f64| (std::f64::consts::TAU * f64::from(d.to_epoch_days()) / period).sin();
        let days = || date(2018, 1).iter_days().take(1461);
        let reference = |d| (d, 9.0 - 6.0 * turn(d, 365.25) + turn(d, 13.0));
        let own = |d| (d, reference(d).1 + 0.5 + 0.8 * turn(d, 365.25) + 0.3 * turn(d, 37.0) + fault(d));
        [days().map(own).collect(), days().map(reference).collect()]
    }

    #[test]
    fn a_slow_parting_is_found_with_its_pace_and_the_other_years_are_not_blamed() {
        let start = date(2020, 120);
        let fault = |d: NaiveDate| {
            if (start..start + Days::new(180)).contains(&d) { (d - start).num_days() as f64 / 100.0 } else { 0.0 }
        };
        let [own, reference] = pair(fault);
        let found = drift(&own, &reference, Against::Gauges);
        let of_it = found.iter().filter(|day| (start..start + Days::new(180)).contains(&day.date)).count();
        assert!(of_it > 80, "{of_it} of 180");
        assert!(found.len() - of_it <= 5, "{:?}", found.iter().map(|d| d.date).collect::<Vec<_>>());
        let steep = found.iter().map(|day| day.per_month_c).fold(0.0, f64::max);
        assert!((0.25..0.45).contains(&steep), "0.3 a month was planted, found {steep}");
        assert!(
            found[0].reason.contains("the other gauges") && found[0].reason.contains("2020"),
            "{}",
            found[0].reason
        );
    }

    #[test]
    fn a_jump_a_yearly_wave_and_a_short_record_are_no_drift() {
        let [own, reference] = pair(|d| if (date(2020, 150)..date(2021, 1)).contains(&d) { 1.5 } else { 0.0 });
        assert_eq!(drift(&own, &reference, Against::Gauges), Vec::new());
        let [own, reference] = pair(|_| 0.0);
        assert_eq!(drift(&own, &reference, Against::Gauges), Vec::new());
        let [own, _] = pair(|d| f64::from(d.ordinal()) / 100.0);
        let three_years: BTreeMap<_, _> = own.range(..date(2021, 1)).map(|(d, v)| (*d, *v)).collect();
        assert_eq!(drift(&three_years, &reference, Against::Gauges), Vec::new());
    }

    #[test]
    fn the_middle_of_several_does_not_jump_where_one_is_missing() {
        let [own, reference] = pair(|_| 0.0);
        let warmer: BTreeMap<_, _> = reference.iter().map(|(d, v)| (*d, v + 4.0)).collect();
        let some: BTreeMap<_, _> = warmer.range(date(2019, 1)..date(2019, 200)).map(|(d, v)| (*d, *v)).collect();
        let middle = middle_of(&own, &[reference.clone(), some]);
        let step = middle[&date(2019, 1)]
            - middle[&date(2018, 365)]
            - (reference[&date(2019, 1)] - reference[&date(2018, 365)]);
        assert!(step.abs() < 0.3, "{step}");
    }
}
