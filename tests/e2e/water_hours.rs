//! The hours of a day from its mean: whose usual day gives them, and what an earlier day must not see.

use chrono::{DateTime, Days, NaiveDate, TimeDelta, TimeZone, Utc};
use subimago::app::fit::load;
use subimago::app::season_water::SeasonWater;
use subimago::app::water_hours;
use subimago::domain::civil::end_of_day;
use subimago::domain::season::Season;
use subimago::domain::water_hours::{HoursBasis, WaterHours};
use subimago::domain::{Gauge, Quality, Quantity, Reading, ReadingTime, Rights, Slug};
use subimago::store::{place, reading};

use crate::club::{CLOCK, Club, day, slug};

const ZONE: chrono_tz::Tz = chrono_tz::Europe::London;
const CUT: &str = "2026-05-19";

/// Hourly readings of `gauge` from 1 to 18 May 2026 and `hours` of the 19th, a swing of so many degrees about 12 C, warmest
/// at 15 h local; each known at once.
fn instants(gauge: &str, swing_c: f64, hours: i64) -> Vec<Reading> {
    let start = ZONE.with_ymd_and_hms(2026, 5, 1, 0, 0, 0).unwrap().to_utc();
    let one = |hour: i64| {
        let at = start + TimeDelta::hours(hour);
        let turn = std::f64::consts::TAU * ((hour % 24) as f64 - 15.0) / 24.0;
        Reading {
            gauge: slug(gauge),
            quantity: Quantity::WaterTemperature,
            time: ReadingTime::Instant { at, value: 12.0 + 0.5 * swing_c * turn.cos() },
            quality: Quality::Good,
            reasons: Vec::new(),
            known_at: at + TimeDelta::minutes(5),
            known_assumed: false,
            source: "file:hours.csv".to_owned(),
            qualifiers: Vec::new(),
        }
    };
    (0..24 * 18 + hours).map(one).collect()
}

impl Club {
    async fn add_readings(&self, readings: &[Reading]) {
        let mut tx = self.db.write().await.unwrap();
        reading::put_readings(&mut tx, &self.demo.watershed, readings, CLOCK().0).await.unwrap();
        tx.commit().await.unwrap();
    }

    async fn add_gauge(&self, name: &str, place: Option<(f64, f64)>) {
        let mut tx = self.db.write().await.unwrap();
        let gauge = Gauge {
            slug: slug(name),
            name: name.to_owned(),
            latitude: place.map(|(north, _)| north),
            longitude: place.map(|(_, east)| east),
            source: None,
            rights: Rights::default(),
        };
        place::upsert_gauge(&mut tx, &self.demo.watershed, &gauge).await.unwrap();
        tx.commit().await.unwrap();
    }

    /// The hours at the first reach as known at the end of `cut`, and the slug of its first gauge.
    async fn hours(&self, cut: NaiveDate) -> (WaterHours, Slug) {
        let known = load(&self.db, &self.demo.watershed, Some(cut)).await.unwrap();
        let (reach, season) = (&known.reaches[0], Season::of_year(2026));
        let water = SeasonWater::new(&known, reach, season, cut).unwrap();
        (water_hours::of(&known, reach, season, &water, cut).unwrap(), reach.gauges[0].clone())
    }
}

fn warmest(hours: &WaterHours, index: usize) -> usize {
    let day = &hours.days[index].hours;
    (0..24).max_by(|a, b| day[*a].water_c.total_cmp(&day[*b].water_c)).unwrap()
}

fn range_c(hours: &WaterHours, index: usize) -> f64 {
    let day = hours.days[index].hours.map(|hour| hour.water_c);
    day.iter().copied().fold(f64::MIN, f64::max) - day.iter().copied().fold(f64::MAX, f64::min)
}

