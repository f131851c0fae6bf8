//! Water temperature that arrives by itself, from fake services to the database.

use chrono::{Days, NaiveDate};
use serde_json::json;
use subimago::app::document::sync::SyncState;
use subimago::app::{jobs, work};
use subimago::domain::job::{JobState, Kinds};
use subimago::domain::{Quality, Reading, ReadingTime};
use subimago::store::{Span, job, reading};

use crate::answers::usgs_row;
use crate::fake_services::{World, asked_for, span};
use crate::local_server::Reply;
use crate::support::{at, day, slug};

fn dates(readings: &[Reading]) -> Vec<NaiveDate> {
    readings
        .iter()
        .filter_map(|row| if let ReadingTime::Day { date, .. } = row.time { Some(date) } else { None })
        .collect()
}

#[tokio::test]
async fn history_comes_first_then_only_news_and_revisions() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill_station("2026-06-14", 200);
        held.approval = Some("Approved");
    });
    let first = world.sync_one().await;
    assert_eq!((first.state, first.fetched, first.created, first.updated), (SyncState::Done, 200, 200, 0));
    assert_eq!(first.series, ["s00003", "s00002", "s00001"]);
    assert_eq!((first.through, first.notes.len()), (Some(day("2026-06-14")), 0));
    let asked = world.server.paths();
    assert_eq!(asked.len(), 6, "600 rows by the hundred");
    assert_eq!(asked_for(&asked[0], "time").as_deref(), Some("2025-06-15/2026-06-16"));
    assert_eq!(asked_for(&asked[0], "parameter_code").as_deref(), Some("00010"));
    let stored = world.club.daily("bridge").await;
    assert_eq!(stored.len(), 200);
    let ReadingTime::Day { mean: tmean_c, low: tmin_c, high: tmax_c, .. } = stored[3].time else { panic!("a day") };
    assert_eq!((tmean_c, tmin_c, tmax_c), (10.3, 8.8, 12.3));
    assert_eq!((stored[3].source.as_str(), &*stored[3].qualifiers), ("usgs:USGS-1", &["Approved".to_owned()][..]));
    // History is taken as known a day after; yesterday we only know now.
    assert!(stored[3].known_assumed && !stored[199].known_assumed);
    assert_eq!(stored[199].known_at, at("2026-06-15T12:00:00Z"));

    let again = world.sync_one().await;
    assert_eq!((again.fetched, again.created, again.updated, again.unchanged), (46, 0, 0, 46));
    assert_eq!(asked_for(&world.server.paths()[6], "time").as_deref(), Some("2026-04-30/2026-06-16"), "45 days back");

    // Two days later: two more days, and one old day revised.
    world.days_pass(2);
    let revised = ("s00003".to_owned(), "00003", day("2026-06-01"));
    world.change(|held| {
        held.fill_station("2026-06-16", 202);
        held.daily.insert(revised, 9.9);
    });
    let third = world.sync_one().await;
    assert!(third.created == 2 && third.updated >= 1, "{third:?}");
    let known_by = |when: &str| (slug("ostrey"), slug("bridge"), Some(at(when)));
    let mean = async |(watershed, gauge, known): (_, _, _)| {
        let mut tx = world.club.db.read().await.unwrap();
        let only = Span { from: Some(day("2026-06-01")), to: Some(day("2026-06-01")) };
        let rows = reading::daily_readings(&mut tx, &watershed, &gauge, known, only).await.unwrap();
        if let ReadingTime::Day { mean: tmean_c, .. } = rows[0].time { tmean_c } else { 0.0 }
    };
    assert_ne!(mean(known_by("2026-06-16T00:00:00Z")).await, 9.9, "what was known then");
    assert_eq!(mean(known_by("2026-06-17T13:00:00Z")).await, 9.9);
}

