//! What a reader is told who is refused: in the reader's language, whatever was wrong, and never in English elsewhere
//! than in marks.

use axum::http::Method;
use subimago::domain::{Colour, Condition, Sign, WingsHeld};

use crate::languages::{asked, english_words, texts, unmarked};
use crate::support::{Answer, TestApp, on_both};

const BROWSER: &str = "text/html,application/xhtml+xml,*/*;q=0.8";
const SEEN: &str = "/w/ostrey/reaches/mill-meadow/seen";
const BANK: &str = "/w/ostrey/reaches/mill-meadow/guidance";

/// Names of parameters, of places that are nowhere, and words of addresses.
const SENT: [&str; 24] = [
    "legs",
    "units",
    "reach",
    "taxon",
    "theme",
    "surprise",
    "nope",
    "c",
    "f",
    "light",
    "dark",
    "auto",
    "true",
    "false",
    "w",
    "r",
    "lang",
    "length_mm",
    "length",
    "en",
    "de",
    "to",
    "t",
    "at",
];

/// Addresses that are refused, with the status.
fn refused() -> Vec<(Method, String, u16)> {
    let get = |path: &str, status| (Method::GET, path.to_owned(), status);
    vec![
        get("/nowhere", 404),
        get("/w/nope", 404),
        get("/w/not%20a%20slug", 404),
        get("/w/ostrey/reaches/nope", 404),
        get("/w/ostrey/taxa/nope", 404),
        get("/w/ostrey/reaches/nope/seen", 404),
        get("/w/nope/skill", 404),
        get("/problems/nope", 404),
        get("/report?w=nope", 404),
        get("/report?w=ostrey&r=nope", 404),
        get("/embed/nope", 404),
        get("/w/ostrey?units=k", 400),
        get("/w/ostrey/season?units=c&units=f", 400),
        get("/report?surprise=1&w=a%20b&r=b&r=c", 400),
        get("/embed/ostrey?theme=nope&reach=nope%20x&units=k&legs=1", 400),
        get("/embed/ostrey?reach=nope&taxon=nope", 400),
        get("/embed/ostrey.svg?theme=auto", 400),
        get("/w/%ff", 400),
        get(&format!("{SEEN}?%ff=%ff"), 400),
        (Method::POST, "/w/ostrey".to_owned(), 405),
        (Method::DELETE, "/about".to_owned(), 405),
        get("/test/panics", 500),
        get("/test/sleeps", 503),
        get(&format!("{SEEN}?length_mm=x&tails=9&wings=x&body=x&wing_colour=x&date=x&time=x&legs=6"), 400),
        get(&format!("{SEEN}?date=2026-05-20&date=2026-05-21"), 400),
        get(&format!("{BANK}?signs=x&conditions=x&date=2026-02-30&time=25&legs=6"), 400),
    ]
}

/// What is wrong with `answer`, in `language`.
fn faults(path: &str, answer: &Answer, language: &str) -> Vec<String> {
    let mut html = answer.text();
    assert!(html.starts_with("<!DOCTYPE html>"), "{path}: {html}");
    assert!(html.contains("application/problem+json") || !html.contains("problem+json"), "{path}");
    let lists = [
        Colour::WORDS.map(|(_, w)| w).join(", "),
        Sign::WORDS.map(|(_, w)| w).join(", "),
        Condition::WORDS.map(|(_, w)| w).join(", "),
        WingsHeld::WORDS.map(|(_, w)| w).join(", "),
    ];
    for list in &lists {
        html = html.replace(list, " ");
    }
    let words: Vec<String> = if language == "x-marked" {
        unmarked(&html).into_iter().collect()
    } else {
        let (texts, attributes) = texts(&html);
        english_words(&format!("{}\n{}", texts.join("\n"), attributes.join("\n")))
    };
    words
        .into_iter()
        .filter(|word| !SENT.contains(&word.as_str()))
        .map(|word| format!("{path} in {language}: {word}"))
        .collect()
}

async fn send(app: &TestApp, method: &Method, path: &str) -> Answer {
    app.request(method.clone(), path).header("accept", BROWSER).send().await
}