#[tokio::test(flavor = "multi_thread")]
async fn daily_water_is_given_hours_by_the_best_usual_day_that_is_known() {
    let club = Club::new().await;
    let cut = day(CUT);
    let (plain, own) = club.hours(cut).await;
    assert_eq!(plain.days.len(), 8);
    assert!(plain.days.iter().all(|day| day.basis == HoursBasis::CommonCourse), "{plain:?}");
    assert!(plain.words.english.contains("no gauge here is read by the hour"), "{}", plain.words.english);
    // The demo's river lies 3 degrees west and its clock is in summer time: the sun's 16 h is a good hour later there.
    assert!((16..=18).contains(&warmest(&plain, 3)), "{}", warmest(&plain, 3));
    assert!(plain.days.iter().all(|day| day.hours.iter().all(|hour| hour.error_c > 0.0)), "all are estimates");

    // Another gauge that is read by the hour tells when; how far is the reach's own.
    club.add_gauge("far", Some((54.0, 3.0))).await;
    club.add_readings(&instants("far", 8.0, 0)).await;
    let (borrowed, _) = club.hours(cut).await;
    let next = &borrowed.days[3];
    assert_eq!(next.basis, HoursBasis::OtherGauge);
    assert!(
        borrowed.words.english.contains("at gauge far") && borrowed.words.english.contains("km away"),
        "{}",
        borrowed.words.english
    );
    assert_eq!(warmest(&borrowed, 3), 15);
    let (common, here) = (range_c(&plain, 3), range_c(&borrowed, 3));
    assert!(here < 6.0 && (here / common - 1.0).abs() < 0.25, "{here} beside {common}: not the 8 degrees there");
    // June has no usual day there.
    let june = club.hours(day("2026-05-30")).await.0;
    assert_eq!(june.days[0].basis, HoursBasis::OtherGauge);
    assert_eq!(june.days[5].basis, HoursBasis::CommonCourse, "{}", june.days[5].date);

    // The reach's own gauge goes before it, and the hours of today that it measured stand.
    club.add_readings(&instants(own.as_str(), 3.0, 10)).await;
    let (hours, _) = club.hours(cut).await;
    assert_eq!(hours.days[3].basis, HoursBasis::OwnDays);
    assert!(
        hours.words.english.contains(&format!("at gauge {}.", club.gauge_name(own.as_str()).await)),
        "{}",
        hours.words.english
    );
    assert!((range_c(&hours, 3) - 3.0).abs() < 0.1, "{}", range_c(&hours, 3));
    let today = &hours.days[0];
    assert_eq!(today.date, cut);
    assert!(today.hours[..10].iter().all(|hour| hour.error_c == 0.0));
    assert!(today.hours[10..].iter().all(|hour| hour.error_c > 0.0));
    let mean = |hours: &WaterHours, index: usize| hours.days[index].hours.iter().map(|h| h.water_c).sum::<f64>() / 24.0;
    assert!((mean(&hours, 3) - mean(&borrowed, 3)).abs() < 1.0, "the day's mean is that of the forecast");
}

#[tokio::test(flavor = "multi_thread")]
async fn hours_known_later_change_nothing_of_an_earlier_day() {
    let club = Club::new().await;
    let cut = day("2026-05-10");
    let (_, own) = club.hours(cut).await;
    let all = instants(own.as_str(), 3.0, 24);
    let end: DateTime<Utc> = end_of_day(ZONE, cut);
    let (early, late): (Vec<Reading>, Vec<Reading>) = all.into_iter().partition(|reading| reading.known_at <= end);
    assert!(!early.is_empty() && !late.is_empty());
    club.add_readings(&early).await;
    let before = club.hours(cut).await.0;
    assert_eq!(before.days[1].basis, HoursBasis::OwnDays);
    club.add_readings(&late).await;
    assert_eq!(before, club.hours(cut).await.0);
    // And it is later hours that are hidden, not hours that are ignored.
    let after = club.hours(cut + Days::new(4)).await.0;
    assert_eq!(after.days[0].hours.iter().filter(|hour| hour.error_c == 0.0).count(), 24);
}
