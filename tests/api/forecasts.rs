//! Forecast documents in the form that others rely on.

use chrono::{Days, NaiveDate};
use serde_json::Value;

use crate::support::{TestApp, date, on_both};
use crate::water;

async fn items(app: &TestApp, query: &str) -> Vec<Value> {
    let list = app.get(&format!("/v1/watersheds/ostrey/forecasts{query}")).send().await.expect(200).json();
    assert!(list["next"].is_null(), "forecast lists are not paged");
    list["items"].as_array().expect("items").clone()
}

fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

on_both! {
    async fn the_document_has_exactly_the_agreed_members(app) {
        let all = items(&app, "").await;
        assert_eq!(all.len(), 6, "two reaches, three taxa");
        for document in &all {
            assert_eq!(keys(document), [
                "brood", "cautions", "clock", "data_as_of", "days", "evening", "fit", "hours", "issued_at", "milestones",
                "peak", "progress", "reach", "season", "spinner", "stale", "taxon", "time_zone", "water_hours",
                "water_words", "watershed",
            ]);
            assert_eq!(keys(&document["clock"]), ["beats_calendar", "chosen", "weights"]);
            assert_eq!(keys(&document["clock"]["weights"]), ["calendar", "gated", "photothermal", "thermal"]);
            assert_eq!(keys(&document["progress"]), ["long_run_mean", "thermal_lead_days", "units_so_far"]);
            assert_eq!(keys(&document["fit"]), ["id", "prior_driven", "records", "years"]);
            assert_eq!(keys(&document["hours"]), ["date", "from", "peak", "to"]);
            assert_eq!(keys(&document["peak"]), ["p10", "p50", "p90"]);
            assert_eq!(keys(&document["cautions"][0]), ["code", "source", "text"]);
            let shares: Vec<f64> =
                document["milestones"].as_array().expect("a list").iter().filter_map(|m| m["share"].as_f64()).collect();
            assert_eq!(shares, [0.05, 0.10, 0.50, 0.90, 0.95]);
            assert_eq!(keys(&document["milestones"][0]), ["p10", "p50", "p90", "share"]);
            let days = document["days"].as_array().expect("days");
            assert_eq!(days.len(), 16);
            for day in days {
                assert_eq!(keys(day), [
                    "basis", "class_probabilities", "cumulative", "date", "share", "spinner_chance", "water_basis", "water_c", "water_error_c",
                ]);
                assert_eq!((&day["water_basis"], day["water_error_c"].as_f64()), (&"ahead".into(), Some(1.4)));
                let classes = &day["class_probabilities"];
                assert_eq!(keys(classes), ["heavy", "moderate", "none", "sparse"]);
                let sum: f64 = classes.as_object().expect("classes").values().filter_map(Value::as_f64).sum();
                assert!((sum - 1.0).abs() < 1e-9, "{sum}");
                assert_eq!(keys(&day["water_c"]), ["p10", "p50", "p90"]);
            }
            assert_eq!(days[0]["date"], "2026-05-20", "from today");
        }
    }
}

on_both! {
    async fn what_is_served_is_what_was_computed_to_the_last_bit(app) {
        let reach = &water::reaches()[0];
        let computed = water::forecast(reach, "ephemera-danica", uuid::Uuid::nil(), 0);
        let served = items(&app, "?reach=MILL-meadow&taxon=ephemera-danica&from=2026-01-01&days=370").await;
        assert_eq!(served.len(), 1);
        let days = served[0]["days"].as_array().expect("days");
        assert_eq!(days.len(), 365);
        for (day, expected) in days.iter().zip(&computed.days) {
            assert_eq!(day["date"], expected.date.to_string());
            assert_eq!(day["share"].as_f64().map(f64::to_bits), Some(expected.share.to_bits()));
            let moderate = day["class_probabilities"]["moderate"].as_f64().map(f64::to_bits);
            assert_eq!(moderate, Some(expected.class_probabilities[2].to_bits()));
        }
        assert_eq!(served[0]["hours"]["from"], "15:30");
    }
}

on_both! {
    async fn reach_taxon_from_and_days_narrow_the_answer(app) {
        assert_eq!(items(&app, "?reach=alder-fold").await.len(), 3);
        assert_eq!(items(&app, "?taxon=baetis-rhodani,ephemera-danica&reach=alder-fold").await.len(), 2);
        assert_eq!(items(&app, "?taxon=baetis-rhodani&taxon=ephemera-danica").await.len(), 4);
        let three = items(&app, "?from=2026-06-01&days=3&taxon=ephemera-danica&reach=alder-fold").await;
        let dates: Vec<NaiveDate> = three[0]["days"].as_array().expect("days").iter()
            .map(|day| day["date"].as_str().expect("text").parse().expect("a date")).collect();
        let first = date(2026, 6, 1);
        assert_eq!(dates, [first, first + Days::new(1), first + Days::new(2)]);
        let explicit = items(&app, "?season=2026&as_of=2026-05-20").await;
        assert_eq!(explicit.len(), 6);
    }
}

