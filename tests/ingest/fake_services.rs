//! Open services as they behave, on this machine: what they hold can change between two requests.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use chrono::{Days, NaiveDate, TimeDelta};
use serde_json::{Value, json};
use subimago::app::document::sync::{GaugeSyncDocument, SyncDocument};
use subimago::app::sync::{SourceOptions, Sources, Wanted, sync};
use subimago::clock::FixedClock;
use subimago::domain::Secret;
use subimago::ingest::client::{Limits, Pace as _};

use crate::local_server::{Answers, LocalServer, Reply, Seen, TestPace, client_with, limits};
use crate::support::{Club, at, slug};

/// Rows that the fake of USGS gives at once.
const PAGE: usize = 100;

/// What the services hold, and how they misbehave.
#[derive(Debug, Default)]
pub(crate) struct Holdings {
    /// Daily values of USGS: series, statistic, date.
    pub(crate) daily: BTreeMap<(String, &'static str, NaiveDate), f64>,
    /// Approval of all of them.
    pub(crate) approval: Option<&'static str>,
    /// Replies to paths that begin so, in place of the service's own.
    pub(crate) instead: BTreeMap<&'static str, Reply>,
    /// Rows an hour of Hub'Eau's.
    pub(crate) rows_per_day: u64,
    /// Unit of the datastream.
    pub(crate) unit: &'static str,
}

/// The services, and someone who asks them.
pub(crate) struct World {
    pub(crate) club: Club,
    pub(crate) server: LocalServer,
    pub(crate) holdings: Arc<Mutex<Holdings>>,
    pub(crate) pace: Arc<TestPace>,
    options: SourceOptions,
}

impl World {
    /// A club whose gauges have these sources; `SERVER` in them is the server's address.
    pub(crate) async fn new(sources: &[(&str, &str)]) -> Self {
        let holdings: Arc<Mutex<Holdings>> = Arc::default();
        let held = Arc::clone(&holdings);
        let server = LocalServer::start(move |seen, _| answer(&held.lock().unwrap(), seen)).await;
        let mut club = Club::empty().await;
        club.clock = FixedClock(at("2026-06-15T12:00:00Z"));
        let mut text = "[watershed]\nslug = \"ostrey\"\nname = \"O\"\ntime_zone = \"Europe/London\"\n".to_owned();
        for (gauge, source) in sources {
            let source = source.replace("SERVER", &server.url(""));
            text.push_str(&format!("[[gauge]]\nslug = \"{gauge}\"\nname = \"G\"\nsource = \"{source}\"\n"));
        }
        let document = club.setup(&text).await;
        assert!(document.accepted, "{:?}", document.faults);
        let options = SourceOptions {
            contact: "keeper@club.example".to_owned(),
            usgs_url: server.url("/ogcapi/v0"),
            usgs_key: Secret::default(),
            hubeau_url: server.url("/temperature"),
            smhi_url: server.url("/latest"),
            nws_url: server.url("/nws"),
            met_norway_url: server.url("/met"),
            hosts: Vec::new(),
            history_years: 1,
            overlap_days: 45,
        };
        Self { club, server, holdings, pace: TestPace::new("2026-06-15T12:00:00Z"), options }
    }

    pub(crate) fn sources(&self) -> Sources {
        let limits = Limits { body_bytes: 16 * 1024 * 1024, ..limits() };
        let lookup = Answers::of(&[&["127.0.0.1"]]);
        let policy = self.server.policy(&[]);
        let client = client_with(policy, &self.pace, &self.options.contact, Vec::new(), limits, lookup);
        Sources::with_client(self.options.clone(), client)
    }

    pub(crate) fn clock(&self) -> FixedClock {
        FixedClock(self.pace.now())
    }

    /// Fetches for all gauges.
    pub(crate) async fn sync(&self) -> SyncDocument {
        let (clock, sources) = (self.clock(), self.sources());
        Box::pin(sync(&self.club.db, &clock, &sources, &Wanted::default(), &|_| {})).await.unwrap()
    }

    /// Fetches for the only gauge.
    pub(crate) async fn sync_one(&self) -> GaugeSyncDocument {
        let mut done = self.sync().await;
        assert_eq!(done.gauges.len(), 1);
        done.gauges.remove(0)
    }

