//! Declaring and changing places and taxa; adding readings; asking for fits.

use serde_json::{Value, json};

use crate::support::{on_both, pointers};

on_both! {
    async fn a_reach_is_made_read_and_changed_without_losing_an_edit(app) {
        let body = json!({ "slug": "weir", "name": "Weir Pool", "latitude": 51.4, "longitude": -1, "gauges": ["bridge"] });
        let made = app.post("/v1/watersheds/ostrey/reaches", &body).token(&app.keeper).send().await.expect(201);
        let path = made.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
        assert_eq!(path, "/v1/watersheds/ostrey/reaches/weir");
        app.post("/v1/watersheds/ostrey/reaches", &body).token(&app.keeper).send().await.problem(409, "conflict");
        let read = app.get(&path).send().await.expect(200);
        assert_eq!(read.json()["gauges"], json!(["bridge"]));
        let tag = read.header("etag").to_owned();
        let rename = |name: &str| json!({ "name": name });
        app.patch(&path, &rename("A")).token(&app.keeper).send().await.problem(428, "precondition-required");
        let first = app.patch(&path, &rename("A")).token(&app.keeper).header("if-match", &tag).send().await.expect(200);
        let lost = app.patch(&path, &rename("B")).token(&app.keeper).header("if-match", &tag).send().await;
        lost.problem(412, "precondition-failed");
        assert_eq!(app.get(&path).send().await.json()["name"], "A");
        let tag = first.header("etag").to_owned();
        let weak = app.patch(&path, &rename("B")).token(&app.keeper).header("if-match", format!("W/{tag}")).send().await;
        weak.problem(412, "precondition-failed");
        let patch = json!({ "name": "B", "elevation_m": 80, "gauges": null });
        let second = app.patch(&path, &patch).token(&app.keeper).header("if-match", &tag).send().await.expect(200);
        assert_eq!(second.json()["elevation_m"], 80.0);
        assert_eq!(second.json()["gauges"], json!([]));
        let tag = second.header("etag").to_owned();
        for (patch, pointer) in [
            (json!({ "slug": "other" }), "#/slug"),
            (json!({ "name": null }), "#/name"),
            (json!({ "latitude": 100 }), "#/latitude"),
            (json!({ "gauges": ["nope"] }), "#/gauges/0"),
            (json!({ "wat": 1 }), "#/wat"),
        ] {
            let problem = app.patch(&path, &patch).token(&app.keeper).header("if-match", &tag).send().await
                .problem(422, "invalid-document");
            assert_eq!(pointers(&problem), [pointer]);
        }
    }
}

