//! Calendar feeds: bytes, meaning, and how they change.

use chrono::TimeDelta;
use icalendar::{CalendarComponent, Component, DatePerhapsTime};
use rstest::rstest;
use subimago::app::publish;
use subimago::store::taxon;

use crate::lint::{lint, lint_secret};
use crate::support::{TestApp, date, now, on_both, slug};
use crate::water;

async fn feed(app: &TestApp, query: &str) -> String {
    let answer = app.get(&format!("/calendars/ostrey.ics{query}")).send().await.expect(200);
    assert_eq!(answer.header("content-type"), "text/calendar; charset=utf-8");
    let faults = lint(&answer.bytes);
    assert!(faults.is_empty(), "{faults:#?}\n{}", answer.text());
    answer.text()
}

fn events(text: &str) -> Vec<icalendar::Event> {
    let calendar: icalendar::Calendar = text.parse().expect("the reader reads it");
    calendar
        .components
        .into_iter()
        .filter_map(|part| match part {
            CalendarComponent::Event(event) => Some(event),
            _ => None,
        })
        .collect()
}

/// Publishes the forecasts of a taxon anew, `shift` days later than usual, at `hours` from now.
async fn publish_again(app: &TestApp, name: &str, shift: Option<i64>, hours: i64) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, name).await;
    let known = taxon::find_taxon(&mut tx, &slug(name)).await.expect("reads").expect("known");
    let forecasts: Vec<_> = shift
        .into_iter()
        .flat_map(|days| water::reaches().map(|reach| water::forecast(&reach, name, fit_id, days)))
        .collect();
    let at = now() + TimeDelta::hours(hours);
    publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, at).await.expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

fn property<'a>(text: &'a str, uid: &str, name: &str) -> &'a str {
    let event = text.split("BEGIN:VEVENT").find(|event| event.contains(uid)).expect("the event");
    event.split("\r\n").find_map(|line| line.strip_prefix(name)?.strip_prefix(':')).expect("the property")
}

on_both! {
    async fn an_independent_reader_finds_the_same_windows(app) {
        let read = events(&feed(&app, "").await);
        assert_eq!(read.len(), 12, "two windows for each of six forecasts");
        let start = read.iter().find(|event| event.get_summary().is_some_and(|text| {
            text.contains("Ephemera danica starts") && text.contains("Mill Meadow")
        })).expect("the start of Ephemera danica");
        // 5 % of a bell around day 142 with spread 7 falls on day 130, give or take 5 days.
        assert_eq!(start.get_start(), Some(DatePerhapsTime::Date(date(2026, 5, 5))));
        assert_eq!(start.get_end(), Some(DatePerhapsTime::Date(date(2026, 5, 16))), "the end is exclusive");
        let described = start.get_description().expect("described");
        assert!(described.contains("As of 19 May 2026") && described.contains("not a safety statement"), "{described}");
        assert_eq!(start.property_value("STATUS"), Some("TENTATIVE"));
    }
}

on_both! {
    async fn filters_leave_what_was_asked_for(app) {
        assert_eq!(events(&feed(&app, "?reach=Mill-Meadow").await).len(), 6);
        assert_eq!(events(&feed(&app, "?taxon=ephemera-danica").await).len(), 4);
        assert_eq!(events(&feed(&app, "?reach=mill-meadow&taxon=ephemera-danica,baetis-rhodani").await).len(), 4);
        let moderate = events(&feed(&app, "?at_least=moderate").await);
        assert!(moderate.iter().all(|event| event.get_summary().is_some_and(|text| text.contains("Ephemera"))));
        assert_eq!(moderate.len(), 4);
        app.get("/calendars/ostrey.ics?at_least=lots").send().await.problem(400, "bad-query");
    }
}

on_both! {
    async fn an_empty_feed_holds_one_entry_that_stays_the_same(app) {
        for query in ["?at_least=heavy", "?taxon=unheard-of"] {
            let text = feed(&app, query).await;
            assert_eq!(events(&text).len(), 1);
            assert_eq!(feed(&app, query).await, text);
        }
        let elsewhere = app.get("/calendars/elsewhere.ics").send().await.expect(200);
        assert!(lint(&elsewhere.bytes).is_empty());
    }
}

