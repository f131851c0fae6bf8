//! Good answers of open services, two values each, and what holds of every page that is read.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use serde_json::{Value, json};
use subimago::ingest::temperature::{Asked, Page, PageFault, When};
use subimago::ingest::temperature::{hubeau, sensorthings, smhi, usgs, usgs_legacy, usgs_rdb};

use crate::support::at;

pub(crate) const URL: &str = "https://service.example/items?page=1";

pub(crate) fn now() -> DateTime<Utc> {
    at("2026-06-15T12:00:00Z")
}

pub(crate) fn asked() -> Asked<'static> {
    Asked { url: URL, station: Some("S-1"), now: now(), zone: Tz::Europe__Paris }
}

/// A form of answer: its name, a good body with two values, and its reader.
pub(crate) struct Form {
    pub(crate) name: &'static str,
    pub(crate) good: Vec<u8>,
    pub(crate) read: fn(&[u8]) -> Result<Page, PageFault>,
}

pub(crate) fn usgs_row(time: &str, value: &Value) -> Value {
    json!({ "geometry": null, "id": "x", "type": "Feature", "properties": {
        "approval_status": "Provisional", "last_modified": "2026-06-14T00:00:00+00:00",
        "monitoring_location_id": "S-1", "parameter_code": "00010", "qualifier": null, "statistic_id": "00003",
        "time": time, "time_series_id": "a1", "unit_of_measure": "degC", "value": value } })
}

pub(crate) fn usgs_good() -> Value {
    json!({ "type": "FeatureCollection", "features": [usgs_row("2026-06-01", &json!("11.5")),
        usgs_row("2026-06-02", &json!("12.5"))], "links": [{ "rel": "self", "href": URL },
        { "rel": "next", "href": "https://service.example/items?cursor=abc&api_key=secret" }] })
}

pub(crate) fn hubeau_row(hour: &str, value: &Value) -> Value {
    json!({ "code_station": "S-1", "code_parametre": "1301", "date_mesure_temp": "2026-06-01",
        "heure_mesure_temp": hour, "resultat": value, "code_unite": "27", "code_qualification": "4",
        "libelle_qualification": "Non qualifi\u{e9}" })
}

pub(crate) fn hubeau_good() -> Value {
    json!({ "count": 2, "next": null, "data": [hubeau_row("10:00:00", &json!(11.5)), hubeau_row("11:00:00", &json!(12))] })
}

pub(crate) fn smhi_good() -> Value {
    json!({ "parameter": { "key": "4", "unit": "\u{b0}C" }, "station": { "key": "S-1" },
        "value": [{ "date": 1_780_264_800_000_i64, "value": 11.5, "quality": "G" },
            { "date": 1_780_351_200_000_i64, "value": "12.5", "quality": "O" }] })
}

pub(crate) fn things_row(time: &str, result: &Value) -> Value {
    json!({ "@iot.id": 1, "phenomenonTime": time, "result": result, "resultTime": null, "resultQuality": "good" })
}

pub(crate) fn things_good() -> Value {
    json!({ "@iot.count": 2, "value": [things_row("2026-06-01T10:00:00Z", &json!(11.5)),
        things_row("2026-06-01T11:00:00Z", &json!("12.5"))] })
}

pub(crate) fn array_good() -> Value {
    json!({ "value": [{ "components": ["result", "phenomenonTime"], "dataArray@iot.count": 2,
        "dataArray": [[11.5, "2026-06-01T10:00:00Z"], [12.5, "2026-06-01T11:00:00Z"]] }] })
}

pub(crate) fn legacy_good() -> Value {
    json!({ "value": { "timeSeries": [{ "name": "USGS:S-1:00010:00003",
        "sourceInfo": { "siteCode": [{ "value": "S-1", "agencyCode": "USGS" }] },
        "variable": { "variableCode": [{ "value": "00010" }], "unit": { "unitCode": "deg C" }, "noDataValue": -999_999.0,
            "options": { "option": [{ "name": "Statistic", "optionCode": "00003" }] } },
        "values": [{ "method": [{ "methodID": 7 }], "value": [
            { "value": "11.5", "qualifiers": ["A"], "dateTime": "2026-06-01T00:00:00.000" },
            { "value": "12.5", "qualifiers": ["P"], "dateTime": "2026-06-02T00:00:00.000" }] }] }] } })
}

pub(crate) const TABLE: &str = "# c\nagency_cd\tsite_no\tdatetime\t9_00010_00003\t9_00010_00003_cd\n5s\t15s\t20d\t14n\t10s\n\
    USGS\tS-1\t2026-06-01\t11.5\tA\nUSGS\tS-1\t2026-06-02\t12.5\tP:e\n";

pub(crate) fn forms() -> Vec<Form> {
    let json = |value: Value| value.to_string().into_bytes();
    vec![
        Form { name: "usgs", good: json(usgs_good()), read: |bytes| usgs::page(bytes, &asked()) },
        Form { name: "hubeau", good: json(hubeau_good()), read: |bytes| hubeau::page(bytes, &asked()) },
        Form { name: "smhi", good: json(smhi_good()), read: |bytes| smhi::page(bytes, &asked()) },
        Form { name: "things", good: json(things_good()), read: |bytes| sensorthings::page(bytes, "degC", &asked()) },
        Form { name: "array", good: json(array_good()), read: |bytes| sensorthings::page(bytes, "degC", &asked()) },
        Form { name: "legacy", good: json(legacy_good()), read: |bytes| usgs_legacy::page(bytes, &asked()) },
        Form { name: "table", good: TABLE.into(), read: |bytes| usgs_rdb::page(bytes, &asked()) },
    ]
}

/// What holds of every page, however broken the body.
pub(crate) fn hold(name: &str, page: &Page) {
    let mut seen = BTreeSet::new();
    for row in &page.readings {
        assert!((-60.0..=100.0).contains(&row.value_c), "{name}: {row:?}");
        match row.when {
            When::Instant(at) => assert!(at <= now() + TimeDelta::minutes(10), "{name}: {row:?}"),
            When::Day(date, _) => {
                assert!(date < now().with_timezone(&asked().zone).date_naive(), "{name}: {row:?}");
            }
        }
        assert!(seen.insert((row.series.clone(), row.when)), "{name}: twice {row:?}");
        assert!(!row.series.is_empty() && row.qualifiers.len() <= 9, "{name}: {row:?}");
    }
    if let Some(next) = &page.next {
        let url = reqwest::Url::parse(next).unwrap();
        assert!(next.starts_with("https://service.example/"), "{name}: {next}");
        assert!(url.query_pairs().all(|(key, _)| key != "api_key"), "{name}: {next}");
    }
}
