//! Which days belong to a season and how they are counted.

use chrono::{Datelike, Days, NaiveDate};

/// The days of one season: day 1 is the day on which every clock starts to run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Season {
    /// The year the season is named after.
    pub year: i32,
}

impl Season {
    /// The season of calendar year `year`, from 1 January.
    #[must_use]
    pub fn of_year(year: i32) -> Self {
        Self { year }
    }

    /// The season that `date` belongs to.
    #[must_use]
    pub fn containing(date: NaiveDate) -> Self {
        Self { year: date.year() }
    }

    /// Number of days: 365 or 366.
    #[must_use]
    pub fn len(self) -> usize {
        if NaiveDate::from_ymd_opt(self.year, 2, 29).is_some() { 366 } else { 365 }
    }

    /// Never true; a season has days.
    #[must_use]
    pub fn is_empty(self) -> bool {
        false
    }

    /// First day.
    #[must_use]
    pub fn first_day(self) -> NaiveDate {
        NaiveDate::from_ymd_opt(self.year, 1, 1).unwrap_or(NaiveDate::MIN)
    }

    /// Day number of `date` in this season: 1 on the first day; 0 or less before, above `len` after.
    #[must_use]
    pub fn day_number(self, date: NaiveDate) -> i64 {
        (date - self.first_day()).num_days() + 1
    }

    /// The date of day number `day` (1-based).
    #[must_use]
    pub fn date(self, day: usize) -> NaiveDate {
        self.first_day() + Days::new(day.max(1) as u64 - 1)
    }
}
