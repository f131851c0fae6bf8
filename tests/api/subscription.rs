//! Calendars of one subscription as the product writes them over a season, committed for the readers of other people in
//! `tests/e2e`: at first, after a start moved, after a taxon was withdrawn and left, and when nothing is left.
//!
//! Written anew with `SUBIMAGO_WRITE_CALENDARS=1 cargo test --test api subscription`.

use std::path::{Path, PathBuf};

use chrono::{NaiveTime, TimeDelta};
use subimago::app::feed::{Reader, Selection, calendar};
use subimago::app::publish;
use subimago::domain::Audience;
use subimago::domain::forecast::{Flight, HourWindow};
use subimago::store::taxon;
use subimago::words::Language;

use crate::lint::lint;
use crate::support::{TestApp, date, now, on_sqlite, slug};
use crate::water;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/e2e/calendars")
}

/// Publishes a taxon, `shift` days later than usual or not at all, `days` after the day of all tests.
async fn publish(app: &TestApp, name: &str, shift: Option<i64>, days: i64) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, name).await;
    let known = taxon::find_taxon(&mut tx, &slug(name)).await.expect("reads").expect("known");
    let at = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).expect("valid time");
    let forecasts: Vec<_> = shift
        .into_iter()
        .flat_map(|shift| water::reaches().map(|reach| water::forecast(&reach, name, fit_id, shift)))
        .map(|mut forecast| {
            let hours = HourWindow { date: date(2026, 5, 20), from: at(20, 35), peak: at(21, 15), to: at(21, 55) };
            if name == "ephemera-danica" {
                forecast.spinner = Some(Flight { hours, chance: 0.62 });
                // Spinners fly on the evening after they emerge.
                for day in 1..forecast.days.len() {
                    forecast.days[day].flight_chance = Some(1.0 - forecast.days[day - 1].class_probabilities[0]);
                }
            }
            forecast
        })
        .collect();
    publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now() + TimeDelta::days(days))
        .await
        .expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

/// The calendar as it is read `days` after the day of all tests.
fn read(app: &TestApp, days: i64) -> Vec<u8> {
    let view = app.service.watershed(&slug("ostrey")).expect("known");
    let today = now().date_naive() + TimeDelta::days(days);
    let reader =
        Reader { audience: Audience::Everyone, today, public_url: "http://water.test", language: Language::English };
    let (bytes, _) = calendar(&view, &Selection::default(), reader);
    assert!(lint(&bytes).is_empty(), "{:?}", lint(&bytes));
    bytes
}

#[tokio::test]
async fn the_committed_calendars_are_those_that_are_written() {
    on_sqlite(|app| {
        Box::pin(async move {
            let mut written = Vec::new();
            publish(&app, "ephemera-danica", Some(0), 1).await;
            written.push(("first", read(&app, 1)));
            publish(&app, "ephemera-danica", Some(3), 2).await;
            written.push(("moved", read(&app, 2)));
            publish(&app, "baetis-rhodani", None, 3).await;
            written.push(("cancelled", read(&app, 3)));
            written.push(("removed", read(&app, 40)));
            for (name, ..) in water::TAXA {
                publish(&app, name, None, 41).await;
            }
            written.push(("empty", read(&app, 80)));
            for (name, bytes) in written {
                let path = folder().join(format!("{name}.ics"));
                if std::env::var_os("SUBIMAGO_WRITE_CALENDARS").is_some() {
                    std::fs::create_dir_all(folder()).expect("a folder");
                    std::fs::write(&path, &bytes).expect("writes");
                }
                let committed = std::fs::read(&path).expect("tests/e2e/calendars is committed");
                assert!(committed == bytes, "{} is not what the program writes", path.display());
            }
        })
    })
    .await;
}
