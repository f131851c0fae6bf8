//! Insects of autumn and winter: their year is cut elsewhere, and no winter in two.

use std::sync::Arc;

use chrono::{Datelike, Days};
use subimago::app::Service;
use subimago::app::fit::{Known, input, load};
use subimago::app::forecasts::{ForecastQuery, answer};
use subimago::app::publish_season::publish_season;
use subimago::domain::season::{Cycle, Season};
use subimago::domain::{Brood, Taxon};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::model::emergence::{FittedTaxon, SeasonRequest, fit_taxon, forecast_season};
use subimago::store::taxon as taxa;

use crate::club::{CLOCK, Club, day, shift_reading, shift_record, slug};

/// Of July in the demo, by the warmth of its water.
const TAXON: &str = "heptagenia-sulphurea";
/// Of July too.
const OTHER: &str = "serratella-ignita";
/// From 1 January to 1 July.
const HALF_A_YEAR: u64 = 181;
const CALENDAR: [f64; 4] = [1.0, 0.0, 0.0, 0.0];
const THERMAL: [f64; 4] = [0.0, 1.0, 0.0, 0.0];

fn middle(fitted: &FittedTaxon, weights: [f64; 4], known: &Known, season: Season) -> f64 {
    let fitted = FittedTaxon { weights, ..fitted.clone() };
    let water = [known.water.central(&known.reaches[0], season)];
    let request = SeasonRequest::new(Some(0), season.year, &water, 400, 9);
    forecast_season(&fitted, &request).unwrap().milestones[1][1].unwrap()
}

fn fitted(known: &Known, taxon: &str) -> FittedTaxon {
    let subject = known.taxa.iter().find(|t| t.slug.as_str() == taxon).unwrap();
    fit_taxon(&input(known, subject, 1)).unwrap()
}

/// The demo's club with its water, and all of `taxon`, so many days later, and the taxon known for it.
async fn later(club: &Club, taxon: &str, readings: u64, records: u64) -> Club {
    let mut later = club
        .changed(
            |r| shift_reading(r, readings),
            |r| {
                if r.taxon == slug(taxon) {
                    shift_record(r, records);
                } else {
                    shift_record(r, readings);
                }
            },
        )
        .await;
    later.demo.today = later.demo.today + Days::new(readings);
    let mut tx = later.db.write().await.unwrap();
    let mut resident: Taxon = taxa::residents(&mut tx, &later.demo.watershed)
        .await
        .unwrap()
        .into_iter()
        .find(|t| t.slug == slug(taxon))
        .unwrap();
    let moved = |day: f64| (day + records as f64 - 1.0).rem_euclid(365.0) + 1.0;
    resident.broods = resident
        .broods
        .into_iter()
        .map(|brood| Brood { median_day_of_year: moved(brood.median_day_of_year), ..brood })
        .collect();
    taxa::upsert_taxon(&mut tx, &resident).await.unwrap();
    tx.commit().await.unwrap();
    later
}

