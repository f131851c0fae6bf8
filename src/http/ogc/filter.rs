//! `bbox` and `datetime` of OGC API Features.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use utoipa::IntoParams;

use crate::domain::grid::CellCentre;
use crate::http::paging::Page;
use crate::http::query::{FromQuery, QueryReader};

/// Which features.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ItemsQuery {
    /// West, south, east, north in degrees (with six numbers, heights stand third and sixth and mean nothing). A
    /// west greater than the east crosses the antimeridian. Judged on the point that is shown.
    #[param(value_type = Option<String>, example = "-4,52,-2,53")]
    pub(super) bbox: Option<Bounds>,
    /// A day or instant, or two with a slash between; `..` or nothing leaves an end open.
    #[param(value_type = Option<String>, example = "2026-05-01/..")]
    pub(super) datetime: Option<Interval>,
    #[param(ignore)]
    pub(super) page: Page,
}

impl FromQuery for ItemsQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let mut filters = Vec::new();
        let mut take = |reader: &mut QueryReader, name: &str| {
            let text = reader.one(name)?;
            let encoded: String = text
                .bytes()
                .map(|byte| match byte {
                    b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b',' | b'/' | b':' => {
                        char::from(byte).to_string()
                    }
                    _ => format!("%{byte:02X}"),
                })
                .collect();
            filters.push(format!("{name}={encoded}"));
            Some(text)
        };
        let (bbox, datetime) = (take(reader, "bbox"), take(reader, "datetime"));
        let bbox = bbox.and_then(|text| {
            let bounds = Bounds::parse(&text);
            if bounds.is_none() {
                let rule = "must be four or six numbers: west, south, east, north in degrees, south not above north";
                reader.fault("bbox", "invalid_value", rule);
            }
            bounds
        });
        let datetime = datetime.and_then(|text| {
            let interval = Interval::parse(&text);
            if interval.is_none() {
                let rule = "must be a date or RFC 3339 instant, or two with a slash between, `..` for an open end";
                reader.fault("datetime", "invalid_value", rule);
            }
            interval
        });
        let page = Page::read(reader, filters.join("&"));
        Self { bbox, datetime, page }
    }
}

/// A box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds([f64; 4]);

impl Bounds {
    fn parse(text: &str) -> Option<Self> {
        let numbers: Vec<f64> = text.split(',').map(|part| part.trim().parse().ok()).collect::<Option<_>>()?;
        let ([west, south, east, north] | [west, south, _, east, north, _]) = numbers[..] else { return None };
        let longitudes = [west, east].iter().all(|degrees| (-180.0..=180.0).contains(degrees));
        let latitudes = [south, north].iter().all(|degrees| (-90.0..=90.0).contains(degrees));
        (longitudes && latitudes && south <= north && numbers.iter().all(|number| number.is_finite()))
            .then_some(Self([west, south, east, north]))
    }

    pub(super) fn holds(self, place: CellCentre) -> bool {
        let Self([west, south, east, north]) = self;
        let across = west > east;
        let within = (place.longitude >= west, place.longitude <= east);
        (south..=north).contains(&place.latitude) && if across { within.0 || within.1 } else { within.0 && within.1 }
    }
}

/// One end of a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Open,
    Day(NaiveDate),
    Instant(DateTime<Utc>),
}

impl End {
    fn parse(text: &str) -> Option<Self> {
        match text.trim() {
            "" | ".." => Some(Self::Open),
            text if text.len() == 10 => text.parse().ok().map(Self::Day),
            text => DateTime::parse_from_rfc3339(text).ok().map(|at| Self::Instant(at.to_utc())),
        }
    }

    fn day(self, zone: Tz) -> Option<NaiveDate> {
        match self {
            Self::Open => None,
            Self::Day(day) => Some(day),
            Self::Instant(at) => Some(at.with_timezone(&zone).date_naive()),
        }
    }
}

/// A time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Interval(End, End);

impl Interval {
    fn parse(text: &str) -> Option<Self> {
        let interval = match text.split_once('/') {
            None => Self(End::parse(text)?, End::parse(text)?),
            Some((from, to)) => Self(End::parse(from)?, End::parse(to)?),
        };
        let ends = interval.0.day(Tz::UTC).zip(interval.1.day(Tz::UTC));
        // An interval without any end, or a lone `..`, asks nothing.
        let open = interval == Self(End::Open, End::Open) && text != "../..";
        (ends.is_none_or(|(from, to)| from <= to) && !open).then_some(interval)
    }

    /// Whether any of the local days lies in it.
    pub(super) fn meets(self, (first, last): (NaiveDate, NaiveDate), zone: Tz) -> bool {
        self.0.day(zone).is_none_or(|from| last >= from) && self.1.day(zone).is_none_or(|to| first <= to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_hold_what_lies_in_them() {
        let place = CellCentre::of(52.3, -3.08);
        for (text, holds) in [
            ("-4,52,-3,53", true),
            ("-3.075,52.305,-3.075,52.305", true),
            ("-3.08,52.3,-3.0751,52.31", false),
            ("-4,52,0,-3,53,9", true),
            ("170,52,-3,53", true),
            ("170,52,-4,53", false),
        ] {
            assert_eq!(Bounds::parse(text).map(|bounds| bounds.holds(place)), Some(holds), "{text}");
        }
        for wrong in ["", "1,2,3", "1,2,3,4,5", "a,b,c,d", "0,10,1,5", "-181,0,0,0", "0,0,0,NaN"] {
            assert_eq!(Bounds::parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn times_meet_the_days_they_touch() {
        let day = |text: &str| text.parse::<NaiveDate>().expect("a date");
        let days = (day("2026-05-18"), day("2026-05-20"));
        for (text, meets) in [
            ("2026-05-20", true),
            ("2026-05-21", false),
            ("2026-05-17/2026-05-18", true),
            ("../2026-05-17", false),
            ("/2026-05-18", true),
            ("2026-05-21/..", false),
            ("2026-05-20T23:30:00Z", false),
            ("2026-05-20T22:30:00Z", true),
            ("../..", true),
        ] {
            let met = Interval::parse(text).map(|time| time.meets(days, Tz::Europe__London));
            assert_eq!(met, Some(meets), "{text}");
        }
        for wrong in ["", "..", "/", "2026", "2026-05-20/2026-05-18", "2026-02-30", "2026-05-20T10:00"] {
            assert_eq!(Interval::parse(wrong), None, "{wrong}");
        }
    }
}