on_both! {
    async fn watersheds_gauges_and_taxa_are_made_and_changed(app) {
        let w = json!({ "slug": "fallow", "name": "Fallow Brook", "time_zone": "Europe/Paris" });
        app.post("/v1/watersheds", &w).token(&app.keeper).send().await.expect(201);
        app.post("/v1/watersheds", &w).token(&app.keeper).send().await.problem(409, "conflict");
        let bad = json!({ "slug": "x", "name": "X", "time_zone": "Europe/Nowhere" });
        let problem = app.post("/v1/watersheds", &bad).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/time_zone"]);
        // The maker keeps what was made; others do not.
        let gauge = json!({ "slug": "ford", "name": "Ford" });
        app.post("/v1/watersheds/fallow/gauges", &gauge).token(&app.stranger).send().await.problem(403, "forbidden");
        app.post("/v1/watersheds/fallow/gauges", &gauge).token(&app.keeper).send().await.expect(201);
        let read = app.get("/v1/watersheds/fallow").send().await.expect(200);
        let changed = app.patch("/v1/watersheds/fallow", &json!({ "name": "Fallow Water" })).token(&app.keeper)
            .header("if-match", read.header("etag")).send().await.expect(200);
        assert_eq!(changed.json()["name"], "Fallow Water");
        let read = app.get("/v1/watersheds/fallow/gauges/ford").send().await.expect(200);
        app.patch("/v1/watersheds/fallow/gauges/ford", &json!({ "source": "by hand" })).token(&app.keeper)
            .header("if-match", read.header("etag")).send().await.expect(200);

        let taxon = json!({
            "slug": "rhithrogena-germanica", "scientific_name": "Rhithrogena germanica", "rank": "species",
            "window_early": "03-10", "window_late": "04-30", "body_mm_min": 12, "body_mm_max": 16, "hook_large": 12.0,
            "hook_small": 14, "broods": [{ "median_day_of_year": 95, "sd_days": 10 }],
        });
        app.post("/v1/taxa", &taxon).token(&app.keeper).send().await.expect(201);
        let resident = json!({ "taxon": "rhithrogena-germanica" });
        app.post("/v1/watersheds/fallow/taxa", &resident).token(&app.keeper).send().await.expect(201);
        app.post("/v1/watersheds/fallow/taxa", &resident).token(&app.keeper).send().await.expect(200);
        let residents = app.get("/v1/watersheds/fallow/taxa").send().await.expect(200).json();
        assert_eq!(residents["items"][0]["hook_large"], 12);
        let read = app.get("/v1/taxa/rhithrogena-germanica").send().await.expect(200);
        app.patch("/v1/taxa/rhithrogena-germanica", &json!({ "base_temp_c": 2 })).token(&app.keeper)
            .header("if-match", read.header("etag")).send().await.expect(200);
        // Who tells another season without saying of which waters tells it of the own.
        for (patch, expected) in [
            (json!({ "window_reference": "northern-europe-50-54-n" }), json!("northern-europe-50-54-n")),
            (json!({ "note": "early" }), json!("northern-europe-50-54-n")),
            (json!({ "broods": [{ "median_day_of_year": 96, "sd_days": 9 }] }), Value::Null),
        ] {
            let read = app.get("/v1/taxa/rhithrogena-germanica").send().await.expect(200);
            let changed = app.patch("/v1/taxa/rhithrogena-germanica", &patch).token(&app.keeper)
                .header("if-match", read.header("etag")).send().await.expect(200);
            assert_eq!(changed.json()["window_reference"], expected, "{patch}");
        }
        // A taxon that lives in another's water is not mine to change.
        let read = app.get("/v1/taxa/ephemera-danica").send().await.expect(200);
        app.patch("/v1/taxa/ephemera-danica", &json!({ "base_temp_c": 2 })).token(&app.stranger)
            .header("if-match", read.header("etag")).send().await.problem(403, "forbidden");
        let half = json!({ "slug": "x", "scientific_name": "X", "rank": "kind", "window_early": "03-10", "hook_small": 4,
            "body_mm_min": 9, "body_mm_max": 3, "window_reference": "my river" });
        let problem = app.post("/v1/taxa", &half).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/body_mm_max", "#/hook_large", "#/rank", "#/window_late", "#/window_reference"]);
    }
}

on_both! {
    async fn readings_are_added_whole_versioned_and_listed_by_day(app) {
        let path = "/v1/watersheds/ostrey/gauges/bridge/readings";
        let daily = json!({ "readings": [
            { "date": "2026-05-01", "tmean_c": 10.5, "tmin_c": 9, "tmax_c": 12 },
            { "date": "2026-05-02", "tmean_c": 11, "flag": "suspect" },
        ]});
        let receipt = app.post(path, &daily).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(receipt, json!({ "total": 2, "created": 2, "updated": 0, "unchanged": 0 }));
        let receipt = app.post(path, &daily).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(receipt["unchanged"], 2);
        // Summer time: 23:30 UTC on 3 May is 4 May in London.
        let instants = json!({ "readings": [
            { "at": "2026-05-03T10:00:00Z", "value_c": 10 }, { "at": "2026-05-03T14:00:00+01:00", "value_c": 13 },
            { "at": "2026-05-03T23:30:00Z", "value_c": 9 }, { "at": "2026-05-02T10:00:00Z", "value_c": 99 },
        ]});
        app.post(path, &instants).token(&app.keeper).send().await.expect(200);
        let days = app.get(&format!("{path}?from=2026-05-01&to=2026-05-04")).send().await.expect(200).json();
        let rows: Vec<(String, f64, String)> = days["items"].as_array().expect("items").iter().map(|row| {
            (row["date"].as_str().expect("a day").to_owned(), row["mean_c"].as_f64().expect("a mean"),
             row["flag"].as_str().expect("a flag").to_owned())
        }).collect();
        let row = |day: &str, mean: f64, flag: &str| (day.to_owned(), mean, flag.to_owned());
        assert_eq!(rows, [
            row("2026-05-01", 10.5, "good"), row("2026-05-02", 11.0, "suspect"), row("2026-05-03", 11.5, "good"),
            row("2026-05-04", 9.0, "good"),
        ]);
        let single = app.get(&format!("{path}?from=2026-05-02&to=2026-05-03&step=instant")).send().await.expect(200).json();
        assert_eq!(single["items"].as_array().expect("items").len(), 3);
        assert_eq!(single["items"][0]["flag"], "suspect", "99 degrees is kept, not believed");
        let faulty = json!({ "readings": [
            { "date": "2026-05-05", "tmean_c": 10, "tmin_c": 11 }, { "at": "2026-05-05T10:00:00Z" }, { "tmean_c": 1 },
            { "date": "2026-05-06", "at": "2026-05-06T10:00:00Z" }, { "date": "2026-05-07", "value_c": 3 },
        ]});
        let problem = app.post(path, &faulty).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), [
            "#/readings/0/tmean_c", "#/readings/1/value_c", "#/readings/2/date", "#/readings/3/at", "#/readings/4/value_c",
        ]);
        let twice = json!({ "readings": [{ "date": "2026-05-08", "tmean_c": 10 }, { "date": "2026-05-08", "tmean_c": 11 }] });
        let problem = app.post(path, &twice).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/readings/1/date"]);
        let listed = app.get(&format!("{path}?from=2026-05-05&to=2026-05-09")).send().await.expect(200).json();
        assert_eq!(listed["items"], json!([]), "all or nothing");
        app.get(&format!("{path}?from=2026-05-05&to=2026-05-01")).send().await.problem(400, "bad-query");
    }
}

