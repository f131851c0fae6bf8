//! Dates as a language writes them, with the names of months and days; hours are of 24 everywhere.

use chrono::{Datelike, NaiveDate, NaiveDateTime};

use super::Language;
use crate::say;

impl Language {
    /// `6 May`, with the month in short.
    #[must_use]
    pub fn short_day(self, date: NaiveDate) -> String {
        say!(self, "date-day-month", day = date.day(), month = self.short_month(date))
    }

    /// `6 May`.
    #[must_use]
    pub fn day(self, date: NaiveDate) -> String {
        say!(self, "date-day-month", day = date.day(), month = self.month(date))
    }

    /// `6 May 2026`.
    #[must_use]
    pub fn date(self, date: NaiveDate) -> String {
        say!(self, "date-whole", day = date.day(), month = self.month(date), year = date.year())
    }

    /// `6 May 2026, 18:30`.
    #[must_use]
    pub fn date_and_time(self, at: NaiveDateTime) -> String {
        say!(self, "date-and-time", date = self.date(at.date()), time = at.format("%H:%M").to_string())
    }

    /// `6 May, 18:30`.
    #[must_use]
    pub fn day_and_time(self, at: NaiveDateTime) -> String {
        say!(self, "date-and-time", date = self.day(at.date()), time = at.format("%H:%M").to_string())
    }

    /// `Wednesday, 6 May 2026`.
    #[must_use]
    pub fn weekday_and_date(self, date: NaiveDate) -> String {
        say!(self, "date-after-weekday", weekday = self.weekday(date), date = self.date(date))
    }

    /// `Wednesday, 6 May`.
    #[must_use]
    pub fn weekday_and_day(self, date: NaiveDate) -> String {
        say!(self, "date-after-weekday", weekday = self.weekday(date), date = self.day(date))
    }

    /// `Wednesday 6 May`.
    #[must_use]
    pub fn weekday_with_day(self, date: NaiveDate) -> String {
        say!(self, "date-with-weekday", weekday = self.weekday(date), date = self.day(date))
    }

    /// `Wed 6 May`.
    #[must_use]
    pub fn short_weekday_with_day(self, date: NaiveDate) -> String {
        let weekday = self.word("weekday-short", &date.weekday().number_from_monday().to_string());
        say!(self, "date-with-weekday-short", weekday = weekday, date = self.short_day(date))
    }

    /// `Wednesday`.
    #[must_use]
    pub fn weekday(self, date: NaiveDate) -> String {
        self.word("weekday", &date.weekday().number_from_monday().to_string())
    }

    /// `May`.
    #[must_use]
    pub fn month(self, date: NaiveDate) -> String {
        self.word("month", &date.month().to_string())
    }

    /// `May`, in short.
    #[must_use]
    pub fn short_month(self, date: NaiveDate) -> String {
        self.word("month-short", &date.month().to_string())
    }

    /// `May`, as short as pictures need it.
    #[must_use]
    pub fn axis_month(self, date: NaiveDate) -> String {
        self.word("month-axis", &date.month().to_string())
    }

    /// `6–14 May`, `28 May–3 Jun`, or one day.
    #[must_use]
    pub fn day_range(self, first: NaiveDate, last: NaiveDate) -> String {
        if first == last {
            self.short_day(first)
        } else if (first.year(), first.month()) == (last.year(), last.month()) {
            say!(self, "date-range-in-month", from = first.day(), to = self.short_day(last))
        } else {
            say!(self, "date-range", from = self.short_day(first), to = self.short_day(last))
        }
    }
}
