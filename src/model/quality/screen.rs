//! The checks themselves.

use std::collections::{BTreeMap, HashMap};

use chrono::{Datelike, Days, NaiveDate};

use super::dense::{Bulk, Share, bulk, median};
use super::in_air::in_air;
use super::{Check, Day, Flag, HIGHEST_C, LOWEST_C};

/// Fewest other gauges with a value for the sibling check: the median of three survives one bad one.
const SIBLINGS: usize = 3;
/// Days of the year on either side over which differences to the siblings are gathered.
const SIBLING_WINDOW_DAYS: usize = 45;
/// Fewest differences to judge by.
const SIBLING_MIN_DAYS: usize = 30;
/// Smallest departure from the usual difference that is doubted, °C.
const SIBLING_LIMIT_C: f64 = 4.0;
/// Departure that is doubted when it is the middle one of a month, °C and in standard deviations of the bulk, the days on
/// either side that make the month, and the fewest of them with a value.
const MONTH_LIMIT_C: f64 = 1.5;
const MONTH_LIMIT_SD: f64 = 3.0;
const MONTH_DAYS: u64 = 15;
const MONTH_MIN_DAYS: usize = 20;
/// Fewest days of a gauge that is judged as a whole, and the share of them that speaks against all.
const WHOLE_MIN_DAYS: usize = 365;
const WHOLE_SHARE: f64 = 0.4;
/// Days of the year on either side that make a season.
const SEASON_WINDOW_DAYS: usize = 15;
/// Fewest years, and days, to know a season by.
const SEASON_MIN_YEARS: usize = 3;
const SEASON_MIN_DAYS: usize = 60;
/// Smallest departure from the season that is doubted, °C.
const SEASON_LIMIT_C: f64 = 6.0;
/// Departures are doubted beyond this many standard deviations of the bulk.
const LIMIT_SD: f64 = 6.0;
/// Height of a one-day spike, °C.
const SPIKE_C: f64 = 5.0;
/// Length of a flat line, days, and the temperature below which ice may hold the water steady, °C.
const FLAT_DAYS: usize = 14;
const FLAT_ABOVE_C: f64 = 1.5;
/// Length of a stretch, measured days.
const STRETCH_DAYS: usize = 30;

pub(super) type Flags = BTreeMap<(usize, NaiveDate), Flag>;

/// Checks the daily series of the gauges of one watershed together.
///
/// Each series is in ascending order of date without repeats; days that are already known to be bad
/// are left out by the caller. Returns one flag for a doubted day (that of the first check that
/// doubts it, in the order of the table above), sorted by gauge and date. Pure.
#[must_use]
pub fn check(series: &[Vec<Day>]) -> Vec<Flag> {
    let mut flags = Flags::new();
    for (gauge, days) in series.iter().enumerate() {
        range(gauge, days, &mut flags);
    }
    siblings(series, &mut flags);
    in_air(series, &mut flags);
    for (gauge, days) in series.iter().enumerate() {
        season(gauge, days, &mut flags);
        spike(gauge, days, &mut flags);
        let before_flat: Vec<bool> = days.iter().map(|day| flags.contains_key(&(gauge, day.date))).collect();
        flat(gauge, days, &mut flags);
        stretch(gauge, days, &before_flat, &mut flags);
        whole(gauge, days, &mut flags);
    }
    flags.into_values().collect()
}

pub(super) fn put(flags: &mut Flags, gauge: usize, date: NaiveDate, check: Check, reason: impl FnOnce() -> String) {
    flags.entry((gauge, date)).or_insert_with(|| Flag { gauge, date, check, reason: reason() });
}

fn range(gauge: usize, days: &[Day], flags: &mut Flags) {
    for day in days {
        let outside = [day.tmean_c, day.tmin_c, day.tmax_c].into_iter().find_map(super::out_of_range);
        if let Some(reason) = outside {
            put(flags, gauge, day.date, Check::Range, || reason);
        }
    }
}

/// Day of the year 0..=364; 31 December of a leap year shares the last.
pub(super) fn slot(date: NaiveDate) -> usize {
    (date.ordinal0() as usize).min(364)
}

/// Values by day of the year, gathered over a window of days on either side.
pub(super) struct ByDay {
    slots: Vec<Vec<(i32, f64)>>,
}

impl ByDay {
    pub(super) fn new(values: impl Iterator<Item = (NaiveDate, f64)>) -> Self {
        let mut slots = vec![Vec::new(); 365];
        for (date, value) in values {
            slots[slot(date)].push((date.year(), value));
        }
        Self { slots }
    }

