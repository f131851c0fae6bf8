//! How early or late each season came, from the year effects of a fit.
//!
//! A season's departure on ln C is its year effect and the mean of its site-years' own: on a water of few reaches the
//! two cannot be told apart, and either alone is a part of what happened. A departure v is v / (d ln Cref / d day) days
//! at the median day of the mean climate. On
//! the calendar clock these are days of the year: the season came so much later than usual. On a
//! heat clock they are thermal days: it came so much later than its warmth said. The trend is a
//! straight line by weighted least squares, weights 1/(posterior variance + variance between years).

use crate::domain::fit::ClockKind;
use crate::model::clock::ClockRun;
use crate::model::posterior::layout::{D50, DC, TB};

use super::effects::Present;
use super::fitted::{FittedTaxon, Member};
use super::prior::log_slope_per_day;

/// Fewest years for a trend.
const YEARS_FOR_TREND: usize = 5;

/// One season against what is usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonDeparture {
    /// The season.
    pub year: i32,
    /// Days later than usual; negative is earlier.
    pub days_late: f64,
    /// Posterior standard deviation, days.
    pub sd_days: f64,
    /// Standard deviation of such departures between seasons, days: what was known of this one before its records.
    pub usual_sd_days: f64,
}

/// All seasons of a taxon and brood on one clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// The clock: days of the year on the calendar, thermal days on heat clocks.
    pub clock: ClockKind,
    /// Seasons with records, in order.
    pub seasons: Vec<SeasonDeparture>,
    /// Days later per ten years and its standard error; `None` with few years.
    pub trend: Option<(f64, f64)>,
}

/// Part of a season's departure that its records must carry for the trend to count it.
const LEAST_KEPT: f64 = 0.05;

/// The review of every clock of `fitted` that runs at its median day.
#[must_use]
pub fn review(fitted: &FittedTaxon) -> Vec<Review> {
    fitted.members.iter().filter_map(|member| of_member(fitted, member)).collect()
}

fn of_member(fitted: &FittedTaxon, member: &Member) -> Option<Review> {
    let (fit, climate) = (&member.fit, &fitted.climate);
    let mean = &fit.mean;
    let reference = ClockRun::new(fit.clock, climate, mean[TB], mean[DC], climate.len());
    let slope = log_slope_per_day(&reference, mean[D50])?;
    let mut seasons: Vec<SeasonDeparture> = Present::among(&fitted.units)
        .years
        .into_iter()
        .map(|index| {
            let own: Vec<usize> = (0..fitted.units.len()).filter(|unit| fitted.units[*unit].1 == index).collect();
            let part = 1.0 / own.len().max(1) as f64;
            let shifts = own.iter().map(|unit| (fit.layout.shift(*unit), part));
            let terms: Vec<(usize, f64)> = std::iter::once((fit.layout.v(index), 1.0)).chain(shifts).collect();
            let usual_sd = fit.effects.year_shift.hypot(fit.effects.unit_shift * part.sqrt());
            SeasonDeparture {
                year: fitted.years[index],
                days_late: terms.iter().map(|(at, factor)| factor * mean[*at]).sum::<f64>() / slope,
                sd_days: fit.laplace.sd_of_sum(&terms) / slope,
                usual_sd_days: usual_sd / slope,
            }
        })
        .collect();
    seasons.sort_by_key(|season| season.year);
    let trend = trend(&seasons);
    Some(Review { clock: fit.clock, seasons, trend })
}

/// Slope per ten years and its standard error.
///
/// What is told of a season was drawn towards zero by the spread between years: under a normal prior of
/// variance t^2 a season of posterior variance v keeps the part 1 - v/t^2 of what its records say, whose own variance is
/// v over that part. The line runs through what the records say, or it would lean towards no change.
fn trend(seasons: &[SeasonDeparture]) -> Option<(f64, f64)> {
    let points: Vec<Point> = seasons.iter().filter_map(Point::of).collect();
    if points.len() < YEARS_FOR_TREND {
        return None;
    }
    let total: f64 = points.iter().map(|p| p.weight).sum();
    let mean = |value: fn(&Point) -> f64| points.iter().map(|p| p.weight * value(p)).sum::<f64>() / total;
    let (year, late) = (mean(|p| p.year), mean(|p| p.days_late));
    let spread: f64 = points.iter().map(|p| p.weight * (p.year - year).powi(2)).sum();
    let product: f64 = points.iter().map(|p| p.weight * (p.year - year) * (p.days_late - late)).sum();
    (spread > 0.0).then(|| (10.0 * product / spread, 10.0 / spread.sqrt()))
}

/// What the records of one season say by themselves.
struct Point {
    year: f64,
    days_late: f64,
    weight: f64,
}

impl Point {
    /// `None` where they say next to nothing.
    fn of(season: &SeasonDeparture) -> Option<Self> {
        let between = season.usual_sd_days * season.usual_sd_days;
        let variance = season.sd_days * season.sd_days;
        let kept = if between > 0.0 { 1.0 - variance / between } else { 1.0 };
        (kept > LEAST_KEPT).then(|| Self {
            year: f64::from(season.year),
            days_late: season.days_late / kept,
            weight: 1.0 / (variance / kept + between).max(1e-9),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_with_its_error() {
        let seasons: Vec<SeasonDeparture> = (0..6)
            .map(|k| SeasonDeparture {
                year: 2015 + k,
                days_late: -0.4 * f64::from(k) + 1.0,
                sd_days: 0.0,
                usual_sd_days: 2.0,
            })
            .collect();
        let (slope, se) = trend(&seasons).expect("six years");
        // Years -2.5..2.5: their squares sum to 17.5, so the error is 2/sqrt(17.5) a year.
        assert!((slope + 4.0).abs() < 1e-9 && (se - 10.0 * 2.0 / 17.5_f64.sqrt()).abs() < 1e-9, "{slope} {se}");
        assert_eq!(trend(&seasons[..4]), None);
    }

    #[test]
    fn seasons_drawn_half_way_to_zero_tell_the_whole_slope() {
        // Records as uncertain as years are different: half of what they say is kept, and half of the variance.
        let seasons: Vec<SeasonDeparture> = (0..6)
            .map(|k| SeasonDeparture {
                year: 2015 + k,
                days_late: -0.2 * f64::from(k) + 0.5,
                sd_days: 2.0_f64.sqrt(),
                usual_sd_days: 2.0,
            })
            .collect();
        let (slope, se) = trend(&seasons).expect("six years");
        assert!((slope + 4.0).abs() < 1e-9 && (se - 10.0 * (8.0 / 17.5_f64).sqrt()).abs() < 1e-9, "{slope} {se}");
        let silent = SeasonDeparture { year: 2030, days_late: 0.0, sd_days: 1.999, usual_sd_days: 2.0 };
        assert_eq!(trend(&[seasons, vec![silent]].concat()), Some((slope, se)), "no records, no say");
    }
}
