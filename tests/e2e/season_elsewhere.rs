//! Waters without records, where only the usual season of another region is known.

use chrono::Datelike;
use subimago::app::fit::{FitRequest, fit_watershed, input, load};
use subimago::app::forecast::{FitChoice, ForecastRequest, forecast};
use subimago::domain::season::{Cycle, WhichSeason};
use subimago::domain::{Fit, Forecast, Reading, ReadingTime, Slug};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::store::{Span, place, reading, taxon};

use crate::club::{CLOCK, Club, NowForTests, day, shift_reading, slug};

/// Of May in the east of North America, at about 43 N; the demo has no records of it.
const TAXON: &str = "stenonema-maccaffertium-vicarium";

/// A watershed at `latitude_deg` with the water of the club's first reach as `change` makes it, or without any.
async fn lay_out(club: &Club, name: &str, latitude_deg: f64, change: Option<fn(&mut Reading)>) -> Slug {
    let (home, name) = (&club.demo.watershed, slug(name));
    let mut tx = club.db.write().await.unwrap();
    let mut watershed = place::find_watershed(&mut tx, home).await.unwrap().unwrap();
    let gauge = place::gauges(&mut tx, home).await.unwrap().remove(0);
    let mut reach = place::reaches(&mut tx, home).await.unwrap().remove(0);
    watershed.slug = name.clone();
    (reach.latitude, reach.elevation_m) = (latitude_deg, None);
    reach.gauges = vec![gauge.slug.clone()];
    place::upsert_watershed(&mut tx, &watershed).await.unwrap();
    place::upsert_gauge(&mut tx, &name, &gauge).await.unwrap();
    place::upsert_reach(&mut tx, &name, &reach).await.unwrap();
    if let Some(change) = change {
        let everything = Span { from: None, to: None };
        let mut list = reading::daily_readings(&mut tx, home, &gauge.slug, None, everything).await.unwrap();
        list.iter_mut().for_each(change);
        reading::put_readings(&mut tx, &name, &list, chrono::Utc::now_for_tests()).await.unwrap();
    }
    let known = seed_taxa().unwrap().into_iter().find(|taxon| taxon.slug == slug(TAXON)).unwrap();
    taxon::upsert_taxon(&mut tx, &known).await.unwrap();
    taxon::set_resident(&mut tx, &name, &known.slug, true).await.unwrap();
    tx.commit().await.unwrap();
    name
}

fn warmed(reading: &mut Reading, by_c: f64) {
    if let ReadingTime::Day { mean, low, high, .. } = &mut reading.time {
        [mean, low, high].into_iter().for_each(|t| *t = (*t + by_c).max(0.1));
    }
}

async fn made(club: &Club, watershed: &Slug) -> (Fit, Forecast) {
    let request = FitRequest { watershed: watershed.clone(), taxon: Some(slug(TAXON)), through: None };
    let fit = fit_watershed(&club.db, &CLOCK(), &request, &|_| {}).await.unwrap().remove(0).fit.unwrap();
    let request = ForecastRequest {
        watershed: watershed.clone(),
        reach: None,
        taxa: vec![slug(TAXON)],
        season: WhichSeason::Named(2026),
        as_of: None,
        today: club.demo.today,
        fits: FitChoice::Published,
        in_season: true,
        weigh_visits: false,
    };
    let forecast = forecast(&club.db, &CLOCK(), &request).await.unwrap().remove(0);
    (fit, forecast)
}

fn half(forecast: &Forecast) -> chrono::NaiveDate {
    forecast.milestones[2].dates.p50.unwrap()
}

fn told(fit: &Fit, words: &str) -> bool {
    fit.prior_driven && fit.warnings.iter().any(|warning| warning.contains(words))
}

#[tokio::test(flavor = "multi_thread")]
async fn the_usual_season_of_a_region_is_placed_by_warmth_latitude_and_hemisphere() {
    let club = Club::new().await;
    let home = lay_out(&club, "at-42", 42.0, Some(|r| warmed(r, 0.0))).await;
    let cold = lay_out(&club, "at-60", 60.0, Some(|r| warmed(r, -4.0))).await;
    let dry = lay_out(&club, "at-50-unmeasured", 50.0, None).await;
    let south = lay_out(&club, "at-42-south", -42.0, Some(|r| shift_reading(r, 182))).await;
    let ((home_fit, home), (cold_fit, cold)) = (made(&club, &home).await, made(&club, &cold).await);
    let ((dry_fit, dry), (south_fit, south)) = (made(&club, &dry).await, made(&club, &south).await);
    println!("42 N {}, 60 N cold {}, 50 N unmeasured {}, 42 S {}", half(&home), half(&cold), half(&dry), half(&south));
    assert!(half(&cold) > half(&home) + chrono::Days::new(7), "{} and {}", half(&home), half(&cold));
    // The table's 30 May is of 43 N in America; this lies in Europe, where 50 N is as mild as 41 N there: 4 days a degree.
    assert!((half(&dry) - day("2026-05-22")).num_days().abs() <= 5, "{}", half(&dry));
    assert!([11, 12, 1].contains(&half(&south).month()), "{}", half(&south));
    assert!(told(&home_fit, "usual warmth") && told(&cold_fit, "usual warmth"), "{:?}", home_fit.warnings);
    assert!(told(&dry_fit, "moved by latitude"), "{:?}", dry_fit.warnings);
    assert!(told(&south_fit, "southern hemisphere") && told(&south_fit, "usual warmth"), "{:?}", south_fit.warnings);
    assert!(!told(&home_fit, "southern"), "{:?}", home_fit.warnings);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_invented_rivers_usual_seasons_stay_near_the_table() {
    let club = Club::new().await;
    let known = load(&club.db, &club.demo.watershed, None).await.unwrap();
    for subject in &known.taxa {
        let numbers: Vec<u8> = subject.broods.iter().map(|brood| brood.number).collect();
        for brood in &subject.broods {
            let before = Cycle::of(subject).day_number(brood.median_day_of_year);
            let (after, sd_days) = input(&known, subject, brood.number).prior.median_day.unwrap();
            println!(
                "{} {}/{}: day {before} -> {after:.1}, sd {sd_days:.1}",
                subject.slug,
                brood.number,
                numbers.len()
            );
            assert!((after - before).abs() < 21.0 && (20.0..60.0).contains(&sd_days), "{} {after}", subject.slug);
        }
    }
}
