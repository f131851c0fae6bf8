//! Fields to values, collecting the faults of a row.

use chrono::{DateTime, Days, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;

use super::table::Row;
use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Invalid, Slug};
use crate::ingest::faults::{Fault, FaultKind};

/// First year from which anything is believed.
const FIRST_YEAR: i32 = 1850;

/// Today and the time zone in which days begin and end.
#[derive(Debug, Clone, Copy)]
pub struct Calendar {
    /// IANA time zone of the watershed.
    pub time_zone: Tz,
    /// The present instant; nothing later is accepted.
    pub now: DateTime<Utc>,
}

impl Calendar {
    fn is_future(self, date: NaiveDate) -> bool {
        // No zone is two days away; looking it up for every row of a long history costs time.
        date + Days::new(2) > self.now.date_naive() && date > self.now.with_timezone(&self.time_zone).date_naive()
    }
}

/// Slugs that may be named, matched without regard to case.
#[derive(Debug, Clone)]
pub(super) struct Names {
    what: &'static str,
    slugs: std::collections::HashMap<String, u32>,
    some: String,
}

impl Names {
    pub(super) fn new(what: &'static str, slugs: &[Slug]) -> Self {
        let shown: Vec<&str> = slugs.iter().take(10).map(Slug::as_str).collect();
        let some = match slugs.len() {
            0 => format!("no {what} is declared"),
            1..=10 => format!("declared are {}", shown.join(", ")),
            n => format!("declared are {} and {} more", shown.join(", "), n - shown.len()),
        };
        let slugs = (0..).zip(slugs).map(|(at, slug)| (slug.key(), at)).collect();
        Self { what, slugs, some }
    }
}

/// Reads the fields of one row and keeps their faults.
pub(super) struct Fields<'t> {
    pub(super) row: Row<'t>,
    pub(super) faults: Vec<Fault>,
}

impl<'t> Fields<'t> {
    pub(super) fn new(row: Row<'t>) -> Self {
        Self { row, faults: Vec::new() }
    }

    pub(super) fn fault(&mut self, at: usize, kind: FaultKind, reason: impl Into<String>) {
        let fault = self.row.fault(at, kind, reason);
        self.faults.push(fault);
    }

    pub(super) fn bad(&mut self, at: usize, reason: impl Into<String>) {
        self.fault(at, FaultKind::BadValue, reason);
    }

    /// The text of a needed field.
    pub(super) fn need(&mut self, at: usize) -> Option<&'t str> {
        let found = self.row.get(at);
        if found.is_none() {
            self.fault(at, FaultKind::MissingValue, "is empty");
        }
        found
    }

    fn read<T>(&mut self, at: usize, parse: impl FnOnce(&str) -> Result<T, String>) -> Option<T> {
        match parse(self.row.get(at)?) {
            Ok(value) => Some(value),
            Err(reason) => {
                self.bad(at, reason);
                None
            }
        }
    }

    /// A word of the domain.
    pub(super) fn word<T>(&mut self, at: usize, parse: impl FnOnce(&str) -> Result<T, Invalid>) -> Option<T> {
        self.read(at, |text| parse(text).map_err(|invalid| invalid.reason))
    }

    /// Position among `names` of a needed slug.
    pub(super) fn known(&mut self, at: usize, names: &Names) -> Option<u32> {
        let text = self.need(at)?;
        let found = names.slugs.get(text).or_else(|| names.slugs.get(&text.to_ascii_lowercase())).copied();
        if found.is_none() {
            self.fault(at, FaultKind::Unknown, format!("is not a known {}; {}", names.what, names.some));
        }
        found
    }

    /// A number within `low..=high`.
    pub(super) fn number(&mut self, at: usize, low: f64, high: f64, rule: &str) -> Option<f64> {
        self.read(at, |text| {
            let value = number(text)?;
            if (low..=high).contains(&value) { Ok(value) } else { Err(format!("must be {rule}")) }
        })
    }

    /// A number as written, within no bounds.
    pub(super) fn any_number(&mut self, at: usize) -> Option<f64> {
        self.read(at, number)
    }

    /// A whole number from 0 to `most`.
    pub(super) fn count(&mut self, at: usize, most: u32) -> Option<u32> {
        self.read(at, |text| {
            let value = number(text)?;
            if value < 0.0 {
                Err("must not be negative".to_owned())
            } else if value.fract() != 0.0 {
                Err("must be a whole number".to_owned())
            } else if value > f64::from(most) {
                Err(format!("must not be above {most}"))
            } else {
                Ok(value as u32)
            }
        })
    }

    /// A local date that has begun.
    pub(super) fn date(&mut self, at: usize, calendar: Calendar) -> Option<NaiveDate> {
        self.read(at, |text| {
            let date = date(text)?;
            if calendar.is_future(date) { Err("lies in the future".to_owned()) } else { Ok(date) }
        })
    }

    /// A time of day as `HH:MM`.
    pub(super) fn clock(&mut self, at: usize) -> Option<NaiveTime> {
        self.read(at, |text| clock(text).ok_or_else(|| "must be a time of day as HH:MM, 00:00 to 23:59".to_owned()))
    }

    /// An instant that has passed.
    pub(super) fn instant(&mut self, at: usize, calendar: Calendar) -> Option<DateTime<Utc>> {
        self.read(at, |text| instant(text, calendar))
    }

    /// When we learned what was true on `day`: as stated, or else as `assumed`.
    /// Returns the instant and whether it was assumed.
    pub(super) fn known_at(
        &mut self,
        at: usize,
        calendar: Calendar,
        day: NaiveDate,
        assumed: impl FnOnce() -> DateTime<Utc>,
    ) -> Option<(DateTime<Utc>, bool)> {
        if self.row.get(at).is_none() {
            return Some((assumed(), true));
        }
        let stated = self.read(at, |text| {
            // A date alone means the end of that local day.
            let stated = match date(text) {
                Ok(date) if calendar.is_future(date) => return Err("lies in the future".to_owned()),
                Ok(date) => end_of_day(calendar.time_zone, date),
                Err(_) => instant(text, calendar)?,
            };
            if stated < start_of_day(calendar.time_zone, day) {
                return Err(format!("is before {day}, which it is about"));
            }
            Ok(stated)
        })?;
        Some((stated, false))
    }
}

