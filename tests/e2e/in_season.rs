//! What members report this season moves this season's forecast before anything is fitted again.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use subimago::app::fit::{input, load};
use subimago::app::forecast::{ForecastRequest, make};
use subimago::app::in_season::InSeason;
use subimago::app::publish_season::{fitted_residents, of_today};
use subimago::domain::report::WingPads;
use subimago::domain::season::Season;
use subimago::domain::{AbundanceClass, Forecast, Report, Sighting, Stage};
use subimago::model::emergence::refresh::refresh;
use subimago::model::emergence::{SeasonForecast, SeasonRequest, fit_taxon, forecast_season};
use uuid::Uuid;

use crate::club::{CLOCK, Club, day, slug};
use crate::reports::{file, heavy, report};

/// About its fullest at the long bridge on the demo's 20 May.
const TAXON: &str = "ephemera-danica";
const REACH: &str = "ostrey-long-bridge";

fn here(forecasts: &[Forecast]) -> &Forecast {
    forecasts.iter().find(|f| f.reach == slug(REACH)).unwrap()
}

/// Odds of at least sparse on 20 May at the long bridge.
fn odds(forecasts: &[Forecast]) -> f64 {
    let today = here(forecasts).days.iter().find(|d| d.date == day("2026-05-20")).unwrap();
    (1.0 - today.class_probabilities[0]) / today.class_probabilities[0]
}

/// Two hours around the expected peak of 20 May, by one member.
async fn at_the_peak(club: &Club, sightings: Vec<Sighting>) -> Report {
    let hours = here(&club.forecast_now(TAXON).await).hours.unwrap();
    let peak = chrono_tz::Europe::London.from_local_datetime(&day("2026-05-20").and_time(hours.peak)).unwrap();
    around(club, peak.to_utc(), sightings)
}

