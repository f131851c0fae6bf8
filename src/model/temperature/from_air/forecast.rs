//! Air temperature as forecast for the coming days.

use chrono::{Days, NaiveDate};

use super::super::TemperatureError;

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
