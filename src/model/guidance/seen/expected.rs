//! Where the odds begin: what the forecast expects of a taxon on the day and at the hour.

use super::super::cases::{PLENTY, at_hour};
use super::super::{Candidate, Window};
use super::{Because, Hour, Reason};

/// Numbers at any hour of a day that has some, of those at the middle: winged insects rest on plants and
/// stones before and after (common practice, no source).
const RESTING: f64 = 0.05;
/// Numbers where nobody knows the hours.
const HOUR_UNKNOWN: f64 = 0.3;
/// Numbers from which a moment is called the insect's hour.
const ITS_HOUR: f64 = 0.1;
/// Chance of any below which hours are not worth a word.
const HARDLY: f64 = 0.01;
/// Chance of any from which the forecast speaks for an insect.
const SPEAKS_FOR: f64 = 0.2;

/// Numbers at the moment, of those at the middle of the event, without those at rest.
fn numbers(window: Window) -> f64 {
    at_hour(window).numbers
}

/// Numbers about at the moment, where 1 is a certain sparse emergence at its fullest hour.
pub(super) fn expected(candidate: &Candidate<'_>) -> f64 {
    let any = 1.0 - candidate.classes[0];
    if any <= 0.0 {
        return 0.0;
    }
    let plenty: f64 = candidate.classes.iter().zip(PLENTY).map(|(chance, plenty)| chance * plenty).sum();
    let emerging = plenty * candidate.emergence.map_or(HOUR_UNKNOWN, numbers).max(RESTING);
    // Those that fly are as many as those that emerged.
    let flying = candidate.flight.map_or(0.0, |flight| plenty / any * flight.chance * numbers(flight.window));
    emerging + flying
}

/// What the forecast says, and whether that tells for the taxon.
pub(super) fn speaks(own: &[&Candidate<'_>]) -> (bool, Reason) {
    let reason = |because: Because| Reason { because, factor: None, provenance: "the published forecast".to_owned() };
    let Some(best) = own.iter().max_by(|a, b| expected(a).total_cmp(&expected(b))) else {
        return (false, reason(Because::NotForecast));
    };
    let any = 1.0 - best.classes[0];
    let hour = best.emergence.map(numbers);
    let flight = best.flight.map_or(0.0, |flight| flight.chance * numbers(flight.window));
    let of_hour = match hour {
        _ if any < HARDLY => Hour::NotTold,
        _ if flight >= ITS_HOUR => Hour::OfFlight,
        Some(numbers) if numbers >= ITS_HOUR => Hour::Its,
        Some(_) => Hour::NotIts,
        None => Hour::Unknown,
    };
    let on_time = hour.is_none_or(|numbers| numbers >= ITS_HOUR) || flight >= ITS_HOUR;
    (any >= SPEAKS_FOR && on_time, reason(Because::Forecast(any, of_hour)))
}