fn around(club: &Club, peak: DateTime<Utc>, sightings: Vec<Sighting>) -> Report {
    Report {
        id: Uuid::new_v4(),
        started_at: peak - TimeDelta::hours(1),
        ended_at: peak + TimeDelta::hours(1),
        received_at: peak + TimeDelta::hours(2),
        ..report(club, 12, sightings)
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_blank_visit_in_a_good_hour_at_least_halves_the_odds_and_three_do_not_count_thrice() {
    let club = Club::new().await;
    club.fit(TAXON, None).await;
    let before = odds(&club.forecast_now(TAXON).await);
    let blank = at_the_peak(&club, Vec::new()).await;
    file(&club, std::slice::from_ref(&blank)).await;
    let once = odds(&club.forecast_now(TAXON).await);
    println!("odds {before:.2}, after a blank visit {once:.2}");
    assert!(once <= 0.5 * before, "{before} to {once}");
    file(&club, &[Report { id: Uuid::new_v4(), ..blank.clone() }, Report { id: Uuid::new_v4(), ..blank }]).await;
    let thrice = odds(&club.forecast_now(TAXON).await);
    println!("after three of one evening {thrice:.2}");
    assert!(thrice < once && thrice / before > (once / before).powi(2), "{before}, {once}, {thrice}");
}

#[tokio::test(flavor = "multi_thread")]
async fn dark_wing_pads_at_least_double_the_odds_of_today() {
    let club = Club::new().await;
    club.fit(TAXON, None).await;
    let before = odds(&club.forecast_now(TAXON).await);
    let nymph = Sighting {
        stage: Stage::Nymph,
        abundance_class: Some(AbundanceClass::Sparse),
        wing_pads: Some(WingPads::Dark),
        ..heavy()[0].clone()
    };
    let mut found = at_the_peak(&club, vec![nymph]).await;
    // Stones turned, and nobody looked for what flies: the visit itself says nothing of emergence.
    found.looked_for = Some(Vec::new());
    file(&club, &[found]).await;
    let after = odds(&club.forecast_now(TAXON).await);
    println!("odds {before:.2}, with dark wing pads {after:.2}");
    assert!(after >= 2.0 * before, "{before} to {after}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_peak_two_hours_later_yesterday_moves_todays_by_one_to_two() {
    let club = Club::new().await;
    club.fit(TAXON, None).await;
    let forecasts = club.forecast_now(TAXON).await;
    let expected = here(&forecasts).hours.unwrap();
    let yesterday = day("2026-05-19").and_time(expected.peak) + TimeDelta::hours(2);
    let peak = chrono_tz::Europe::London.from_local_datetime(&yesterday).unwrap().to_utc();
    file(&club, &[around(&club, peak, heavy())]).await;
    let after = here(&club.forecast_now(TAXON).await).hours.unwrap();
    let minutes = (after.peak - expected.peak).num_minutes();
    println!("peak moves by {minutes} minutes");
    assert!((60..=120).contains(&minutes), "{} to {}", expected.peak, after.peak);
}

#[tokio::test(flavor = "multi_thread")]
async fn weighing_draws_and_fitting_again_say_the_same() {
    let club = Club::new().await;
    let known = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let subject = known.taxa.iter().find(|t| t.slug.as_str() == TAXON).unwrap().clone();
    let fitted = fit_taxon(&input(&known, &subject, 1)).unwrap();
    // Heavy days a week before insects are expected, and two reports of one evening.
    let early = [6, 9].map(|days| {
        let plain = report(&club, 13, heavy());
        let back = TimeDelta::days(days);
        Report { started_at: plain.started_at - back, ended_at: plain.ended_at - back, ..plain }
    });
    let evening = [13, 14].map(|hour| report(&club, hour, heavy()));
    file(&club, &[early, evening].concat()).await;
    let known = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let season = Season::of_year(2026);
    let drivers: Vec<_> = known.reaches.iter().map(|r| std::sync::Arc::new(known.water.central(r, season))).collect();
    let now = InSeason::new(&known, &subject, 1, season, &drivers, &fitted);
    assert_eq!(now.news.len(), 3, "two reports of one evening are one visit");
    let fresh = refresh(&fitted, &input(&known, &subject, 1)).unwrap();
    let site = known.reaches.iter().position(|r| r.slug == slug(REACH)).unwrap();
    let water = [(*drivers[site]).clone()];
    let plain = SeasonRequest::new(Some(site), 2026, &water, 8000, 4);
    let before = forecast_season(&fitted, &plain).unwrap();
    let weighed = forecast_season(&fitted, &SeasonRequest { news: &now.news, ..plain.clone() }).unwrap();
    let again = forecast_season(&fresh, &plain).unwrap();
    println!("draws left with weight: {:.2}", weighed.effective);
    let any = |f: &SeasonForecast, day: usize| 1.0 - f.classes[day - 1][0];
    let mut moved: f64 = 0.0;
    for at in (110..=170).step_by(5) {
        let (old, w, a) = (any(&before, at), any(&weighed, at), any(&again, at));
        println!("day {at}: {old:.3} before, {w:.3} weighed, {a:.3} fitted again");
        // Monte Carlo error of a mean over 8000 draws, fewer of them independent, and of the normal
        // approximation that the fit makes again.
        assert!((w - a).abs() < 0.06 + 0.1 * (a - old).abs(), "day {at}: {w} and {a}");
        moved = moved.max((a - old).abs());
    }
    assert!(moved > 0.3, "the reports say much: {moved}");
    let middle = |f: &SeasonForecast| f.milestones.map(|dates| dates[1].unwrap());
    for ((old, w), a) in middle(&before).into_iter().zip(middle(&weighed)).zip(middle(&again)) {
        println!("a date: {old:.1} before, {w:.1} weighed, {a:.1} fitted again");
        // Dates as records show them lie on and between the usual visits, some days apart in spring: medians jump.
        assert!((w - a).abs() < 2.0 && (w - a).abs() < 0.3 * (a - old).abs(), "{w} and {a}, before {old}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_worth_of_a_visit_is_told_for_a_fortnight_and_falls_to_nothing_after_the_season() {
    let mut club = Club::new().await;
    club.fit(TAXON, None).await;
    let plan = async |club: &Club| -> Vec<f64> {
        let ready = fitted_residents(&club.db, &club.demo.watershed, &[slug(TAXON)]).await.unwrap().ready;
        let request = ForecastRequest { weigh_visits: true, ..of_today(&club.demo.watershed, &ready, club.demo.today) };
        let made = make(&club.db, &CLOCK(), &request).await.unwrap();
        assert!(made.iter().all(|m| m.narrowing_days.len() == 14));
        made.into_iter().map(|m| m.narrowing_days.into_iter().fold(0.0, f64::max)).collect()
    };
    let running = plan(&club).await;
    println!("a visit is worth up to {running:.2?} days");
    assert!(running.iter().all(|days| *days > 0.02), "{running:?}");
    club.move_on("2026-11-20").await;
    let over = plan(&club).await;
    assert!(over.iter().zip(&running).all(|(late, early)| late < early), "{over:?}");
}