on_both! {
    async fn every_refusal_speaks_the_readers_language(app) {
        let mut found = Vec::new();
        for (method, path, status) in refused() {
            for language in ["de", "x-marked"] {
                let answer = send(&app, &method, &asked(&path, language)).await.expect(status);
                found.extend(faults(&path, &answer, language));
                assert_eq!(answer.header("content-language"), if language == "de" { "de" } else { "en-x-marked" }, "{path}");
            }
        }
        let large = app.request(Method::POST, "/test/swallows?lang=de").header("accept", BROWSER).raw("x".repeat((1 << 20) + 1));
        found.extend(faults("/test/swallows", &large.send().await.expect(413), "de"));
        for language in ["de", "x-marked"] {
            for path in ["/problems/", "/problems/not-found", "/problems/bad-query"] {
                found.extend(faults(path, &send(&app, &Method::GET, &asked(path, language)).await.expect(200), language));
            }
        }
        app.service.db().close().await;
        for language in ["de", "x-marked"] {
            let answer = send(&app, &Method::GET, &asked("/w/ostrey/skill", language)).await;
            assert!(answer.status.is_server_error());
            found.extend(faults("/w/ostrey/skill", &answer, language));
        }
        assert!(found.is_empty(), "{found:#?}");
    }
}

on_both! {
    async fn the_browser_is_heard_and_the_choice_is_carried_on(app) {
        let by_browser = |path: &str| app.get(path).header("accept", BROWSER).header("accept-language", "de-AT").send();
        let answer = by_browser("/w/ostrey?lang=fr").await.expect(400);
        assert!(answer.text().contains("<html lang=\"de\"") && answer.header("vary").contains("accept-language"));
        assert!(answer.text().contains("lang: Erlaubt sind de und en."), "{}", answer.text());
        assert!(by_browser("/nowhere").await.expect(404).text().contains("<h1>Hier ist nichts</h1>"));
        assert!(!by_browser("/nowhere?lang=en").await.expect(404).text().contains("Hier ist"));
        assert!(!by_browser("/embed/nope").await.expect(404).text().contains("Hier ist"), "the site around it decides");
        let chosen = app.get("/w/nope?lang=de&units=f").header("accept", BROWSER).send().await.expect(404).text();
        assert!(chosen.contains("href=\"/?units=f&amp;lang=de\"") && chosen.contains("href=\"/w/nope?lang=en&amp;units=f\""), "{chosen}");
        assert!(!chosen.contains("<!--"), "nothing is left open: {chosen}");
        for path in ["//elsewhere.test/x", "/\\elsewhere.test/x", "/%22%3E%3Cb%3E?x=%22%3E"] {
            let page = app.get(path).header("accept", BROWSER).send().await.expect(404).text();
            assert!(!page.contains("href=\"//") && !page.contains("href=\"/\\") && !page.contains("<b>"), "no way out: {page}");
        }
    }
}

on_both! {
    async fn programs_and_the_desk_are_told_in_english_whatever_is_asked_for(app) {
        let document = app.get("/w/ostrey?lang=fr&units=k").header("accept-language", "de").send().await.problem(400, "bad-query");
        assert_eq!(document["title"], "A query parameter is wrong");
        assert_eq!(document["errors"][0]["detail"], "must be de or en");
        assert_eq!(document["errors"][0].as_object().expect("a fault").len(), 3, "the rule stays inside: {document}");
        let path = "/v1/watersheds/ostrey/reaches/mill-meadow/seen?length_mm=0&tails=1&body=mauve&legs=6&body=";
        let document = app.get(path).header("accept-language", "de").send().await.problem(400, "bad-query");
        let told: Vec<&str> = document["errors"].as_array().expect("errors").iter().filter_map(|e| e["detail"].as_str()).collect();
        assert_eq!(told, [
            "must be a length in mm between 0.5 and 100",
            "must be 0, 2 or 3: one that seems single has lost the others",
            "must be one of black, grey, brown, rust, olive, green, yellow, cream, orange, clear",
            "is not a parameter of this address",
        ]);
        let desk = app.get("/desk/nope/nope/nope/nope").header("accept", BROWSER).header("accept-language", "de").send().await.expect(404);
        assert!(desk.text().contains("<html lang=\"en-GB\"") && desk.text().contains("Nothing here"), "{}", desk.text());
    }
}
