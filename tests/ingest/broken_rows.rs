//! Wrong rows in good answers of open services: each is refused and counted under its reason.

use chrono_tz::Tz;
use serde_json::{Value, json};
use subimago::ingest::temperature::{Asked, Page, PageFault, Statistic, When, Why};
use subimago::ingest::temperature::{hubeau, sensorthings, smhi, usgs, usgs_legacy, usgs_rdb};
use subimago::ingest::weather::{AirForecast, met_norway, nws};

use crate::answers::{
    TABLE, array_good, asked, hold, hubeau_good, legacy_good, now, smhi_good, things_good, usgs_good, usgs_row,
};
use crate::support::at;

/// In the first row of a good body the value at `pointer` is replaced; the row is then refused so.
type Wrong = (&'static str, Value, Why);

fn check_rows(name: &str, good: &Value, cases: &[Wrong], read: fn(&[u8]) -> Result<Page, PageFault>) -> usize {
    for (pointer, value, why) in cases {
        let mut body = good.clone();
        *body.pointer_mut(pointer).unwrap_or_else(|| panic!("{name}: {pointer}")) = value.clone();
        let page =
            read(body.to_string().as_bytes()).unwrap_or_else(|fault| panic!("{name} {pointer} {value}: {fault}"));
        hold(name, &page);
        assert!(page.refused.count(*why) >= 1, "{name} {pointer} {value}: {:?}, not {why:?}", page.refused);
        assert!(page.readings.len() <= 1, "{name} {pointer} {value}: {:?}", page.readings);
    }
    cases.len()
}

/// Wrong values and times, the same for all forms.
fn common(value_at: &'static str, time_at: &'static str) -> Vec<Wrong> {
    let value = |value: Value, why| (value_at, value, why);
    let time = |text: &str, why| (time_at, json!(text), why);
    vec![
        value(json!(null), Why::NoValue),
        value(json!(""), Why::NoValue),
        value(json!("NaN"), Why::NotANumber),
        value(json!("inf"), Why::NotANumber),
        value(json!("-infinity"), Why::NotANumber),
        value(json!("1e999"), Why::NotANumber),
        value(json!("11,5"), Why::NotANumber),
        value(json!("Ice"), Why::NotANumber),
        value(json!(true), Why::NotANumber),
        value(json!([11.5]), Why::NotANumber),
        value(json!({ "value": 11.5 }), Why::NotANumber),
        value(json!(-1e300), Why::OutOfRange),
        value(json!("-9999"), Why::OutOfRange),
        value(json!(285.1), Why::OutOfRange),
        time("", Why::Time),
        time("yesterday", Why::Time),
        time("2026-02-30T00:00:00Z", Why::Time),
        time(&"2026-06-01T10:00:00Z".repeat(1000), Why::Time),
    ]
}

#[test]
fn wrong_rows_are_counted_under_their_reason() {
    let mut held = 0;
    let row = "/features/0/properties";
    let mut cases = common("/features/0/properties/value", "/features/0/properties/time");
    let at = |key: &str| -> &'static str { Box::leak(format!("{row}/{key}").into_boxed_str()) };
    cases.extend([
        (at("time"), json!("2027-01-01"), Why::Future),
        (at("time"), json!("2026-06-15"), Why::Future),
        (at("time"), json!("0999-01-01"), Why::TooOld),
        (at("time"), json!("2026-06-01T10:00:00"), Why::Time),
        (at("time"), json!("2026-06-01T10:00:00Z"), Why::Statistic),
        (at("time"), json!(20_260_601), Why::Form),
        (at("unit_of_measure"), json!("degK"), Why::Unit),
        (at("unit_of_measure"), json!(null), Why::Unit),
        (at("unit_of_measure"), json!("ft^3/s"), Why::Unit),
        (at("parameter_code"), json!("00060"), Why::OtherQuantity),
        (at("parameter_code"), json!(10), Why::Form),
        (at("monitoring_location_id"), json!("USFS-9"), Why::OtherStation),
        (at("statistic_id"), json!("00008"), Why::Statistic),
        (at("time_series_id"), json!(""), Why::Form),
        (at("time_series_id"), json!("x".repeat(500)), Why::Form),
        (row, json!(null), Why::Form),
        (row, json!("text"), Why::Form),
    ]);
    held += check_rows("usgs", &usgs_good(), &cases, |bytes| usgs::page(bytes, &asked()));

    let mut cases = common("/data/0/resultat", "/data/0/heure_mesure_temp");
    cases.extend([
        ("/data/0/date_mesure_temp", json!("2027-06-01"), Why::Future),
        ("/data/0/date_mesure_temp", json!("01/06/2026"), Why::Time),
        ("/data/0/heure_mesure_temp", json!("25:00:00"), Why::Time),
        ("/data/0/code_unite", json!("28"), Why::Unit),
        ("/data/0/code_unite", json!(null), Why::Unit),
        ("/data/0/code_parametre", json!("1302"), Why::OtherQuantity),
        ("/data/0/code_station", json!("S-2"), Why::OtherStation),
        ("/data/0", json!([]), Why::Form),
    ]);
    held += check_rows("hubeau", &hubeau_good(), &cases, |bytes| hubeau::page(bytes, &asked()));

    let mut cases = common("/value/0/value", "/value/0/date");
    cases.extend([
        ("/value/0/date", json!(i64::MAX), Why::Time),
        ("/value/0/date", json!(4_000_000_000_000_i64), Why::Future),
        ("/value/0/date", json!(1_781_474_400_000_i64), Why::Future),
        ("/value/0/date", json!(-8_000_000_000_000_i64), Why::TooOld),
        ("/value/0/date", json!(1.5), Why::Time),
        ("/parameter/key", json!("1"), Why::OtherQuantity),
        ("/parameter/unit", json!("m3/s"), Why::Unit),
        ("/parameter/unit", json!(null), Why::Unit),
        ("/station/key", json!("S-2"), Why::OtherStation),
    ]);
    held += check_rows("smhi", &smhi_good(), &cases, |bytes| smhi::page(bytes, &asked()));

    let mut cases = common("/value/0/result", "/value/0/phenomenonTime");
    cases.extend([
        ("/value/0/phenomenonTime", json!("2027-06-01T10:00:00Z"), Why::Future),
        ("/value/0/phenomenonTime", json!("2026-06-14T12:00:00Z/2026-06-15T12:00:00Z"), Why::Future),
        ("/value/0/phenomenonTime", json!("2026-06-01T10:00:00Z/2026-06-01T09:00:00Z"), Why::Time),
        ("/value/0/phenomenonTime", json!("2026-05-01T10:00:00Z/2026-06-01T09:00:00Z"), Why::Time),
        ("/value/0/phenomenonTime", json!(null), Why::Time),
        ("/value/0", json!(3), Why::Time),
        ("/value/0", json!({ "components": ["result"], "dataArray": 3 }), Why::Form),
    ]);
    let read: fn(&[u8]) -> Result<Page, PageFault> = |bytes| sensorthings::page(bytes, "degC", &asked());
    held += check_rows("things", &things_good(), &cases, read);
    let mut cases = common("/value/0/dataArray/0/0", "/value/0/dataArray/0/1");
    cases.extend([
        ("/value/0/dataArray/0", json!({}), Why::Time),
        ("/value/0/dataArray/0", json!([]), Why::Time),
        ("/value/0/components", json!(["x", "y"]), Why::Time),
    ]);
    held += check_rows("array", &array_good(), &cases, read);

    let series = "/value/timeSeries/0";
    let at = |key: &str| -> &'static str { Box::leak(format!("{series}/{key}").into_boxed_str()) };
    let mut cases = common(at("values/0/value/0/value"), at("values/0/value/0/dateTime"));
    cases.extend([
        (at("values/0/value/0/value"), json!("-999999"), Why::NoValue),
        (at("values/0/value/0/dateTime"), json!("2027-06-01T00:00:00.000"), Why::Future),
        (at("values/0/value/0/dateTime"), json!("2026-06-15T00:00:00.000"), Why::Future),
        (at("values/0/value/0/dateTime"), json!("2026-06-01T10:00:00.000"), Why::Time),
        (at("variable/unit/unitCode"), json!("K"), Why::Unit),
        (at("variable/variableCode/0/value"), json!("00060"), Why::OtherQuantity),
        (at("sourceInfo/siteCode/0/value"), json!("S-2"), Why::OtherStation),
        (at("variable/options/option/0/optionCode"), json!("00008"), Why::Statistic),
        (at("name"), json!(null), Why::Form),
    ]);
    held += check_rows("legacy", &legacy_good(), &cases, |bytes| usgs_legacy::page(bytes, &asked()));
    assert!(held > 120, "{held}");
}

#[test]
fn wrong_rows_of_tables() {
    let cases = [
        ("\t11.5\tA", "\t\t", Why::NoValue),
        ("\t11.5\tA", "\tEqp\tA", Why::NotANumber),
        ("\t11.5\tA", "\t-999999\tA", Why::OutOfRange),
        ("2026-06-01", "2026-13-01", Why::Time),
        ("2026-06-01", "2028-01-01", Why::Future),
        ("2026-06-01", "2026-06-15", Why::Future),
        ("2026-06-01", "1200-01-01", Why::TooOld),
        ("S-1\t2026-06-01", "S-2\t2026-06-01", Why::OtherStation),
        ("\t11.5\tA", "\t11.5", Why::Form),
        ("\t11.5\tA", "\t11.5\tA\tB", Why::Form),
        ("2026-06-02", "2026-06-01", Why::Conflict),
    ];
    for (from, to, why) in cases {
        let page = usgs_rdb::page(TABLE.replacen(from, to, 1).as_bytes(), &asked()).unwrap();
        hold("table", &page);
        assert!(page.refused.count(why) >= 1, "{to:?}: {:?}", page.refused);
    }
    let instants = TABLE.replace("datetime\t9_00010_00003\t9_00010_00003_cd", "datetime\ttz_cd\t9_00010\t9_00010_cd");
    let instants = instants.replace("20d\t14n", "20d\t6s\t14n").replace("06-01\t", "06-01 13:15\tEDT\t");
    let page = usgs_rdb::page(instants.replace("06-02\t", "06-02 13:15\tXYZ\t").as_bytes(), &asked()).unwrap();
    assert_eq!(page.readings[0].when, When::Instant(at("2026-06-01T17:15:00Z")));
    assert_eq!((page.readings.len(), page.refused.count(Why::Time)), (1, 1), "an unknown zone is not guessed");
}

#[test]
fn a_day_is_taken_once_it_is_over_at_the_station() {
    let body = json!({ "features": [usgs_row("2026-06-14", &json!("11.5"))] }).to_string();
    for (now, kept) in [("2026-06-15T06:59:00Z", 0), ("2026-06-15T07:00:00Z", 1)] {
        let asked = Asked { now: at(now), zone: Tz::America__Los_Angeles, ..asked() };
        let page = usgs::page(body.as_bytes(), &asked).unwrap();
        assert_eq!((page.readings.len(), page.refused.count(Why::Future)), (kept, 1 - kept as u64), "{now}");
    }
}

#[test]
fn hours_of_today_are_taken_as_they_come() {
    let mut body = hubeau_good();
    body["data"][0]["date_mesure_temp"] = json!("2026-06-15");
    body["data"][1]["date_mesure_temp"] = json!("2026-06-15");
    body["data"][1]["heure_mesure_temp"] = json!("14:11:00");
    let page = hubeau::page(body.to_string().as_bytes(), &asked()).unwrap();
    assert_eq!(page.readings[0].when, When::Instant(at("2026-06-15T08:00:00Z")));
    assert_eq!((page.readings.len(), page.refused.count(Why::Future)), (1, 1), "it is 14:00 in Paris");
}

#[test]
fn swedish_days_begin_at_summer_midnight_in_winter_too() {
    let page = |stamps: &[&str], now: &str| {
        let rows: Vec<Value> = stamps
            .iter()
            .enumerate()
            .map(|(n, stamp)| json!({ "date": at(stamp).timestamp_millis(), "value": n, "quality": "G" }))
            .collect();
        let mut body = smhi_good();
        body["value"] = json!(rows);
        let asked = Asked { now: at(now), zone: Tz::Europe__Stockholm, ..asked() };
        smhi::page(body.to_string().as_bytes(), &asked).unwrap()
    };
    let days = |page: &Page| page.readings.iter().map(|row| row.when).collect::<Vec<_>>();
    let mean = |date: &str| When::Day(date.parse().unwrap(), Statistic::Mean);
    let winter = page(&["2026-01-14T22:00:00Z", "2026-01-15T22:00:00Z"], "2026-06-15T12:00:00Z");
    assert_eq!(days(&winter), [mean("2026-01-15"), mean("2026-01-16")]);
    let noon = page(&["2026-01-15T10:00:00Z"], "2026-06-15T12:00:00Z");
    assert_eq!(days(&noon), [mean("2026-01-15")], "one value of a day is that of the day");
    // Two stamps of one day: neither is said to be the mean, though both state the same.
    let stamps = ["2026-01-14T22:00:00Z", "2026-01-15T21:59:00Z", "2026-01-15T22:00:00Z"];
    let crowded = page(&stamps, "2026-06-15T12:00:00Z");
    assert_eq!((days(&crowded), crowded.refused.count(Why::Conflict)), (vec![mean("2026-01-16")], 2));
    // At 22:30 UTC in January the summer clock is past midnight, the watershed's is not.
    let early = page(&["2026-01-14T22:00:00Z"], "2026-01-15T22:30:00Z");
    assert_eq!((early.readings.len(), early.refused.count(Why::Future)), (0, 1));
}

#[test]
fn repeated_and_contradicting_values() {
    let twice = |first: Value, second: Value| {
        let body = json!({ "features": [first, second, usgs_row("2026-06-03", &json!("9"))] });
        usgs::page(body.to_string().as_bytes(), &asked()).unwrap()
    };
    let same = twice(usgs_row("2026-06-01", &json!("11.5")), usgs_row("2026-06-01", &json!("11.5")));
    assert_eq!((same.readings.len(), same.refused.count(Why::Repeated)), (2, 1));
    let against = twice(usgs_row("2026-06-01", &json!("11.5")), usgs_row("2026-06-01", &json!("12")));
    assert_eq!((against.readings.len(), against.refused.count(Why::Conflict)), (1, 2), "neither counts");
    let mut later = usgs_row("2026-06-01", &json!("12"));
    later["properties"]["last_modified"] = json!("2026-06-15T00:00:00+00:00");
    for (first, second) in
        [(later.clone(), usgs_row("2026-06-01", &json!("11.5"))), (usgs_row("2026-06-01", &json!("11.5")), later)]
    {
        let page = twice(first, second);
        assert_eq!((page.readings[0].value_c, page.readings.len()), (12.0, 2), "the one changed last counts");
    }
    let mut other = usgs_row("2026-06-01", &json!("7"));
    other["properties"]["time_series_id"] = json!("b2");
    assert_eq!(twice(usgs_row("2026-06-01", &json!("11.5")), other).readings.len(), 3, "two series of one station");
}

#[test]
fn fahrenheit_is_converted_only_when_the_unit_says_so() {
    for (unit, value_c) in
        [("degF", Some(10.0)), ("deg F", Some(10.0)), ("\u{b0}F", Some(10.0)), ("degC", Some(50.0)), ("", None)]
    {
        let mut body = usgs_good();
        body["features"][0]["properties"]["value"] = json!("50");
        body["features"][0]["properties"]["unit_of_measure"] = json!(unit);
        let page = usgs::page(body.to_string().as_bytes(), &asked()).unwrap();
        let first =
            page.readings.iter().find(|row| matches!(row.when, When::Day(date, _) if date.to_string() == "2026-06-01"));
        assert_eq!(first.map(|row| row.value_c), value_c, "{unit}");
    }
    let unit = |text: &str| {
        let body = json!({ "name": "n", "unitOfMeasurement": { "name": "x", "symbol": text, "definition": "ucum:x" } });
        sensorthings::datastream(body.to_string().as_bytes()).map(|stream| stream.unit)
    };
    assert_eq!(unit("\u{b0}C").unwrap(), "\u{b0}C");
    assert!(unit("hPa").is_err() && unit("").is_err());
}

#[test]
fn broken_weather() {
    let met = |change: (&str, Value)| {
        let mut body = json!({ "properties": { "meta": { "updated_at": "2026-06-15T10:00:00Z",
            "units": { "air_temperature": "celsius" } }, "timeseries": [
            { "time": "2026-06-15T12:00:00Z", "data": { "instant": { "details": { "air_temperature": 20.5 } } } },
            { "time": "2026-06-15T13:00:00Z", "data": { "instant": { "details": { "air_temperature": 21 } } } }] } });
        *body.pointer_mut(change.0).unwrap() = change.1;
        met_norway::forecast(body.to_string().as_bytes(), now())
    };
    let temperature = "/properties/timeseries/0/data/instant/details/air_temperature";
    let count = |read: Result<AirForecast, PageFault>, why| {
        let forecast = read.unwrap();
        (forecast.air.len(), forecast.refused.count(why))
    };
    assert_eq!(count(met((temperature, json!(null))), Why::NoValue), (1, 1));
    assert_eq!(count(met((temperature, json!("NaN"))), Why::NotANumber), (1, 1));
    assert_eq!(count(met((temperature, json!(99))), Why::OutOfRange), (1, 1));
    assert_eq!(count(met(("/properties/timeseries/0/time", json!("2027-06-15T12:00:00Z"))), Why::Future), (1, 1));
    assert_eq!(count(met(("/properties/timeseries/0/time", json!("2026-06-15T13:00:00Z"))), Why::Conflict), (0, 2));
    assert_eq!(count(met(("/properties/meta/units/air_temperature", json!("K"))), Why::Unit), (0, 2));
    assert!(met(("/properties/meta/updated_at", json!("2026-06-16T10:00:00Z"))).is_err(), "made in the future");

    let nws = |valid: &str, value: Value| {
        let body = json!({ "properties": { "updateTime": "2026-06-15T10:00:00+00:00", "temperature": {
            "uom": "wmoUnit:degC", "values": [{ "validTime": valid, "value": value }] } } });
        nws::forecast(body.to_string().as_bytes(), now())
    };
    assert_eq!(count(nws("2026-06-15T12:00:00+00:00/PT3H", json!(20)), Why::Time), (3, 0));
    for valid in [
        "2026-06-15T12:00:00+00:00",
        "2026-06-15T12:00:00+00:00/",
        "x/PT1H",
        "2026-06-15T12:00:00+00:00/PT0H",
        "2026-06-15T12:00:00+00:00/PT9999H",
        "2026-06-15T12:00:00+00:00/P9Y",
        "2026-06-15T12:00:00+00:00/PT30M",
    ] {
        assert_eq!(count(nws(valid, json!(20)), Why::Time), (0, 1), "{valid}");
    }
    assert_eq!(count(nws("2026-06-15T12:00:00+00:00/PT3H", json!(null)), Why::NoValue), (0, 1));
}
