//! Where civil days begin and end, with summer time taken into account.

use std::cell::Cell;

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, NaiveTime, Offset as _, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// The first instant of local day `date`.
///
/// Where clocks are put forward across midnight the day begins at the first time that exists; where
/// midnight happens twice, at the first of the two.
#[must_use]
pub fn start_of_day(zone: Tz, date: NaiveDate) -> DateTime<Utc> {
    let midnight = date.and_time(NaiveTime::MIN);
    // Gaps are minutes to hours; a whole day was skipped when islands crossed the date line.
    (0..=26 * 4)
        .find_map(|quarters| zone.from_local_datetime(&(midnight + TimeDelta::minutes(15 * quarters))).earliest())
        .map_or_else(|| midnight.and_utc(), |local| local.to_utc())
}

/// The last instant of local day `date`, a microsecond before the next begins (the store keeps
/// microseconds).
#[must_use]
pub fn end_of_day(zone: Tz, date: NaiveDate) -> DateTime<Utc> {
    start_of_day(zone, date + Days::new(1)) - TimeDelta::microseconds(1)
}

/// The instant at which a clock in `zone` shows `wall`: the first of two, and where clocks are put forward past it,
/// as if they had not been yet (RFC 5545, section 3.3.5).
#[must_use]
pub fn at_clock(zone: Tz, wall: NaiveDateTime) -> DateTime<Utc> {
    // Gaps are minutes to hours; a whole day was skipped when islands crossed the date line.
    (0..=26 * 4)
        .map(|quarters| TimeDelta::minutes(15 * quarters))
        .find_map(|back| Some(zone.from_local_datetime(&(wall - back)).earliest()? + back))
        .map_or_else(|| wall.and_utc(), |local| local.to_utc())
}

/// A day with its first and last instant.
#[derive(Debug, Clone, Copy)]
struct LocalDay {
    from: DateTime<Utc>,
    to: DateTime<Utc>,
    date: NaiveDate,
}

/// Local days of one zone, for many instants and dates that mostly fall on the day of the one before.
#[derive(Debug)]
pub struct LocalDays {
    zone: Tz,
    /// The day looked up last.
    day: Cell<Option<LocalDay>>,
    /// The date whose end was looked up last, and that end.
    end: Cell<Option<(NaiveDate, DateTime<Utc>)>>,
}

impl LocalDays {
    /// Days of `zone`.
    #[must_use]
    pub fn new(zone: Tz) -> Self {
        Self { zone, day: Cell::new(None), end: Cell::new(None) }
    }

    /// The local day of an instant.
    #[must_use]
    pub fn date(&self, at: DateTime<Utc>) -> NaiveDate {
        if let Some(LocalDay { from, to, date }) = self.day.get()
            && (from..=to).contains(&at)
        {
            return date;
        }
        let date = at.with_timezone(&self.zone).date_naive();
        let (from, to) = (start_of_day(self.zone, date), end_of_day(self.zone, date));
        // Where clocks change, an hour of one day may lie within another.
        let offset = |at: DateTime<Utc>| at.with_timezone(&self.zone).offset().fix();
        self.day.set((offset(from) == offset(to)).then_some(LocalDay { from, to, date }));
        date
    }

    /// As [`end_of_day`].
    #[must_use]
    pub fn end(&self, date: NaiveDate) -> DateTime<Utc> {
        if let Some((known, end)) = self.end.get()
            && known == date
        {
            return end;
        }
        let end = end_of_day(self.zone, date);
        self.end.set(Some((date, end)));
        end
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("date")
    }

    #[test]
    fn days_that_are_remembered_are_those_looked_up() {
        // Clocks went back from 00:01 to 23:01 the day before in Newfoundland in 2010; the other two are above.
        for (zone, around) in [
            (Tz::America__St_Johns, "2010-11-07"),
            (Tz::America__Sao_Paulo, "2018-11-04"),
            (Tz::America__Havana, "2010-10-31"),
            (Tz::Pacific__Apia, "2011-12-30"),
            (Tz::Europe__London, "2024-03-31"),
        ] {
            let days = LocalDays::new(zone);
            let noon = day(around).and_time(NaiveTime::MIN).and_utc() - TimeDelta::days(3);
            for minutes in (0..6 * 24 * 60).step_by(7) {
                let at = noon + TimeDelta::minutes(minutes);
                let date = at.with_timezone(&zone).date_naive();
                assert_eq!(days.date(at), date, "{zone} {at}");
                assert_eq!(days.end(date), end_of_day(zone, date), "{zone} {date}");
            }
        }
    }

    fn length_hours(zone: Tz, date: &str) -> i64 {
        let length = end_of_day(zone, day(date)) - start_of_day(zone, day(date)) + TimeDelta::microseconds(1);
        length.num_hours()
    }

    #[test]
    fn days_have_23_or_25_hours_when_clocks_change() {
        let zone = Tz::America__New_York;
        assert_eq!(length_hours(zone, "2019-03-10"), 23);
        assert_eq!(length_hours(zone, "2019-11-03"), 25);
        assert_eq!(length_hours(zone, "2019-07-01"), 24);
        assert_eq!(end_of_day(zone, day("2019-07-01")).to_rfc3339(), "2019-07-02T03:59:59.999999+00:00");
    }

    #[test]
    fn a_midnight_that_does_not_exist_is_stepped_over() {
        // Clocks went from 23:59:59 to 01:00 on 4 November 2018 (IANA time zone database).
        let zone = Tz::America__Sao_Paulo;
        assert_eq!(start_of_day(zone, day("2018-11-04")).to_rfc3339(), "2018-11-04T03:00:00+00:00");
        assert_eq!(length_hours(zone, "2018-11-04"), 23);
        // 30 December 2011 did not happen there.
        let zone = Tz::Pacific__Apia;
        assert_eq!(start_of_day(zone, day("2011-12-30")), start_of_day(zone, day("2011-12-31")));
    }

    #[test]
    fn a_time_that_clocks_leave_out_is_read_by_the_clock_before() {
        // Clock changes from the IANA time zone database; Santiago and Cairo leave out midnight itself.
        for (zone, wall, utc) in [
            (Tz::America__New_York, "2026-03-08T02:30:00", "2026-03-08T07:30:00Z"),
            (Tz::America__New_York, "2026-03-08T01:30:00", "2026-03-08T06:30:00Z"),
            (Tz::America__New_York, "2026-03-08T03:30:00", "2026-03-08T07:30:00Z"),
            (Tz::America__New_York, "2026-11-01T01:30:00", "2026-11-01T05:30:00Z"),
            (Tz::America__Santiago, "2025-09-07T00:30:00", "2025-09-07T04:30:00Z"),
            (Tz::Africa__Cairo, "2025-04-25T00:00:00", "2025-04-24T22:00:00Z"),
            (Tz::Pacific__Apia, "2011-12-30T12:00:00", "2011-12-30T22:00:00Z"),
        ] {
            let found = at_clock(zone, wall.parse().expect("a time"));
            assert_eq!(found, utc.parse::<DateTime<Utc>>().expect("an instant"), "{zone} {wall}");
        }
    }

    #[test]
    fn a_midnight_that_happens_twice_begins_the_day_at_the_first() {
        // Clocks went back from 00:59:59 to 00:00 on 31 October 2010 (IANA time zone database).
        let zone = Tz::America__Havana;
        assert_eq!(length_hours(zone, "2010-10-31"), 25);
    }
}
