//! Guidance in the form that others rely on.

use serde_json::Value;
use subimago::domain::Taxon;
use subimago::domain::taxon::EmergenceMode;
use subimago::store::taxon;

use crate::support::{TestApp, on_both, slug};

const PATH: &str = "/v1/watersheds/ostrey/reaches/mill-meadow/guidance";
/// 17:30 at the river: the likeliest hour of every insect there.
const PEAK: &str = "2026-05-20T16:30:00Z";

/// Gives two of the three insects traits.
async fn with_traits(app: &TestApp) {
    let mut tx = app.service.db().write().await.expect("writes");
    for mut known in taxon::taxa(&mut tx).await.expect("reads") {
        let danica = known.slug == slug("ephemera-danica");
        known.order = Some("Ephemeroptera".to_owned());
        if danica {
            known.body_mm = Some((15.0, 25.0));
            known.hooks = Some((8, 12));
            known.nymph_habit = Some("burrower".to_owned());
        } else {
            known.emergence_mode = Some(EmergenceMode::CrawlOut);
            known.body_mm = Some((5.0, 9.0));
        }
        known.spinner_time = Some("evening".to_owned());
        taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
    }
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

async fn ask(app: &TestApp, query: &str) -> Value {
    app.get(&format!("{PATH}{query}")).send().await.expect(200).json()
}

fn weights(list: &Value) -> Vec<f64> {
    list.as_array().expect("a list").iter().map(|row| row["weight"].as_f64().expect("a weight")).collect()
}

fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

on_both! {
    async fn the_document_has_exactly_the_agreed_members(app) {
        with_traits(&app).await;
        let document = ask(&app, &format!("?at={PEAK}")).await;
        assert_eq!(keys(&document), [
            "at", "cautions", "check_next", "hooks", "imitations", "length_mm", "reach", "rules", "stages", "taxa",
            "water", "water_type", "watershed",
        ]);
        assert_eq!((&document["watershed"], &document["reach"]), (&Value::from("ostrey"), &Value::from("mill-meadow")));
        assert_eq!(document["at"], PEAK);
        assert_eq!(keys(&document["taxa"][0]), ["taxon", "weight"]);
        assert_eq!(keys(&document["stages"][0]), ["stage", "weight"]);
        assert_eq!(keys(&document["imitations"][0]), ["name", "weight"]);
        assert_eq!(keys(&document["rules"][0]), ["because", "id", "provenance"]);
        assert_eq!(keys(&document["cautions"][0]), ["code", "source", "text"]);
        for list in ["taxa", "stages", "imitations"] {
            let weights = weights(&document[list]);
            assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{list}: {weights:?}");
            assert!(weights.is_sorted_by(|a, b| a >= b), "{list}: {weights:?}");
        }
        assert_eq!(document["taxa"][0]["taxon"], "ephemera-danica");
        assert_eq!(document["stages"][0]["stage"], "emerger");
        assert_eq!(document["length_mm"], serde_json::json!({ "from": 15.0, "to": 25.0 }));
        assert_eq!(document["hooks"], serde_json::json!({ "from": 8, "to": 12 }));
        assert_eq!(document["water_type"], "pool");
        assert!(!document["check_next"].as_array().expect("a list").is_empty());
    }
}

on_both! {
    async fn hours_taxa_and_signs_change_the_answer(app) {
        with_traits(&app).await;
        let stage = |document: &Value| document["stages"][0]["stage"].as_str().expect("a stage").to_owned();
        assert_eq!(stage(&ask(&app, "?at=2026-05-20T06:00:00Z").await), "nymph", "long before");
        // The sun sets about 20:00 UTC; spinners fly some three quarters of an hour before.
        assert_eq!(stage(&ask(&app, "?at=2026-05-20T19:15:00Z&taxon=ephemera-danica").await), "spent");
        // The same instant with another offset is the same moment.
        let peak = ask(&app, &format!("?at={PEAK}")).await;
        assert_eq!(ask(&app, "?at=2026-05-20T17:30:00%2B01:00").await, peak);
        let ignored = ask(&app, &format!("?at={PEAK}&signs=duns-ignored,late-refusals")).await;
        assert_eq!(ignored["length_mm"]["to"], 21.3, "0.85 of 25 mm");
        assert!(ignored["rules"].as_array().expect("rules").iter().any(|rule| rule["id"] == "duns-ignored"));
        assert_eq!(ask(&app, &format!("?at={PEAK}&signs=late-refusals&signs=duns-ignored")).await, ignored);
        // The middle of its season.
        let one = ask(&app, "?at=2026-07-04T16:30:00Z&taxon=SERRATELLA-ignita").await;
        assert_eq!(one["taxa"].as_array().expect("taxa").len(), 1);
        assert_eq!(one["taxa"][0]["taxon"], "serratella-ignita");
        assert_eq!(one["imitations"][0]["name"], "nymph fished near the edge");
        assert_eq!(one["hooks"], Value::Null);
    }
}

on_both! {
    async fn now_is_the_default_and_a_day_without_forecast_says_so(app) {
        let now = ask(&app, "").await;
        assert_eq!(now["at"], "2026-05-20T12:00:00Z");
        assert_eq!(now, ask(&app, "?at=2026-05-20T12:00:00Z").await);
        let other_year = ask(&app, "?at=2031-05-20T12:00:00Z").await;
        assert_eq!(other_year["taxa"], serde_json::json!([]));
        assert_eq!(other_year["length_mm"], Value::Null);
        assert_eq!(other_year["rules"][0]["id"], "no-forecast");
    }
}

on_both! {
    async fn what_is_wrong_with_the_question_comes_at_once(app) {
        let wrong = format!("{PATH}?at=yesterday&signs=red-sky,duns-ignored&taxon=a%20b&days=3");
        let problem = app.get(&wrong).send().await.problem(400, "bad-query");
        let mut names: Vec<&str> =
            problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["parameter"].as_str()).collect();
        names.sort_unstable();
        assert_eq!(names, ["at", "days", "signs", "taxon"]);
        let problem = app.get(&format!("{PATH}?taxon=no-such-fly")).send().await.problem(400, "bad-query");
        assert_eq!((&problem["errors"][0]["parameter"], &problem["errors"][0]["code"]),
            (&Value::from("taxon"), &Value::from("unknown_slug")));
        for query in ["?signs=", "?at=2026-05-20T12:00:00", "?at=2026-05-20T12:00:00-00:00", "?at=", "?at=3500-01-01T00:00:00Z"] {
            app.get(&format!("{PATH}{query}")).send().await.problem(400, "bad-query");
        }
        app.get("/v1/watersheds/ostrey/reaches/nope/guidance").send().await.problem(404, "not-found");
    }
}

