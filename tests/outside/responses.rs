//! Recorded answers of open services, read whole: the counts and values that stand beside them.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use subimago::app::import_foreign::{Form, Said, Zone, convert, told};
use subimago::domain::{Quality, ReadingTime, Slug};
use subimago::ingest::temperature::series::{choose, join};
use subimago::ingest::temperature::{Asked, Page, Refused, Statistic, When, Why};
use subimago::ingest::temperature::{hubeau, sensorthings, smhi, usgs, usgs_legacy, usgs_rdb};
use subimago::ingest::weather::{met_norway, nws};

use crate::shared;

fn body(name: &str) -> Option<Vec<u8>> {
    let path = shared::path(&format!("data/responses/{name}"))?;
    Some(std::fs::read(path).unwrap())
}

fn at(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn asked<'a>(url: &'a str, station: Option<&'a str>) -> Asked<'a> {
    Asked { url, station, now: at("2026-11-25T12:00:00Z"), zone: Tz::Europe__Paris }
}

fn instants(page: &Page) -> Vec<(DateTime<Utc>, f64)> {
    let instant = |when| match when {
        When::Instant(at) => at,
        When::Day(..) => panic!("an instant"),
    };
    page.readings.iter().map(|row| (instant(row.when), row.value_c)).collect()
}

#[test]
fn hubeau_two_pages_end_by_next_alone() {
    let name = |page| format!("hubeau/chronique_01001336_2008-07-09_10_size20_page{page}.206.json");
    let (Some(first), Some(last)) = (body(&name(1)), body(&name(2))) else { return };
    let url = "https://hubeau.eaufrance.fr/api/v1/temperature/chronique?code_station=01001336";
    let asked = asked(url, Some("01001336"));
    let first = hubeau::page(&first, &asked).unwrap();
    let last = hubeau::page(&last, &asked).unwrap();
    assert_eq!((first.readings.len(), last.readings.len()), (20, 17));
    assert_eq!((first.total, last.total, first.refused.total(), last.refused.total()), (Some(37), Some(37), 0, 0));
    assert!(first.next.unwrap().ends_with("page=2&size=20"));
    assert_eq!(last.next, None);
    // Read as French clocks, two hours ahead of UTC in July; noise of short floats is rounded off.
    let rows = instants(&Page { next: None, ..last });
    assert_eq!(rows[0], (at("2008-07-10T05:00:00Z"), 14.697));
    assert_eq!(rows[16], (at("2008-07-10T21:00:00Z"), 16.034));
    let reading = &first.readings[0];
    assert_eq!((reading.value_c, reading.quality), (14.433, Quality::Good));
    assert_eq!(reading.qualifiers, ["4 Non qualifi\u{e9}"]);
    let utc = Asked { zone: Tz::UTC, ..asked };
    let page = hubeau::page(&body(&name(1)).unwrap(), &utc).unwrap();
    assert_eq!(instants(&page)[0].0, at("2008-07-09T11:00:00Z"));
}

#[test]
fn hubeau_stations_are_no_readings() {
    let Some(stations) = body("hubeau/station_size2000.200.excerpt3of869.json") else { return };
    let page = hubeau::page(&stations, &asked("https://hubeau.eaufrance.fr/", None)).unwrap();
    assert!(page.readings.is_empty());
    assert_eq!(page.refused.count(Why::Form), 3);
}

#[test]
fn usgs_daily_page_of_discharge_gives_nothing_but_its_next_page() {
    let Some(recorded) = body("usgs-ogc/daily_items_limit2_page1.v0.2025-08-31.json") else { return };
    let url = "https://api.waterdata.usgs.gov/ogcapi/v0/collections/daily/items?limit=2";
    let page = usgs::page(&recorded, &asked(url, None)).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity)), (0, 2));
    assert!(page.next.unwrap().contains("cursor=MDAwMDAwMGMtN2VmNC00N2U0LWE1NzctNjc3ZmU5NzNjZmIw"));

    // The same page told of temperature: only code, unit and one value differ.
    let text = String::from_utf8(recorded).unwrap();
    let water = text.replace("00060", "00010").replace("ft^3/s", "deg C").replace("\"489\"", "\"24.9\"");
    let page = usgs::page(water.as_bytes(), &asked(url, None)).unwrap();
    assert_eq!(page.refused.count(Why::OutOfRange), 1, "940 is no temperature");
    assert_eq!(page.readings.len(), 1);
    let row = &page.readings[0];
    assert_eq!((row.when, row.value_c), (When::Day(day("2020-10-24"), Statistic::Mean), 24.9));
    assert_eq!(row.series, "d7c6271e2e194428ba9cf9c032539e0f");
    assert_eq!(row.changed_at, Some(at("2024-12-03T09:23:01.506761Z")));
    assert!(row.qualifiers.is_empty(), "neither approved nor provisional");
    // Another host in the link to the next page is refused.
    let moved = water.replace("https://api.waterdata.usgs.gov", "https://waterdata.example");
    assert!(usgs::page(moved.as_bytes(), &asked(url, None)).is_err());
}

