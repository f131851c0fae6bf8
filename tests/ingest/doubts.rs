//! What is doubted of good files: readings within a day, and loggers that drift.

use std::fmt::Write as _;

use chrono::{Datelike, Days, NaiveDate, TimeDelta};
use subimago::app::drift::{DriftTally, judge_drift};
use subimago::domain::{Quality, Reading, ReadingTime};
use subimago::store::{Span, reading};

use crate::support::{Club, at, counts, day, slug};

/// Half-hourly readings of two days with a lone spike, and a logger stuck for the second day.
fn half_hours() -> String {
    let mut text = "site,at,value_c\n".to_owned();
    for n in 0..96_i64 {
        let when = at("2024-05-01T00:00:00Z") + TimeDelta::minutes(30 * n);
        let value = match n {
            20 => 17.5,
            40.. => 8.25,
            _ => 9.0 + (n % 5) as f64 / 10.0,
        };
        let _ = writeln!(text, "weir,{},{value}", when.format("%FT%TZ"));
    }
    text
}

#[tokio::test]
async fn steps_and_stuck_loggers_are_doubted_reading_by_reading() {
    let club = Club::new().await;
    let file = half_hours();
    let first = club.readings(file.clone()).await;
    assert_eq!((counts(&first), first.flagged_count), ([96, 0, 0, 0], 57), "{:?}", &first.flagged[..2]);
    let stored = club.instants("weir").await;
    let doubted = |n: usize| (stored[n].quality != Quality::Good).then(|| stored[n].reasons.join("; "));
    assert!(doubted(20).unwrap().contains("from the reading before it"));
    assert_eq!((doubted(19), doubted(21)), (None, None), "the way back is right again");
    assert!(doubted(40).unwrap().contains("without change for 27 hours"));
    assert_eq!(counts(&club.readings(file.clone()).await), [0, 0, 96, 0]);
    // A keeper looked: it was a warm spring that came in. The file again says nothing against it.
    let kept = Reading {
        quality: Quality::Good,
        reasons: vec!["found good by a keeper".to_owned()],
        known_at: at("2024-06-15T11:00:00Z"),
        known_assumed: false,
        source: "api".to_owned(),
        ..stored[20].clone()
    };
    let mut tx = club.db.write().await.unwrap();
    reading::put_readings(&mut tx, &slug("ostrey"), &[kept], club.clock.0).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(counts(&club.readings(file).await), [0, 0, 96, 0]);
    assert_eq!(club.instants("weir").await[20].quality, Quality::Good);
}

/// Daily means of three gauges of one valley over five years; `weir` drifts by a degree a month from
/// May of the fourth.
fn valley() -> String {
    let mut text = "site,date,tmean_c\n".to_owned();
    let drifts_from = day("2023-05-01");
    for (site, plus_c, own) in [("bridge", 0.0, 0.61), ("weir", 0.4, 0.83), ("pool", -0.3, 1.07)] {
        for date in day("2019-06-01").iter_days().take_while(|date| *date <= day("2024-05-31")) {
            let n = f64::from(date.num_days_from_ce());
            let turn = f64::from(date.ordinal()) / 365.25 * std::f64::consts::TAU;
            let weather = (n / 9.0).sin() + 0.4 * (n * own).sin();
            let months = (date - drifts_from).num_days().clamp(0, 180) as f64 / 30.0;
            // Back in the workshop after half a year.
            let over = site != "weir" || date >= drifts_from + Days::new(180);
            let off = if over { 0.0 } else { months };
            let _ = writeln!(text, "{site},{date},{:.2}", 9.0 + plus_c - 5.0 * turn.cos() + weather + off);
        }
    }
    text
}

