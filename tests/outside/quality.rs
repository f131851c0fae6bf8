//! Checks of water temperatures against the flags that the keepers of real loggers gave, and against
//! faults planted in real water. (The loggers of Hubbard Brook with their true faults are in `import`.)

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, Utc};
use subimago::model::quality::{Against, Check, Day, check, check_instants, drift, middle_of};
use subimago::model::temperature::{DayTemp, Series, WaterFromAir};

use crate::shared;

const WEST_BROOK: &str = "data/water/west-brook/temperature_and_weather_daily.csv";
const SITES: [&str; 3] = ["WEST_BROOK", "WB_JIMMY", "WB_MITCHELL"];

/// Readings with the keeper's flag.
fn logger(file: &str, time: &str) -> Option<Vec<(DateTime<Utc>, f64, String)>> {
    let path = shared::path(&format!("data/water/loggers-15min/{file}"))?;
    let mut readings: Vec<_> = csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .filter_map(|row| {
            let row: BTreeMap<String, String> = row.unwrap();
            // The zone is not stated: the clock's time is taken as it stands.
            let at = NaiveDateTime::parse_from_str(&row[time], "%Y-%m-%d %H:%M:%S").unwrap().and_utc();
            Some((at, row["Water.Temp.C"].parse().ok()?, row["Flag.Water.Temp.C"].clone()))
        })
        .collect();
    readings.sort_by_key(|reading| reading.0);
    Some(readings)
}

/// Where the keepers' flags and ours agree. Theirs also fail water that stands at the freezing point
/// under ice, values that stand for seven hours, and the way back from a wrong value; ours leave
/// all three alone on purpose. Nothing that they pass is doubted but one reading in a thousand; the
/// limit of a step was set with these loggers in view.
#[test]
fn flags_agree_with_those_of_the_keepers() {
    let files = [
        ("09RD003_15min_2017_2020.csv", "datetime", 4),
        ("test2_30min_2013_2014.csv", "Date.Time", 4),
        ("ECO66G20_2014_2015.csv", "Date.Time", 0),
    ];
    for (file, time, wrong) in files {
        let Some(readings) = logger(file, time) else { return };
        let plain: Vec<(DateTime<Utc>, f64)> = readings.iter().map(|(at, value, _)| (*at, *value)).collect();
        let mut ours = vec![None; readings.len()];
        check_instants(&plain).into_iter().for_each(|flag| ours[flag.index] = Some(flag.check));
        // By the keeper's flag: readings, those at the freezing point, and those that we doubt.
        let mut table: BTreeMap<&str, [usize; 3]> = BTreeMap::new();
        for ((_, value, flag), ours) in readings.iter().zip(&ours) {
            let count = table.entry(flag).or_default();
            count[0] += 1;
            count[1] += usize::from(*value <= 0.2);
            count[2] += usize::from(ours.is_some());
        }
        for (flag, [all, ice, ours]) in &table {
            println!("| {file} | {flag} | {all} | {ice} | {ours} |");
        }
        assert_eq!(table["F"][2], wrong, "{file}: steps and impossible values among those they fail");
        assert!(1000 * table["P"][2] <= table["P"][0], "{file}: {:?}", table["P"]);
        // Of what they fail above the freezing point we doubt as many as are steps or out of range, and of
        // the steps beyond the limit all.
        for (index, pair) in plain.windows(2).enumerate() {
            let quick = (pair[1].0 - pair[0].0).num_minutes() <= 60;
            let jumps = quick && (pair[1].1 - pair[0].1).abs() > 2.0;
            assert!(!jumps || ours[index + 1].is_some() || ours[index].is_some(), "{file}: {pair:?}");
        }
    }
}

/// Daily values of a site, with those of the air over it: mean, minimum, maximum.
fn with_air(site: &str) -> Option<Vec<(Day, Option<Day>)>> {
    let mut days = Vec::new();
    for row in csv::Reader::from_path(shared::path(WEST_BROOK)?).unwrap().deserialize() {
        let row: BTreeMap<String, String> = row.unwrap();
        let day = |what: &str| {
            let value = |column: &str| row[&format!("{what}{column}")].parse::<f64>().ok();
            let (tmean_c, tmin_c, tmax_c) = (value("tmean_c")?, value("tmin_c")?, value("tmax_c")?);
            Some(Day { date: row["date"].parse().unwrap(), tmean_c, tmin_c, tmax_c })
        };
        if row["site"] == site
            && let Some(water) = day("").filter(|d| d.tmin_c <= d.tmean_c && d.tmean_c <= d.tmax_c)
        {
            days.push((water, day("air_")));
        }
    }
    Some(days)
}

