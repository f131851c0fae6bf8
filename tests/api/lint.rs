//! A strict lint of calendar bytes: what RFC 5545 and RFC 7986 ask, and what common programs need.
//! No reading library checks these bytes, so this is the judge.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

/// Faults of a feed under its open address; empty when it is clean.
pub(crate) fn lint(bytes: &[u8]) -> Vec<String> {
    let mut faults = faults_of(bytes);
    let source = bytes.windows(8).filter(|window| window == b"\nSOURCE;").count();
    if source != 1 {
        faults.push(format!("SOURCE stands {source} times"));
    }
    faults
}

/// Faults of a feed under a secret address, which must not tell it.
pub(crate) fn lint_secret(bytes: &[u8]) -> Vec<String> {
    let mut faults = faults_of(bytes);
    let unfolded = String::from_utf8_lossy(bytes).replace("\r\n ", "");
    if unfolded.contains("\nSOURCE") || unfolded.contains("feed_") {
        faults.push("the secret address is told".to_owned());
    }
    faults
}

fn faults_of(bytes: &[u8]) -> Vec<String> {
    let mut faults = Vec::new();
    if bytes.len() > 256 * 1024 {
        faults.push(format!("{} bytes", bytes.len()));
    }
    check_lines(bytes, &mut faults);
    let Ok(text) = std::str::from_utf8(bytes) else {
        faults.push("not UTF-8".to_owned());
        return faults;
    };
    if text.starts_with('\u{feff}') {
        faults.push("byte order mark".to_owned());
    }
    let unfolded = text.replace("\r\n ", "");
    let mut stack: Vec<String> = Vec::new();
    let mut calendar: Vec<(String, String)> = Vec::new();
    let mut events: Vec<Vec<(String, String)>> = Vec::new();
    for line in unfolded.split("\r\n").filter(|line| !line.is_empty()) {
        let Some((name, value)) = line.split_once(':') else {
            faults.push(format!("no value: {line:?}"));
            continue;
        };
        match name {
            "BEGIN" => {
                if value == "VEVENT" {
                    events.push(Vec::new());
                }
                stack.push(value.to_owned());
            }
            "END" => {
                if stack.pop().as_deref() != Some(value) {
                    faults.push(format!("END:{value} does not close what is open"));
                }
            }
            _ => match stack.last().map(String::as_str) {
                Some("VCALENDAR") => calendar.push((name.to_owned(), value.to_owned())),
                Some("VEVENT") => {
                    if let Some(event) = events.last_mut() {
                        event.push((name.to_owned(), value.to_owned()));
                    }
                }
                other => faults.push(format!("{name} inside {other:?}")),
            },
        }
    }
    if !stack.is_empty() {
        faults.push(format!("not closed: {stack:?}"));
    }
    check_calendar(&calendar, &mut faults);
    if events.is_empty() || events.len() > 400 {
        faults.push(format!("{} events", events.len()));
    }
    let mut uids = BTreeSet::new();
    for event in &events {
        check_event(event, &mut uids, &mut faults);
    }
    faults
}

fn check_lines(bytes: &[u8], faults: &mut Vec<String>) {
    if !bytes.ends_with(b"\r\n") {
        faults.push("the last line has no end".to_owned());
    }
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        let Some(content) = line.strip_suffix(b"\r\n") else {
            faults.push("a line does not end in CRLF".to_owned());
            continue;
        };
        if content.len() > 75 {
            faults.push(format!("{} octets in a line", content.len()));
        }
        if content.is_empty() {
            faults.push("an empty line".to_owned());
        }
        if content.iter().any(|byte| byte.is_ascii_control()) {
            faults.push("a control character".to_owned());
        }
        // A fold inside a character leaves a line that is not UTF-8 by itself.
        if std::str::from_utf8(content).is_err() {
            faults.push("a line is not whole UTF-8".to_owned());
        }
    }
}

/// Properties that must stand exactly once.
fn once<'a>(properties: &'a [(String, String)], name: &str, faults: &mut Vec<String>) -> &'a str {
    let found: Vec<&str> = properties.iter().filter(|(known, _)| known == name).map(|(_, value)| &**value).collect();
    if found.len() != 1 {
        faults.push(format!("{name} stands {} times", found.len()));
    }
    found.first().copied().unwrap_or_default()
}

