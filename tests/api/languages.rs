//! Every page in every language: nothing that is no message, nothing left in English, and which language is chosen.

use std::collections::BTreeSet;

use subimago::domain::Audience;

use crate::support::{TestApp, on_both};

/// Every address that readers open.
const PAGES: [&str; 21] = [
    "/",
    "/w/ostrey",
    "/w/elsewhere",
    "/w/ostrey/reaches/mill-meadow",
    "/w/ostrey/reaches/mill-meadow/card",
    "/w/ostrey/season",
    "/w/ostrey/print",
    "/w/ostrey/skill",
    "/w/ostrey/taxa/ephemera-danica",
    "/w/ostrey/taxa/serratella-ignita",
    "/w/ostrey/seen",
    "/w/ostrey/reaches/mill-meadow/guidance",
    "/w/ostrey/reaches/mill-meadow/guidance?time=21:15&signs=duns-ignored&conditions=windy&conditions=rising-water",
    "/w/ostrey/reaches/mill-meadow/seen",
    "/w/ostrey/reaches/mill-meadow/seen?length_mm=18&tails=3&wings=roof&body=cream&wing_colour=grey",
    "/about",
    "/problems/",
    "/problems/too-many-requests",
    "/report",
    "/report?w=ostrey&r=mill-meadow",
    "/embed/ostrey",
];

/// What may stand outside messages: names of this water, of the service, of languages and of units.
const NAMES: [&str; 31] = [
    "River Ostrey",
    "River Elsewhere",
    "Mill Meadow",
    "Alder Fold",
    "Ostrey Bridge",
    "Baetis rhodani",
    "Ephemera danica",
    "Serratella ignita",
    "Ephemeroptera",
    "Trichoptera",
    "Europe/London",
    "Subimago",
    "Deutsch",
    "English",
    "\u{b0}C",
    "\u{b0}F",
    "http://water.test",
    "/calendars/ostrey.ics",
    "/calendars/elsewhere.ics",
    "/w/ostrey/reaches/mill-meadow/card",
    "/w/ostrey",
    "/about",
    "?lang=x-marked",
    "https://club.test",
    "https://*.angling.test",
    // What the water's forecasts were stored with, in English alone.
    "Wade with care.",
    "Measured at gauge bridge.",
    // What a keeper wrote.
    "Weed is cut.",
    // Values of the query as they were sent.
    "mm",
    "utf-8",
    "width=device-width, initial-scale=1",
];

const MESSAGE: [char; 2] = ['\u{27e6}', '\u{27e7}'];
const GIVEN: [char; 2] = ['\u{2983}', '\u{2984}'];
/// Attributes that people read or hear.
const READ: [&str; 5] = ["aria-label", "alt", "title", "placeholder", "content"];

/// A page as readers meet it: its texts in order, and its attributes; without code and without what is marked as
/// English.
pub(crate) fn texts(html: &str) -> (Vec<String>, Vec<String>) {
    let (mut texts, mut attributes) = (Vec::new(), Vec::new());
    let mut open: Vec<(String, bool)> = Vec::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        let left_out = open.iter().any(|(_, out)| *out);
        if !left_out && !rest[..at].trim().is_empty() {
            texts.push(decoded(&rest[..at]));
        }
        if rest[at..].starts_with("<!--") {
            rest = rest[at..].split_once("-->").expect("a comment ends").1;
            continue;
        }
        let (tag, after) = rest[at + 1..].split_once('>').expect("a tag ends");
        rest = after;
        let name: String = tag.trim_start_matches('/').chars().take_while(char::is_ascii_alphanumeric).collect();
        if tag.starts_with('/') {
            while let Some((closed, _)) = open.pop() {
                if closed == name {
                    break;
                }
            }
            continue;
        }
        let viewport = tag.contains("name=\"viewport\"") || tag.contains("name=\"color-scheme\"");
        for attribute in READ.iter().filter(|_| !left_out && !viewport) {
            if let Some((_, value)) = tag.split_once(&format!(" {attribute}=\"")) {
                attributes.push(decoded(value.split('"').next().unwrap_or_default()));
            }
        }
        let single = ["meta", "link", "input", "br", "img", "line", "circle", "rect", "path"].contains(&&*name);
        let english = tag.contains(" lang=\"en\"");
        let out = english || ["script", "style", "code", "pre"].contains(&&*name);
        if !(single || tag.ends_with('/') || tag.starts_with('!') || tag.starts_with('?')) {
            open.push((name, out));
        }
    }
    texts.push(decoded(rest));
    (texts, attributes)
}

fn decoded(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&apos;", "'").replace("&amp;", "&")
}

/// What stands outside messages, and inside what is put into them.
#[derive(Default)]
struct Unmarked {
    open: Vec<char>,
    outside: String,
}

