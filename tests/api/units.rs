//! Celsius or Fahrenheit by the address alone: no cookie, every link carries the choice, documents keep Celsius.

use subimago::store::taxon::{find_taxon, upsert_taxon};

use crate::support::{TestApp, on_both, slug};

const PAGES: [&str; 9] = [
    "/",
    "/about",
    "/w/ostrey",
    "/w/ostrey/season",
    "/w/ostrey/print",
    "/w/ostrey/skill",
    "/w/ostrey/taxa/ephemera-danica",
    "/w/ostrey/reaches/mill-meadow",
    "/w/ostrey/reaches/mill-meadow/card",
];
const MORE: [&str; 4] =
    ["/w/ostrey/seen", "/w/ostrey/reaches/mill-meadow/seen?tails=2", "/report?w=ostrey", "/problems/not-found"];

async fn text(app: &TestApp, path: &str) -> String {
    let answer = app.get(path).send().await.expect(200);
    assert!(!answer.headers.contains_key("set-cookie"), "{path}");
    answer.text()
}

fn in_fahrenheit(path: &str) -> String {
    format!("{path}{}units=f", if path.contains('?') { '&' } else { '?' })
}

/// Addresses of links to pages of ours.
fn links(html: &str) -> Vec<String> {
    html.split("href=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .filter(|link| link.starts_with('/'))
        .filter(|link| {
            !["/assets/", "/v1/", "/calendars/", "/feeds/", "/reference", "/openapi"]
                .iter()
                .any(|head| link.starts_with(head))
        })
        .map(str::to_owned)
        .collect()
}

on_both! {
    async fn no_page_in_fahrenheit_tells_celsius_or_loses_the_choice(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let mut known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        (known.base_temp_c, known.base_temp_sd, known.emergence_water_c) = (Some(5.0), Some(1.0), Some((10.0, 15.0)));
        upsert_taxon(&mut tx, &known).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        for path in PAGES.into_iter().chain(MORE) {
            let html = text(&app, &in_fahrenheit(path)).await;
            let (body, choice) = html.split_once("Temperatures in ").expect("the choice stands at the end");
            assert!(!body.contains("\u{b0}C"), "{path}: {body}");
            assert!(choice.contains("<strong>\u{b0}F</strong>"), "{path}: {choice}");
            let all = links(&html);
            let bare: Vec<&String> = all.iter().filter(|link| !link.contains("units=")).collect();
            assert!(bare.is_empty() && all.len() > 3, "{path}: {bare:?}");
            let back = all.iter().filter(|link| link.contains("units=c")).count();
            assert_eq!(back, 1, "{path} leads back to Celsius once");
            let plain = text(&app, path).await;
            assert!(!plain.contains("units=f\"") || plain.matches("units=f\"").count() == 1, "{path}: Celsius adds nothing to links");
            assert!(!plain.split_once("Temperatures in ").expect("the choice").0.contains("\u{b0}F"), "{path}");
        }
    }
}

on_both! {
    async fn the_same_water_is_told_in_either_scale(app) {
        // 12.25 C at the middle, 10.5 to 14 (invented): 54.05, 50.9 and 57.2 F by definition of the scales.
        let reach = "/w/ostrey/reaches/mill-meadow";
        assert!(text(&app, reach).await.contains("<td>12.2 (10\u{2013}14)</td>"));
        let html = text(&app, &in_fahrenheit(reach)).await;
        assert!(html.contains("<td>54.0 (51\u{2013}57)</td>") && html.contains("Water, \u{b0}F"), "{html}");
        assert!(html.contains("give or take 2.5 \u{b0}F"), "1.4 degrees of difference: {html}");
        assert!(text(&app, &in_fahrenheit("/about")).await.contains("from 68 \u{b0}F do not fish for release"));
        let digest = text(&app, "/w/ostrey/digest.txt?units=f").await.replace("\n  ", " ");
        assert!(digest.contains("from 64 \u{b0}F handle trout") && !digest.contains("\u{b0}C"), "{digest}");
        assert!(text(&app, "/w/ostrey/digest.txt").await.contains("18 \u{b0}C"));
        let taxon = text(&app, "/w/ostrey/taxa/ephemera-danica").await;
        let heat = |html: &str| -> f64 {
            let words = html.split("Mill Meadow: ").nth(1).expect("heat").split(' ').next().expect("a number").to_owned();
            words.parse().expect("a number")
        };
        let there = text(&app, &in_fahrenheit("/w/ostrey/taxa/ephemera-danica")).await;
        assert!((heat(&there) / heat(&taxon) - 1.8).abs() < 0.01, "degree-days have no zero point");
        let form = text(&app, "/report?w=ostrey&units=f").await;
        assert!(form.contains("Water, \u{b0}F") && form.contains("data-units=\"f\""), "{form}");
    }
}

on_both! {
    async fn embeds_carry_the_choice_and_documents_stay_in_celsius(app) {
        let frame = text(&app, "/embed/ostrey?units=f").await;
        assert!(frame.contains("href=\"http://water.test/w/ostrey?units=f\""), "{frame}");
        app.get("/embed/ostrey.svg?units=f").send().await.expect(200);
        for path in ["/w/ostrey?units=k", "/?units=f&units=c", "/embed/ostrey?units=", "/w/ostrey/digest.txt?units=F"] {
            app.get(path).send().await.problem(400, "bad-query");
        }
        app.get("/v1/watersheds/ostrey/forecasts?units=f").send().await.problem(400, "bad-query");
        let csv = text(&app, "/v1/watersheds/ostrey/forecasts.csv").await;
        assert!(csv.lines().next().expect("a head").contains("_c"), "documents name their unit");
    }
}

on_both! {
    async fn a_water_has_a_scale_of_its_own_which_readers_may_overrule(app) {
        let path = "/v1/watersheds/ostrey";
        let read = app.get(path).send().await.expect(200);
        assert_eq!(read.json()["units"], "c");
        let change = |body: serde_json::Value, tag: String| {
            app.request(axum::http::Method::PATCH, path).token(&app.keeper).header("if-match", tag).json(&body).send()
        };
        let tag = read.header("etag").to_owned();
        let tag = tag.trim_start_matches("W/").to_owned();
        change(serde_json::json!({ "units": "k" }), tag.clone()).await.problem(422, "invalid-document");
        let changed = change(serde_json::json!({ "units": "f" }), tag).await.expect(200).json();
        assert_eq!(changed["units"], "f");
        for page in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow", "/w/ostrey/taxa/ephemera-danica", "/report?w=ostrey", "/embed/ostrey"] {
            let html = text(&app, page).await;
            assert!(!html.contains("\u{b0}C</th>") && !html.contains(", \u{b0}C<"), "{page}: {html}");
            if let Some((body, choice)) = html.split_once("Temperatures in ") {
                assert!(!body.contains("\u{b0}C") && choice.contains("<strong>\u{b0}F</strong>"), "{page}");
                assert!(links(body).iter().all(|link| !link.contains("units=")), "{page}: what goes without saying stands in no link");
            }
            let other = text(&app, &format!("{page}{}units=c", if page.contains('?') { '&' } else { '?' })).await;
            if let Some((body, choice)) = other.split_once("Temperatures in ") {
                assert!(!body.contains("\u{b0}F") && choice.contains("<strong>\u{b0}C</strong>"), "{page}");
                assert!(links(body).iter().any(|link| link.contains("units=c")), "{page} carries the reader's choice");
            }
        }
        assert!(text(&app, "/report?w=ostrey").await.contains("data-units=\"f\""));
        assert!(text(&app, "/embed/ostrey?units=c").await.contains("href=\"http://water.test/w/ostrey?units=c\""));
        let digest = text(&app, "/w/ostrey/digest.txt").await;
        assert!(digest.contains("64 \u{b0}F") && !digest.contains("\u{b0}C"), "{digest}");
        // What the command prints.
        let printed = subimago::http::digest(&app.service, &slug("ostrey"), "http://water.test", subimago::words::Language::English).await.expect("prints");
        assert_eq!(printed, digest);
        // Feeds tell no temperatures, and documents stay in Celsius.
        for feed in ["/calendars/ostrey.ics", "/feeds/ostrey.atom"] {
            assert!(!text(&app, feed).await.contains('\u{b0}'), "{feed}");
        }
        assert!(text(&app, "/v1/watersheds/ostrey/forecasts.csv").await.lines().next().expect("a head").contains("_c"));
        // Another water, and pages of none, are told as before.
        for page in ["/w/elsewhere", "/about"] {
            assert!(text(&app, page).await.contains("<strong>\u{b0}C</strong>"), "{page}");
        }
    }
}