on_both! {
    async fn stamps_and_sequences_follow_the_content(app) {
        let uid = subimago::app::feed::entry_uid(
            &slug("ostrey"), &slug("mill-meadow"), &slug("ephemera-danica"), 1, 2026, subimago::app::feed::WindowKind::Onset,
        ).to_string();
        let first = feed(&app, "").await;
        assert_eq!(property(&first, &uid, "SEQUENCE"), "0");
        // The same forecast again, a day later: not a byte changes.
        publish_again(&app, "ephemera-danica", Some(0), 24).await;
        assert_eq!(feed(&app, "").await, first);
        // Three days later than thought: the entry moves under its old identifier.
        publish_again(&app, "ephemera-danica", Some(3), 30).await;
        let moved = feed(&app, "").await;
        assert_eq!(property(&moved, &uid, "SEQUENCE"), "1");
        assert_eq!(property(&moved, &uid, "DTSTART;VALUE=DATE"), "20260508");
        assert_eq!(property(&moved, &uid, "DTSTAMP"), "20260521T180000Z");
        assert_eq!(events(&moved).len(), 12);
        // A clock that was set back never makes the entry older.
        publish_again(&app, "ephemera-danica", Some(5), -1000).await;
        let back = feed(&app, "").await;
        assert_eq!(property(&back, &uid, "SEQUENCE"), "2");
        assert_eq!(property(&back, &uid, "DTSTAMP"), "20260521T180000Z");
        // Withdrawn: cancelled, not gone.
        publish_again(&app, "ephemera-danica", None, 40).await;
        let gone = feed(&app, "").await;
        assert_eq!(property(&gone, &uid, "STATUS"), "CANCELLED");
        assert_eq!(property(&gone, &uid, "SEQUENCE"), "3");
        assert_eq!(events(&gone).len(), 12);
        // And back again.
        publish_again(&app, "ephemera-danica", Some(0), 50).await;
        assert_eq!(property(&feed(&app, "").await, &uid, "STATUS"), "TENTATIVE");
        assert_eq!(property(&feed(&app, "").await, &uid, "SEQUENCE"), "4");
    }
}

#[test]
fn cancelled_entries_leave_after_a_month() {
    use subimago::app::feed::{cancel, is_served, plan};
    let reach = &water::reaches()[0];
    let known = subimago::domain::Taxon::bare(slug("ephemera-danica"), "Ephemera danica", "species");
    let forecast = water::forecast(reach, "ephemera-danica", uuid::Uuid::nil(), 0);
    let document = subimago::app::document::ForecastDocument::from(&forecast);
    let (uid, content) = plan(&slug("ostrey"), &document, reach, &known).remove(0);
    let entry = subimago::app::feed::Entry { uid, content, sequence: 0, changed_at: now() };
    let cancelled = cancel(&entry, now());
    assert!(is_served(&entry, date(2027, 5, 1)) && !is_served(&entry, date(2027, 6, 1)));
    assert!(is_served(&cancelled, date(2026, 6, 19)) && !is_served(&cancelled, date(2026, 6, 20)));
}

/// `count` reaches like Mill Meadow, with long names.
async fn many_reaches(tx: &mut subimago::store::Tx, count: usize) -> Vec<subimago::domain::Reach> {
    let mut reaches = Vec::new();
    for number in 0..count {
        let mut reach = water::reaches()[0].clone();
        reach.slug = slug(&format!("reach-{number}"));
        reach.name = format!("Reach; number, {number} \\ with a name that goes on for longer than any summary may be");
        subimago::store::place::upsert_reach(tx, &slug("ostrey"), &reach).await.expect("stores");
        reaches.push(reach);
    }
    reaches
}