fn check_calendar(calendar: &[(String, String)], faults: &mut Vec<String>) {
    let fixed = BTreeMap::from([
        ("VERSION", "2.0"),
        ("CALSCALE", "GREGORIAN"),
        ("METHOD", "PUBLISH"),
        ("REFRESH-INTERVAL;VALUE=DURATION", "PT12H"),
        ("X-PUBLISHED-TTL", "PT12H"),
    ]);
    for (name, value) in fixed {
        if once(calendar, name, faults) != value {
            faults.push(format!("{name} is not {value}"));
        }
    }
    for name in ["PRODID", "URL", "COLOR"] {
        if once(calendar, name, faults).is_empty() {
            faults.push(format!("{name} is empty"));
        }
    }
    for name in ["NAME", "X-WR-CALNAME", "DESCRIPTION", "X-WR-CALDESC"] {
        check_text(name, once(calendar, name, faults), faults);
    }
    check_instant("LAST-MODIFIED", once(calendar, "LAST-MODIFIED", faults), faults);
    if calendar.iter().any(|(name, _)| name == "UID") {
        faults.push("a UID at calendar level".to_owned());
    }
}

fn check_event(event: &[(String, String)], uids: &mut BTreeSet<String>, faults: &mut Vec<String>) {
    let known = [
        "UID",
        "DTSTAMP",
        "LAST-MODIFIED",
        "SEQUENCE",
        "DTSTART;VALUE=DATE",
        "DTEND;VALUE=DATE",
        "SUMMARY",
        "DESCRIPTION",
        "STATUS",
        "TRANSP",
        "X-MICROSOFT-CDO-BUSYSTATUS",
        "CATEGORIES",
        "URL",
    ];
    for (name, _) in event {
        if !known.contains(&&**name) {
            faults.push(format!("{name} does not belong in an event"));
        }
    }
    let uid = once(event, "UID", faults);
    let (head, host) = uid.split_once('@').unwrap_or_default();
    if uuid::Uuid::parse_str(head).map(|id| id.get_version_num()) != Ok(5) || host.is_empty() {
        faults.push(format!("UID {uid:?} is not a UUIDv5 at a host"));
    }
    if !uids.insert(uid.to_owned()) {
        faults.push(format!("UID {uid:?} stands twice"));
    }
    check_instant("DTSTAMP", once(event, "DTSTAMP", faults), faults);
    check_instant("LAST-MODIFIED", once(event, "LAST-MODIFIED", faults), faults);
    if once(event, "SEQUENCE", faults).parse::<u32>().is_err() {
        faults.push("SEQUENCE is not a number".to_owned());
    }
    let day = |text: &str| NaiveDate::parse_from_str(text, "%Y%m%d").ok().filter(|_| text.len() == 8);
    let (start, end) = (day(once(event, "DTSTART;VALUE=DATE", faults)), day(once(event, "DTEND;VALUE=DATE", faults)));
    if !matches!((start, end), (Some(start), Some(end)) if end > start) {
        faults.push(format!("from {start:?} to {end:?}"));
    }
    let summary = once(event, "SUMMARY", faults);
    check_text("SUMMARY", summary, faults);
    let shown = summary.replace("\\,", ",").replace("\\;", ";").replace("\\\\", "\\").chars().count();
    if !(1..=60).contains(&shown) {
        faults.push(format!("SUMMARY has {shown} characters"));
    }
    check_text("DESCRIPTION", once(event, "DESCRIPTION", faults), faults);
    if !["TENTATIVE", "CONFIRMED", "CANCELLED"].contains(&once(event, "STATUS", faults)) {
        faults.push("STATUS".to_owned());
    }
    if once(event, "TRANSP", faults) != "TRANSPARENT" || once(event, "X-MICROSOFT-CDO-BUSYSTATUS", faults) != "FREE" {
        faults.push("takes up time".to_owned());
    }
    for category in once(event, "CATEGORIES", faults).split(',') {
        check_text("CATEGORIES", category, faults);
    }
    let url = once(event, "URL", faults);
    if !(url.starts_with("http://") || url.starts_with("https://")) || url.contains([' ', '\\', '"']) {
        faults.push(format!("URL {url:?}"));
    }
}

/// Backslashes only as `\\ \; \, \n`; commas and semicolons only behind one.
fn check_text(name: &str, value: &str, faults: &mut Vec<String>) {
    if value.is_empty() {
        faults.push(format!("{name} is empty"));
    }
    let mut characters = value.chars();
    while let Some(character) = characters.next() {
        match character {
            '\\' if !matches!(characters.next(), Some('\\' | ';' | ',' | 'n')) => {
                faults.push(format!("{name} holds a stray backslash"));
            }
            ',' | ';' => faults.push(format!("{name} holds an unescaped {character:?}")),
            _ => {}
        }
    }
}

fn check_instant(name: &str, value: &str, faults: &mut Vec<String>) {
    if chrono::NaiveDateTime::parse_from_str(value, "%Y%m%dT%H%M%SZ").is_err() || value.len() != 16 {
        faults.push(format!("{name} is {value:?}"));
    }
}