    pub(super) fn window(&self, slot: usize, days: usize) -> impl Iterator<Item = (i32, f64)> + '_ {
        (0..=2 * days).flat_map(move |step| self.slots[(slot + 365 - days + step) % 365].iter().copied())
    }
}

fn siblings(series: &[Vec<Day>], flags: &mut Flags) {
    if series.len() <= SIBLINGS {
        return;
    }
    let believable = |value: f64| (LOWEST_C..=HIGHEST_C).contains(&value);
    let mut by_date: HashMap<NaiveDate, Vec<(usize, f64)>> = HashMap::new();
    for (gauge, days) in series.iter().enumerate() {
        for day in days.iter().filter(|day| believable(day.tmean_c)) {
            by_date.entry(day.date).or_default().push((gauge, day.tmean_c));
        }
    }
    for (gauge, days) in series.iter().enumerate() {
        let differences: Vec<(NaiveDate, f64)> = days
            .iter()
            .filter_map(|day| {
                let others = by_date.get(&day.date)?;
                let mut others: Vec<f64> = others.iter().filter(|(g, _)| *g != gauge).map(|(_, v)| *v).collect();
                (others.len() >= SIBLINGS).then_some(())?;
                median(&mut others).map(|middle| (day.date, day.tmean_c - middle))
            })
            .collect();
        let gathered = ByDay::new(differences.iter().copied());
        let mut usual: Vec<Option<Option<Bulk>>> = vec![None; 365];
        let mut departures: BTreeMap<NaiveDate, (f64, f64)> = BTreeMap::new();
        for (date, difference) in differences {
            let known = *usual[slot(date)].get_or_insert_with(|| {
                let mut values: Vec<f64> = gathered.window(slot(date), SIBLING_WINDOW_DAYS).map(|(_, v)| v).collect();
                (values.len() >= SIBLING_MIN_DAYS).then(|| bulk(&mut values, Share::Quarter)).flatten()
            });
            let Some(known) = known else { continue };
            departures.insert(date, (difference - known.centre, MONTH_LIMIT_SD * known.sd));
            if (difference - known.centre).abs() > SIBLING_LIMIT_C.max(LIMIT_SD * known.sd) {
                put(flags, gauge, date, Check::Sibling, || {
                    format!(
                        "{difference:+.1} °C from the other gauges of the watershed, usually {:+.1} at this time of year",
                        known.centre
                    )
                });
            }
        }
        months(gauge, &departures, flags);
    }
}

/// Days of a month that lies off the other gauges as a whole: less than single days may be off.
fn months(gauge: usize, departures: &BTreeMap<NaiveDate, (f64, f64)>, flags: &mut Flags) {
    for (date, (departure, limit_c)) in departures {
        let around = departures.range(*date - Days::new(MONTH_DAYS)..=*date + Days::new(MONTH_DAYS));
        let mut values: Vec<f64> = around.map(|(_, (departure, _))| *departure).collect();
        let limit_c = MONTH_LIMIT_C.max(*limit_c);
        if values.len() >= MONTH_MIN_DAYS
            && let Some(middle) = median(&mut values)
            && middle.abs() > limit_c
            // A good day among them is none of theirs.
            && departure * middle.signum() > 0.5 * limit_c
        {
            put(flags, gauge, *date, Check::Sibling, || {
                format!("for a month {middle:+.1} °C further from the other gauges of the watershed than usual")
            });
        }
    }
}

/// All days of a gauge of which two fifths or more are doubted: a logger that was wrong for so long is not believed for the
/// rest.
fn whole(gauge: usize, days: &[Day], flags: &mut Flags) {
    let doubted = days.iter().filter(|day| flags.contains_key(&(gauge, day.date))).count();
    if days.len() < WHOLE_MIN_DAYS || (doubted as f64) < WHOLE_SHARE * days.len() as f64 {
        return;
    }
    for day in days {
        put(flags, gauge, day.date, Check::Whole, || {
            format!("{doubted} of the {} days of this gauge are doubted for other reasons", days.len())
        });
    }
}

fn season(gauge: usize, days: &[Day], flags: &mut Flags) {
    let gathered = ByDay::new(days.iter().map(|day| (day.date, day.tmean_c)));
    let mut usual: Vec<Option<Option<Bulk>>> = vec![None; 365];
    for day in days {
        let known = *usual[slot(day.date)].get_or_insert_with(|| {
            let window: Vec<(i32, f64)> = gathered.window(slot(day.date), SEASON_WINDOW_DAYS).collect();
            let mut years: Vec<i32> = window.iter().map(|(year, _)| *year).collect();
            years.sort_unstable();
            years.dedup();
            if years.len() < SEASON_MIN_YEARS || window.len() < SEASON_MIN_DAYS {
                return None;
            }
            let mut values: Vec<f64> = window.into_iter().map(|(_, value)| value).collect();
            bulk(&mut values, Share::Half)
        });
        if let Some(known) = known
            && (day.tmean_c - known.centre).abs() > SEASON_LIMIT_C.max(LIMIT_SD * known.sd)
        {
            put(flags, gauge, day.date, Check::Season, || {
                format!("{:.1} °C, usually about {:.1} here at this time of year", day.tmean_c, known.centre)
            });
        }
    }
}