#[test]
fn usgs_collections_of_both_kinds() {
    let Some(recorded) = body("usgs-ogc/collections_two_features_each.v0.2026-08.json") else { return };
    let all: serde_json::Value = serde_json::from_slice(&recorded).unwrap();
    let url = "https://api.waterdata.usgs.gov/ogcapi/v0/collections/continuous/items";
    for (name, unit) in [("continuous", "ft"), ("daily", "ft^3/s"), ("latest-continuous", "ft")] {
        let page = usgs::page(all[name].to_string().as_bytes(), &asked(url, None)).unwrap();
        assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity), page.next), (0, 2, None), "{name}");
        let water = all[name].to_string().replace("\"00065\"", "\"00010\"").replace("\"00060\"", "\"00010\"");
        let water = water.replace(&format!("\"{unit}\""), "\"degC\"");
        let page = usgs::page(water.as_bytes(), &asked(url, None)).unwrap();
        let expected = if name == "latest-continuous" { 1 } else { 2 };
        assert_eq!(page.readings.len(), expected, "{name}: {:?}", page.refused);
        assert!(page.readings.iter().all(|row| row.quality == Quality::Good && row.qualifiers.len() == 1));
    }
    let page = usgs::page(all["monitoring-locations"].to_string().as_bytes(), &asked(url, None)).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::Form)), (0, 2));
}

#[test]
fn usgs_legacy_empty_series_of_temperature_are_normal() {
    let Some(daily) = body("usgs-legacy/dv_01491000_01645000_2020-02-14_15.json") else { return };
    let page = usgs_legacy::page(&daily, &asked("", None)).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity), page.refused.total()), (0, 4, 4));
    // The discharge told as temperature: local midnight without offset is a day.
    let text = String::from_utf8(daily).unwrap().replace("\"00060\"", "\"00010\"").replace("ft3/s", "deg C");
    let water = text.replace("\"466\"", "\"4.66\"").replace("\"179\"", "\"-999999\"");
    let page = usgs_legacy::page(water.as_bytes(), &asked("", None)).unwrap();
    let row = &page.readings[0];
    assert_eq!((row.when, row.value_c), (When::Day(day("2020-02-14"), Statistic::Mean), 4.66));
    assert_eq!((row.series.as_str(), &*row.qualifiers), ("USGS:01491000:00060:00003#68077", &["P".to_owned()][..]));
    assert_eq!(page.refused.count(Why::NoValue), 1, "the mark for none");

    let Some(instantaneous) = body("usgs-legacy/iv_01491000_01645000_2019-02-14.json") else { return };
    let page = usgs_legacy::page(&instantaneous, &asked("", None)).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity)), (0, 20));
    let text =
        String::from_utf8(instantaneous).unwrap().replace("\"00065\"", "\"00010\"").replace("\"ft\"", "\"deg C\"");
    let page = usgs_legacy::page(text.as_bytes(), &asked("", Some("USGS-01491000"))).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::OtherStation)), (5, 5));
    assert_eq!(instants(&page)[0], (at("2019-02-14T05:00:00Z"), 6.48));
}

