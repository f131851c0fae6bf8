//! The air in the forecast of the water: what it changes, and what of it an earlier day must not see.

use std::collections::BTreeMap;

use chrono::{DateTime, Datelike, Days, NaiveDate, TimeDelta, Utc};
use subimago::app::document::ForecastDocument;
use subimago::app::fit::load;
use subimago::app::season_water::SeasonWater;
use subimago::domain::Forecast;
use subimago::domain::air::{AirDay, AirIssue, WeatherHour};
use subimago::domain::civil::end_of_day;
use subimago::domain::forecast::{ForecastDay, WaterBasis};
use subimago::domain::season::Season;
use subimago::domain::{Quality, Quantity, Reading, ReadingTime};
use subimago::store::air::put_air_forecast;
use subimago::store::{place, reading};

use crate::club::{CLOCK, Club, day, document, slug};

const TAXON: &str = "ephemera-danica";
const ZONE: chrono_tz::Tz = chrono_tz::Europe::London;

/// Air with a year and weather.
fn air_c(date: NaiveDate) -> f64 {
    let turn = f64::from(date.ordinal()) / 365.25 * std::f64::consts::TAU;
    let n = f64::from(date.num_days_from_ce());
    9.0 - 8.0 * (turn - 0.3).cos() + 2.5 * (n / 4.3).sin() + 1.5 * (n / 11.0).cos()
}

/// Water that follows that air by a quarter of the way each day.
fn driven() -> BTreeMap<NaiveDate, f64> {
    let mut water_c = 5.0;
    let days = day("2018-01-01").iter_days().take_while(|date| *date <= day("2026-12-31"));
    days.map(|date| {
        water_c += 0.25 * (1.0 + 0.9 * air_c(date) - water_c);
        (date, water_c)
    })
    .collect()
}

/// The invented club on water that the air drives.
async fn on_driven_water() -> Club {
    let water = driven();
    let change = |reading: &mut Reading| {
        if let ReadingTime::Day { date, mean, low, high } = &mut reading.time {
            *mean = water[date] + 0.3 * (f64::from(date.num_days_from_ce()) * 0.7).sin();
            (*low, *high) = (*mean - 1.0, *mean + 1.5);
        }
    };
    Club::new().await.changed(change, |_| ()).await
}

fn measured(gauge: &str, date: NaiveDate, mean_c: f64, known_at: DateTime<Utc>) -> Reading {
    Reading {
        gauge: slug(gauge),
        quantity: Quantity::AirTemperature,
        time: Quantity::AirTemperature.day(date, mean_c, None, None).unwrap(),
        quality: Quality::Good,
        reasons: Vec::new(),
        known_at,
        known_assumed: false,
        source: "file:air.csv".to_owned(),
        qualifiers: Vec::new(),
    }
}

fn issue(gauge: &str, on: NaiveDate, plus_c: f64) -> AirIssue {
    let made_at = end_of_day(ZONE, on) - TimeDelta::hours(6);
    let one = |n| {
        let (date, mean_c) = (on + Days::new(n), air_c(on + Days::new(n)) + plus_c);
        AirDay { date, tmean_c: mean_c, tmin_c: mean_c - 3.0, tmax_c: mean_c + 4.0 }
    };
    let source = "met-norway:52,-3".to_owned();
    AirIssue {
        gauge: slug(gauge),
        made_at,
        known_at: made_at + TimeDelta::minutes(5),
        source,
        days: (1..=10).map(one).collect(),
        hours: Vec::new(),
    }
}

impl Club {
    async fn gauges(&self) -> Vec<String> {
        let mut tx = self.db.read().await.unwrap();
        let gauges = place::gauges(&mut tx, &self.demo.watershed).await.unwrap();
        gauges.into_iter().map(|gauge| gauge.slug.to_string()).collect()
    }

    async fn add_air(&self, readings: &[Reading], issues: &[AirIssue]) {
        let mut tx = self.db.write().await.unwrap();
        reading::put_readings(&mut tx, &self.demo.watershed, readings, CLOCK().0).await.unwrap();
        for issue in issues {
            assert!(put_air_forecast(&mut tx, &self.demo.watershed, issue).await.unwrap());
        }
        tx.commit().await.unwrap();
    }

    /// Air of all days from 2020 to `last`, each known the morning after.
    async fn air_to(&self, gauge: &str, last: NaiveDate) -> Vec<Reading> {
        let days = day("2020-01-01").iter_days().take_while(|date| *date <= last);
        days.map(|date| measured(gauge, date, air_c(date), end_of_day(ZONE, date) + TimeDelta::hours(6))).collect()
    }

    /// The water of the first reach as of `cut`.
    async fn water(&self, cut: NaiveDate) -> SeasonWater {
        let known = load(&self.db, &self.demo.watershed, Some(cut)).await.unwrap();
        SeasonWater::new(&known, &known.reaches[0], Season::of_year(cut.year()), cut).unwrap()
    }
}