#[tokio::test]
async fn what_an_outage_hid_counts_as_known_when_it_was_fetched() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| held.fill("m", "00003", "2026-06-01", 14, 0.0));
    world.sync_one().await;
    world.days_pass(10);
    world.change(|held| held.fill("m", "00003", "2026-06-01", 24, 0.0));
    let second = world.sync_one().await;
    assert_eq!(second.created, 10, "{second:?}");
    let stored = world.club.daily("bridge").await;
    let hidden = stored.iter().find(|row| dates(std::slice::from_ref(row)) == [day("2026-06-18")]).unwrap();
    assert_eq!((hidden.known_at, hidden.known_assumed), (at("2026-06-25T12:00:00Z"), false));
}

#[tokio::test]
async fn a_series_that_has_ended_is_not_taken_for_its_many_values() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill("old", "00003", "2025-06-20", 300, 0.0);
        held.fill("older", "00003", "2024-01-01", 500, 1.0);
        held.fill("new", "00003", "2026-06-01", 14, 2.0);
    });
    // Both of the last year: the fuller. Of those that ended before it none, however full.
    assert_eq!(world.sync_one().await.series, ["old"]);
    let other = World::new(&[("bridge", "usgs:USGS-1 since=2023-01-01")]).await;
    other.change(|held| {
        held.fill("older", "00003", "2023-06-01", 500, 1.0);
        held.fill("new", "00003", "2026-05-01", 45, 2.0);
    });
    assert_eq!(other.sync_one().await.series, ["new"]);
}

#[tokio::test]
async fn a_changed_approval_is_a_new_version_and_an_import_without_marks_is_none() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill("m", "00003", "2026-06-01", 5, 0.0);
        held.approval = Some("Provisional");
    });
    assert_eq!(world.sync_one().await.created, 5);
    world.change(|held| held.approval = Some("Approved"));
    assert_eq!(world.sync_one().await.updated, 5);
    assert!(world.club.daily("bridge").await.iter().all(|row| row.qualifiers == ["Approved"]));
    let file = world.club.readings("site,date,tmean_c\nbridge,2026-06-01,10\n").await;
    assert_eq!((file.accepted, file.unchanged), (true, 1), "{:?}", file.faults);
}

#[tokio::test]
async fn one_source_down_leaves_the_others_and_the_gap_is_filled_once() {
    let world = World::new(&[("bridge", "usgs:USGS-1"), ("weir", "hubeau:01001336 zone=UTC since=2026-06-10")]).await;
    world.change(|held| {
        held.fill_station("2026-06-01", 60);
        held.rows_per_day = 24;
    });
    assert_eq!(world.sync().await.failed, 0);
    let before = world.club.daily("bridge").await;
    world.days_pass(1);
    world.change(|held| {
        held.fill_station("2026-06-14", 73);
        held.instead.insert("/ogcapi", Reply::status(503, &[]));
    });
    let down = world.sync().await;
    assert_eq!((down.failed, down.gauges[0].state, down.gauges[1].state), (1, SyncState::Failed, SyncState::Done));
    assert!(down.gauges[0].reason.as_ref().unwrap().contains("503"), "{:?}", down.gauges[0].reason);
    assert_eq!(world.club.daily("bridge").await, before, "what was there stays");
    world.change(|held| held.instead.clear());
    let up = world.sync().await;
    assert_eq!((up.failed, up.gauges[0].created), (0, 13));
    let all = dates(&world.club.daily("bridge").await);
    assert!(all.windows(2).all(|pair| pair[0] + Days::new(1) == pair[1]), "no gap");
    assert_eq!(world.sync().await.gauges[0].created, 0);
}

#[tokio::test]
async fn a_page_that_breaks_stores_nothing_of_its_span() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill_station("2026-06-14", 100);
        held.instead.insert("/ogcapi/v0/collections/daily/items?cursor=200", Reply::json("<html>busy</html>"));
    });
    let broken = world.sync_one().await;
    assert_eq!((broken.state, broken.fetched), (SyncState::Failed, 0));
    assert!(broken.reason.unwrap().contains("web page"));
    assert!(world.club.daily("bridge").await.is_empty());
    world.change(|held| held.instead.clear());
    assert_eq!(world.sync_one().await.created, 100);
}