on_both! {
    async fn what_must_be_computed_is_refused_where_nobody_computes(app) {
        for query in ["?as_of=2026-03-01", "?season=2024"] {
            app.get(&format!("/v1/watersheds/ostrey/forecasts{query}")).send().await.problem(503, "unavailable");
        }
    }
}

on_both! {
    async fn a_small_memory_serves_the_same_from_the_database(app) {
        use subimago::app::Service;
        use subimago::http::{AppState, Settings, router};
        use tower::ServiceExt as _;
        let expected = app.get("/v1/watersheds/ostrey/forecasts").send().await.expect(200);
        let clock = std::sync::Arc::new(subimago::clock::FixedClock(crate::support::now()));
        let small = Service::builder(app.service.db().clone(), clock).snapshot_bytes(100_000).build();
        small.refresh().await.expect("loads");
        let request = axum::http::Request::get("/v1/watersheds/ostrey/forecasts").body(axum::body::Body::empty());
        let answer = router(AppState::new(small, Settings::default())).oneshot(request.expect("a request")).await;
        let tag = answer.expect("infallible").headers()["etag"].clone();
        assert_eq!(tag, expected.headers["etag"]);
    }
}

on_both! {
    async fn names_unknown_here_are_refused_by_parameter(app) {
        // The last is a taxon of the service that does not live in this water.
        let bare = serde_json::json!({ "slug": "new", "scientific_name": "Nova nova", "rank": "species" });
        app.post("/v1/taxa", &bare).token(&app.keeper).send().await.expect(201);
        for (query, parameters) in [
            ("?reach=nope", vec!["reach"]),
            ("?reach=mill-meadow,nope&as_of=2026-03-01", vec!["reach"]),
            ("?taxon=unheard-of&reach=nope", vec!["reach", "taxon"]),
            ("?taxon=new", vec!["taxon"]),
        ] {
            let problem = app.get(&format!("/v1/watersheds/ostrey/forecasts{query}")).send().await.problem(400, "bad-query");
            let errors = problem["errors"].as_array().expect("errors");
            let named: Vec<&str> = errors.iter().filter_map(|error| error["parameter"].as_str()).collect();
            assert_eq!(named, parameters, "{query}");
            assert!(errors.iter().all(|error| error["code"] == "unknown_slug"), "{problem}");
        }
    }
}

/// Computes the same every time, at another time every time.
#[derive(Debug, Default)]
struct Repeats(std::sync::atomic::AtomicI64);

impl subimago::app::forecasts::Hindcast for Repeats {
    fn forecast(
        &self,
        _: &subimago::app::Service,
        query: subimago::app::forecasts::HindcastQuery,
    ) -> subimago::app::forecasts::Forecasting<'_> {
        let minute = self.0.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
        Box::pin(async move {
            let mut computed = water::forecast(&water::reaches()[0], "ephemera-danica", uuid::Uuid::nil(), 0);
            computed.issued_at += chrono::TimeDelta::minutes(minute);
            if query.as_of == Some(date(2026, 3, 2)) {
                computed.beats_calendar = !computed.beats_calendar;
            }
            Ok(vec![computed])
        })
    }
}

on_both! {
    async fn equal_hindcasts_go_under_one_tag(app) {
        use subimago::app::Service;
        use subimago::http::{AppState, Settings, router};
        let clock = std::sync::Arc::new(subimago::clock::FixedClock(crate::support::now()));
        let service = Service::builder(app.service.db().clone(), clock)
            .hindcast(std::sync::Arc::new(Repeats::default())).build();
        service.refresh().await.expect("loads");
        let app = TestApp { router: router(AppState::new(service.clone(), Settings::default())), service, ..app };
        let ask = |day: u32| app.get(&format!("/v1/watersheds/ostrey/forecasts?as_of=2026-03-0{day}"));
        let (first, second) = (ask(1).send().await.expect(200), ask(1).send().await.expect(200));
        assert_ne!(first.bytes, second.bytes, "each says when it was computed");
        assert_eq!(first.header("etag"), second.header("etag"));
        assert!(first.header("etag").starts_with("W/"), "equal in meaning, not in bytes");
        ask(1).header("if-none-match", first.header("etag")).send().await.expect(304);
        assert_ne!(ask(2).send().await.expect(200).header("etag"), first.header("etag"));
    }
}