fn spike(gauge: usize, days: &[Day], flags: &mut Flags) {
    for window in days.windows(3) {
        let [before, day, after] = window else { continue };
        // A good day between two impossible ones is no spike.
        let beside = [before, after].iter().all(|near| (LOWEST_C..=HIGHEST_C).contains(&near.tmean_c));
        if !beside || (after.date - before.date).num_days() != 2 {
            continue;
        }
        let (up, down) = (day.tmean_c - before.tmean_c, day.tmean_c - after.tmean_c);
        if up * down > 0.0 && up.abs().min(down.abs()) >= SPIKE_C {
            put(flags, gauge, day.date, Check::Spike, || {
                format!(
                    "{:.1} °C between {:.1} and {:.1} on the days beside it",
                    day.tmean_c, before.tmean_c, after.tmean_c
                )
            });
        }
    }
}

fn flat(gauge: usize, days: &[Day], flags: &mut Flags) {
    let same = |a: &Day, b: &Day| (b.date - a.date).num_days() == 1 && a.tmean_c == b.tmean_c;
    for run in days.chunk_by(same).filter(|run| run.len() >= FLAT_DAYS && run[0].tmean_c > FLAT_ABOVE_C) {
        for day in run {
            put(flags, gauge, day.date, Check::Flat, || {
                format!("{} °C without change for {} days", day.tmean_c, run.len())
            });
        }
    }
}