fn at(season: Season, date: NaiveDate) -> usize {
    usize::try_from(season.day_number(date)).unwrap() - 1
}

#[tokio::test(flavor = "multi_thread")]
async fn a_forecast_of_the_air_moves_the_water_ahead_for_its_days() {
    let club = on_driven_water().await;
    let cut = day("2026-05-10");
    let gauge = club.gauges().await.remove(0);
    let plain = club.water(cut).await;
    club.add_air(&club.air_to(&gauge, day("2026-05-09")).await, &[]).await;
    let without = club.water(cut).await;
    assert_eq!(plain.members, without.members, "measured air alone gains nothing ahead");
    club.add_air(&[], &[issue(&gauge, cut, 6.0)]).await;
    let warm = club.water(cut).await;
    let season = Season::of_year(2026);
    let mean = |water: &SeasonWater, date: &str| water.daily[at(season, day(date))].unwrap().p50;
    assert_eq!(mean(&warm, "2026-05-08"), mean(&plain, "2026-05-08"), "what was measured stays");
    assert!(mean(&warm, "2026-05-15") > mean(&plain, "2026-05-15") + 0.5);
    let basis = |date: &str| warm.from[at(season, day(date))].unwrap().basis;
    assert_eq!(basis("2026-05-08"), WaterBasis::Measured);
    assert_eq!((basis("2026-05-15"), basis("2026-06-20")), (WaterBasis::AheadWithAir, WaterBasis::Ahead));
    let words = warm.words.unwrap();
    assert!(
        words.english.contains(&format!("air at gauge {}", club.gauge_name(&gauge).await))
            && words.english.contains("made 2026-05-10"),
        "{words:?}"
    );
    let error = |date: &str| warm.from[at(season, day(date))].unwrap().error_c;
    assert!(error("2026-05-08") == 0.0 && error("2026-05-12") < error("2026-05-20"));
}

#[tokio::test(flavor = "multi_thread")]
async fn air_known_later_changes_nothing_of_an_earlier_day() {
    let club = Club::new().await;
    let cut = day("2026-05-10");
    let gauge = club.gauges().await.remove(0);
    club.add_air(&club.air_to(&gauge, day("2026-05-09")).await, &[issue(&gauge, day("2026-05-08"), 1.0)]).await;
    club.add_air(&[], &[issue(&gauge, cut, 3.0)]).await;
    club.fit(TAXON, Some(cut)).await;
    let (water, forecasts) = (club.water(cut).await, club.forecast(TAXON, Some(cut)).await);
    // Later days, an old day corrected later, an old day learned later, and later forecasts; one of them was
    // made before the cut and known after it.
    let later = end_of_day(ZONE, cut) + TimeDelta::seconds(1);
    let mut readings: Vec<Reading> = club.air_to(&gauge, day("2026-05-25")).await;
    readings.retain(|reading| reading.known_at > later);
    readings.push(measured(&gauge, day("2026-04-20"), 30.0, later));
    readings.push(measured(&gauge, cut, 25.0, later + TimeDelta::hours(1)));
    let mut late = issue(&gauge, cut, -8.0);
    late.made_at += TimeDelta::hours(1);
    late.known_at = later;
    club.add_air(&readings, &[late, issue(&gauge, day("2026-05-12"), -9.0)]).await;
    let again = club.water(cut).await;
    assert_eq!(water.members, again.members);
    assert_eq!((water.words.clone(), &water.from), (again.words.clone(), &again.from));
    club.fit(TAXON, Some(cut)).await;
    let after = club.forecast(TAXON, Some(cut)).await;
    assert_eq!(forecasts.iter().map(document).collect::<Vec<_>>(), after.iter().map(document).collect::<Vec<_>>());
    // And it is air that is hidden, not air that is ignored.
    let next = club.water(day("2026-05-13")).await;
    assert!(next.words.unwrap().english.contains("made 2026-05-12"));
}

#[tokio::test(flavor = "multi_thread")]
async fn days_without_water_are_told_from_the_air_and_said_to_be() {
    let quiet = on_driven_water().await;
    let gauge = quiet.gauges().await.remove(0);
    let cut = day("2026-05-18");
    // All loggers fell silent, and only the air is known.
    let silent = (day("2026-04-20"), cut);
    let mut tx = quiet.db.write().await.unwrap();
    for known in quiet.gauges().await {
        let slug = slug(&known);
        let all = subimago::store::Span::all();
        let stored = reading::daily_readings(&mut tx, &quiet.demo.watershed, &slug, None, all).await.unwrap();
        let bad: Vec<Reading> = stored
            .into_iter()
            .filter(|reading| match reading.time {
                ReadingTime::Day { date, .. } => date >= silent.0 && date <= silent.1,
                ReadingTime::Instant { .. } => false,
            })
            .map(|reading| Reading { quality: Quality::Bad, ..reading })
            .collect();
        reading::put_readings(&mut tx, &quiet.demo.watershed, &bad, CLOCK().0).await.unwrap();
    }
    tx.commit().await.unwrap();
    let season = Season::of_year(2026);
    let middle = at(season, day("2026-05-12"));
    let before = quiet.water(cut).await;
    assert_eq!(before.from[middle].unwrap().basis, WaterBasis::Ahead, "nobody knows");
    quiet.add_air(&quiet.air_to(&gauge, cut).await, &[]).await;
    let after = quiet.water(cut).await;
    let from = after.from[middle].unwrap();
    assert_eq!(from.basis, WaterBasis::Air);
    assert!(from.error_c > 0.0 && from.error_c < before.from[middle].unwrap().error_c, "{from:?}");
    assert!(after.words.unwrap().english.contains("days from the air at gauge"));
}

