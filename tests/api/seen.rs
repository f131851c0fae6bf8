//! "What did I just see?" over the interface and as a form that needs no script.

use serde_json::Value;
use subimago::domain::{Colour, Looks, VernacularName};
use subimago::store::taxon;

use crate::support::{TestApp, on_both, slug};

const PATH: &str = "/v1/watersheds/ostrey/reaches/mill-meadow/seen";
const PAGE: &str = "/w/ostrey/reaches/mill-meadow/seen";

async fn with_looks(app: &TestApp) {
    let mut tx = app.service.db().write().await.expect("writes");
    for mut known in taxon::taxa(&mut tx).await.expect("reads") {
        known.order = Some("Ephemeroptera".to_owned());
        if known.slug == slug("ephemera-danica") {
            known.body_mm = Some((15.0, 25.0));
            let name = VernacularName {
                language: "en".to_owned(),
                name: "Green drake".to_owned(),
                provenance: "x".to_owned(),
            };
            known.names = vec![name];
            known.looks = Looks { tails: vec![3], body: vec![Colour::Cream], wings: vec![Colour::Green] };
            known.provenance.size = "READ: a handbook".to_owned();
        } else {
            known.body_mm = Some((5.0, 9.0));
            known.looks = Looks { tails: vec![2], body: vec![Colour::Olive], wings: vec![Colour::Grey] };
        }
        taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
    }
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

async fn ask(app: &TestApp, query: &str) -> Value {
    app.get(&format!("{PATH}{query}")).send().await.expect(200).json()
}

on_both! {
    async fn signs_rank_the_residents_and_say_why(app) {
        with_looks(&app).await;
        let large = ask(&app, "?length_mm=18&tails=3&body=cream,yellow").await;
        let first = &large["taxa"][0];
        assert_eq!((&first["taxon"], &first["name"]), (&Value::from("ephemera-danica"), &Value::from("Green drake")));
        let because: Vec<&str> = first["speaks_for"].as_array().expect("reasons").iter().filter_map(|r| r["because"].as_str()).collect();
        assert!(because.contains(&"18 mm lies within its 15 to 25 mm"), "{because:?}");
        assert!(first["speaks_for"].as_array().expect("reasons").iter().any(|r| r["provenance"] == "READ: a handbook"));
        let small = ask(&app, "?length_mm=7&tails=2").await;
        assert_ne!(small["taxa"][0]["taxon"], "ephemera-danica");
        let against = small["taxa"].as_array().expect("taxa").iter().find(|one| one["taxon"] == "ephemera-danica").expect("ranked");
        assert!(against["speaks_against"].as_array().expect("reasons").iter().any(|r| r["factor"].as_f64().is_some_and(|f| f < 0.1)));
        let sum: f64 = small["taxa"].as_array().expect("taxa").iter().filter_map(|one| one["odds"].as_f64()).sum();
        assert!((sum + small["none_of_these"].as_f64().expect("odds") - 1.0).abs() < 1e-9);
        let residents = app.get("/v1/watersheds/ostrey/taxa").send().await.expect(200).json();
        assert_eq!(small["taxa"].as_array().map(Vec::len), residents["items"].as_array().map(Vec::len), "every resident");
        let odd = ask(&app, "?length_mm=99&wings=roof").await;
        assert!(odd["none_of_these"].as_f64().expect("odds") > 0.9, "{odd}");
        assert!(odd["look_next"][0].as_str().expect("words").contains("keeper"));
    }
}

on_both! {
    async fn without_signs_the_forecast_speaks_and_its_hour_matters(app) {
        with_looks(&app).await;
        assert_eq!(ask(&app, "").await["at"], "2026-05-20T12:00:00Z");
        let at_peak = ask(&app, "?at=2026-05-20T16:30:00Z").await;
        let at_dawn = ask(&app, "?at=2026-05-20T03:00:00Z").await;
        assert!(at_dawn["none_of_these"].as_f64() > at_peak["none_of_these"].as_f64());
        let other_year = ask(&app, "?at=2031-05-20T12:00:00Z").await;
        assert_eq!(other_year["taxa"][0]["speaks_against"][0]["because"], "it is not forecast for this day");
    }
}

on_both! {
    async fn what_is_wrong_with_the_signs_comes_at_once(app) {
        let wrong = format!("{PATH}?length_mm=-3&tails=1&wings=folded&body=mauve&wing_colour=&legs=6&at=now");
        let problem = app.get(&wrong).send().await.problem(400, "bad-query");
        let mut names: Vec<&str> =
            problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["parameter"].as_str()).collect();
        names.sort_unstable();
        assert_eq!(names, ["at", "body", "legs", "length_mm", "tails", "wing_colour", "wings"]);
        for length in ["0.4", "100.1", "NaN", "inf", "8,5"] {
            app.get(&format!("{PATH}?length_mm={length}")).send().await.problem(400, "bad-query");
        }
        app.get("/v1/watersheds/ostrey/reaches/nope/seen").send().await.problem(404, "not-found");
    }
}

