//! Dates, times, zones and units as loggers write them.

use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime, TimeZone as _, Utc};
use chrono_tz::Tz;

/// Order of day, month and year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateStyle {
    /// Year, month, day.
    Ymd,
    /// Day, month, year.
    Dmy,
    /// Month, day, year.
    Mdy,
}

impl DateStyle {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 3] = [(Self::Ymd, "ymd"), (Self::Dmy, "dmy"), (Self::Mdy, "mdy")];

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        Self::WORDS.iter().find(|(style, _)| *style == self).map_or("", |(_, word)| word)
    }

    /// Reads a date with `/`, `-` or `.` between; years of two digits belong to this century.
    #[must_use]
    pub fn date(self, text: &str) -> Option<NaiveDate> {
        let parts: Vec<&str> = text.split(['/', '-', '.']).collect();
        let [a, b, c] = parts.as_slice() else { return None };
        let (year, month, day) = match self {
            Self::Ymd => (a, b, c),
            Self::Dmy => (c, b, a),
            Self::Mdy => (c, a, b),
        };
        let digits = |text: &str, lengths: &[usize]| {
            let fine = lengths.contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
            fine.then(|| text.parse::<u32>().ok()).flatten()
        };
        let years: &[usize] = if self == Self::Ymd { &[4] } else { &[2, 4] };
        let number = digits(year, years)?;
        let year = if year.len() == 2 { 2000 + number } else { number };
        NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, digits(month, &[1, 2])?, digits(day, &[1, 2])?)
    }

    /// Reads date and time, as `2024-05-01 13:00:00`, `05/01/24 01:00:00 PM` or with a `T` between.
    #[must_use]
    pub fn moment(self, text: &str) -> Option<NaiveDateTime> {
        let text = text.trim();
        let (date, time) = text.split_once([' ', 'T'])?;
        Some(NaiveDateTime::new(self.date(date)?, clock(time.trim())?))
    }
}

/// A clock reading of 24 or 12 hours, with or without seconds; fractions of a second are cut off.
fn clock(text: &str) -> Option<NaiveTime> {
    let text = text.to_ascii_uppercase();
    let (clock, half) = match text.split_once(' ') {
        Some((clock, half)) => (clock.to_owned(), half.replace('.', "")),
        None => (text, String::new()),
    };
    let clock = clock.split('.').next().unwrap_or_default();
    let parts: Option<Vec<u32>> =
        clock.split(':').map(|part| part.parse().ok().filter(|_| (1..=2).contains(&part.len()))).collect();
    let (hour, minute, second) = match parts?.as_slice() {
        [hour, minute] => (*hour, *minute, 0),
        [hour, minute, second] => (*hour, *minute, *second),
        _ => return None,
    };
    let hour = match (half.as_str(), hour) {
        ("AM", 12) => 0,
        ("", _) | ("AM", 1..12) | ("PM", 12) => hour,
        ("PM", 1..12) => hour + 12,
        _ => return None,
    };
    NaiveTime::from_hms_opt(hour, minute, second)
}

/// Where a clock stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// A place with its summer time.
    Named(Tz),
    /// Always so far from UTC.
    Fixed(FixedOffset),
}

impl Zone {
    /// Reads an IANA name or an offset as `-04:00`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        text.parse().map(Self::Named).ok().or_else(|| text.parse().map(Self::Fixed).ok())
    }

    /// The instant of a clock reading; `None` where it happens twice or never.
    #[must_use]
    pub fn instant(self, clock: NaiveDateTime) -> Option<DateTime<Utc>> {
        match self {
            Self::Named(zone) => zone.from_local_datetime(&clock).single().map(|at| at.to_utc()),
            Self::Fixed(offset) => offset.from_local_datetime(&clock).single().map(|at| at.to_utc()),
        }
    }
}

/// Scale of temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Scale {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Celsius, "c"), (Self::Fahrenheit, "f")];

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        Self::WORDS.iter().find(|(scale, _)| *scale == self).map_or("", |(_, word)| word)
    }

    /// The scale that the name of a column states, if it states one.
    #[must_use]
    pub fn stated(name: &str) -> Option<Self> {
        let name = name.to_lowercase().replace('\u{b0}', " ");
        let mut words = name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
        words.find_map(|word| match word {
            "c" | "degc" | "celsius" => Some(Self::Celsius),
            "f" | "degf" | "fahrenheit" => Some(Self::Fahrenheit),
            _ => None,
        })
    }

    /// Degrees Celsius, to a ten-thousandth.
    #[must_use]
    pub fn to_celsius(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value,
            Self::Fahrenheit => ((value - 32.0) / 1.8 * 1e4).round() / 1e4,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_in_many_styles() {
        for (style, text, read) in [
            (DateStyle::Ymd, "2024-05-01 13:00:00", "2024-05-01T13:00:00"),
            (DateStyle::Ymd, "2024/5/1 3:05", "2024-05-01T03:05:00"),
            (DateStyle::Dmy, "01.05.2024 13:00", "2024-05-01T13:00:00"),
            (DateStyle::Mdy, "05/01/24 01:00:00 PM", "2024-05-01T13:00:00"),
            (DateStyle::Mdy, "05/01/2024 12:30:00 a.m.", "2024-05-01T00:30:00"),
            (DateStyle::Ymd, "2024-05-01T13:00:00.25", "2024-05-01T13:00:00"),
        ] {
            let moment = style.moment(text).map(|moment| moment.format("%Y-%m-%dT%H:%M:%S").to_string());
            assert_eq!(moment.as_deref(), Some(read), "{text}");
        }
        for (style, text) in [
            (DateStyle::Mdy, "13/01/2024 01:00"),
            (DateStyle::Ymd, "24-05-01 01:00"),
            (DateStyle::Dmy, "31.02.2024 01:00"),
            (DateStyle::Dmy, "01.05.2024"),
            (DateStyle::Dmy, "01.05.2024 25:00"),
            (DateStyle::Dmy, "01.05.2024 13:00 PM"),
        ] {
            assert_eq!(style.moment(text), None, "{text}");
        }
    }

    #[test]
    fn scales_are_read_off_names() {
        for (name, scale) in [
            ("Temp, \u{b0}F (LGR S/N: 1)", Some(Scale::Fahrenheit)),
            ("Temperature (C)", Some(Scale::Celsius)),
            ("water_degC", Some(Scale::Celsius)),
            ("Temp", None),
        ] {
            assert_eq!(Scale::stated(name), scale, "{name}");
        }
        assert_eq!((Scale::Fahrenheit.to_celsius(50.0), Scale::Celsius.to_celsius(9.123_456)), (10.0, 9.123_456));
    }
}
