//! Daily water temperature from air temperature and discharge: air2stream.
//!
//! Toffolon and Piccolroaz (2015), "A hybrid model for river water temperature as a function of air
//! temperature and discharge", Environ. Res. Lett. 10:114011. With Tw and Ta in degrees Celsius, time
//! in days, theta the discharge over its mean and t the share of the year that has passed:
//!
//! | parameters | dTw/dt |
//! |---|---|
//! | 8 | theta^-a4 {a1 + a2 Ta - a3 Tw + theta [a5 + a6 cos(2 pi (t - a7)) - a8 Tw]} |
//! | 7 | the same with a4 = 0 |
//! | 5 | a1 + a2 Ta - a3 Tw + a6 cos(2 pi (t - a7)) |
//! | 4 | theta^-a4 (a1 + a2 Ta - a3 Tw) |
//! | 3 | a1 + a2 Ta - a3 Tw |
//!
//! The water is kept at 0 or above after each step. Parameters belong to the [`Scheme`] they were
//! fitted with: the two are not interchangeable.

mod fit;
mod step;

use chrono::{Datelike, Days, NaiveDate};
use thiserror::Error;

pub use fit::{FEWEST_DAYS, Fitted, fit};
pub use step::{Scheme, advance, run};

/// Which terms are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Version {
    /// a1, a2, a3: air alone.
    Three,
    /// a1 to a4: air, with discharge as depth.
    Four,
    /// a1, a2, a3, a6, a7: air and a yearly wave; no discharge.
    Five,
    /// All but a4.
    Seven,
    /// All.
    Eight,
}

impl Version {
    /// All versions, the smallest first.
    pub const ALL: [Self; 5] = [Self::Three, Self::Four, Self::Five, Self::Seven, Self::Eight];

    /// Positions (0 for a1) of the parameters that this version has.
    #[must_use]
    pub fn free(self) -> &'static [usize] {
        match self {
            Self::Three => &[0, 1, 2],
            Self::Four => &[0, 1, 2, 3],
            Self::Five => &[0, 1, 2, 5, 6],
            Self::Seven => &[0, 1, 2, 4, 5, 6, 7],
            Self::Eight => &[0, 1, 2, 3, 4, 5, 6, 7],
        }
    }

    /// Whether discharge plays a part.
    #[must_use]
    pub fn needs_discharge(self) -> bool {
        !matches!(self, Self::Three | Self::Five)
    }

    /// Whether the yearly wave and what comes with it is multiplied by theta.
    fn scales_the_wave(self) -> bool {
        matches!(self, Self::Seven | Self::Eight)
    }
}

/// Version with a1 to a8; those that the version does not have are 0 and have no effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameters {
    /// Which terms are kept.
    pub version: Version,
    /// a1 (degrees Celsius per day), a2 and a3 (per day), a4 (no unit), a5 and a6 (degrees Celsius
    /// per day), a7 (share of the year), a8 (per day).
    pub a: [f64; 8],
}

/// Why the model cannot be run or fitted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Air2StreamError {
    /// No days at all.
    #[error("no days of air temperature")]
    NoDays,
    /// The series do not have the same length.
    #[error("{air} days of air temperature but {other} of {what}")]
    Lengths {
        /// Days of air temperature.
        air: usize,
        /// Days of the other series.
        other: usize,
        /// What the other series is.
        what: &'static str,
    },
    /// A value that no weather has.
    #[error("{what} on day {day} of the series is not usable")]
    Value {
        /// Which series.
        what: &'static str,
        /// Day, 0 for the first.
        day: usize,
    },
    /// The version needs discharge and there is none.
    #[error("this version needs discharge")]
    NoDischarge,
    /// Too few days with water temperature.
    #[error("{days} days with water and air temperature, at least {needed} are needed")]
    TooFewDays {
        /// Days found.
        days: usize,
        /// Days needed.
        needed: usize,
    },
}

/// What drives one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForcingDay {
    /// Mean air temperature, degrees Celsius.
    pub air_c: f64,
    /// Discharge over its mean; 1 where it plays no part.
    pub theta: f64,
    /// Day of the year over the days in that year, from 1/365 to 1.
    pub year_share: f64,
}

impl ForcingDay {
    /// Of `date`, with discharge at its mean.
    #[must_use]
    pub fn of_air(date: NaiveDate, air_c: f64) -> Self {
        Self { air_c, theta: 1.0, year_share: year_share(date) }
    }
}

/// What drives the model, day by day without holes.
#[derive(Debug, Clone, PartialEq)]
pub struct Forcing {
    days: Vec<ForcingDay>,
    has_discharge: bool,
}

impl Forcing {
    /// Days from `first` on, with mean air temperature in degrees Celsius and, where known, discharge
    /// in any unit, which is taken over its own mean.
    ///
    /// # Errors
    /// [`Air2StreamError`] for no days, unequal lengths, and values that are not finite or a
    /// discharge that is not positive.
    pub fn new(first: NaiveDate, air_c: &[f64], discharge: Option<&[f64]>) -> Result<Self, Air2StreamError> {
        if air_c.is_empty() {
            return Err(Air2StreamError::NoDays);
        }
        if let Some(day) = air_c.iter().position(|v| !v.is_finite()) {
            return Err(Air2StreamError::Value { what: "air temperature", day });
        }
        if let Some(flow) = discharge {
            if flow.len() != air_c.len() {
                let what = "discharge";
                return Err(Air2StreamError::Lengths { air: air_c.len(), other: flow.len(), what });
            }
            if let Some(day) = flow.iter().position(|v| !(v.is_finite() && *v > 0.0)) {
                return Err(Air2StreamError::Value { what: "discharge", day });
            }
        }
        let mean = discharge.map_or(1.0, |flow| flow.iter().sum::<f64>() / flow.len() as f64);
        let days = air_c
            .iter()
            .enumerate()
            .map(|(index, air_c)| ForcingDay {
                air_c: *air_c,
                theta: discharge.map_or(1.0, |flow| flow[index] / mean),
                year_share: year_share(first + Days::new(index as u64)),
            })
            .collect();
        Ok(Self { days, has_discharge: discharge.is_some() })
    }

    /// The days.
    #[must_use]
    pub fn days(&self) -> &[ForcingDay] {
        &self.days
    }

    fn serves(&self, version: Version) -> Result<(), Air2StreamError> {
        if version.needs_discharge() && !self.has_discharge { Err(Air2StreamError::NoDischarge) } else { Ok(()) }
    }
}

fn year_share(date: NaiveDate) -> f64 {
    f64::from(date.ordinal()) / if date.leap_year() { 366.0 } else { 365.0 }
}
