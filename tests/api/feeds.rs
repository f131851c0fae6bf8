//! Private feeds, secret addresses, and the news.

use std::io::Write;
use std::sync::{Arc, Mutex};

use axum::http::Method;
use chrono::TimeDelta;
use serde_json::{Value, json};
use subimago::app::publish;
use subimago::store::taxon;

use crate::lint::lint_secret;
use crate::notices::notice;
use crate::support::{TestApp, now, on_both, slug};
use crate::water;

const FEEDS: &str = "/v1/watersheds/ostrey/feeds";
const ADDRESSES: &str = "/v1/watersheds/ostrey/feeds/addresses";

async fn secret_address(app: &TestApp) -> Value {
    app.post(ADDRESSES, &json!({ "name": "Committee" })).token(&app.keeper).send().await.expect(201).json()
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().expect("a text")
}

async fn set_private(app: &TestApp, private: bool) {
    let tag = app.get(FEEDS).token(&app.keeper).send().await.expect(200).header("etag").to_owned();
    let wish = json!({ "private": private });
    app.patch(FEEDS, &wish).token(&app.keeper).header("if-match", tag).send().await.expect(200);
}

on_both! {
    async fn private_feeds_open_under_secret_addresses_until_they_are_revoked(app) {
        let made = secret_address(&app).await;
        let (calendar, news) = (text(&made, "calendar").to_owned(), text(&made, "news").to_owned());
        assert!(calendar.starts_with("/calendars/feed_") && calendar.ends_with("/ostrey.ics"));
        set_private(&app, true).await;
        for path in ["/calendars/ostrey.ics", "/feeds/ostrey.atom"] {
            let problem = app.get(path).send().await.problem(404, "not-found");
            assert!(text(&problem, "detail").contains("private"), "{problem}");
        }
        let page = app.get("/w/ostrey").send().await.expect(200).text();
        assert!(!page.contains("/calendars/ostrey.ics") && page.contains("ask a keeper"), "the page leads to no closed door");
        app.get("/w/ostrey").send().await.expect(200);
        let answer = app.get(&calendar).send().await.expect(200);
        assert!(lint_secret(&answer.bytes).is_empty(), "{:?}", lint_secret(&answer.bytes));
        assert_eq!(answer.header("cache-control"), "private, max-age=3600");
        assert_eq!(answer.header("referrer-policy"), "no-referrer");
        app.get(&calendar).header("if-none-match", answer.header("etag")).send().await.expect(304);
        let answer = app.get(&news).send().await.expect(200);
        assert!(!answer.text().contains("feed_") && !answer.text().contains("rel=\"self\""));
        let path = format!("{ADDRESSES}/{}", text(&made, "id"));
        app.request(Method::DELETE, &path).token(&app.keeper).send().await.expect(204);
        app.get(&calendar).send().await.problem(404, "not-found");
        app.get(&news).send().await.problem(404, "not-found");
        let listed = app.get(FEEDS).token(&app.keeper).send().await.expect(200).json();
        assert!(listed["addresses"][0]["revoked_at"].is_string() && listed["private"] == true);
        set_private(&app, false).await;
        app.get("/calendars/ostrey.ics").send().await.expect(200);
    }
}

on_both! {
    async fn a_key_opens_its_own_feeds_and_nothing_else(app) {
        let made = secret_address(&app).await;
        let key = text(&made, "calendar").split('/').nth(2).expect("a key").to_owned();
        for path in [
            format!("/calendars/{key}/elsewhere.ics"),
            format!("/feeds/{key}/elsewhere.atom"),
            format!("/calendars/{}/ostrey.ics", &key[..key.len() - 1]),
            format!("/calendars/{}/ostrey.ics", app.keeper),
            "/calendars/feed_/ostrey.ics".to_owned(),
        ] {
            app.get(&path).send().await.problem(404, "not-found");
        }
        // Neither as a token, nor hidden in one.
        for secret in [key.clone(), key.replace("feed_", "subimago_")] {
            app.get("/v1/tokens").token(&secret).send().await.problem(401, "unauthenticated");
            app.get("/v1/watersheds/ostrey/notices").token(&secret).send().await.problem(401, "unauthenticated");
        }
        let listed = app.get(FEEDS).token(&app.keeper).send().await.expect(200).text();
        assert!(!listed.contains(&key) && listed.contains("Committee"));
    }
}