impl Unmarked {
    fn read(&mut self, text: &str) {
        for c in text.chars() {
            if MESSAGE.contains(&c) || GIVEN.contains(&c) {
                // What stands side by side in a message is not one word.
                self.outside.push(' ');
            }
            match c {
                c if c == MESSAGE[0] || c == GIVEN[0] => self.open.push(c),
                c if c == MESSAGE[1] || c == GIVEN[1] => drop(self.open.pop()),
                _ if self.open.last() == Some(&MESSAGE[0]) => {}
                c => self.outside.push(c),
            }
        }
        self.outside.push('\n');
    }

    /// Words that are neither messages nor names.
    fn words(&self) -> BTreeSet<String> {
        // A name may stand on two lines of a picture.
        let mut text = self.outside.split_whitespace().collect::<Vec<_>>().join(" ");
        for name in NAMES {
            text = text.replace(name, " ");
        }
        let words = text.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
        words.map(str::to_owned).collect()
    }
}

pub(crate) fn unmarked(html: &str) -> BTreeSet<String> {
    let (texts, attributes) = texts(html);
    let mut found = Unmarked::default();
    texts.iter().for_each(|text| found.read(text));
    let mut words = found.words();
    for attribute in attributes {
        let mut one = Unmarked::default();
        one.read(&attribute);
        words.extend(one.words());
    }
    words
}

pub(crate) fn asked(path: &str, language: &str) -> String {
    format!("{path}{}lang={language}", if path.contains('?') { '&' } else { '?' })
}

/// Words of English that are none of German.
const ENGLISH: [&str; 39] = [
    "the",
    "and",
    "of",
    "is",
    "are",
    "with",
    "from",
    "by",
    "this",
    "that",
    "to",
    "day",
    "days",
    "today",
    "water",
    "expected",
    "chances",
    "forecast",
    "seen",
    "no",
    "not",
    "it",
    "its",
    "for",
    "or",
    "on",
    "at",
    "starts",
    "ends",
    "about",
    "insect",
    "insects",
    "reach",
    "season",
    "report",
    "you",
    "your",
    "likeliest",
    "until",
];

pub(crate) fn english_words(text: &str) -> Vec<String> {
    let mut text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for name in NAMES {
        text = text.replace(name, " ");
    }
    let words = text.split(|c: char| !c.is_alphabetic());
    words.filter(|word| ENGLISH.contains(&word.to_lowercase().as_str())).map(str::to_owned).collect()
}

async fn with_a_notice(app: &TestApp) {
    let body = serde_json::json!({
        "text": "Weed is cut.", "from_date": "2026-05-19", "until_date": "2026-05-30", "audience": Audience::Everyone.as_str(),
    });
    app.post("/v1/watersheds/ostrey/notices", &body)
        .token(&app.keeper)
        .header("idempotency-key", "6f1c2f0e-5b0f-4b57-9a40-0a4cf4f5c001")
        .send()
        .await
        .expect(201);
}

on_both! {
    async fn every_text_of_every_page_is_a_message_or_a_name(app) {
        with_a_notice(&app).await;
        let mut faults = Vec::new();
        for path in PAGES {
            let html = app.get(&asked(path, "x-marked")).send().await.expect(200).text();
            faults.extend(unmarked(&html).into_iter().map(|word| format!("{path}: {word}")));
            assert!(html.contains('\u{27e6}'), "{path} holds messages");
        }
        for path in ["/embed/ostrey.svg", "/w/ostrey/digest.txt", "/feeds/ostrey.atom"] {
            let text = app.get(&asked(path, "x-marked")).send().await.expect(200).text();
            let text = if path.ends_with("atom") {
                // What entries say was stored in the languages that readers are offered.
                let head = text.split("<entry>").next().expect("a head");
                head.lines().filter(|line| !line.contains("urn:uuid:")).collect()
            } else {
                text
            };
            let words: BTreeSet<String> = unmarked(&text).into_iter().filter(|word| !["urn", "uuid", "T", "Z"].contains(&word.as_str())).collect();
            let words: BTreeSet<String> = words.into_iter().filter(|word| word.chars().count() > 1).collect();
            faults.extend(words.into_iter().map(|word| format!("{path}: {word}")));
        }
        assert!(faults.is_empty(), "{faults:#?}");
    }
}

on_both! {
    async fn nothing_of_a_german_page_is_left_in_english(app) {
        with_a_notice(&app).await;
        let mut faults = Vec::new();
        for path in PAGES {
            let answer = app.get(&asked(path, "de")).send().await.expect(200);
            let html = answer.text();
            assert!(html.contains("<html lang=\"de\""), "{path}");
            let (texts, attributes) = texts(&html);
            let words = english_words(&format!("{}\n{}", texts.join("\n"), attributes.join("\n")));
            faults.extend(words.into_iter().map(|word| format!("{path}: {word}")));
        }
        for path in ["/embed/ostrey.svg", "/w/ostrey/digest.txt", "/feeds/ostrey.atom"] {
            let text = app.get(&asked(path, "de")).send().await.expect(200).text();
            let words = english_words(&texts(&text).0.join("\n"));
            faults.extend(words.into_iter().map(|word| format!("{path}: {word}")));
        }
        assert!(faults.is_empty(), "{faults:#?}");
    }
}