#[tokio::test]
async fn a_drifting_logger_is_doubted_from_now_on_and_its_neighbours_are_not() {
    let club = Club::new().await;
    let pool = "[watershed]\nslug = \"ostrey\"\nname = \"River Ostrey\"\ntime_zone = \"Europe/London\"\n[[gauge]]\nslug = \"pool\"\nname = \"Pool\"\n";
    assert!(club.setup(pool).await.accepted);
    let imported = club.readings(valley()).await;
    assert!(imported.accepted, "{:?}", imported.faults);
    let (ostrey, now) = (slug("ostrey"), club.clock.0);
    let first = judge_drift(&club.db, &ostrey, now).await.unwrap();
    assert!(first.doubted > 60 && first.cleared == 0, "{first:?}");
    let drifting = |rows: &[Reading]| -> Vec<NaiveDate> {
        rows.iter()
            .filter(|row| row.reasons.iter().any(|reason| reason.starts_with("parts from the other gauges")))
            .filter_map(|row| match row.time {
                ReadingTime::Day { date, .. } => Some(date),
                ReadingTime::Instant { .. } => None,
            })
            .collect()
    };
    let found = drifting(&club.daily("weir").await);
    // As asked of real water: hardly a day outside, and most of those a degree off.
    let outside = found.iter().filter(|date| **date < day("2023-05-01") || **date >= day("2023-10-28")).count();
    let off = found.iter().filter(|date| **date > day("2023-05-31") && **date < day("2023-10-28")).count();
    assert!(50 * outside < 1827 && off > 110, "{outside} outside, {off} of 149 within: {found:?}");
    for other in ["bridge", "pool"] {
        assert_eq!(drifting(&club.daily(other).await), [], "{other}");
    }
    // Looking back, they were good then; and judging again changes nothing.
    let mut tx = club.db.read().await.unwrap();
    let before = Some(now - TimeDelta::seconds(1));
    let then = reading::daily_readings(&mut tx, &ostrey, &slug("weir"), before, Span::all()).await.unwrap();
    assert_eq!(drifting(&then), []);
    drop(tx);
    assert_eq!(judge_drift(&club.db, &ostrey, now).await.unwrap(), DriftTally::default());
    assert_eq!(counts(&club.readings(valley()).await)[..2], [0, 0], "nor does the same file");
    // What a keeper found good is left alone.
    let mut kept = club.daily("weir").await;
    kept.retain(|row| drifting(std::slice::from_ref(row)) == found[30..31]);
    kept[0].quality = Quality::Good;
    kept[0].reasons = vec!["found good by a keeper".to_owned()];
    (kept[0].known_at, kept[0].source) = (now, "api".to_owned());
    let mut tx = club.db.write().await.unwrap();
    reading::put_readings(&mut tx, &ostrey, &kept, now).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(judge_drift(&club.db, &ostrey, now).await.unwrap(), DriftTally::default());
    assert_eq!(drifting(&club.daily("weir").await).len(), found.len() - 1);
}

/// A logger's day 10 degrees too warm, then mended: of every instant only what the file says now counts, or the
/// mended day would be judged by the mean of both.
#[tokio::test]
async fn a_mended_day_of_instants_is_judged_without_what_it_mends() {
    let club = Club::new().await;
    let table = |warm_c: f64, days: std::ops::RangeInclusive<u32>| {
        let mut text = "site,at,value_c\n".to_owned();
        for (day, hour) in days.flat_map(|day| (0..24).map(move |hour| (day, hour))) {
            // Hours and days differ from those before, so that nothing stands still.
            let value = f64::from(hour % 2 + 2 * (day % 3)) * 0.1 + if day == 15 { warm_c } else { 10.0 };
            let _ = writeln!(text, "bridge,2024-01-{day:02}T{hour:02}:30:00Z,{value:.1}");
        }
        text
    };
    let wrong = club.readings(table(20.0, 1..=31)).await;
    assert_eq!(wrong.flagged_count, 25, "the warm day, and the step back from it");
    let mended = club.readings(table(10.0, 15..=15)).await;
    assert_eq!((counts(&mended), mended.flagged_count), ([0, 24, 0, 0], 0), "{:?}", mended.flagged);
    // In any order, too.
    let club = Club::new().await;
    club.readings(table(20.0, 1..=31)).await;
    let text = table(10.0, 15..=15);
    let (head, rows) = text.split_once('\n').unwrap();
    let backwards: Vec<&str> = rows.lines().rev().collect();
    let mended = club.readings(format!("{head}\n{}\n", backwards.join("\n"))).await;
    assert_eq!((counts(&mended), mended.flagged_count), ([0, 24, 0, 0], 0), "{:?}", mended.flagged);
}