    pub(crate) fn change(&self, change: impl FnOnce(&mut Holdings)) {
        change(&mut self.holdings.lock().unwrap());
    }

    /// Days pass.
    pub(crate) fn days_pass(&self, days: i64) {
        self.pace.pass(TimeDelta::days(days));
    }

    /// Changes what a gauge names as its source.
    pub(crate) async fn name_source(&self, gauge: &str, source: &str) {
        let mut tx = self.club.db.write().await.unwrap();
        let mut known =
            subimago::store::place::find_gauge(&mut tx, &slug("ostrey"), &slug(gauge)).await.unwrap().unwrap();
        known.source = Some(source.to_owned());
        subimago::store::place::upsert_gauge(&mut tx, &slug("ostrey"), &known).await.unwrap();
        tx.commit().await.unwrap();
    }
}

impl Holdings {
    /// Gives a series of daily values from `first` for `days` days, one statistic.
    pub(crate) fn fill(&mut self, series: &str, statistic: &'static str, first: &str, days: u64, plus_c: f64) {
        let first: NaiveDate = first.parse().unwrap();
        for n in 0..days {
            let value = 10.0 + plus_c + (n % 7) as f64 / 10.0;
            self.daily.insert((series.to_owned(), statistic, first + Days::new(n)), value);
        }
    }

