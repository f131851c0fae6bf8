//! Recorded answers of services, sent again by a server on this machine: fetched, kept and told.

use std::io::Cursor;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use subimago::app::document::sync::{GaugeSyncDocument, SyncState};
use subimago::app::import::ImportOptions;
use subimago::app::setup::import_setup;
use subimago::app::sync::{SourceOptions, Sources, Wanted, sync};
use subimago::clock::FixedClock;
use subimago::domain::air::AirIssue;
use subimago::domain::{Quality, ReadingTime, Secret, Slug};
use subimago::ingest::client::{Limits, Pace as _};
use subimago::ingest::weather::{met_norway, nws};
use subimago::store::{Db, Span, air, reading};
use tempfile::TempDir;

use crate::local_server::{Answers, LocalServer, Reply, Seen, TestPace, client_with};
use crate::shared;

/// A club with one gauge, its clock, and the server that it asks.
pub(crate) struct Replay {
    db: Db,
    pub(crate) pace: Arc<TestPace>,
    pub(crate) server: LocalServer,
    _folder: TempDir,
}

impl Replay {
    /// `SERVER` in `source` is the server's address.
    pub(crate) async fn new(
        source: &str,
        zone: &str,
        now: &str,
        script: impl Fn(&Seen) -> Reply + Send + Sync + 'static,
    ) -> Self {
        let server = LocalServer::start(move |seen, _| script(seen)).await;
        let source = source.replace("SERVER", &server.url(""));
        let folder = tempfile::tempdir().unwrap();
        let db = Db::connect(&format!("sqlite://{}", folder.path().join("club.db").display())).await.unwrap();
        db.migrate().await.unwrap();
        let text = format!(
            "[watershed]\nslug = \"w\"\nname = \"W\"\ntime_zone = \"{zone}\"\n[[gauge]]\nslug = \"mast\"\nname = \"Mast\"\nsource = \"{source}\"\n"
        );
        let setup = import_setup(&db, Cursor::new(text), &ImportOptions::default()).await.unwrap();
        assert!(setup.accepted, "{:?}", setup.faults);
        Self { db, pace: TestPace::new(now), server, _folder: folder }
    }

    pub(crate) async fn sync(&self) -> GaugeSyncDocument {
        let options = SourceOptions {
            contact: "keeper@club.example".to_owned(),
            usgs_url: self.server.url("/ogcapi/v0"),
            usgs_key: Secret::default(),
            hubeau_url: self.server.url("/api/v1/temperature"),
            smhi_url: self.server.url("/api/version/latest"),
            nws_url: self.server.url(""),
            met_norway_url: self.server.url("/weatherapi/locationforecast/2.0"),
            hosts: Vec::new(),
            history_years: 1,
            overlap_days: 45,
        };
        let (policy, lookup) = (self.server.policy(&[]), Answers::of(&[&["127.0.0.1"]]));
        let client = client_with(policy, &self.pace, &options.contact.clone(), Vec::new(), Limits::default(), lookup);
        let (clock, sources) = (FixedClock(self.pace.now()), Sources::with_client(options, client));
        let mut done = Box::pin(sync(&self.db, &clock, &sources, &Wanted::default(), &|_| {})).await.unwrap();
        done.gauges.remove(0)
    }

    /// Days with their means, qualifiers and quality.
    pub(crate) async fn days(&self) -> Vec<(NaiveDate, f64, Vec<String>, Quality)> {
        let mut tx = self.db.read().await.unwrap();
        let slug = |text| Slug::new(text).unwrap();
        let all = reading::daily_readings(&mut tx, &slug("w"), &slug("mast"), None, Span::all()).await.unwrap();
        let told = all.into_iter().filter_map(|one| match one.time {
            ReadingTime::Day { date, mean, .. } => Some((date, mean, one.qualifiers, one.quality)),
            ReadingTime::Instant { .. } => None,
        });
        told.collect()
    }

    pub(crate) async fn readings(&self) -> Vec<(DateTime<Utc>, f64, Vec<String>)> {
        let mut tx = self.db.read().await.unwrap();
        let slug = |text| Slug::new(text).unwrap();
        let all = reading::instant_readings(&mut tx, &slug("w"), &slug("mast"), None, Span::all()).await.unwrap();
        let told = all.into_iter().filter_map(|one| match one.time {
            ReadingTime::Instant { at, value } => Some((at, value, one.qualifiers)),
            ReadingTime::Day { .. } => None,
        });
        told.collect()
    }

    async fn air(&self) -> Vec<AirIssue> {
        let mut tx = self.db.read().await.unwrap();
        let slug = |text| Slug::new(text).unwrap();
        air::air_forecasts(&mut tx, &slug("w"), &slug("mast"), None).await.unwrap()
    }
}

