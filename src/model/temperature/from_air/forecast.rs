//! Air temperature as forecast for the coming days.

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;

use super::super::TemperatureError;
use super::super::series::{DayTemp, days_within};
use super::WaterFromAir;

/// Longest step of a forecast that a day may rest on, hours: services go from hours to quarters of a day.
const LONGEST_FORECAST_STEP_HOURS: i64 = 6;
/// Error of a forecast daily mean one day ahead, and what each further day adds, degrees Celsius (from
/// memory of published verifications; the same as in the check on years left out).
const FIRST_DAY_ERROR_C: f64 = 1.0;
const ERROR_PER_DAY_C: f64 = 0.3;
/// Days of a forecast that are used: the check went so far.
const FORECAST_DAYS: i64 = 10;

/// The days of a forecast by instants, in order of time, that it covers from their beginning to their end:
/// the first such day and those that follow without a gap.
#[must_use]
pub fn days_of_forecast(air: &[(DateTime<Utc>, f64)], time_zone: Tz) -> Vec<(NaiveDate, DayTemp)> {
    let days = days_within(air, time_zone, TimeDelta::hours(LONGEST_FORECAST_STEP_HOURS));
    let mut next = days.keys().next().copied();
    let follows = |(date, _): &(NaiveDate, DayTemp)| {
        let fits = next == Some(*date);
        next = date.succ_opt();
        fits
    };
    days.into_iter().take_while(follows).collect()
}

/// Usual error of a forecast of the air's daily mean, `lead_days` after the day of issue, degrees Celsius.
#[must_use]
pub fn error_c(lead_days: i64) -> f64 {
    FIRST_DAY_ERROR_C + ERROR_PER_DAY_C * (lead_days - 1).max(0) as f64
}

impl WaterFromAir {
    /// A service's forecast `days` (mean by date, degrees Celsius), issued on the local day `issued`, with its
    /// usual error, each day drawn towards the usual air as far as its error asks: of a forecast with error e
    /// where the air varies by s, the share s^2 / (s^2 + e^2) of the anomaly is to be expected, with error
    /// s e / sqrt(s^2 + e^2).
    ///
    /// # Errors
    /// As [`AirForecast::new`].
    pub fn coming(&self, issued: NaiveDate, days: &[(NaiveDate, f64)]) -> Result<AirForecast, TemperatureError> {
        let one = |(date, said_c): &(NaiveDate, f64)| {
            let (usual_c, spread_c) = (self.air_usual.mean_c(*date), self.air_usual.sd_c(*date));
            let error_c = error_c((*date - issued).num_days());
            let variance = spread_c * spread_c + error_c * error_c;
            let kept = spread_c * spread_c / variance;
            let tmean_c = usual_c + kept * (said_c - usual_c);
            AirForecastDay { date: *date, tmean_c, sd_c: spread_c * error_c / variance.sqrt() }
        };
        let near = days.iter().filter(|(date, _)| (*date - issued).num_days() <= FORECAST_DAYS);
        AirForecast::new(issued, near.map(one).collect())
    }
}

/// One day of a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirForecastDay {
    /// Local civil date.
    pub date: NaiveDate,
    /// Mean of the day, degrees Celsius.
    pub tmean_c: f64,
    /// Standard error of that mean, degrees Celsius; usually it grows from day to day.
    pub sd_c: f64,
}

/// A forecast of the air on consecutive days. Its errors hang together from day to day as the air's
/// anomalies do.
#[derive(Debug, Clone, PartialEq)]
pub struct AirForecast {
    issued: NaiveDate,
    days: Vec<AirForecastDay>,
}

impl AirForecast {
    /// Of the days `days`, issued on the local day `issued`.
    ///
    /// # Errors
    /// [`TemperatureError::AirForecast`] with the first day that is not the day after the one
    /// before it, whose mean is not finite or whose error is negative or not finite.
    pub fn new(issued: NaiveDate, days: Vec<AirForecastDay>) -> Result<Self, TemperatureError> {
        let wrong = |index: usize| {
            let AirForecastDay { date, tmean_c, sd_c } = days[index];
            let follows = index == 0 || days[index - 1].date + Days::new(1) == date;
            !(follows && tmean_c.is_finite() && sd_c.is_finite() && sd_c >= 0.0)
        };
        match (0..days.len()).find(|index| wrong(*index)) {
            Some(day) => Err(TemperatureError::AirForecast { day }),
            None => Ok(Self { issued, days }),
        }
    }

    /// The local day on which it was issued.
    #[must_use]
    pub fn issued(&self) -> NaiveDate {
        self.issued
    }

    /// The days.
    #[must_use]
    pub fn days(&self) -> &[AirForecastDay] {
        &self.days
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_days_of_a_forecast_are_taken_to_the_first_hole() {
        let at = |hours: i64| DateTime::UNIX_EPOCH + TimeDelta::hours(hours);
        // From noon by the hour, from the third day on by six hours, with a hole of a day later.
        let hours = (12..48).chain((48..=120).step_by(6)).chain((144..=192).step_by(6));
        let air: Vec<(DateTime<Utc>, f64)> = hours.map(|hour| (at(hour), hour as f64)).collect();
        let days = days_of_forecast(&air, Tz::UTC);
        let dates: Vec<i64> = days.iter().map(|(date, _)| (*date - NaiveDate::default()).num_days()).collect();
        assert_eq!(dates, [1, 2, 3, 4]);
        assert!((days[0].1.tmean_c - 36.0).abs() < 1e-9 && (days[2].1.tmax_c - 96.0).abs() < 1e-9);
    }

    #[test]
    fn days_that_do_not_follow_or_have_no_value_are_refused() {
        let first = NaiveDate::from_ymd_opt(2024, 5, 1).expect("a date");
        let days = |n: u64| -> Vec<AirForecastDay> {
            (0..n).map(|h| AirForecastDay { date: first + Days::new(h), tmean_c: 9.0, sd_c: 1.0 }).collect()
        };
        assert!(AirForecast::new(first, days(9)).is_ok() && AirForecast::new(first, Vec::new()).is_ok());
        let refused = |change: &dyn Fn(&mut AirForecastDay)| {
            let mut days = days(5);
            change(&mut days[3]);
            AirForecast::new(first, days)
        };
        let third = Err(TemperatureError::AirForecast { day: 3 });
        assert_eq!(refused(&|d| d.date = first), third);
        assert_eq!(refused(&|d| d.tmean_c = f64::NAN), third);
        assert_eq!(refused(&|d| d.sd_c = -0.1), third);
    }
}