on_both! {
    async fn a_key_is_shown_once(app) {
        let ask = || app.post(ADDRESSES, &json!({ "name": "x" })).token(&app.keeper).header("idempotency-key", "feed-address-key-1");
        let made = ask().send().await.expect(201);
        let key = text(&made.json(), "calendar").split('/').nth(2).expect("a key").to_owned();
        let again = ask().send().await;
        assert!(!again.text().contains(&key));
        again.problem(409, "conflict");
        assert_eq!(app.get(FEEDS).token(&app.keeper).send().await.expect(200).json()["addresses"].as_array().expect("a list").len(), 1);
    }
}

/// What is logged.
#[derive(Debug, Clone, Default)]
struct Log(Arc<Mutex<Vec<u8>>>);

impl Write for Log {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().expect("the log").extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

on_both! {
    async fn no_log_holds_a_key(app) {
        let log = Log::default();
        let writer = log.clone();
        let subscriber = tracing_subscriber::fmt()
            .with_max_level(tracing::Level::TRACE)
            .with_writer(move || writer.clone())
            .finish();
        // While there is one subscriber alone, a line that is first reached by another test, whose thread has none, is
        // taken to interest nobody, for good. With a second one all are asked.
        let _second = tracing::Dispatch::new(tracing::subscriber::NoSubscriber::default());
        let guard = tracing::subscriber::set_default(subscriber);
        let made = secret_address(&app).await;
        let key = text(&made, "calendar").split('/').nth(2).expect("a key").to_owned();
        for path in [text(&made, "calendar"), text(&made, "news"), &format!("/calendars/{key}/elsewhere.ics"), &format!("/{key}")] {
            app.get(path).send().await;
        }
        drop(guard);
        let logged = String::from_utf8_lossy(&log.0.lock().expect("the log")).into_owned();
        assert!(logged.contains("/calendars/***/ostrey.ics"), "the requests are logged: {logged}");
        assert!(!logged.contains(&key) && !logged.contains(&key[5..30]), "{logged}");
    }
}

/// Publishes anew, `shift` days later than usual, at `hours` from now.
async fn publish_again(app: &TestApp, shift: i64, hours: i64) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, "serratella-ignita").await;
    let known = taxon::find_taxon(&mut tx, &slug("serratella-ignita")).await.expect("reads").expect("known");
    let forecasts: Vec<_> =
        water::reaches().iter().map(|reach| water::forecast(reach, "serratella-ignita", fit_id, shift)).collect();
    publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now() + TimeDelta::hours(hours))
        .await
        .expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

on_both! {
    async fn news_tell_what_is_near_what_moved_much_and_what_keepers_say(app) {
        let news = async || {
            let answer = app.get("/feeds/ostrey.atom").send().await.expect(200);
            assert_eq!(answer.header("content-type"), "application/atom+xml; charset=utf-8");
            answer.text()
        };
        let first = news().await;
        // The start of Serratella ignita at Mill Meadow, 5 % of a bell around day 185 with spread 14, falls on day 162
        // give or take 5: three weeks off. Ephemera danica is under way.
        assert!(first.contains("<title>Ephemera danica at Mill Meadow is near: starts 5\u{2013}15 May</title>"), "{first}");
        assert!(!first.contains("Serratella"));
        assert!(first.contains("<link rel=\"self\" type=\"application/atom+xml\" href=\"http://water.test/feeds/ostrey.atom\"/>"));
        publish_again(&app, -4, 1).await;
        assert_eq!(news().await, first, "four days are not much");
        publish_again(&app, -5, 2).await;
        let moved = news().await;
        let title = "<title>Serratella ignita at Mill Meadow now starts 1\u{2013}11 Jun</title>";
        assert_eq!(moved.matches(title).count(), 1, "{moved}");
        assert!(moved.contains("The start was expected 6\u{2013}16 Jun.") && moved.contains("<updated>2026-05-20T14:00:00Z</updated>"));
        publish_again(&app, -12, 3).await;
        let near = news().await;
        assert!(near.contains("Serratella ignita at Mill Meadow is near: starts 25 May\u{2013}4 Jun"), "{near}");
        app.post("/v1/watersheds/ostrey/notices", &notice()).token(&app.keeper).send().await.expect(201);
        let told = news().await;
        assert!(told.contains("<title>Notice, Mill Meadow, 19\u{2013}22 May</title>") && told.contains("&lt;5 cm clear"));
        assert_eq!(told.matches("<id>").count(), told.split("<id>").skip(1).collect::<std::collections::BTreeSet<_>>().len());
        app.get("/feeds/elsewhere.atom").send().await.expect(200);
        app.get("/feeds/ostrey.atom?x=1").send().await.problem(400, "bad-query");
        app.get("/feeds/ostrey.rss").send().await.problem(404, "not-found");
    }
}
