//! The invented club in a database of its own.

use std::path::Path;

use chrono::{Datelike, Days, NaiveDate, TimeZone, Utc};
use subimago::app::Db;
use subimago::app::database::open;
use subimago::app::demo::{Demo, Wish, prepare};
use subimago::app::document::ForecastDocument;
use subimago::app::fit::{FitRequest, fit_watershed};
use subimago::app::forecast::{FitChoice, ForecastRequest, forecast};
use subimago::clock::FixedClock;
use subimago::domain::season::WhichSeason;
use subimago::domain::{Fit, Forecast, Reading, ReadingTime, Record, Slug};
use subimago::store::{Span, place, reading, record, taxon};
use tempfile::TempDir;

pub(crate) const CLOCK: fn() -> FixedClock =
    || FixedClock(Utc.with_ymd_and_hms(2026, 11, 25, 12, 0, 0).single().unwrap());

pub(crate) fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub(crate) fn slug(text: &str) -> Slug {
    Slug::new(text).unwrap()
}

pub(crate) struct Club {
    pub(crate) db: Db,
    pub(crate) demo: Demo,
    _folder: TempDir,
}

pub(crate) async fn empty(folder: &Path) -> Db {
    open(&format!("sqlite://{}", folder.join("club.db").display()), &CLOCK()).await.unwrap()
}

impl Club {
    /// What a gauge is called.
    pub(crate) async fn gauge_name(&self, gauge: &str) -> String {
        let mut tx = self.db.read().await.unwrap();
        let gauges = place::gauges(&mut tx, &self.demo.watershed).await.unwrap();
        gauges.into_iter().find(|known| known.slug.as_str() == gauge).unwrap().name
    }

    pub(crate) async fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let db = empty(folder.path()).await;
        let demo = prepare(&db, &CLOCK(), Wish { today: Some(day("2026-05-20")), seed: Some(3) }).await.unwrap();
        Self { db, demo, _folder: folder }
    }

    /// Moves the demo's today on.
    pub(crate) async fn move_on(&mut self, today: &str) {
        let wish = Wish { today: Some(day(today)), seed: Some(3) };
        self.demo = prepare(&self.db, &CLOCK(), wish).await.unwrap();
    }

    /// The same club with every reading and record changed.
    pub(crate) async fn changed(&self, readings: impl Fn(&mut Reading), records: impl Fn(&mut Record)) -> Self {
        let watershed = self.demo.watershed.clone();
        let folder = tempfile::tempdir().unwrap();
        let db = empty(folder.path()).await;
        let mut from = self.db.read().await.unwrap();
        let mut to = db.write().await.unwrap();
        place::upsert_watershed(&mut to, &place::find_watershed(&mut from, &watershed).await.unwrap().unwrap())
            .await
            .unwrap();
        let gauges = place::gauges(&mut from, &watershed).await.unwrap();
        for gauge in &gauges {
            place::upsert_gauge(&mut to, &watershed, gauge).await.unwrap();
        }
        for reach in place::reaches(&mut from, &watershed).await.unwrap() {
            place::upsert_reach(&mut to, &watershed, &reach).await.unwrap();
        }
        for resident in taxon::residents(&mut from, &watershed).await.unwrap() {
            taxon::upsert_taxon(&mut to, &resident).await.unwrap();
            taxon::set_resident(&mut to, &watershed, &resident.slug, true).await.unwrap();
        }
        let everything = Span { from: None, to: None };
        for gauge in &gauges {
            let mut list = reading::daily_readings(&mut from, &watershed, &gauge.slug, None, everything).await.unwrap();
            list.iter_mut().for_each(&readings);
            reading::put_readings(&mut to, &watershed, &list, Utc::now_for_tests()).await.unwrap();
        }
        let mut list = record::records(&mut from, &watershed, None, None).await.unwrap();
        list.iter_mut().for_each(&records);
        // Other order of rows, too: it must not matter.
        list.reverse();
        record::put_records(&mut to, &watershed, &list, Utc::now_for_tests()).await.unwrap();
        to.commit().await.unwrap();
        Self { db, demo: self.demo.clone(), _folder: folder }
    }

    pub(crate) async fn fit(&self, taxon: &str, through: Option<NaiveDate>) -> Vec<Fit> {
        let request = FitRequest { watershed: self.demo.watershed.clone(), taxon: Some(slug(taxon)), through };
        let outcomes = fit_watershed(&self.db, &CLOCK(), &request, &|_| {}).await.unwrap();
        outcomes.into_iter().map(|o| o.fit.unwrap()).collect()
    }

    pub(crate) async fn forecast(&self, taxon: &str, as_of: Option<NaiveDate>) -> Vec<Forecast> {
        self.asked(taxon, as_of, false).await
    }

    /// As published on the demo's today: moved by what the fit has not seen of this season.
    pub(crate) async fn forecast_now(&self, taxon: &str) -> Vec<Forecast> {
        self.asked(taxon, Some(self.demo.today), true).await
    }

    async fn asked(&self, taxon: &str, as_of: Option<NaiveDate>, in_season: bool) -> Vec<Forecast> {
        let today = self.demo.today;
        let request = ForecastRequest {
            watershed: self.demo.watershed.clone(),
            reach: None,
            taxa: vec![slug(taxon)],
            season: WhichSeason::Named(today.year()),
            as_of,
            today: as_of.unwrap_or(today),
            fits: FitChoice::Latest,
            in_season,
            weigh_visits: false,
        };
        forecast(&self.db, &CLOCK(), &request).await.unwrap()
    }
}

/// Writes need an instant; any will do.
pub(crate) trait NowForTests {
    fn now_for_tests() -> chrono::DateTime<Utc>;
}

impl NowForTests for Utc {
    fn now_for_tests() -> chrono::DateTime<Utc> {
        CLOCK().0
    }
}

pub(crate) fn shift_reading(reading: &mut Reading, days: u64) {
    if let ReadingTime::Day { date, .. } = &mut reading.time {
        *date = *date + Days::new(days);
    }
    reading.known_at += chrono::TimeDelta::days(i64::try_from(days).unwrap());
}

pub(crate) fn shift_record(record: &mut Record, days: u64) {
    record.date_from = record.date_from.map(|d| d + Days::new(days));
    record.date_to = record.date_to + Days::new(days);
    record.known_at += chrono::TimeDelta::days(i64::try_from(days).unwrap());
}

/// A forecast as its document, without what differs from run to run by right.
pub(crate) fn document(forecast: &Forecast) -> String {
    let mut forecast = forecast.clone();
    forecast.issued_at = CLOCK().0;
    serde_json::to_string(&ForecastDocument::from(&forecast)).unwrap()
}