on_both! {
    async fn a_fit_is_queued_once_and_its_job_can_be_watched(app) {
        let path = "/v1/watersheds/ostrey/fits";
        let queued = app.post(path, &json!({})).token(&app.keeper).send().await.expect(202);
        let job = queued.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
        assert_eq!(queued.json()["state"], "queued");
        let again = app.post(path, &json!({ "taxon": "ephemera-danica" })).token(&app.keeper).send().await.expect(202);
        assert_eq!(again.json()["id"], queued.json()["id"], "the waiting one covers it");
        assert_eq!(app.get(&job).token(&app.keeper).send().await.expect(200).json()["kind"], "fit");
        app.get(&job).token(&app.stranger).send().await.problem(404, "not-found");
        let problem = app.post(path, &json!({ "taxon": "unheard-of" })).token(&app.keeper).send().await
            .problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/taxon"]);
        let fits = app.get(path).send().await.expect(200).json();
        assert_eq!(fits["items"].as_array().expect("items").len(), 3);
    }
}

on_both! {
    async fn looks_and_names_of_a_taxon_are_kept_shown_and_judged(app) {
        let taxon = json!({
            "slug": "rhithrogena-germanica", "scientific_name": "Rhithrogena germanica", "rank": "species",
            "tails": [2.0, 2], "body_colours": ["brown"], "wing_colours": ["brown", "clear"],
            "names": [{ "language": "en", "name": "March brown" },
                { "language": "de", "name": "M\u{e4}rzbraune", "provenance": "the club" }],
        });
        let made = app.post("/v1/taxa", &taxon).token(&app.keeper).send().await.expect(201).json();
        assert_eq!((&made["tails"], &made["wing_colours"]), (&json!([2]), &json!(["brown", "clear"])));
        assert_eq!(made["names"], json!([
            { "language": "en", "name": "March brown", "provenance": "given by the keeper" },
            { "language": "de", "name": "M\u{e4}rzbraune", "provenance": "the club" },
        ]));
        let path = "/v1/taxa/rhithrogena-germanica";
        let read = app.get(path).send().await.expect(200);
        let patch = json!({ "names": [{ "language": "en", "name": "False March brown" }] });
        app.patch(path, &patch).token(&app.keeper).header("if-match", read.header("etag")).send().await.expect(200);
        let read = app.get(path).send().await.expect(200);
        assert_eq!((&read.json()["names"][0]["name"], &read.json()["tails"]), (&json!("False March brown"), &json!([2])));
        app.patch(path, &json!({ "names": null, "tails": [3] })).token(&app.keeper).header("if-match", read.header("etag")).send().await.expect(200);
        let read = app.get(path).send().await.expect(200).json();
        assert_eq!((&read["names"], &read["tails"], &read["body_colours"]), (&json!([]), &json!([3]), &json!(["brown"])));
        let wrong = json!({
            "slug": "y", "scientific_name": "Y", "rank": "species", "tails": [2, 1], "body_colours": ["mauve"],
            "names": [{ "language": "EN", "name": "x" }, { "language": "en" }, { "language": "en", "name": "y" },
                { "language": "en", "name": "y" }],
        });
        let problem = app.post("/v1/taxa", &wrong).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/body_colours/0", "#/names/0/language", "#/names/1/name", "#/names/3/name", "#/tails/1"]);
    }
}