on_both! {
    async fn the_form_works_without_scripts_and_keeps_what_was_given(app) {
        with_looks(&app).await;
        let html = app.get(PAGE).send().await.expect(200).text();
        assert!(html.contains("method=\"get\"") && !html.contains("<script"), "{html}");
        assert!(html.contains("value=\"2026-05-20\"") && html.contains("value=\"13:00\""), "now at the water: {html}");
        // As a browser sends it: everything, also what is empty; at the hour of the forecast, 17:30 British summer time.
        let sent = "?length_mm=18&tails=3&wings=&body=cream&wing_colour=&date=2026-05-20&time=17%3A30";
        let html = app.get(&format!("{PAGE}{sent}")).send().await.expect(200).text();
        assert!(html.contains("Green drake (<i>Ephemera danica</i>), "), "{html}");
        assert!(html.contains("<option value=\"3\" selected>") && html.contains("value=\"18\"") && html.contains("17:30"), "{html}");
        assert!(html.contains("18 mm lies within its 15 to 25 mm") && html.contains("None of these"));
        let same = ask(&app, "?length_mm=18&tails=3&body=cream&at=2026-05-20T16:30:00Z").await;
        assert!(same["taxa"][0]["odds"].as_f64().expect("odds") > 0.995);
        assert!(html.contains("<strong>over 99 in 100</strong>"), "never a promise: {html}");
        let unsure = "?length_mm=&tails=2&date=2026-05-20&time=17%3A30";
        let html = app.get(&format!("{PAGE}{unsure}")).send().await.expect(200).text();
        let same = ask(&app, "?tails=2&at=2026-05-20T16:30:00Z").await;
        let odds = format!("<strong>{:.0} in 100</strong>", 100.0 * same["taxa"][0]["odds"].as_f64().expect("odds"));
        assert!(html.contains(&odds), "{odds} in {html}");
    }
}

on_both! {
    async fn a_wrong_field_is_told_at_the_field(app) {
        let answer = app.get(&format!("{PAGE}?length_mm=%3Cb%3E&tails=2&date=2026-02-31&legs=6")).header("accept", "text/html").send().await.expect(400);
        let html = answer.text();
        assert!(html.contains("id=\"length_mm-error\">must be a length in mm between 0.5 and 100<"), "{html}");
        assert!(html.contains("aria-describedby=\"length_mm-error\"") && html.contains("aria-invalid=\"true\""));
        assert!(html.contains("id=\"date-error\"") && html.contains("legs is not a parameter"), "{html}");
        assert!(html.contains("value=\"&lt;b&gt;\"") && html.contains("<option value=\"2\" selected>"), "kept and harmless");
        assert!(!html.contains("It may have been"));
    }
}

on_both! {
    async fn the_page_is_linked_from_where_the_question_comes_up(app) {
        let reach = app.get("/w/ostrey/reaches/mill-meadow").send().await.expect(200).text();
        assert!(reach.contains(&format!("href=\"{PAGE}\"")));
        let form = app.get("/report?w=ostrey&r=mill-meadow").send().await.expect(200).text();
        assert!(form.contains(&format!("href=\"{PAGE}\"")));
        let open = app.get("/report?w=ostrey").send().await.expect(200).text();
        assert!(open.contains("href=\"/w/ostrey/seen\""));
        let choice = app.get("/w/ostrey/seen").send().await.expect(200).text();
        assert!(choice.contains(&format!("href=\"{PAGE}\"")));
        app.get("/w/ostrey/reaches/nope/seen").header("accept", "text/html").send().await.expect(404);
    }
}

on_both! {
    async fn tags_of_the_tables_makers_are_not_shown(app) {
        with_looks(&app).await;
        let html = app.get(&format!("{PAGE}?length_mm=18")).header("accept", "text/html").send().await.expect(200).text();
        assert!(html.contains("(a handbook)") && !html.contains("READ"), "{html}");
    }
}