#[test]
fn usgs_tables() {
    let Some(both) = body("usgs-legacy/nwis_dv_multi.rdb") else { return };
    let mut page = usgs_rdb::page(&both, &asked("", Some("USGS-04085427"))).unwrap();
    // 31 greatest values and 30 means of water; 31 of discharge; one mean is missing.
    assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity)), (61, 31));
    assert_eq!((page.refused.count(Why::NoValue), page.refused.total()), (1, 32));
    let mut choice = choose(&page.readings, &[]);
    assert_eq!((choice.series.len(), choice.notes.len()), (2, 0));
    let joined = join(&page.readings, &mut choice, &mut page.refused);
    assert_eq!(joined.len(), 30);
    let first = ReadingTime::Day { date: day("2012-09-01"), mean: 23.1, low: 23.1, high: 24.9 };
    assert_eq!((joined[0].time, joined[0].quality), (first, Quality::Good));
    let sum: f64 = joined
        .iter()
        .map(|row| if let ReadingTime::Day { mean: tmean_c, .. } = row.time { tmean_c } else { 0.0 })
        .sum();
    assert!((sum - 521.4).abs() < 1e-9, "{sum}");
    assert_eq!(page.refused.count(Why::Statistic), 1, "the day with a greatest value alone");

    for name in ["nwis_dv_single.rdb", "dv_old_column_style.2014.rdb"] {
        let page = usgs_rdb::page(&body(&format!("usgs-legacy/{name}")).unwrap(), &asked("", None)).unwrap();
        assert_eq!((page.readings.len(), page.refused.count(Why::OtherQuantity)), (0, 31), "{name}");
    }
    for name in ["nwis_site.rdb", "site.rdb"] {
        assert!(usgs_rdb::page(&body(&format!("usgs-legacy/{name}")).unwrap(), &asked("", None)).is_err(), "{name}");
    }
}

#[test]
fn smhi_days_begin_at_swedish_midnight() {
    let Some(recorded) = body("smhi/parameter4_station80107_corrected-archive.json") else { return };
    let page = smhi::page(&recorded, &asked("", Some("80107"))).unwrap();
    let rows: Vec<(When, f64)> = page.readings.iter().map(|row| (row.when, row.value_c)).collect();
    let mean = |date| When::Day(day(date), Statistic::Mean);
    let expected = [
        (mean("1993-07-26"), 20.0),
        (mean("1993-07-27"), 19.0),
        (mean("1993-07-28"), 19.0),
        (mean("1993-07-29"), 18.0),
        (mean("1993-07-30"), 19.0),
        (mean("1993-07-31"), 19.0),
    ];
    assert_eq!(rows, expected);
    assert_eq!((page.refused.total(), page.next), (0, None));
    assert!(page.readings.iter().all(|row| row.qualifiers == ["O"] && row.quality == Quality::Good));
}

#[test]
fn sensorthings_air_pressure_is_no_temperature() {
    let Some(recorded) = body("sensorthings/observations_page1.excerpt3of500.json") else { return };
    let url = "https://sensors.bgs.ac.uk/FROST-Server/v1.1/Datastreams(1)/Observations?$top=500";
    let page = sensorthings::page(&recorded, "degC", &asked(url, None)).unwrap();
    assert_eq!((page.readings.len(), page.refused.count(Why::OutOfRange), page.total), (0, 3, Some(18432)));
    assert!(page.next.unwrap().contains("$skip=500"));
    let unit = sensorthings::page(&recorded, "hPa", &asked(url, None)).unwrap();
    assert_eq!((unit.readings.len(), unit.refused.count(Why::Unit)), (0, 3));
    let text = String::from_utf8(recorded).unwrap();
    let water = text.replace("1009.86", "9.86").replace("1008.17", "8.17").replace("1005.7", "5.7");
    let page = sensorthings::page(water.as_bytes(), "degC", &asked(url, None)).unwrap();
    let expected = [("10:30:00", 9.86), ("12:15:00", 8.17), ("18:15:00", 5.7)];
    let expected: Vec<_> = expected.iter().map(|(time, c)| (at(&format!("2023-03-28T{time}Z")), *c)).collect();
    assert_eq!(instants(&page), expected);
    assert!(page.readings[0].qualifiers.contains(&"quality=Good".to_owned()), "{:?}", page.readings[0].qualifiers);
}

