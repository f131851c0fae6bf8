//! What must happen to the forecast when the data are changed in a known way.

use std::path::PathBuf;

use chrono::{Days, NaiveDate};
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_pcg::Pcg64;
use serde_json::Value;

use super::brook::{Brook, WATERSHED, data, file};
use super::commands::strip_times;

const TAXON: &str = "stonefly";

/// A copy of a shared table with every row changed by `change`.
fn changed(
    brook: &Brook,
    name: &str,
    shuffle: bool,
    change: impl Fn(&csv::StringRecord, &mut csv::StringRecord),
) -> PathBuf {
    let path = brook.path(name);
    let mut reader = csv::Reader::from_path(data(name)).unwrap();
    let headers = reader.headers().unwrap().clone();
    let mut rows: Vec<csv::StringRecord> = reader
        .records()
        .map(|row| {
            let mut row = row.unwrap();
            change(&headers, &mut row);
            row
        })
        .collect();
    if shuffle {
        rows.shuffle(&mut Pcg64::seed_from_u64(5));
    }
    let mut writer = csv::Writer::from_path(&path).unwrap();
    writer.write_record(&headers).unwrap();
    rows.iter().for_each(|row| writer.write_record(row).unwrap());
    writer.flush().unwrap();
    path
}

fn shift_dates(headers: &csv::StringRecord, row: &mut csv::StringRecord, days: u64) {
    *row = headers
        .iter()
        .zip(row.iter())
        .map(|(name, cell)| match cell.parse::<NaiveDate>() {
            Ok(date) if name.starts_with("date") => (date + Days::new(days)).to_string(),
            _ => cell.to_owned(),
        })
        .collect();
}

fn import(readings: &std::path::Path, records: &std::path::Path, brook: &Brook) {
    brook.ok(&["import", "setup", "brook.toml"]);
    std::fs::write(brook.path("flags.csv"), "column,from,to\nflag,logger,good\nflag,filled,good\n").unwrap();
    brook.ok(&[
        "import",
        "readings",
        readings.to_str().unwrap(),
        "--watershed",
        WATERSHED,
        "--columns",
        "flag=origin",
        "--map",
        "flags.csv",
    ]);
    brook.import_records(records);
}

fn forecast(brook: &Brook, season: &str, as_of: Option<&str>) -> Value {
    let mut arguments =
        vec!["forecast", "--watershed", WATERSHED, "--taxon", TAXON, "--reach", "W5", "--season", season, "--json"];
    if let Some(day) = as_of {
        arguments.extend(["--as-of", day]);
    }
    let mut found = brook.json(&arguments);
    strip_times(&mut found);
    found.get("items").cloned().unwrap_or(found)[0].clone()
}

fn milestone(forecast: &Value, place: usize, quantile: &str) -> NaiveDate {
    forecast["milestones"][place][quantile].as_str().unwrap().parse().unwrap()
}

#[test]
fn shuffled_rows_give_identical_bytes() {
    if file("emergence.csv").is_none() {
        return;
    }
    let plain = Brook::imported();
    let mixed = Brook::new();
    let readings = changed(&mixed, "temperature_daily.csv", true, |_, _| ());
    let records = changed(&mixed, "emergence.csv", true, |_, _| ());
    import(&readings, &records, &mixed);
    for brook in [&plain, &mixed] {
        brook.ok(&["fit", "--watershed", WATERSHED, "--taxon", TAXON]);
    }
    assert_eq!(forecast(&plain, "2020", None).to_string(), forecast(&mixed, "2020", None).to_string());
}

#[test]
fn ten_days_later_in_everything_is_ten_days_later_in_the_forecast() {
    if file("emergence.csv").is_none() {
        return;
    }
    let plain = Brook::imported();
    let later = Brook::new();
    let readings = changed(&later, "temperature_daily.csv", false, |h, row| shift_dates(h, row, 10));
    let records = changed(&later, "emergence.csv", false, |h, row| shift_dates(h, row, 10));
    import(&readings, &records, &later);
    for brook in [&plain, &later] {
        brook.ok(&["fit", "--watershed", WATERSHED, "--taxon", TAXON]);
    }
    let (before, after) = (forecast(&plain, "2020", None), forecast(&later, "2020", None));
    for place in [1, 2] {
        let moved = (milestone(&after, place, "p50") - milestone(&before, place, "p50")).num_days();
        assert!((9..=11).contains(&moved), "milestone {place} moved by {moved} d");
    }
}

#[test]
fn warmer_water_this_season_alone_brings_the_season_forward() {
    if file("emergence.csv").is_none() {
        return;
    }
    let plain = Brook::imported();
    plain.ok(&["fit", "--watershed", WATERSHED, "--taxon", TAXON]);
    let before = forecast(&plain, "2021", None);
    let warm = changed(&plain, "temperature_daily.csv", false, |headers, row| {
        let at = |name: &str| headers.iter().position(|h| h == name).unwrap();
        if row[at("date")].starts_with("2021") {
            let mut cells: Vec<String> = row.iter().map(str::to_owned).collect();
            cells[at("tmean_c")] = format!("{:.4}", cells[at("tmean_c")].parse::<f64>().unwrap() + 2.0);
            *row = cells.into();
        }
    });
    plain.ok(&[
        "import",
        "readings",
        warm.to_str().unwrap(),
        "--watershed",
        WATERSHED,
        "--columns",
        "flag=origin",
        "--map",
        "flags.csv",
    ]);
    // The fit stands; only this season's water has changed.
    let after = forecast(&plain, "2021", None);
    for place in [1, 2] {
        let (a, b) = (milestone(&before, place, "p50"), milestone(&after, place, "p50"));
        assert!(b < a, "milestone {place}: {a} before, {b} in warmer water");
    }
    assert!(before["clock"]["weights"]["thermal"].as_f64().unwrap() > 0.5, "{}", before["clock"]);
}

#[test]
fn on_average_an_earlier_day_knows_no_more() {
    if file("emergence.csv").is_none() {
        return;
    }
    let brook = Brook::imported();
    brook.ok(&["fit", "--watershed", WATERSHED, "--taxon", TAXON]);
    let width = |day: &str| {
        let seasons = ["2019", "2020", "2021"];
        let days: i64 = seasons
            .iter()
            .map(|season| {
                let one = forecast(&brook, season, Some(&format!("{season}-{day}")));
                (milestone(&one, 1, "p90") - milestone(&one, 1, "p10")).num_days()
            })
            .sum();
        days as f64 / seasons.len() as f64
    };
    let (early, late) = (width("02-15"), width("06-30"));
    println!("width of the 10 % date's 80 % interval: {early:.1} d on 15 February, {late:.1} d on 30 June");
    assert!(early >= late - 0.5, "15 February {early}, 30 June {late}");
}