/// Publishes every taxon on `reaches`, `changed` from what is forecast for 2026.
async fn publish_all(
    tx: &mut subimago::store::Tx,
    reaches: &[subimago::domain::Reach],
    changed: impl Fn(&mut subimago::domain::Forecast),
) {
    for (name, ..) in water::TAXA {
        let fit_id = water::store_fit(tx, name).await;
        let known = taxon::find_taxon(tx, &slug(name)).await.expect("reads").expect("known");
        let of = |reach: &subimago::domain::Reach| {
            let mut forecast = water::forecast(&water::reaches()[0], name, fit_id, 0);
            forecast.reach = reach.slug.clone();
            changed(&mut forecast);
            forecast
        };
        let forecasts: Vec<_> = reaches.iter().map(of).collect();
        publish::publish(tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
    }
}

on_both! {
    async fn a_large_feed_stays_within_its_bounds(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let reaches = many_reaches(&mut tx, 150).await;
        publish_all(&mut tx, &reaches, |_| ()).await;
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let text = feed(&app, "").await;
        assert!(text.len() <= 256 * 1024);
        assert!(events(&text).len() > 200, "{}", events(&text).len());
        assert!(text.replace("\r\n ", "").contains(" entries are left out for want of room"));
        assert!(!feed(&app, "?reach=reach-7").await.contains("left out"));
    }
}

on_both! {
    async fn what_is_to_come_has_room_before_last_year_has(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let reaches = many_reaches(&mut tx, 60).await;
        publish_all(&mut tx, &reaches, |forecast| {
            let year = chrono::Days::new(365);
            let back = |dates: &mut subimago::domain::forecast::DateQuantiles| {
                for date in [&mut dates.p10, &mut dates.p50, &mut dates.p90] {
                    *date = date.map(|date| date - year);
                }
            };
            forecast.season = 2025;
            forecast.milestones.iter_mut().for_each(|milestone| back(&mut milestone.dates));
            back(&mut forecast.peak);
            forecast.days.iter_mut().for_each(|day| day.date = day.date - year);
        }).await;
        publish_all(&mut tx, &reaches, |_| ()).await;
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let text = feed(&app, "").await;
        let last_days: Vec<&str> = text.split("DTEND;VALUE=DATE:").skip(1).map(|rest| &rest[..8]).collect();
        // On 20 May: the peak of one insect, start and peak of another, and notices of none.
        assert_eq!(last_days.iter().filter(|day| **day > "20260520").count(), 3 * (60 + water::reaches().len()), "all of them");
        assert!(last_days.iter().any(|day| **day < *"20260520"), "and what room is left for the latest of the past");
    }
}

const GOOD: &str = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\nCALSCALE:GREGORIAN\r\nMETHOD:PUBLISH\r\nNAME:n\r\n\
X-WR-CALNAME:n\r\nDESCRIPTION:d\r\nX-WR-CALDESC:d\r\nREFRESH-INTERVAL;VALUE=DURATION:PT12H\r\nX-PUBLISHED-TTL:PT12H\r\n\
LAST-MODIFIED:20260520T120000Z\r\nSOURCE;VALUE=URI:http://x\r\nURL:http://x\r\nCOLOR:teal\r\nBEGIN:VEVENT\r\n\
UID:60f023b6-57e7-54e5-99f3-ea18a015e639@x\r\nDTSTAMP:20260520T120000Z\r\nLAST-MODIFIED:20260520T120000Z\r\n\
SEQUENCE:0\r\nDTSTART;VALUE=DATE:20260402\r\nDTEND;VALUE=DATE:20260413\r\nSUMMARY:\u{e9} a\\, b\r\nDESCRIPTION:d\r\n\
STATUS:TENTATIVE\r\nTRANSP:TRANSPARENT\r\nX-MICROSOFT-CDO-BUSYSTATUS:FREE\r\nCATEGORIES:a,b\r\nURL:http://x\r\n\
END:VEVENT\r\nEND:VCALENDAR\r\n";

#[test]
fn the_lint_passes_what_is_right() {
    assert_eq!(lint(GOOD.as_bytes()), Vec::<String>::new());
}

#[rstest]
#[case("\r\n", "\n")]
#[case("SUMMARY:\u{e9} a", "SUMMARY:01234567890123456789012345678901234567890123456789012345678901234567890123456789")]
#[case("DTSTAMP:20260520T120000Z\r\n", "")]
#[case("PRODID:-//x//EN\r\n", "")]
#[case("UID:60f023b6-57e7-54e5-99f3-ea18a015e639@x\r\n", "")]
#[case("DTEND;VALUE=DATE:20260413", "DTEND;VALUE=DATE:20260402")]
#[case("DTSTART;VALUE=DATE:", "DTSTART:")]
#[case("a\\, b", "a, b")]
#[case("a\\, b", "a\\x b")]
#[case("SUMMARY:\u{e9}", "SUMMARY:\u{e9}\r\nATTENDEE:mailto:x@x.invalid\r\nCOMMENT:")]
#[case("END:VEVENT\r\n", "")]
#[case("END:VCALENDAR\r\n", "")]
#[case("COLOR:teal", "UID:x\r\nCOLOR:teal")]
#[case("BEGIN:VCALENDAR", "\u{feff}BEGIN:VCALENDAR")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:d\u{7}\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:d\r\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:d; e\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:d\\\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION:d\r\n\r\nSTATUS")]
#[case("DESCRIPTION:d\r\nSTATUS", "DESCRIPTION\r\nSTATUS")]
#[case("DTEND;VALUE=DATE:20260413\r\n", "")]
#[case("DTEND;VALUE=DATE:20260413", "DTEND;VALUE=DATE:20260230")]
#[case("DTEND;VALUE=DATE:20260413", "DURATION:P11D")]
#[case("DTSTAMP:20260520T120000Z", "DTSTAMP:20260520T120000")]
#[case("SEQUENCE:0", "SEQUENCE:-1")]
#[case("SEQUENCE:0\r\n", "SEQUENCE:0\r\nSEQUENCE:1\r\n")]
#[case("STATUS:TENTATIVE", "STATUS:MAYBE")]
#[case("TRANSP:TRANSPARENT", "TRANSP:OPAQUE")]
#[case("SUMMARY:\u{e9} a\\, b", "SUMMARY:0123456789012345678901234567890123456789012345678901234567\r\n 890")]
#[case("60f023b6-57e7-54e5", "60f023b6-57e7-44e5")]
#[case("CATEGORIES:a,b", "CATEGORIES:a,,b")]
#[case("URL:http://x\r\nEND", "URL:/w/x\r\nEND")]
#[case("SOURCE;VALUE=URI:http://x\r\n", "")]
#[case("METHOD:PUBLISH", "METHOD:REQUEST")]
#[case("X-PUBLISHED-TTL:PT12H\r\n", "")]
fn the_lint_finds_what_is_wrong(#[case] right: &str, #[case] wrong: &str) {
    assert!(GOOD.contains(right));
    assert!(!lint(GOOD.replacen(right, wrong, 1).as_bytes()).is_empty());
}

#[test]
fn the_lint_finds_what_is_too_much_and_what_is_told() {
    let event = &GOOD[GOOD.find("BEGIN:VEVENT").expect("an event")..GOOD.find("END:VCALENDAR").expect("an end")];
    let many = |count: u128| -> String {
        let uid = |number: u128| uuid::Uuid::new_v5(&uuid::Uuid::nil(), &number.to_be_bytes()).to_string();
        let events: Vec<String> =
            (0..count).map(|n| event.replace("60f023b6-57e7-54e5-99f3-ea18a015e639", &uid(n))).collect();
        GOOD.replace(event, &events.concat())
    };
    assert_eq!(lint(many(400).as_bytes()), Vec::<String>::new());
    assert_eq!(lint(many(401).as_bytes()), ["401 events"]);
    assert_eq!(lint(many(0).as_bytes()), ["0 events"]);
    let long =
        GOOD.replacen("DESCRIPTION:d\r\nSTATUS", &format!("DESCRIPTION:d{}\r\nSTATUS", "\r\n d".repeat(70_000)), 1);
    assert_eq!(lint(long.as_bytes()).len(), 1, "only its size is wrong");
    assert!(!lint(GOOD.strip_suffix("\r\n").expect("an end").as_bytes()).is_empty());
    let quiet = GOOD.replacen("SOURCE;VALUE=URI:http://x\r\n", "", 1);
    assert!(lint_secret(quiet.as_bytes()).is_empty() && !lint_secret(GOOD.as_bytes()).is_empty());
    assert!(!lint_secret(quiet.replacen("URL:http://x", "URL:http://x/fe\r\n ed_0", 1).as_bytes()).is_empty());
}

#[test]
fn the_lint_finds_a_fold_inside_a_character_and_a_repeated_event() {
    let place = GOOD.find('\u{e9}').expect("a character of two bytes") + 1;
    let mut folded = GOOD.as_bytes().to_vec();
    folded.splice(place..place, b"\r\n ".iter().copied());
    assert!(!lint(&folded).is_empty());
    let event = &GOOD[GOOD.find("BEGIN:VEVENT").expect("an event")..GOOD.find("END:VCALENDAR").expect("an end")];
    assert!(!lint(GOOD.replace("END:VCALENDAR", &format!("{event}END:VCALENDAR")).as_bytes()).is_empty());
}