#[test]
fn nws_runs_are_expanded() {
    let (Some(point), Some(grid)) = (body("nws/points_30_-85.json"), body("nws/gridpoints_TAE_58_65.2022-02-04.json"))
    else {
        return;
    };
    let address = nws::grid_address(&point, "https://api.weather.gov/points/30,-85").unwrap();
    assert_eq!(address, "https://api.weather.gov/gridpoints/TAE/58,65");
    assert!(nws::grid_address(&point, "https://weather.example/points/30,-85").is_err());
    let forecast = nws::forecast(&grid, at("2022-02-04T04:00:00Z")).unwrap();
    // 154 runs of one to ten hours.
    assert_eq!((forecast.air.len(), forecast.refused.total()), (182, 0));
    assert_eq!(forecast.made_at, at("2022-02-04T03:15:41Z"));
    let long: Vec<_> = forecast.air.iter().filter(|row| row.air_c == 18.8889).map(|row| row.at).collect();
    assert!(long.contains(&at("2022-02-04T01:00:00Z")) && long.contains(&at("2022-02-04T10:00:00Z")));
    assert!(forecast.air.windows(2).all(|pair| pair[0].at < pair[1].at));
    let last = forecast.air.last().unwrap();
    assert_eq!((last.at, last.air_c), (at("2022-02-11T10:00:00Z"), 4.4444));
}

#[test]
fn met_norway_has_an_instant_in_every_step() {
    let Some(recorded) = body("met-norway/locationforecast_compact_40.7_-74.0_10.2020-07-20.json") else { return };
    let wrapped: serde_json::Value = serde_json::from_slice(&recorded).unwrap();
    let bytes = wrapped["data"].to_string().into_bytes();
    let forecast = met_norway::forecast(&bytes, at("2020-07-20T11:44:31Z")).unwrap();
    assert_eq!(
        (forecast.air.len(), forecast.refused, forecast.made_at),
        (82, Refused::default(), at("2020-07-20T01:30:57Z"))
    );
    assert_eq!((forecast.air[0].at, forecast.air[0].air_c), (at("2020-07-20T11:00:00Z"), 26.5));
    assert_eq!((forecast.air[81].at, forecast.air[81].air_c), (at("2020-07-29T06:00:00Z"), 24.7));
    let sum: f64 = forecast.air.iter().map(|row| row.air_c).sum();
    assert!((sum - 2288.6).abs() < 1e-6, "{sum}");
    // A body made after the present cannot be trusted.
    assert!(met_norway::forecast(&bytes, at("2020-07-19T00:00:00Z")).is_err());
}

#[test]
fn kept_tables_and_json_become_our_own_form() {
    let (Some(table), Some(json)) =
        (body("usgs-legacy/nwis_dv_multi.rdb"), body("usgs-legacy/dv_01491000_01645000_2020-02-14_15.json"))
    else {
        return;
    };
    let said = Said { gauge: Some(Slug::new("weir").unwrap()), ..Said::default() };
    let now = at("2026-11-25T12:00:00Z");
    assert!(
        told(&table).unwrap()[0].contains("--form usgs-rdb") && told(&json).unwrap()[0].contains("--form usgs-json")
    );
    let converted = convert(&table, Form::UsgsTable, &said, now).unwrap();
    assert_eq!(converted.csv.lines().count(), 31, "a header and 30 days");
    assert_eq!(converted.csv.lines().nth(1), Some("weir,2012-09-01,23.1,23.1,24.9,good"));
    assert!(converted.notes[0].contains("31 other-quantity"), "{:?}", converted.notes);
    let empty = convert(&json, Form::UsgsJson, &said, now).unwrap();
    assert_eq!(empty.csv.lines().count(), 1, "its series of temperature are empty");
}

#[test]
fn real_exports_of_loggers_are_recognised() {
    for (name, rows) in [
        ("09RD003_15min_2017_2020.csv", 57_365),
        ("test2_30min_2013_2014.csv", 9_699),
        ("ECO66G20_2014_2015.csv", 11_089),
    ] {
        let Some(path) = shared::path(&format!("data/water/loggers-15min/{name}")) else { return };
        let bytes = std::fs::read(path).unwrap();
        let lines = told(&bytes).unwrap_or_else(|| panic!("{name} is not recognised")).join("\n");
        assert!(lines.contains(&format!("header on line 1, {rows} rows")), "{name}: {lines}");
        assert!(lines.contains("dates as ymd") && lines.contains("degrees Celsius by the header"), "{name}: {lines}");
        assert!(lines.contains("--zone ZONE --columns value_c=NAME"), "{name}: {lines}");
        let column = Some("Water.Temp.C".to_owned());
        let zone = Zone::parse("-06:00");
        let said = Said { gauge: Some(Slug::new("weir").unwrap()), zone, column, ..Said::default() };
        let converted = convert(&bytes, Form::Logger, &said, at("2026-11-25T12:00:00Z")).unwrap();
        assert_eq!(converted.csv.lines().count(), rows + 1, "{name}");
    }
}