#[test]
fn the_trait_table_has_insects_of_every_half() {
    let table = seed_taxa().unwrap();
    let cycle = |slug: &str| Cycle::of(table.iter().find(|t| t.slug.as_str() == slug).unwrap());
    assert_eq!(cycle("capnia-allocapnia-and-other-winter-stoneflies"), Cycle::Winter);
    assert_eq!(cycle("dicosmoecus"), Cycle::Autumn);
    assert_eq!(cycle("paraleptophlebia-debilis"), Cycle::Autumn);
    assert_eq!(cycle("ephemera-danica"), Cycle::Calendar);
    // Its third brood is of autumn, its first of spring.
    assert_eq!(cycle("baetis-rhodani"), Cycle::Calendar);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_winter_is_forecast_like_the_same_summer_half_a_year_before() {
    let club = Club::new().await;
    let winter = later(&club, TAXON, HALF_A_YEAR, HALF_A_YEAR).await;
    let (plain, moved) = (
        load(&club.db, &club.demo.watershed, None).await.unwrap(),
        load(&winter.db, &winter.demo.watershed, None).await.unwrap(),
    );
    let (summer_fit, winter_fit) = (fitted(&plain, TAXON), fitted(&moved, TAXON));
    assert_eq!((summer_fit.cycle, winter_fit.cycle), (Cycle::Calendar, Cycle::Winter));
    assert_eq!((summer_fit.records, summer_fit.years_used), (winter_fit.records, winter_fit.years_used));
    for weights in [CALENDAR, THERMAL] {
        let before = middle(&summer_fit, weights, &plain, Cycle::Calendar.season(2025));
        let after = middle(&winter_fit, weights, &moved, Cycle::Winter.season(2025));
        println!("{weights:?}: day {before:.1} of the year, day {after:.1} of the winter's year");
        // Means of leaning posteriors are found to the first order, and moved as far as the farthest parameter allows.
        assert!((before - after).abs() <= 2.0, "{before} and {after}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_winter_is_published_under_one_name_on_both_sides_of_new_year() {
    let club = Club::new().await;
    let winter = later(&club, TAXON, HALF_A_YEAR, HALF_A_YEAR).await;
    winter.fit(TAXON, None).await;
    let mut middles = Vec::new();
    for today in ["2026-12-20", "2027-01-10"].map(day) {
        publish_season(&winter.db, &CLOCK(), &winter.demo.watershed, &[slug(TAXON)], today).await.unwrap();
        let service = Service::builder(winter.db.clone(), Arc::new(CLOCK())).shown_today(Some(today)).build();
        service.refresh().await.unwrap();
        let view = service.watershed(&winter.demo.watershed).unwrap();
        let query = ForecastQuery { taxa: vec![slug(TAXON)], ..ForecastQuery::default() };
        let shown = answer(&service, &view, &query).await.unwrap();
        assert_eq!(shown.len(), view.reaches.len());
        for document in &shown {
            assert_eq!(document.season, 2026, "on {today}");
            assert_eq!(document.days.first().map(|d| d.date), Some(today));
            middles.push(document.milestones[2].p50.unwrap());
        }
        // By name it is the same; the next winter has none yet.
        let named = |season| ForecastQuery { season: Some(season), ..query.clone() };
        assert_eq!(answer(&service, &view, &named(2026)).await.unwrap().len(), shown.len());
        assert!(answer(&service, &view, &named(2027)).await.is_err(), "no past forecasts are computed here");
    }
    println!("half emerged by {middles:?}");
    assert!(middles.iter().all(|date| date.year() == 2027 || (date.year(), date.month()) == (2026, 12)));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_warmth_of_spring_says_nothing_of_an_autumn_insect() {
    let club = Club::new().await;
    let autumn = later(&club, OTHER, 0, 60).await;
    let known = load(&autumn.db, &autumn.demo.watershed, None).await.unwrap();
    let fit = fitted(&known, OTHER);
    assert_eq!(fit.cycle, Cycle::Autumn);
    let season = Cycle::Autumn.season(2025);
    let warmer = |months: std::ops::RangeInclusive<u32>| {
        let mut water = known.water.central(&known.reaches[0], season);
        for index in (0..season.len()).filter(|index| months.contains(&season.date(index + 1).month())) {
            water.tmin_c[index] += 3.0;
            water.tmax_c[index] += 3.0;
        }
        let thermal = FittedTaxon { weights: THERMAL, ..fit.clone() };
        let water = [water];
        let request = SeasonRequest::new(Some(0), 2025, &water, 400, 9);
        forecast_season(&thermal, &request).unwrap().milestones[1][1].unwrap()
    };
    let (spring, summer) = (warmer(3..=6), warmer(7..=8));
    let plain = middle(&fit, THERMAL, &known, season);
    println!("day {plain:.1}; after a warm spring {spring:.1}, after a warm summer {summer:.1}");
    assert_eq!(spring, plain);
    assert!(summer < plain - 3.0, "{summer} and {plain}");
}