#[tokio::test]
async fn pages_in_a_circle_end() {
    let world = World::new(&[("weir", "hubeau:01001336")]).await;
    let url = "http://HOST/temperature/chronique?page=1".replace("HOST", &world.server.address.to_string());
    let body = format!("{{\"count\":1,\"next\":\"{url}\",\"data\":[]}}");
    world.change(|held| drop(held.instead.insert("/temperature", Reply::json(body))));
    let done = world.sync_one().await;
    assert_eq!(done.state, SyncState::Failed);
    assert!(done.reason.unwrap().contains("circle"));
    assert!(world.server.paths().len() < 5);
}

#[tokio::test]
async fn continuous_values_are_asked_in_spans_of_three_years() {
    let world = World::new(&[("bridge", "usgs:USGS-1 step=continuous since=2019-01-01")]).await;
    let done = world.sync_one().await;
    assert_eq!(done.state, SyncState::Done, "{:?}", done.reason);
    let spans: Vec<_> = world.server.paths().iter().map(|path| span(&asked_for(path, "time").unwrap())).collect();
    let (newest, rest) = spans.split_first().unwrap();
    let all: Vec<_> = rest.iter().chain([newest]).collect();
    assert_eq!((all[0].0, all[all.len() - 1].1), (day("2019-01-01"), day("2026-06-16")));
    assert!(all.iter().all(|(from, to)| (*to - *from).num_days() < 3 * 365), "{spans:?}");
    assert!(all.windows(2).all(|pair| pair[0].1 + Days::new(1) == pair[1].0), "{spans:?}");
    // The newest span decides which series is taken; the older one is told.
    assert_eq!(done.series, ["new"]);
    assert!(done.notes.iter().any(|note| note.contains("there is old")), "{:?}", done.notes);
    let stored = world.club.instants("bridge").await;
    assert_eq!(stored.len() as u64, done.created);
    assert_eq!(stored.len() as i64, 2 * (day("2026-06-15") - day("2023-01-01")).num_days());
}

#[tokio::test]
async fn of_several_series_the_fullest_is_taken_and_kept_unless_another_is_named() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill("near", "00003", "2026-05-20", 20, 0.0);
        held.fill("deep", "00003", "2026-05-25", 10, -3.0);
    });
    let first = world.sync_one().await;
    assert_eq!((first.created, first.series.as_slice()), (20, &["near".to_owned()][..]));
    assert!(
        first.notes[0].contains("took the fullest of the last year, near (20 values), not deep (10)"),
        "{:?}",
        first.notes
    );
    // The other one becomes fuller: what was taken stays taken.
    world.change(|held| held.fill("deep", "00003", "2026-04-30", 46, -3.0));
    let second = world.sync_one().await;
    assert_eq!((second.created + second.updated, second.series.as_slice()), (0, &["near".to_owned()][..]));
    world.name_source("bridge", "usgs:USGS-1 series=deep,gone").await;
    let named = world.sync_one().await;
    assert_eq!((named.fetched, named.series.as_slice()), (46, &["deep".to_owned()][..]));
    assert!(named.notes.iter().any(|note| note.contains("series gone has no usable value")), "{:?}", named.notes);
    let stored = world.club.daily("bridge").await;
    assert!(matches!(stored[0].time, ReadingTime::Day { mean: tmean_c, .. } if tmean_c < 8.0));
}

#[tokio::test]
async fn extremes_of_another_place_are_left_out() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| {
        held.fill("mean", "00003", "2026-05-01", 40, 0.0);
        held.fill("min", "00002", "2026-05-01", 40, 4.0);
        held.fill("max", "00001", "2026-05-01", 40, 2.0);
    });
    let done = world.sync_one().await;
    assert_eq!((done.created, done.refused.len()), (40, 0));
    assert!(
        done.notes.iter().any(|note| note.contains("minima contradict the means on 40 of 40 days")),
        "{:?}",
        done.notes
    );
    let stored = world.club.daily("bridge").await;
    assert!(
        matches!(stored[0].time, ReadingTime::Day { mean: tmean_c, low: tmin_c, high: tmax_c, .. } if tmin_c == tmean_c && tmax_c > tmean_c)
    );
}