/// `issue` with wind of so many km/h in every hour of its days, under a whole sky of cloud.
fn in_wind(issue: AirIssue, wind_kmh: f64) -> AirIssue {
    let hour = |n: i64| WeatherHour {
        at: issue.made_at + TimeDelta::hours(n),
        air_c: 16.0,
        wind_kmh: Some(wind_kmh),
        cloud: Some(1.0),
        rain_mm: None,
    };
    AirIssue { hours: (0..120).map(hour).collect(), ..issue }
}

#[tokio::test(flavor = "multi_thread")]
async fn wind_in_the_forecast_keeps_spinners_down_and_is_told() {
    let club = Club::new().await;
    let gauge = club.gauges().await.remove(0);
    club.fit(TAXON, None).await;
    let usual = club.forecast_now(TAXON).await.remove(0);
    assert!(usual.evening.is_none());
    let made = day("2026-05-19");
    let flight = |forecast: &Forecast| forecast.spinner.unwrap();
    assert_eq!(flight(&usual).hours.date, club.demo.today, "the demo's day has a flight");
    let of_duns = |forecast: &Forecast| -> Vec<_> {
        forecast.days.iter().map(|day| ForecastDay { flight_chance: None, ..day.clone() }).collect()
    };
    let mut told = Vec::new();
    for (later, wind_kmh) in [(1, 10.0), (2, 40.0)] {
        let mut one = in_wind(issue(&gauge, made, 0.0), wind_kmh);
        one.made_at += TimeDelta::minutes(later);
        one.known_at += TimeDelta::minutes(later);
        club.add_air(&[], &[one.clone()]).await;
        let now = club.forecast_now(TAXON).await.remove(0);
        let evening = now.evening.unwrap();
        assert_eq!(
            (evening.date, evening.made_at, evening.hour.wind_kmh),
            (club.demo.today, one.made_at, Some(wind_kmh))
        );
        assert_eq!(
            ForecastDocument::from(&now).weather_of_flight(subimago::words::Language::English),
            "in the weather forecast"
        );
        // No record of the demo notes the weather, so that nothing is known of its effect on duns.
        assert_eq!(of_duns(&now), of_duns(&usual), "duns are as in usual weather");
        let today = now.days.iter().find(|day| day.date == club.demo.today).unwrap();
        assert_eq!(today.flight_chance, Some(flight(&now).chance), "the day tells what the flight does");
        told.push(flight(&now).chance);
    }
    println!(
        "chance of spinners {:.2} as usual, {:.2} in 10 km/h, {:.2} in 40 km/h",
        flight(&usual).chance,
        told[0],
        told[1]
    );
    assert!((told[0] - flight(&usual).chance).abs() < 0.02, "a calm evening is a usual one");
    let odds = |p: f64| p / (1.0 - p);
    assert!(odds(told[1]) < 0.3 * odds(told[0]), "{told:?}");

    // Rain does, too, in a calm evening, and drizzle less.
    let mut wet = Vec::new();
    for (later, rain_mm) in [(3, 0.0), (4, 0.2), (5, 3.0)] {
        let mut one = in_wind(issue(&gauge, made, 0.0), 10.0);
        one.hours.iter_mut().for_each(|hour| hour.rain_mm = Some(rain_mm));
        one.made_at += TimeDelta::minutes(later);
        one.known_at += TimeDelta::minutes(later);
        club.add_air(&[], &[one]).await;
        let now = club.forecast_now(TAXON).await.remove(0);
        assert_eq!(of_duns(&now), of_duns(&usual), "nobody noted rain: duns are as in usual weather");
        wet.push(flight(&now).chance);
    }
    println!("chance of spinners {:.2} dry, {:.2} in drizzle, {:.2} in rain", wet[0], wet[1], wet[2]);
    assert!((wet[0] - told[0]).abs() < 1e-12, "no rain is the usual weather");
    assert!(odds(wet[1]) < 0.95 * odds(wet[0]) && odds(wet[2]) < 0.4 * odds(wet[0]), "{wet:?}");
}