on_both! {
    async fn cautions_stand_where_the_decision_is_made(app) {
        let document = ask(&app, &format!("?at={PEAK}")).await;
        let codes: Vec<&str> =
            document["cautions"].as_array().expect("cautions").iter().filter_map(|c| c["code"].as_str()).collect();
        for code in ["wading", "lightning", "water", "not-a-safety-statement", "spawning-gravel", "collecting", "clean-check-dry"] {
            assert_eq!(codes.iter().filter(|known| **known == code).count(), 1, "{code} in {codes:?}");
        }
        assert_eq!(document["cautions"][0]["text"], "Wade with care.", "the reach's own words first");
        let empty = ask(&app, "?at=2031-05-20T12:00:00Z").await;
        assert!(empty["cautions"].as_array().expect("cautions").len() >= codes.len());
    }
}

on_both! {
    async fn traits_speak_where_no_hours_are_forecast(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let known = Taxon { peak_hour: Some(21.0), ..Taxon::bare(slug("ephemera-danica"), "Ephemera danica", "species") };
        taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
        let fit = crate::water::store_fit(&mut tx, "ephemera-danica").await;
        let forecasts: Vec<_> = crate::water::reaches()
            .iter()
            .map(|reach| subimago::domain::Forecast { hours: None, ..crate::water::forecast(reach, "ephemera-danica", fit, 0) })
            .collect();
        subimago::app::publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, crate::support::now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let stage = |document: &Value| document["stages"][0]["stage"].as_str().expect("a stage").to_owned();
        // 21:00 solar time is 21:06 UTC at 1.5 degrees west.
        let at_peak = ask(&app, "?taxon=ephemera-danica&at=2026-05-20T21:06:00Z").await;
        assert_eq!(stage(&at_peak), "emerger");
        let at_noon = ask(&app, "?taxon=ephemera-danica&at=2026-05-20T12:00:00Z").await;
        assert_eq!(stage(&at_noon), "nymph");
        assert!(at_peak["rules"].as_array().expect("rules").iter().any(|rule| rule["id"] == "dark"));
        assert!(!at_noon["rules"].as_array().expect("rules").iter().any(|rule| rule["id"] == "dark"));
    }
}