#[tokio::test]
async fn hubeau_is_asked_in_parts_when_it_has_too_much() {
    let world = World::new(&[("weir", "hubeau:01001336")]).await;
    world.change(|held| held.rows_per_day = 96);
    let done = world.sync_one().await;
    assert_eq!((done.state, done.fetched), (SyncState::Done, done.created), "{:?}", done.reason);
    // A year by the quarter of an hour, but the two clock hours around the changes that are not one instant.
    let days = (day("2026-06-15") - day("2025-06-15")).num_days() as u64;
    assert_eq!(done.created + done.refused["time"], days * 96);
    assert_eq!(done.refused["time"], 8, "an hour that never was, and one that was twice");
    assert!(done.notes[0].contains("read as Europe/London"), "{:?}", done.notes);
    assert_eq!(world.server.paths().len(), 4, "a year is too much and asked again in halves, then the rest");
}

#[tokio::test]
async fn smhi_is_not_fetched_again_unless_it_changed() {
    let world = World::new(&[("weir", "smhi:80107")]).await;
    let first = world.sync_one().await;
    assert_eq!((first.state, first.created), (SyncState::Done, 3));
    let stored = world.club.daily("weir").await;
    assert_eq!(dates(&stored), [day("2026-06-01"), day("2026-06-02"), day("2026-06-03")]);
    assert_eq!((stored[2].quality, &*stored[2].qualifiers), (Quality::Suspect, &["Y".to_owned()][..]));
    assert_eq!(stored[2].reasons, ["flagged by the source as suspect"]);
    let second = world.sync_one().await;
    assert_eq!((second.state, second.fetched), (SyncState::Unchanged, 0));
    assert_eq!(second.through, Some(day("2026-06-03")));
}

#[tokio::test]
async fn rows_outside_the_span_asked_for_are_left() {
    let world = World::new(&[("weir", "smhi:80107 since=2026-06-03")]).await;
    let done = world.sync_one().await;
    assert_eq!((done.state, done.created), (SyncState::Done, 2), "its one document begins earlier");
    assert_eq!(dates(&world.club.daily("weir").await), [day("2026-06-02"), day("2026-06-03")], "a day is spared");
    assert!(done.refused.is_empty(), "a document that has more is no fault: {:?}", done.refused);

    let world = World::new(&[("weir", "usgs:S-1")]).await;
    let rows = ["2010-06-01", "2025-06-13", "2025-06-14", "2026-06-01"].map(|date| usgs_row(date, &json!("9")));
    world.change(|held| drop(held.instead.insert("/ogcapi", Reply::json(json!({ "features": rows })))));
    let done = world.sync_one().await;
    assert_eq!((done.created, done.refused["outside"]), (2, 2), "asked from 2025-06-15");
    assert_eq!(dates(&world.club.daily("weir").await), [day("2025-06-14"), day("2026-06-01")]);
}

#[tokio::test]
async fn sensorthings_states_its_unit_once() {
    let world = World::new(&[("weir", "sensorthings:SERVER/v1.1/Datastreams(1)")]).await;
    world.change(|held| held.unit = "\u{b0}F");
    let done = world.sync_one().await;
    assert_eq!((done.state, done.created), (SyncState::Done, 48), "{:?}", done.reason);
    let stored = world.club.instants("weir").await;
    assert_eq!(stored[0].time, ReadingTime::Instant { at: at("2026-06-12T00:00:00Z"), value: 10.0 });
    let asked = world.server.paths();
    // The newest year is asked first, with an open end; the days before it with both ends.
    assert_eq!(asked_for(&asked[1], "$filter").as_deref(), Some("phenomenonTime ge 2025-06-17T00:00:00Z"));
    assert_eq!(
        asked_for(&asked[3], "$filter").as_deref(),
        Some("phenomenonTime ge 2025-06-15T00:00:00Z and phenomenonTime lt 2025-06-17T00:00:00Z")
    );
    world.change(|held| held.unit = "hPa");
    let refused = world.sync_one().await;
    assert_eq!(refused.state, SyncState::Failed);
    assert!(refused.reason.unwrap().contains("neither degrees Celsius nor Fahrenheit"));
}