/// Ten days in every ninety-seven are the air's. Set before looking: four fifths of those days are
/// doubted by some check, and fewer than one in a hundred of the others. (Ratios of ranges were looked at
/// on these sites when the limits were chosen, one site at a time and without the other checks.)
#[test]
fn days_in_the_air_are_doubted_and_the_others_are_not() {
    let mut series: Vec<Vec<Day>> = Vec::new();
    for site in SITES {
        let Some(days) = with_air(site) else { return };
        series.push(days.iter().map(|(water, _)| *water).collect());
    }
    for (gauge, site) in SITES.iter().enumerate() {
        let days = with_air(site).expect("as before");
        let hung = |index: usize| index % 97 >= 87;
        for alone in [true, false] {
            let planted: Vec<Day> =
                days.iter().enumerate().map(|(i, (water, air))| air.filter(|_| hung(i)).unwrap_or(*water)).collect();
            let all = if alone {
                vec![planted]
            } else {
                let mut all = series.clone();
                all[gauge] = planted;
                all
            };
            let at = if alone { 0 } else { gauge };
            let flags = check(&all);
            let flagged: BTreeMap<NaiveDate, Check> =
                flags.iter().filter(|flag| flag.gauge == at).map(|flag| (flag.date, flag.check)).collect();
            let (mut air, mut found, mut by_range, mut water, mut blamed) = (0, 0, 0, 0, 0);
            for (index, (day, over)) in days.iter().enumerate() {
                let flag = flagged.get(&day.date);
                if hung(index) && over.is_some() {
                    air += 1;
                    found += usize::from(flag.is_some());
                    by_range += usize::from(flag == Some(&Check::InAir));
                } else {
                    water += 1;
                    blamed += usize::from(flag.is_some());
                }
            }
            println!(
                "| {site}{} | {found} ({by_range} by range) of {air} | {blamed} of {water} |",
                if alone { " alone" } else { "" }
            );
            assert!(10 * found >= 8 * air, "{site}: {found} of {air} days in the air");
            assert!(100 * blamed < water, "{site}: {blamed} of {water} good days");
        }
    }
}

type Means = BTreeMap<NaiveDate, f64>;

fn means(series: &Series) -> Means {
    series.iter().map(|(d, t)| (*d, t.tmean_c)).collect()
}

/// A drift planted from May to October of each year in turn, held against `reference`, which is made anew
/// each time: days on which it has passed a degree and how many of them are doubted, doubted days outside
/// it, and all days looked at.
fn planted(
    own: &Means,
    years: std::ops::RangeInclusive<i32>,
    pace_c: f64,
    against: Against,
    reference: &dyn Fn(&Means) -> Means,
) -> [usize; 4] {
    let mut counts = [0; 4];
    for year in years {
        let start = NaiveDate::from_ymd_opt(year, 5, 1).expect("a date");
        let end = start + Days::new(180);
        let within = |d: &NaiveDate| (start..end).contains(d);
        let off = |d: &NaiveDate| if within(d) { pace_c * (*d - start).num_days() as f64 / 30.0 } else { 0.0 };
        let drifted: Means = own.iter().map(|(d, v)| (*d, v + off(d))).collect();
        let found = drift(&drifted, &reference(&drifted), against);
        counts[0] += own.keys().filter(|d| off(d) > 1.0).count();
        counts[1] += found.iter().filter(|day| off(&day.date) > 1.0).count();
        counts[2] += found.iter().filter(|day| !within(&day.date)).count();
        counts[3] += own.len();
    }
    counts
}

/// Set before looking: fewer than one good day in a hundred is doubted. Half of the days on which a drift
/// of 0.3 C a month has passed a degree were hoped to be found: so it is for one of Hubbard Brook's close
/// neighbours (W2 has three years, too few to judge by), and not at the West Brook, whose tributaries part
/// as fast by themselves, nor against the air. Set after: three quarters at 0.6 C a month for W5 and W6,
/// half at 1.0 against the air for one brook; a planted drift makes at most 2 days in a hundred outside it
/// doubtful. (Windows of 120 and 180 days and limits on the slope were tried on these sites.)
#[test]
fn a_drift_is_told_from_other_gauges_and_from_the_air() {
    let Some(brook) = shared::water("data/emergence/hubbard-brook/temperature_daily.csv") else { return };
    let (Some(west), Some(air)) = (shared::water(WEST_BROOK), shared::air(WEST_BROOK)) else { return };
    for (sites, names, years) in [(&brook, ["W2", "W5", "W6"], 2019..=2020), (&west, SITES, 2003..=2009)] {
        for site in names {
            let own = means(&sites[site]);
            let others: Vec<Means> = names.iter().filter(|s| **s != site).map(|s| means(&sites[*s])).collect();
            let gauges = |own: &Means| middle_of(own, &others);
            let from_air = |own: &Means| {
                let series: Series = own.iter().map(|(d, v)| (*d, DayTemp::of_mean(*v))).collect();
                let last = *own.keys().next_back().expect("days");
                means(&WaterFromAir::fit(&series, &air[site], last).expect("years").series())
            };
            let mut references: Vec<(Against, &dyn Fn(&Means) -> Means)> = vec![(Against::Gauges, &gauges)];
            if air.contains_key(site) {
                references.push((Against::Air, &from_air));
            }
            for (against, reference) in references {
                let blamed = drift(&own, &reference(&own), against).len();
                let n = own.len();
                let mut line = format!("| {site}, {against:?} | {blamed} of {n} |");
                assert!(100 * blamed < n, "{site}, {against:?}: {blamed} of {n} good days");
                for pace in [0.3, 0.6, 1.0] {
                    let [late, found, elsewhere, all] = planted(&own, years.clone(), pace, against, reference);
                    assert!(100 * elsewhere < 2 * all, "{site}, {against:?}: {elsewhere} of {all} days outside");
                    let least = match (site, against, pace) {
                        ("W6", Against::Gauges, 0.3) => 50,
                        ("W5" | "W6", Against::Gauges, _) if pace > 0.5 => 75,
                        ("WB_JIMMY", Against::Air, 1.0) => 50,
                        _ => 0,
                    };
                    assert!(100 * found >= least * late, "{site}, {against:?}, {pace}: {found} of {late}");
                    line.push_str(&format!(" {:.0} % ({elsewhere} of {all}) |", 100.0 * found as f64 / late as f64));
                }
                println!("{line}");
            }
        }
    }
}