    /// Mean, least and greatest of a station, ending on `last`.
    pub(crate) fn fill_station(&mut self, last: &str, days: u64) {
        let first = (last.parse::<NaiveDate>().unwrap() - Days::new(days - 1)).to_string();
        for (statistic, plus_c) in [("00003", 0.0), ("00002", -1.5), ("00001", 2.0)] {
            self.fill(&format!("s{statistic}"), statistic, &first, days, plus_c);
        }
    }
}

/// The value of a key in the query, decoded.
pub(crate) fn asked_for(path: &str, key: &str) -> Option<String> {
    let url = reqwest::Url::parse(&format!("http://x{path}")).unwrap();
    url.query_pairs().find(|(known, _)| known == key).map(|(_, value)| value.into_owned())
}

/// The days of a span `from/to`, with or without times.
pub(crate) fn span(text: &str) -> (NaiveDate, NaiveDate) {
    let (from, to) = text.split_once('/').unwrap();
    (from[..10].parse().unwrap(), to[..10].parse().unwrap())
}

fn answer(holdings: &Holdings, seen: &Seen) -> Reply {
    if let Some((_, reply)) = holdings.instead.iter().find(|(path, _)| seen.path.starts_with(*path)) {
        return reply.clone();
    }
    let host = seen.header("host").unwrap();
    let path = seen.path.as_str();
    if path.starts_with("/ogcapi/v0/collections/daily/items") {
        daily(holdings, path, host)
    } else if path.starts_with("/ogcapi/v0/collections/continuous/items") {
        continuous(path)
    } else if path.starts_with("/temperature/chronique") {
        hubeau(holdings, path)
    } else if path.starts_with("/latest/parameter/4/station/80107/period/corrected-archive/data.json") {
        smhi(seen)
    } else if path == "/v1.1/Datastreams(1)" {
        let measure = json!({ "name": "degree", "symbol": holdings.unit, "definition": "" });
        Reply::json(json!({ "name": "water", "unitOfMeasurement": measure }))
    } else if path.starts_with("/v1.1/Datastreams(1)/Observations") {
        things(path, host)
    } else {
        Reply::status(404, &[])
    }
}

fn feature(series: &str, statistic: Option<&str>, time: &str, value: f64, approval: Option<&str>) -> Value {
    json!({ "properties": { "time_series_id": series, "monitoring_location_id": "USGS-1", "parameter_code": "00010",
        "statistic_id": statistic, "time": time, "value": value.to_string(), "unit_of_measure": "degC",
        "approval_status": approval, "qualifier": null, "last_modified": null } })
}

fn daily(holdings: &Holdings, path: &str, host: &str) -> Reply {
    let (from, to) = span(&asked_for(path, "time").unwrap());
    let skip: usize = asked_for(path, "cursor").map_or(0, |text| text.parse().unwrap());
    let inside = holdings.daily.iter().filter(|((.., date), _)| (from..=to).contains(date));
    let rows: Vec<Value> = inside
        .map(|((series, statistic, date), value)| {
            feature(series, Some(statistic), &date.to_string(), *value, holdings.approval)
        })
        .collect();
    let mut links = vec![json!({ "rel": "self", "href": "x" })];
    if skip + PAGE < rows.len() {
        let next = format!("http://{host}/ogcapi/v0/collections/daily/items?cursor={}&time={from}/{to}", skip + PAGE);
        links.push(json!({ "rel": "next", "href": next }));
    }
    let page: Vec<Value> = rows.into_iter().skip(skip).take(PAGE).collect();
    Reply::json(json!({ "features": page, "links": links }))
}

/// Two values a day, at noon and midnight, from the series `old` until 2023 and `new` from then on; a
/// third series has but a few.
fn continuous(path: &str) -> Reply {
    let (from, to) = span(&asked_for(path, "time").unwrap());
    let turn: NaiveDate = "2023-01-01".parse().unwrap();
    let today: NaiveDate = "2026-06-15".parse().unwrap();
    let mut rows = Vec::new();
    for date in from.iter_days().take_while(|date| *date <= to && *date < today) {
        let series = if date < turn { "old" } else { "new" };
        for hour in ["00", "12"] {
            rows.push(feature(series, Some("00011"), &format!("{date}T{hour}:00:00+00:00"), 11.0, Some("Approved")));
        }
    }
    Reply::json(json!({ "features": rows, "links": [] }))
}

/// As many rows a day as are held, but never more than twenty thousand of one question.
fn hubeau(holdings: &Holdings, path: &str) -> Reply {
    let date = |key: &str| -> NaiveDate { asked_for(path, key).unwrap().parse().unwrap() };
    let (from, to) = (date("date_debut_mesure"), date("date_fin_mesure").min("2026-06-14".parse().unwrap()));
    let mut rows = Vec::new();
    let per_day = holdings.rows_per_day;
    for date in from.iter_days().take_while(|date| *date <= to) {
        for n in 0..per_day {
            let minute = n * 1440 / per_day;
            rows.push(json!({ "code_station": "01001336", "code_parametre": "1301", "date_mesure_temp": date,
                "heure_mesure_temp": format!("{:02}:{:02}:00", minute / 60, minute % 60), "resultat": 9.5,
                "code_unite": "27", "code_qualification": "1", "libelle_qualification": "Correcte" }));
        }
    }
    let count = rows.len();
    rows.truncate(20_000);
    let body = json!({ "count": count, "next": null, "data": rows });
    Reply::Full(206, Vec::new(), body.to_string().into_bytes())
}

fn smhi(seen: &Seen) -> Reply {
    if seen.header("if-none-match") == Some("\"m1\"") {
        return Reply::status(304, &[]);
    }
    // Midnights in Sweden, 1 to 3 June 2026.
    let rows: Vec<Value> = (0..3)
        .map(|n| json!({ "date": 1_780_264_800_000_i64 + n * 86_400_000, "value": 12.5, "quality": if n == 2 { "Y" } else { "G" } }))
        .collect();
    let body = json!({ "parameter": { "key": "4", "unit": "\u{b0}C" }, "station": { "key": "80107" }, "value": rows });
    Reply::Full(200, vec![("etag", "\"m1\"".to_owned())], body.to_string().into_bytes())
}

/// Hourly values of two days, on two pages.
fn things(path: &str, host: &str) -> Reply {
    let second = asked_for(path, "$skip").is_some();
    let day = if second { 13 } else { 12 };
    let rows: Vec<Value> = (0..24)
        .map(|hour| json!({ "phenomenonTime": format!("2026-06-{day}T{hour:02}:00:00Z"), "result": 50.0 + f64::from(hour) }))
        .collect();
    let next = (!second).then(|| format!("http://{host}/v1.1/Datastreams(1)/Observations?$skip=24"));
    Reply::json(json!({ "value": rows, "@iot.nextLink": next }))
}