on_both! {
    async fn the_weather_at_sunset_and_what_is_seen_there_speak(app) {
        let ids = |document: &Value| -> Vec<String> {
            let rules = document["rules"].as_array().expect("rules");
            rules.iter().filter_map(|rule| rule["id"].as_str().map(str::to_owned)).collect()
        };
        let has = |document: &Value, id: &str| ids(document).iter().any(|known| known == id);
        let mut tx = app.service.db().write().await.expect("writes");
        let known = Taxon { peak_hour: Some(19.5), ..Taxon::bare(slug("ephemera-danica"), "Ephemera danica", "species") };
        taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
        let fit = crate::water::store_fit(&mut tx, "ephemera-danica").await;
        let hour = subimago::domain::air::WeatherHour {
            at: crate::support::now(), air_c: 25.0, wind_kmh: Some(5.0), cloud: Some(0.1), rain_mm: Some(0.0),
        };
        let day = crate::support::date(2026, 5, 20);
        let evening = subimago::domain::air::EveningWeather { date: day, made_at: crate::support::now(), hour };
        let forecasts: Vec<_> = crate::water::reaches()
            .iter()
            .map(|reach| subimago::domain::Forecast {
                hours: None, evening: Some(evening), ..crate::water::forecast(reach, "ephemera-danica", fit, 0)
            })
            .collect();
        subimago::app::publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, crate::support::now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        // Sunset at 51.5 N on that day is about 19:50 local solar time; the place lies six minutes west of Greenwich.
        let dusk = "?taxon=ephemera-danica&at=2026-05-20T19:40:00Z";
        let told = ask(&app, dusk).await;
        assert!(has(&told, "hot-dry-duns-leave") && has(&told, "bright-sun-deeper"), "{told}");
        // At noon the weather at sunset says nothing, nor the day after.
        for other in ["2026-05-20T12:00:00Z", "2026-05-21T19:40:00Z"] {
            // A rule that does not go by the hour of the insect.
            assert!(!has(&ask(&app, &format!("?taxon=ephemera-danica&at={other}")).await, "bright-sun-deeper"), "{other}");
        }
        let seen = ask(&app, &format!("{dusk}&conditions=rising-water,windy")).await;
        assert!(has(&seen, "rising-water") && seen["check_next"].to_string().contains("Leave the water now"), "{seen}");
        assert_eq!(seen["water_type"], "slow-margin");
        app.get(&format!("{PATH}?conditions=gale")).send().await.problem(400, "bad-query");
    }
}

on_both! {
    async fn the_page_asks_on_the_bank_and_keeps_what_was_ticked(app) {
        with_traits(&app).await;
        let page = "/w/ostrey/reaches/mill-meadow/guidance";
        let plain = app.get(page).send().await.expect(200).text();
        assert!(plain.contains("name=\"signs\" value=\"duns-ignored\"") && !plain.contains(" checked"), "{plain}");
        let asked = format!("{page}?date=2026-05-20&time=17:30&signs=duns-ignored&conditions=windy&conditions=rising-water");
        let told = app.get(&asked).send().await.expect(200).text();
        for ticked in ["value=\"duns-ignored\" checked", "value=\"windy\" checked", "value=\"rising-water\" checked"] {
            assert!(told.contains(ticked), "{ticked} in {told}");
        }
        assert_eq!(told.matches(" checked").count(), 3);
        assert!(told.contains("value=\"17:30\"") && told.contains("For 17:30: ") && plain.contains("For ") && !plain.contains("when most is expected"), "{told}");
        let first = told.find("Look first").expect("hints");
        assert!(told[first..].find("Leave the water now").is_some_and(|at| at < 200), "the urgent word comes first");
        // The same answer as programs get.
        let document = ask(&app, &format!("?at={PEAK}&signs=duns-ignored&conditions=windy,rising-water")).await;
        let stage = document["stages"][0]["stage"].as_str().expect("a stage");
        assert!(told.contains(&format!("Fish are likeliest at the {stage}")), "{stage} in {told}");

        let wrong = app.get(&format!("{page}?time=25:99&signs=red-sky")).send().await.expect(400).text();
        assert!(wrong.contains("time-error") && wrong.contains("must be a time of day"), "{wrong}");
        assert!(wrong.contains("id=\"signs-error\">must be one of "), "{wrong}");
        let reach = app.get("/w/ostrey/reaches/mill-meadow").send().await.expect(200).text();
        assert!(reach.contains(&format!("href=\"{page}\"")), "the reach leads to it");
    }
}

on_both! {
    async fn the_page_shows_every_reason_and_every_hint_of_the_answer(app) {
        with_traits(&app).await;
        let document = ask(&app, &format!("?at={PEAK}&signs=dark-wing-pads,deep-flashes")).await;
        let html = app.get("/w/ostrey/reaches/mill-meadow/guidance?date=2026-05-20&time=17:30&signs=dark-wing-pads&signs=deep-flashes")
            .header("accept", "text/html").send().await.expect(200).text();
        let plain = html.replace("&quot;", "\"").replace("&amp;", "&");
        for (list, key) in [("rules", Some("because")), ("check_next", None)] {
            let told = document[list].as_array().expect("a list");
            for one in told {
                let words = key.map_or(one, |key| &one[key]).as_str().expect("words");
                assert!(plain.contains(words), "{words}: {html}");
            }
        }
        assert!(document["rules"].as_array().expect("rules").len() > 6, "the test needs more than a handful: {document}");
    }
}