fn at(text: &str) -> DateTime<Utc> {
    crate::support::at(text)
}

#[tokio::test]
async fn met_norways_answer_of_july_2020_becomes_days_and_is_not_fetched_twice() {
    let name = "data/responses/met-norway/locationforecast_compact_40.7_-74.0_10.2020-07-20.json";
    let Some(path) = shared::path(name) else { return };
    let wrapped: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let header = |name: &str| wrapped["headers"][name].as_str().unwrap().to_owned();
    let (expires, modified) = (header("Expires"), header("Last-Modified"));
    let body = wrapped["data"].to_string().into_bytes();
    let (known, until) = (modified.clone(), expires.clone());
    let script = move |seen: &Seen| {
        let headers = vec![("expires", until.clone()), ("last-modified", known.clone())];
        match seen.header("if-modified-since") {
            Some(date) if date == known => Reply::Full(304, headers, Vec::new()),
            _ => Reply::Full(200, headers, body.clone()),
        }
    };
    let source = "met-norway:40.7,-74.0 altitude=10";
    let replay = Replay::new(source, "America/New_York", "2020-07-20T11:44:31Z", script).await;
    let first = replay.sync().await;
    assert_eq!(first.state, SyncState::Done, "{:?}", first.reason);
    let paths = replay.server.paths();
    assert_eq!(paths, ["/weatherapi/locationforecast/2.0/compact?lat=40.7&lon=-74.0&altitude=10"]);
    let stored = replay.air().await;
    assert_eq!((stored.len(), stored[0].made_at), (1, at("2020-07-20T01:30:57Z")));
    assert_eq!(stored[0].known_at, at("2020-07-20T11:44:31Z"));
    // From 07 h of the 20th to 02 h of the 29th in New York: eight whole days.
    let dates: Vec<String> = stored[0].days.iter().map(|day| day.date.to_string()).collect();
    assert_eq!((dates[0].as_str(), dates.last().unwrap().as_str(), dates.len()), ("2020-07-21", "2020-07-28", 8));
    // Steps of the 21st by the hour, from 04 UTC to 04 UTC, taken from the body by hand of a plain sum.
    let steps = wrapped["data"]["properties"]["timeseries"].as_array().unwrap();
    let value = |when: DateTime<Utc>| {
        let step = steps.iter().find(|step| at(step["time"].as_str().unwrap()) == when).unwrap();
        step["data"]["instant"]["details"]["air_temperature"].as_f64().unwrap()
    };
    let hours: Vec<f64> = (0..=24).map(|n| value(at("2020-07-21T04:00:00Z") + TimeDelta::hours(n))).collect();
    let mean = hours.windows(2).map(|pair| f64::midpoint(pair[0], pair[1])).sum::<f64>() / 24.0;
    assert!((stored[0].days[0].tmean_c - mean).abs() < 0.006, "{} and {mean}", stored[0].days[0].tmean_c);
    let highest = hours.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    assert!((stored[0].days[0].tmax_c - highest).abs() < 0.006);

    assert_eq!(replay.sync().await.state, SyncState::Unchanged);
    assert_eq!(replay.server.seen().len(), 1, "fresh until {expires}");
    replay.pace.pass(TimeDelta::hours(1));
    assert_eq!(replay.sync().await.state, SyncState::Unchanged);
    assert_eq!(replay.server.seen()[1].header("if-modified-since"), Some(modified.as_str()));
    assert_eq!(replay.air().await.len(), 1);
}

