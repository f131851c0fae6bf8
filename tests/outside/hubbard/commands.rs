//! The commands a user types, in their order, and what they answer.

use serde_json::Value;

use super::brook::{Brook, ORDERS, WATERSHED, data, file};

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn check_document(forecast: &Value) {
    let shares: Vec<f64> =
        forecast["milestones"].as_array().unwrap().iter().map(|m| m["share"].as_f64().unwrap()).collect();
    assert_eq!(shares, [0.05, 0.10, 0.50, 0.90, 0.95]);
    for milestone in forecast["milestones"].as_array().unwrap() {
        let at = |q: &str| milestone[q].as_str().unwrap_or("9999").to_owned();
        assert!(at("p10") <= at("p50") && at("p50") <= at("p90"), "{milestone}");
    }
    let weights = forecast["clock"]["weights"].as_object().unwrap();
    let sum: f64 = weights.values().map(|w| w.as_f64().unwrap()).sum();
    assert!(weights.len() == 4 && (sum - 1.0).abs() < 1e-9, "{weights:?}");
    let mut cumulative = 0.0;
    for day in forecast["days"].as_array().unwrap() {
        let classes = day["class_probabilities"].as_object().unwrap();
        let sum: f64 = ["none", "sparse", "moderate", "heavy"].iter().map(|c| classes[*c].as_f64().unwrap()).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{day}");
        let next = day["cumulative"].as_f64().unwrap();
        assert!(next >= cumulative - 1e-12 && next <= 1.0 + 1e-12, "{day}");
        cumulative = next;
    }
}

#[test]
fn from_files_to_forecasts_and_again() {
    if file("emergence.csv").is_none() {
        return;
    }
    let brook = Brook::imported();
    let again =
        brook.json(&["import", "records", data("emergence.csv").to_str().unwrap(), "--watershed", WATERSHED, "--json"]);
    assert_eq!((again["created"].as_u64(), again["updated"].as_u64()), (Some(0), Some(0)), "{again}");
    assert_eq!(again["unchanged"].as_u64(), Some(2868), "{again}");

    let fit = brook.ok(&["fit", "--watershed", WATERSHED]);
    let lines = text(&fit.stderr);
    for (slug, _) in ORDERS {
        assert!(lines.lines().any(|l| l.contains(slug)), "no line about {slug}:\n{lines}");
    }
    let all = brook.json(&["forecast", "--watershed", WATERSHED, "--season", "2020", "--json"]);
    let forecasts = all.as_array().or_else(|| all["items"].as_array()).expect("a list of forecasts");
    assert_eq!(forecasts.len(), 7 * ORDERS.len());
    for forecast in forecasts {
        assert_eq!(forecast["days"].as_array().unwrap().len(), 366);
        check_document(forecast);
    }
    // Mayflies are too few (167 in all) for anything but a wide forecast; flies are known well.
    let spread = |taxon: &str| {
        let one = forecasts.iter().find(|f| f["taxon"] == taxon && f["reach"] == "W5").unwrap();
        let day = |q: &str| one["milestones"][1][q].as_str().map(|d| d.parse::<chrono::NaiveDate>().unwrap());
        (day("p90").unwrap() - day("p10").unwrap()).num_days()
    };
    assert!(spread("mayfly") > spread("dipteran"), "mayfly {} dipteran {}", spread("mayfly"), spread("dipteran"));
    let once = brook.ok(&["forecast", "--watershed", WATERSHED, "--season", "2020", "--reach", "W1"]);
    assert!(text(&once.stdout).contains("dipteran") || text(&once.stdout).contains("Diptera"));
}

#[test]
fn a_hindcast_knows_nothing_of_later_data() {
    if file("emergence.csv").is_none() {
        return;
    }
    // Records and readings of 2018 and 2019 alone, against all of them with a cut-off.
    let all = Brook::imported();
    let part = Brook::new();
    part.ok(&["import", "setup", "brook.toml"]);
    let cut = |name: &str, column: &str| {
        let path = part.path(name);
        let mut reader = csv::Reader::from_path(data(name)).unwrap();
        let mut writer = csv::Writer::from_path(&path).unwrap();
        let headers = reader.headers().unwrap().clone();
        let place = headers.iter().position(|h| h == column).unwrap();
        writer.write_record(&headers).unwrap();
        for row in reader.records().map(|r| r.unwrap()).filter(|r| &r[place] <= "2019-12-30") {
            writer.write_record(&row).unwrap();
        }
        writer.flush().unwrap();
        path
    };
    let readings = cut("temperature_daily.csv", "date");
    std::fs::write(part.path("flags.csv"), "column,from,to\nflag,logger,good\nflag,filled,good\n").unwrap();
    part.ok(&[
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
    part.import_records(&cut("emergence.csv", "date_to"));
    let answer = |brook: &Brook| {
        brook.ok(&["fit", "--watershed", WATERSHED, "--taxon", "caddisfly", "--through", "2019-12-31"]);
        let mut found = brook.json(&[
            "forecast",
            "--watershed",
            WATERSHED,
            "--taxon",
            "caddisfly",
            "--season",
            "2020",
            "--as-of",
            "2019-12-31",
            "--json",
        ]);
        strip_times(&mut found);
        found
    };
    assert_eq!(answer(&all), answer(&part));
}

/// Removes what differs from run to run by right: the time of issue.
pub(super) fn strip_times(value: &mut Value) {
    match value {
        Value::Object(map) => {
            map.remove("issued_at");
            map.values_mut().for_each(strip_times);
        }
        Value::Array(list) => list.iter_mut().for_each(strip_times),
        _ => {}
    }
}
