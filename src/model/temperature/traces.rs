//! What past years' anomalies looked like around the same time of year.

use chrono::{Datelike, Days, NaiveDate};

use super::autoregression::bridge_mean;
use super::climatology::Climatology;
use super::gaps::Completed;

/// Furthest a past trace is moved against the calendar, days.
pub const LARGEST_MOVE: usize = 10;
/// A past year counts when this share of the days asked for is known.
const FEWEST_KNOWN_SHARE: f64 = 0.8;
/// Standard deviations are never taken as less when anomalies are put in their units.
pub(super) const SMALLEST_SD_C: f64 = 0.05;

/// A past year's anomalies around the days asked for. Entry `LARGEST_MOVE` + h belongs to h days
/// after the last known day.
pub(super) struct Trace(pub(super) Vec<TraceDay>);

#[derive(Clone, Copy)]
pub(super) struct TraceDay {
    /// Anomaly in units of the spread of its date.
    pub(super) z: f64,
    /// Mean minus minimum and maximum minus mean of the day, where known; degrees Celsius.
    pub(super) range: Option<(f64, f64)>,
}

/// The anomalies that followed the same time of year as `origin` in past years. The days asked for
/// are the `length` days after it, less the first `lead - 1`.
pub(super) fn past_traces(
    completed: &Completed,
    climatology: &Climatology,
    origin: NaiveDate,
    lead: usize,
    length: usize,
) -> Vec<Trace> {
    let Some(first_known) = completed.days.keys().next() else { return Vec::new() };
    let mut traces = Vec::new();
    for back in 1.. {
        let Some(start) = years_before(origin, back) else { break };
        if start + Days::new(length as u64) < *first_known {
            break;
        }
        // The year before may reach past the last known day by the move; later years cannot.
        let from = start - Days::new(LARGEST_MOVE as u64);
        let days: Vec<Option<TraceDay>> = from
            .iter_days()
            .take(length + 2 * LARGEST_MOVE + 1)
            .map(|date| {
                let temp = completed.days.get(&date)?.temp;
                let sd = climatology.sd_c(date).max(SMALLEST_SD_C);
                let range = (!temp.is_mean_only()).then_some((temp.tmean_c - temp.tmin_c, temp.tmax_c - temp.tmean_c));
                Some(TraceDay { z: (temp.tmean_c - climatology.mean_c(date)) / sd, range })
            })
            .collect();
        let asked = &days[LARGEST_MOVE + lead..=LARGEST_MOVE + length];
        let known = asked.iter().flatten().count() as f64;
        if known >= FEWEST_KNOWN_SHARE * asked.len() as f64 {
            traces.push(Trace(without_holes(&days, climatology.phi())));
        }
    }
    traces
}

fn years_before(date: NaiveDate, years: i32) -> Option<NaiveDate> {
    let year = date.year() - years;
    date.with_year(year).or_else(|| NaiveDate::from_ymd_opt(year, 2, 28))
}

/// Holes take the mean of the autoregression given the days around them.
fn without_holes(days: &[Option<TraceDay>], phi: f64) -> Vec<TraceDay> {
    let mut next_known = vec![None; days.len() + 1];
    for index in (0..days.len()).rev() {
        next_known[index] = days[index].map(|day| (index, day.z)).or(next_known[index + 1]);
    }
    let mut last: Option<(usize, f64)> = None;
    let fill = |index: usize, last: Option<(usize, f64)>, next: Option<(usize, f64)>| {
        let k = last.map_or(0.0, |(at, _)| (index - at) as f64);
        let span = next.map_or(f64::INFINITY, |(at, _)| k + (at - index) as f64);
        bridge_mean(phi, k, span, last.map(|l| l.1), next.map(|n| n.1))
    };
    let mut whole = Vec::with_capacity(days.len());
    for (index, day) in days.iter().enumerate() {
        whole.push(day.unwrap_or_else(|| TraceDay { z: fill(index, last, next_known[index]), range: None }));
        if let Some(day) = day {
            last = Some((index, day.z));
        }
    }
    whole
}