fn number(text: &str) -> Result<f64, String> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E'));
    match text.parse::<f64>() {
        // No minus stays with a zero: what is equal shall look equal.
        Ok(value) if plain && value.is_finite() => Ok(value + 0.0),
        _ if text.contains(',') => Err("must be a number with a decimal point, not a comma".to_owned()),
        _ => Err("must be a number".to_owned()),
    }
}

/// Reads `YYYY-MM-DD`.
fn date(text: &str) -> Result<NaiveDate, String> {
    let shape = text.len() == 10
        && text.bytes().enumerate().all(|(i, b)| if matches!(i, 4 | 7) { b == b'-' } else { b.is_ascii_digit() });
    if !shape {
        return Err("must be a date as YYYY-MM-DD".to_owned());
    }
    let date: NaiveDate = text.parse().map_err(|_| "is not a day of the calendar".to_owned())?;
    in_years(date).then_some(date).ok_or_else(|| format!("must not be before {FIRST_YEAR}"))
}

fn in_years(date: NaiveDate) -> bool {
    use chrono::Datelike;
    date.year() >= FIRST_YEAR
}

fn instant(text: &str, calendar: Calendar) -> Result<DateTime<Utc>, String> {
    let at = DateTime::parse_from_rfc3339(text)
        .map_err(|_| "must be an instant as RFC 3339 has it, for example 2024-05-01T06:00:00Z".to_owned())?
        .to_utc();
    if at > calendar.now {
        Err("lies in the future".to_owned())
    } else if in_years(at.date_naive()) {
        Ok(at)
    } else {
        Err(format!("must not be before {FIRST_YEAR}"))
    }
}

fn clock(text: &str) -> Option<NaiveTime> {
    let (hour, minute) = text.split_once(':')?;
    let digits = |part: &str| (part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit())).then(|| part.parse().ok());
    NaiveTime::from_hms_opt(digits(hour)??, digits(minute)??, 0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn numbers_are_plain() {
        assert_eq!(number("-1.25e1"), Ok(-12.5));
        for wrong in ["", "NaN", "inf", "1,5", "12 C", "1e999", "0x10", "\u{661}"] {
            assert!(number(wrong).is_err(), "{wrong}");
        }
        assert!(number("1,5").expect_err("fault").contains("comma"));
    }

    #[test]
    fn times_of_day_are_two_digits_each() {
        assert_eq!(clock("00:00"), NaiveTime::from_hms_opt(0, 0, 0));
        assert_eq!(clock("23:59"), NaiveTime::from_hms_opt(23, 59, 0));
        for wrong in ["24:00", "7:30", "07:60", "0730", "07:30:00", "+7:30", ""] {
            assert_eq!(clock(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn dates_are_strict() {
        for wrong in ["2019-02-29", "2019-13-01", "19-01-01", "01/02/2019", "2019-1-1", "+2019-01-01", "0219-01-01"] {
            assert!(date(wrong).is_err(), "{wrong}");
        }
        assert!(date("2020-02-29").is_ok());
    }

    proptest! {
        #[test]
        fn dates_return_as_written(days in 0_i64..80_000) {
            let day = NaiveDate::from_ymd_opt(1850, 1, 1).expect("date") + chrono::TimeDelta::days(days);
            prop_assert_eq!(date(&day.to_string()), Ok(day));
        }

        #[test]
        fn no_text_is_too_strange(text in "\\PC{0,40}") {
            let calendar = Calendar { time_zone: Tz::UTC, now: DateTime::UNIX_EPOCH };
            let _ = (number(&text), date(&text), clock(&text), instant(&text, calendar));
        }
    }
}