fn stretch(gauge: usize, days: &[Day], doubted: &[bool], flags: &mut Flags) {
    let mut hit = vec![false; days.len()];
    for (start, window) in days.windows(STRETCH_DAYS).enumerate() {
        let last_date = window[0].date + Days::new(2 * STRETCH_DAYS as u64);
        let bad: Vec<usize> = (start..start + STRETCH_DAYS).filter(|at| doubted[*at]).collect();
        if window[STRETCH_DAYS - 1].date < last_date
            && 2 * bad.len() >= STRETCH_DAYS
            && let (Some(first), Some(last)) = (bad.first(), bad.last())
        {
            // Only what lies between doubted days: the good weeks beside a fault stay good.
            hit[*first..=*last].fill(true);
        }
    }
    for (day, _) in days.iter().zip(hit).filter(|(_, hit)| *hit) {
        put(flags, gauge, day.date, Check::Stretch, || {
            format!("half or more of the {STRETCH_DAYS} days around it are doubted")
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(date: NaiveDate, value: f64) -> Day {
        Day { date, tmean_c: value, tmin_c: value, tmax_c: value }
    }

    /// A smooth year between 1 and `1 + 2 * swing` °C with a small ripple of the gauge's own.
    fn years(first: i32, last: i32, swing: f64, own: f64) -> Vec<Day> {
        let start = NaiveDate::from_ymd_opt(first, 1, 1).expect("date");
        let end = NaiveDate::from_ymd_opt(last, 12, 31).expect("date");
        start
            .iter_days()
            .take_while(|date| *date <= end)
            .map(|date| {
                let turn = f64::from(date.ordinal0()) / 365.25 * std::f64::consts::TAU;
                let ripple = (f64::from(date.num_days_from_ce()) * own).sin();
                day(date, 1.5 + swing * (1.0 - turn.cos()) + 0.4 * ripple.max(-1.0))
            })
            .collect()
    }

    fn kinds(flags: &[Flag], gauge: usize) -> Vec<Check> {
        let mut found: Vec<Check> = flags.iter().filter(|f| f.gauge == gauge).map(|f| f.check).collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    #[test]
    fn a_warm_river_without_faults_is_left_alone() {
        let warm: Vec<Day> = years(2016, 2019, 13.0, 0.7);
        assert!(warm.iter().any(|d| d.tmean_c > 26.0));
        assert_eq!(check(&[warm]), vec![]);
    }

    #[test]
    fn values_no_water_can_have_are_doubted() {
        let mut days = years(2019, 2019, 8.0, 0.7);
        days[40] = day(days[40].date, -1.01);
        days[41].tmin_c = -3.0;
        days[200].tmax_c = 35.5;
        let flags = check(&[days.clone()]);
        assert_eq!(flags.iter().map(|f| f.date).collect::<Vec<_>>(), [days[40].date, days[41].date, days[200].date]);
        assert!(flags.iter().all(|f| f.check == Check::Range), "{flags:?}");
        assert!(flags[0].reason.contains("-1.01"), "{}", flags[0].reason);
    }

    #[test]
    fn one_drifting_gauge_among_four_is_found_by_its_siblings_and_the_others_are_not_blamed() {
        let mut all: Vec<Vec<Day>> = [0.7, 0.9, 1.1, 1.3].iter().map(|own| years(2018, 2020, 8.0, *own)).collect();
        for d in &mut all[3] {
            if d.date.year() == 2020 {
                *d = day(d.date, d.tmean_c + 7.0);
            }
        }
        let flags = check(&all);
        assert_eq!(flags.iter().filter(|f| f.gauge == 3 && f.date.year() == 2020).count(), 366);
        assert!(flags.iter().all(|f| f.gauge == 3 && f.date.year() == 2020), "{:?}", kinds(&flags, 0));
    }

    #[test]
    fn a_lone_gauge_is_judged_by_its_own_seasons() {
        let mut days = years(2016, 2020, 8.0, 0.7);
        let last = days.len() - 1;
        days[last - 10] = day(days[last - 10].date, 14.0);
        days[last - 11] = day(days[last - 11].date, 14.0);
        let flags = check(&[days]);
        assert_eq!(kinds(&flags, 0), [Check::Season]);
        assert_eq!(flags.len(), 2);
    }

    #[test]
    fn spikes_and_flat_lines_are_found_and_ice_is_not_a_flat_line() {
        let mut days = years(2019, 2019, 8.0, 0.7);
        days[150] = day(days[150].date, days[150].tmean_c + 6.5);
        for i in 0..30 {
            days[i] = day(days[i].date, 0.1);
            days[220 + i] = day(days[220 + i].date, 15.25);
        }
        let flags = check(&[days.clone()]);
        assert_eq!(kinds(&flags, 0), [Check::Spike, Check::Flat]);
        assert_eq!(flags.len(), 31);
        assert!(flags.iter().all(|f| f.date > days[40].date));
    }

    #[test]
    fn a_stretch_half_of_which_is_impossible_is_doubted_whole() {
        let mut days = years(2019, 2019, 8.0, 0.7);
        for i in (100..160).step_by(2) {
            days[i] = day(days[i].date, 40.0);
        }
        let flags = check(&[days.clone()]);
        let doubted: Vec<NaiveDate> = flags.iter().map(|f| f.date).collect();
        assert!((100..159).all(|i| doubted.contains(&days[i].date)), "{}", doubted.len());
        assert!(doubted.len() <= 62, "{}", doubted.len());
        assert_eq!(kinds(&flags, 0), [Check::Range, Check::Stretch]);
    }

    #[test]
    fn short_and_empty_series_are_no_ground_for_doubt() {
        assert_eq!(check(&[]), vec![]);
        assert_eq!(check(&[vec![]]), vec![]);
        assert_eq!(check(&[years(2019, 2019, 8.0, 0.7)[..5].to_vec()]), vec![]);
    }

    #[test]
    fn months_off_the_other_gauges_are_doubted_and_a_logger_that_was_wrong_for_long_is_wrong_throughout() {
        let good = || vec![years(2018, 2021, 6.0, 0.7), years(2018, 2021, 6.0, 0.9), years(2018, 2021, 6.0, 1.1)];
        let off = |from: &str, by_c: f64| {
            let from: NaiveDate = from.parse().expect("a date");
            let mut series = good();
            let lifted = years(2018, 2021, 6.0, 1.3).into_iter();
            series.push(lifted.map(|d| if d.date >= from { day(d.date, d.tmean_c + by_c) } else { d }).collect());
            let flags = check(&series);
            assert!(flags.iter().all(|flag| flag.gauge == 3), "the others are not blamed");
            flags
        };
        // Three degrees for five months: the days themselves lie within what single days may be off.
        let some = off("2021-08-01", 3.0);
        assert!((140..=160).contains(&some.len()), "{}", some.len());
        assert!(some.iter().all(|flag| flag.check == Check::Sibling));
        assert!(some.iter().any(|flag| flag.reason.starts_with("for a month")));
        assert!(off("2021-08-01", 1.0).is_empty(), "waters differ by so much");
        // Two years of four: the other two are not believed either.
        let all = off("2020-01-01", 6.0);
        assert_eq!(all.len(), good()[0].len());
        assert!(all.iter().any(|flag| flag.check == Check::Whole));
    }
}
