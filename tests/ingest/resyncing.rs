//! What fetching does about faults of long ago: old spans that cannot be read, values that are withdrawn,
//! late revisions, and services that keep one waiting.

use std::time::Duration;

use subimago::app::document::sync::SyncState;
use subimago::app::sync::{Wanted, sync};
use subimago::domain::{Quality, Reading, ReadingTime};
use subimago::store::sync::{GaugeSync, find_gauge_sync};

use crate::fake_services::World;
use crate::local_server::Reply;
use crate::support::{at, day, slug};

impl World {
    async fn state(&self, gauge: &str) -> GaugeSync {
        let mut tx = self.club.db.read().await.unwrap();
        find_gauge_sync(&mut tx, &slug("ostrey"), &slug(gauge)).await.unwrap().unwrap()
    }

    async fn on(&self, gauge: &str, date: &str) -> Reading {
        let wanted = day(date);
        let is = |row: &Reading| matches!(row.time, ReadingTime::Day { date, .. } if date == wanted);
        self.club.daily(gauge).await.into_iter().find(is).unwrap()
    }
}

#[tokio::test]
async fn an_old_span_that_cannot_be_read_leaves_the_present_alone_and_is_tried_again() {
    let world = World::new(&[("weir", "hubeau:01001336 zone=UTC since=2024-06-16")]).await;
    let old = "/temperature/chronique?code_station=01001336&date_debut_mesure=2024-06-17";
    world.change(|held| {
        held.rows_per_day = 1;
        held.instead.insert(old, Reply::json("{\"count\":"));
    });
    let first = world.sync_one().await;
    assert_eq!((first.state, first.through), (SyncState::Done, Some(day("2026-06-14"))), "{:?}", first.reason);
    let told = "2024-06-17 to 2025-06-16 could not be read";
    assert!(first.notes.iter().any(|note| note.contains(told)), "{:?}", first.notes);
    assert_eq!(world.state("weir").await.missing, ["2024-06-17/2025-06-16"]);
    let before = world.club.instants("weir").await.len();
    // It still fails the next day, and is told again, once.
    world.days_pass(1);
    let second = world.sync_one().await;
    assert_eq!((second.state, world.state("weir").await.missing.len()), (SyncState::Done, 1));
    world.change(|held| held.instead.clear());
    let third = world.sync_one().await;
    assert!(third.created >= 364 && third.notes.iter().all(|note| !note.contains(told)), "{third:?}");
    assert!(world.state("weir").await.missing.is_empty());
    let stored = world.club.instants("weir").await;
    assert!(stored.len() >= before + 364);
    let old_one =
        |row: &&Reading| matches!(row.time, ReadingTime::Instant { at: when, .. } if when > at("2024-08-01T00:00:00Z"));
    let found = stored.iter().find(old_one).unwrap();
    assert!(found.known_assumed && found.known_at < at("2024-08-04T00:00:00Z"), "history is history: {found:?}");
}

#[tokio::test]
async fn a_withdrawn_value_is_doubted_and_good_when_it_comes_back() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| held.fill("m", "00003", "2026-05-01", 40, 0.0));
    world.sync_one().await;
    let gone = [day("2026-05-20"), day("2026-05-21")];
    world.change(|held| held.daily.retain(|(_, _, date), _| !gone.contains(date)));
    let second = world.sync_one().await;
    assert_eq!((second.state, second.updated), (SyncState::Done, 2));
    let doubted = world.on("bridge", "2026-05-20").await;
    assert_eq!(
        (doubted.quality, doubted.reasons),
        (Quality::Suspect, vec!["the source gives it no longer".to_owned()])
    );
    assert_eq!(world.on("bridge", "2026-05-22").await.quality, Quality::Good);
    assert_eq!(world.sync_one().await.updated, 0, "once is enough");
    world.change(|held| held.fill("m", "00003", "2026-05-01", 40, 0.0));
    assert_eq!(world.sync_one().await.updated, 2);
    let back = world.on("bridge", "2026-05-20").await;
    assert_eq!((back.quality, back.reasons.len()), (Quality::Good, 0));
    // Most of it gone is a fault of the service rather than a withdrawal.
    world.change(|held| held.daily.retain(|(_, _, date), _| *date < day("2026-05-05")));
    let outage = world.sync_one().await;
    assert_eq!(outage.updated, 0);
    assert!(outage.notes.iter().any(|note| note.contains("36 of 40 stored readings")), "{:?}", outage.notes);
    assert_eq!(world.on("bridge", "2026-05-20").await.quality, Quality::Good);
}

#[tokio::test]
async fn now_and_then_everything_is_read_again() {
    let world = World::new(&[("bridge", "usgs:USGS-1")]).await;
    world.change(|held| held.fill("m", "00003", "2025-11-01", 226, 0.0));
    world.sync_one().await;
    // Far before the overlap.
    world.change(|held| {
        held.daily.insert(("m".to_owned(), "00003", day("2026-01-10")), 4.4);
    });
    assert_eq!(world.sync_one().await.updated, 0);
    world.days_pass(29);
    assert_eq!(world.sync_one().await.updated, 0);
    world.days_pass(1);
    assert_eq!(world.sync_one().await.updated, 1, "a month later");
    let found = world.on("bridge", "2026-01-10").await;
    assert_eq!(found.time, ReadingTime::day(day("2026-01-10"), 4.4, None, None).unwrap());
    assert_eq!((found.known_at, found.known_assumed), (at("2026-07-15T12:00:00Z"), false));
    assert_eq!(world.state("bridge").await.reread_at, Some(at("2026-07-15T12:00:00Z")));
}

#[tokio::test]
async fn a_service_that_keeps_one_waiting_does_not_keep_the_others() {
    let world = World::new(&[("bridge", "usgs:USGS-1"), ("weir", "hubeau:01001336 zone=UTC since=2026-06-10")]).await;
    world.change(|held| {
        held.rows_per_day = 24;
        held.instead.insert("/ogcapi", Reply::Silence);
    });
    let (clock, sources) = (world.clock(), world.sources().no_longer_than(Duration::from_millis(400)));
    let done = Box::pin(sync(&world.club.db, &clock, &sources, &Wanted::default(), &|_| {})).await.unwrap();
    assert_eq!((done.gauges[0].state, done.gauges[1].state), (SyncState::Failed, SyncState::Done));
    assert!(done.gauges[0].reason.as_ref().unwrap().contains("took longer than"), "{:?}", done.gauges[0].reason);
    assert!(world.state("bridge").await.failure.unwrap().contains("took longer than"));
}
