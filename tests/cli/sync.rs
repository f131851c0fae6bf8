use super::{Desk, errors};

const RIVER: &str = r#"
[watershed]
slug = "river-ostrey"
name = "River Ostrey (invented)"
time_zone = "Europe/London"

[[gauge]]
slug = "weir"
source = "sensorthings:https://things.example/v1.1/Datastreams(1)"

[[gauge]]
slug = "pool"
source = "read by hand"
"#;

#[test]
fn each_gauge_is_told_and_a_failure_shows_in_the_code() {
    let desk = Desk::new();
    desk.write("river.toml", RIVER);
    desk.ok(&["import", "setup", "river.toml"]);
    // The host is not on the list of sources, so nobody is asked.
    let words = desk.fails(1, &["sync"]);
    assert!(words.contains("river-ostrey/pool: names no source that can be asked"), "{words}");
    assert!(words.contains("river-ostrey/weir: failed") && words.contains("sources.hosts"), "{words}");
    assert!(words.contains("1 of 2 gauges") && words.contains("to mend"), "{words}");
    assert!(desk.ok(&["sync", "--gauge", "pool"]).is_empty());
    let document = desk.json(&["sync", "--gauge", "POOL"]);
    assert_eq!((&document["failed"], &document["gauges"][0]["state"]), (&0.into(), &"no-source".into()));
    assert!(desk.fails(1, &["sync", "--gauge", "nowhere"]).contains("gauge not found"));

    let output = desk.call(&["sync", "--json"]);
    assert_eq!(output.status.code(), Some(1), "{}", errors(&output));
    let document: serde_json::Value = serde_json::from_slice(&output.stdout).expect("one document even then");
    let states: Vec<&str> =
        document["gauges"].as_array().expect("a list").iter().map(|g| g["state"].as_str().expect("a word")).collect();
    assert_eq!(states, ["no-source", "failed"]);
}

#[test]
fn a_source_that_cannot_be_is_refused_with_the_setup() {
    let desk = Desk::new();
    desk.write("river.toml", &RIVER.replace("read by hand", "usgs:01420500"));
    let words = desk.fails(1, &["import", "setup", "river.toml"]);
    assert!(words.contains("gauge.source") && words.contains("usgs:USGS-01420500"), "{words}");
}
