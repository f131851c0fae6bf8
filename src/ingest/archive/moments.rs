//! `eventDate` and `eventTime` as local days and clock hours.

use chrono::{DateTime, Days, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};
use chrono_tz::Tz;

/// Days as our form writes them; where a date cannot be read, as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct DaysSaid {
    /// The day before an interval, or the day itself.
    pub(super) from: String,
    /// The last day.
    pub(super) to: String,
    /// Clock hours that an interval within one day states.
    pub(super) hours: Option<(NaiveTime, NaiveTime)>,
}

/// Reads an `eventDate`: a day, an instant, or two of them with a slash between.
pub(super) fn days(text: &str, zone: Tz) -> DaysSaid {
    let raw = || DaysSaid { from: String::new(), to: text.to_owned(), hours: None };
    let (first, last) = text.split_once('/').unwrap_or((text, text));
    let (Some(first), Some(last)) = (moment(first, zone), moment(last, zone)) else { return raw() };
    if first.0 >= last.0 {
        let hours = if text.contains('/') { first.1.zip(last.1) } else { None };
        return DaysSaid { from: first.0.to_string(), to: last.0.to_string(), hours };
    }
    let before = first.0.checked_sub_days(Days::new(1));
    before.map_or_else(raw, |day| DaysSaid { from: day.to_string(), to: last.0.to_string(), hours: None })
}

fn moment(text: &str, zone: Tz) -> Option<(NaiveDate, Option<NaiveTime>)> {
    let text = text.trim();
    let Some((date, _)) = text.split_once('T') else { return text.parse().ok().map(|date| (date, None)) };
    if let Ok(instant) = parse_instant(text) {
        let local = instant.with_timezone(&zone);
        return Some((local.date_naive(), Some(local.time())));
    }
    let forms = ["%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%dT%H:%M"];
    let local = forms.iter().find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())?;
    (local.date().to_string() == date).then_some((local.date(), Some(local.time())))
}

fn parse_instant(text: &str) -> Result<DateTime<FixedOffset>, chrono::ParseError> {
    let text = text.replace('Z', "+00:00");
    DateTime::parse_from_rfc3339(&text).or_else(|_| DateTime::parse_from_str(&text, "%Y-%m-%dT%H:%M%:z"))
}

/// Reads an `eventTime` on `date`: start and end with a slash between, local unless an offset is given. A single
/// time tells no length of watching and gives nothing.
///
/// # Errors
/// When it cannot be read.
pub(super) fn hours(text: &str, date: &str, zone: Tz) -> Result<Option<(NaiveTime, NaiveTime)>, ()> {
    let read = |part: &str| -> Option<NaiveTime> {
        let part = part.trim();
        let local = ["%H:%M:%S%.f", "%H:%M"].iter().find_map(|form| NaiveTime::parse_from_str(part, form).ok());
        local.or_else(|| Some(parse_instant(&format!("{date}T{part}")).ok()?.with_timezone(&zone).time()))
    };
    match text.split_once('/') {
        None if text.is_empty() || read(text).is_some() => Ok(None),
        None => Err(()),
        Some((start, end)) => read(start).zip(read(end)).map(Some).ok_or(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ZONE: Tz = Tz::Europe__London;

    #[test]
    fn days_are_read_in_the_forms_that_archives_use() {
        let said = |text| {
            let said = days(text, ZONE);
            (said.from, said.to, said.hours.map(|(a, b)| format!("{a}-{b}")))
        };
        let own = |a: &str, b: &str| (a.to_owned(), b.to_owned(), None);
        assert_eq!(said("2027-05-06"), own("2027-05-06", "2027-05-06"));
        assert_eq!(said("2027-05-06/2027-05-08"), own("2027-05-05", "2027-05-08"));
        assert_eq!(said("2027-05-06T23:30:00Z"), own("2027-05-07", "2027-05-07"));
        assert_eq!(said("2027-05-06T14:00"), own("2027-05-06", "2027-05-06"));
        let (from, to, hours) = said("2027-05-06T14:00+01:00/2027-05-06T16:30+01:00");
        assert_eq!(
            (from.as_str(), to.as_str(), hours.as_deref()),
            ("2027-05-06", "2027-05-06", Some("14:00:00-16:30:00"))
        );
        for odd in ["2027-05", "06/05/2027", "", "2027-05-06/08", "soon"] {
            assert_eq!(said(odd), own("", odd), "{odd}");
        }
    }

    #[test]
    fn hours_are_local_unless_they_say_otherwise() {
        let read =
            |text| hours(text, "2027-05-06", ZONE).map(|hours| hours.map(|(a, b)| (a.to_string(), b.to_string())));
        let own = |a: &str, b: &str| Ok(Some((a.to_owned(), b.to_owned())));
        assert_eq!(read("14:00/16:30"), own("14:00:00", "16:30:00"));
        assert_eq!(read("14:00:00+01:00/16:30:00Z"), own("14:00:00", "17:30:00"));
        assert_eq!((read("14:00"), read("")), (Ok(None), Ok(None)));
        assert!(read("dusk").is_err() && read("14:00/dusk").is_err());
    }
}