#[tokio::test]
async fn hubeaus_two_pages_of_july_2008_are_stored_whole_and_once() {
    let recorded = |page: u32| {
        let name = format!("hubeau/chronique_01001336_2008-07-09_10_size20_page{page}.206.json");
        Some(std::fs::read_to_string(shared::path(&format!("data/responses/{name}"))?).unwrap())
    };
    let (Some(first), Some(last)) = (recorded(1), recorded(2)) else { return };
    let script = move |seen: &Seen| {
        let here = format!("http://{}", seen.header("host").unwrap());
        // The links are made to lead to the server that was asked; all else is as recorded, 206 included.
        let sent = |page: &String| {
            Reply::Full(206, Vec::new(), page.replace("https://hubeau.eaufrance.fr", &here).into_bytes())
        };
        // What was recorded is of two days; other spans have nothing.
        match seen.path.as_str() {
            path if path.contains("page=2&") => sent(&last),
            path if path.contains("date_fin_mesure=2008-07-12") => sent(&first),
            _ => Reply::json(r#"{"count":0,"next":null,"data":[]}"#),
        }
    };
    let replay = Replay::new("hubeau:01001336", "Europe/Paris", "2008-07-11T06:00:00Z", script).await;
    let done = replay.sync().await;
    assert_eq!(
        (done.state, done.created, done.refused.len()),
        (SyncState::Done, 37, 0),
        "{done:?} {:?}",
        replay.server.paths()
    );
    let pages = replay.server.paths().iter().filter(|path| path.contains("page=2&")).count();
    assert_eq!(pages, 1, "the second page has no next: {:?}", replay.server.paths());
    let stored = replay.readings().await;
    let noted = vec!["4 Non qualifi\u{e9}".to_owned()];
    assert_eq!(stored.len(), 37);
    assert_eq!(stored[0], (at("2008-07-09T09:00:00Z"), 14.433, noted.clone()));
    assert_eq!(stored[36], (at("2008-07-10T21:00:00Z"), 16.034, noted));
    // Fetched again, nothing is new.
    replay.pace.pass(TimeDelta::hours(2));
    let again = replay.sync().await;
    assert_eq!((again.created, again.updated), (0, 0), "{again:?}");
    assert_eq!(replay.readings().await.len(), 37);
}

#[tokio::test]
async fn the_weather_services_point_leads_to_its_grid_of_february_2022() {
    let (Some(point), Some(grid)) = (
        shared::path("data/responses/nws/points_30_-85.json"),
        shared::path("data/responses/nws/gridpoints_TAE_58_65.2022-02-04.json"),
    ) else {
        return;
    };
    let (point, grid) = (std::fs::read_to_string(point).unwrap(), std::fs::read(grid).unwrap());
    let script = move |seen: &Seen| {
        let here = format!("http://{}", seen.header("host").unwrap());
        match seen.path.as_str() {
            // The link is made to lead to the server that was asked; all else is as recorded.
            "/points/30,-85" => Reply::json(point.replace("https://api.weather.gov", &here)),
            "/gridpoints/TAE/58,65" => Reply::Full(200, Vec::new(), grid.clone()),
            _ => Reply::status(404, &[]),
        }
    };
    let replay = Replay::new("nws:30,-85", "America/New_York", "2022-02-04T04:00:00Z", script).await;
    let done = replay.sync().await;
    assert_eq!((done.state, done.refused.len()), (SyncState::Done, 0), "{:?}", done.reason);
    assert_eq!(replay.server.paths(), ["/points/30,-85", "/gridpoints/TAE/58,65"]);
    let agent = replay.server.seen()[0].header("user-agent").unwrap().to_owned();
    assert!(agent.contains("keeper@club.example"), "{agent}");
    let stored = replay.air().await;
    assert_eq!(stored[0].made_at, at("2022-02-04T03:15:41Z"));
    let dates: Vec<String> = stored[0].days.iter().map(|day| day.date.to_string()).collect();
    // The grid runs from the evening of the 3rd to the morning of the 11th.
    assert_eq!((dates[0].as_str(), dates.last().unwrap().as_str(), dates.len()), ("2022-02-04", "2022-02-10", 7));
    assert!(stored[0].days.iter().all(|day| day.tmin_c <= day.tmean_c && day.tmean_c <= day.tmax_c));
}

#[test]
fn recorded_forecasts_state_the_weather_of_their_hours() {
    let name = "data/responses/met-norway/locationforecast_compact_40.7_-74.0_10.2020-07-20.json";
    let (Some(met), Some(grid)) =
        (shared::path(name), shared::path("data/responses/nws/gridpoints_TAE_58_65.2022-02-04.json"))
    else {
        return;
    };
    let now = at("2026-06-15T12:00:00Z");
    let held: serde_json::Value = serde_json::from_slice(&std::fs::read(met).unwrap()).unwrap();
    let met = met_norway::forecast(held["data"].to_string().as_bytes(), now).unwrap();
    // Its first step: 26.5 C, 3.8 m/s, 69.5 % of cloud, 0.0 mm in the hour.
    let first = met.air[0];
    assert_eq!((first.at, first.air_c, first.rain_mm), (at("2020-07-20T11:00:00Z"), 26.5, Some(0.0)));
    assert!((first.wind_kmh.unwrap() - 13.68).abs() < 1e-9 && (first.cloud.unwrap() - 0.695).abs() < 1e-9);
    let grid = nws::forecast(&std::fs::read(grid).unwrap(), now).unwrap();
    // A run of two hours of wind, and one of three of no rain.
    let hour = |k: usize| grid.air[k];
    assert_eq!(hour(0).at, at("2022-02-03T21:00:00Z"));
    assert_eq!((hour(0).wind_kmh, hour(1).wind_kmh, hour(2).wind_kmh), (Some(20.372), Some(20.372), Some(16.668)));
    assert_eq!((hour(0).cloud, hour(1).cloud, hour(2).rain_mm), (Some(0.71), Some(0.73), Some(0.0)));
    assert!(grid.air.iter().all(|hour| hour.rain_mm.is_none_or(|rain| rain < 50.0)));
}