fn german(html: &str) -> bool {
    html.contains("<html lang=\"de\"")
}

on_both! {
    async fn the_address_beats_the_browser_and_caches_can_tell_them_apart(app) {
        let page = |path: &str, accepted: &str| app.get(path).header("accept-language", accepted).send();
        for (accepted, wanted) in [
            ("de", true), ("de-AT,de;q=0.9,en;q=0.5", true), ("en,de;q=0.9", false), ("fr,de;q=0.1", true),
            ("fr", false), ("*", false), ("de;q=0,en;q=0.1", false), ("", false),
        ] {
            let answer = page("/w/ostrey", accepted).await.expect(200);
            assert_eq!(german(&answer.text()), wanted, "{accepted}");
            assert_eq!(answer.header("vary"), "accept-language, accept-encoding");
            assert_eq!(answer.header("content-language"), if wanted { "de" } else { "en-GB" });
        }
        let [by_browser, in_english] = [page("/w/ostrey", "de").await, page("/w/ostrey", "en").await];
        assert_ne!(by_browser.header("etag"), in_english.header("etag"));
        let again = app.get("/w/ostrey").header("accept-language", "de").header("if-none-match", by_browser.header("etag"));
        let again = again.send().await.expect(304);
        assert!(again.header("vary").contains("accept-language"));
        assert!(!german(&page("/w/ostrey?lang=en", "de").await.expect(200).text()));
        let chosen = page("/w/ostrey?lang=de&units=f", "en").await.expect(200).text();
        assert!(german(&chosen));
        for link in ["/w/ostrey/reaches/mill-meadow?units=f&amp;lang=de", "/report?w=ostrey&amp;units=f&amp;lang=de"] {
            assert!(chosen.contains(&format!("href=\"{link}\"")), "{link}");
        }
        assert!(chosen.contains("hreflang=\"en\"") && chosen.contains("<strong lang=\"de\">Deutsch</strong>"));
        let problem = app.get("/w/ostrey?lang=fr").send().await.problem(400, "bad-query");
        assert_eq!(problem["errors"][0]["parameter"], "lang");
    }
}

on_both! {
    async fn feeds_and_embeds_follow_the_address_alone(app) {
        for path in ["/calendars/ostrey.ics",
    "/calendars/elsewhere.ics", "/feeds/ostrey.atom", "/embed/ostrey", "/embed/ostrey.svg"] {
            let plain = app.get(path).send().await.expect(200);
            let asked_for = app.get(path).header("accept-language", "de").send().await.expect(200);
            assert_eq!(plain.text(), asked_for.text(), "{path}: a subscription must not change by header");
            let in_german = app.get(&asked(path, "de")).send().await.expect(200);
            assert_ne!(plain.text(), in_german.text(), "{path}");
            assert_ne!(plain.header("etag"), in_german.header("etag"));
            let again = app.get(&asked(path, "de")).header("accept-language", "en").send().await.expect(200);
            assert_eq!(in_german.text(), again.text(), "{path}");
        }
        app.get("/calendars/ostrey.ics?lang=fr").send().await.problem(400, "bad-query");
        app.get("/feeds/ostrey.atom?lang=fr").send().await.problem(400, "bad-query");
    }
}

on_both! {
    async fn a_german_calendar_says_the_same_of_the_same_entries(app) {
        let english = app.get("/calendars/ostrey.ics").send().await.expect(200).text();
        let german = app.get("/calendars/ostrey.ics?lang=de").send().await.expect(200);
        assert_eq!(crate::lint::lint(&german.bytes), Vec::<String>::new());
        let german = german.text();
        let kept = |text: &str| -> Vec<String> {
            let heads = ["UID:", "DTSTAMP:", "SEQUENCE:", "DTSTART", "DTEND", "STATUS:", "LAST-MODIFIED:"];
            text.lines().filter(|line| heads.iter().any(|head| line.starts_with(head))).map(str::to_owned).collect()
        };
        assert!(kept(&english).len() > 20);
        assert_eq!(kept(&english), kept(&german), "identifiers, days and stamps are those of the English feed");
        let unfolded = german.replace("\r\n ", "");
        for line in unfolded.lines().filter(|line| ["SUMMARY", "DESCRIPTION", "NAME", "CATEGORIES"].iter().any(|head| line.starts_with(head))) {
            let text = line.split_once(':').expect("a value").1.replace("\\n", "\n").replace('\\', "");
            assert!(english_words(&text).is_empty(), "{text}: {:?}", english_words(&text));
        }
        assert!(unfolded.contains("beginnt ") && unfolded.contains("http://water.test/w/ostrey/reaches/mill-meadow?lang=de"), "{unfolded}");
    }
}
