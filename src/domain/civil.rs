//! Where civil days begin and end, with summer time taken into account.

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
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

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("date")
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
    fn a_midnight_that_happens_twice_begins_the_day_at_the_first() {
        // Clocks went back from 00:59:59 to 00:00 on 31 October 2010 (IANA time zone database).
        let zone = Tz::America__Havana;
        assert_eq!(length_hours(zone, "2010-10-31"), 25);
    }
}