#[tokio::test]
async fn gauges_without_a_source_are_told_and_passed_over() {
    let words = World::new(&[("bridge", "https://club.example/gauge"), ("weir", "logger:weir no=7")]).await;
    assert!(words.sync().await.gauges.iter().all(|gauge| gauge.state == SyncState::NoSource));
    let world = World::new(&[("bridge", "usgs:USGS-1"), ("pool", "read by hand"), ("weir", "file:a.csv")]).await;
    world.name_source("weir", "uggs:USGS-2").await;
    world.change(|held| held.fill_station("2026-06-14", 5));
    let done = world.sync().await;
    let states: Vec<SyncState> = done.gauges.iter().map(|gauge| gauge.state).collect();
    assert_eq!(states, [SyncState::Done, SyncState::NoSource, SyncState::Failed]);
    assert!(done.gauges[2].reason.as_ref().unwrap().contains("names no known service"));
    let refused = world.club.setup("[watershed]\nslug = \"b\"\nname = \"B\"\ntime_zone = \"UTC\"\n[[gauge]]\nslug = \"g\"\nsource = \"uggs:1\"\n").await;
    assert!(!refused.accepted && refused.faults[0].column == "gauge.source", "{:?}", refused.faults);
}

#[tokio::test]
async fn a_used_up_rate_puts_off_what_is_left() {
    let world = World::new(&[("bridge", "usgs:USGS-1"), ("weir", "usgs:USGS-1 series=s00003")]).await;
    world.change(|held| held.fill_station("2026-06-14", 10));
    let late = Reply::Full(429, vec![("retry-after", "3000".to_owned())], b"{}".to_vec());
    world.change(|held| drop(held.instead.insert("/ogcapi", late)));
    let done = world.sync().await;
    assert_eq!((done.failed, done.gauges[0].state, done.gauges[1].state), (2, SyncState::PutOff, SyncState::PutOff));
    assert_eq!(world.server.paths().len(), 1, "after that it is left alone");
    world.change(|held| held.instead.clear());
    assert_eq!(world.sync().await.failed, 0);
}

#[tokio::test]
async fn a_job_fetches_and_queues_one_publication() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| held.fill_station("2026-06-14", 10));
    let (db, clock, sources) = (&world.club.db, world.clock(), world.sources());
    let queue = async || {
        let mut tx = db.write().await.unwrap();
        let job = jobs::enqueue_sync(&mut tx, &slug("ostrey"), Some(&slug("bridge")), clock.0).await.unwrap();
        tx.commit().await.unwrap();
        job.id
    };
    let id = queue().await;
    assert_eq!(queue().await, id, "it waits already");
    let job = work::claim(db, &clock, Kinds::Only(jobs::SYNC)).await.unwrap().unwrap();
    let without = Box::pin(work::execute(db, &clock, &job, None, None)).await.unwrap_err();
    assert!(without.contains("no-sources"), "{without}");
    let told = Box::pin(work::execute(db, &clock, &job, None, Some(&sources))).await.unwrap();
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!((&told["gauges"][0]["state"], &told["gauges"][0]["created"]), (&"done".into(), &10.into()));
    let mut tx = db.read().await.unwrap();
    let waiting = job::jobs(&mut tx, &slug("ostrey"), 10).await.unwrap();
    let waiting: Vec<&str> =
        waiting.iter().filter(|job| job.state == JobState::Queued).map(|job| job.kind.as_str()).collect();
    assert_eq!(waiting, [jobs::PUBLISH]);
    drop(tx);
    world.change(|held| drop(held.instead.insert("/ogcapi", Reply::status(404, &[]))));
    let failed = Box::pin(work::execute(db, &clock, &job, None, Some(&sources))).await.unwrap_err();
    assert!(failed.contains("sync-failed") && failed.contains("404"), "{failed}");
}
