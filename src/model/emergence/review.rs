//! How early or late each season came, from the year effects of a fit.
//!
//! A year effect v on ln C is v / (d ln Cref / d day) days at the median day of the mean climate. On
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
    let sds = fit.laplace.sds();
    let mut seasons: Vec<SeasonDeparture> = Present::among(&fitted.units)
        .years
        .into_iter()
        .map(|index| {
            let at = fit.layout.v(index);
            SeasonDeparture { year: fitted.years[index], days_late: mean[at] / slope, sd_days: sds[at] / slope }
        })
        .collect();
    seasons.sort_by_key(|season| season.year);
    let trend = trend(&seasons, fit.effects.year_shift / slope);
    Some(Review { clock: fit.clock, seasons, trend })
}

/// Slope per ten years and its standard error.
fn trend(seasons: &[SeasonDeparture], between_days: f64) -> Option<(f64, f64)> {
    if seasons.len() < YEARS_FOR_TREND {
        return None;
    }
    let weight = |s: &SeasonDeparture| 1.0 / (s.sd_days * s.sd_days + between_days * between_days).max(1e-9);
    let total: f64 = seasons.iter().map(weight).sum();
    let mean =
        |value: &dyn Fn(&SeasonDeparture) -> f64| seasons.iter().map(|s| weight(s) * value(s)).sum::<f64>() / total;
    let (year, late) = (mean(&|s| f64::from(s.year)), mean(&|s| s.days_late));
    let spread: f64 = seasons.iter().map(|s| weight(s) * (f64::from(s.year) - year).powi(2)).sum();
    let product: f64 = seasons.iter().map(|s| weight(s) * (f64::from(s.year) - year) * (s.days_late - late)).sum();
    (spread > 0.0).then(|| (10.0 * product / spread, 10.0 / spread.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_with_its_error() {
        let seasons: Vec<SeasonDeparture> = (0..6)
            .map(|k| SeasonDeparture { year: 2015 + k, days_late: -0.4 * f64::from(k) + 1.0, sd_days: 0.0 })
            .collect();
        let (slope, se) = trend(&seasons, 2.0).expect("six years");
        // Years -2.5..2.5: their squares sum to 17.5, so the error is 2/sqrt(17.5) a year.
        assert!((slope + 4.0).abs() < 1e-9 && (se - 10.0 * 2.0 / 17.5_f64.sqrt()).abs() < 1e-9, "{slope} {se}");
        assert_eq!(trend(&seasons[..4], 2.0), None);
    }
}
