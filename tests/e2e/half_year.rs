//! Insects of autumn and winter: their year is cut elsewhere, and no winter in two.

use std::sync::Arc;

use chrono::{Datelike, Days};
use subimago::app::Service;
use subimago::app::fit::{Known, input, load};
use subimago::app::forecast::{FitChoice, ForecastRequest, forecast};
use subimago::app::forecasts::{ForecastQuery, answer};
use subimago::app::jobs::FIT;
use subimago::app::publish_season::publish_season;
use subimago::domain::season::{Cycle, Season, WhichSeason};
use subimago::domain::{Brood, Forecast, Taxon};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::model::emergence::{FittedTaxon, SeasonRequest, fit_taxon, forecast_season};
use subimago::store::{fit, job, taxon as taxa};
use uuid::Uuid;

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
    let olive = table.iter().find(|t| t.slug.as_str() == "baetis-rhodani").unwrap();
    let broods = [1, 2, 3].map(|number| Cycle::of_brood(olive, number));
    assert_eq!(broods, [Cycle::Calendar, Cycle::Calendar, Cycle::Autumn]);
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

/// Middle day of `season` on heat where the water of these months was three degrees warmer.
fn middle_after(fit: &FittedTaxon, known: &Known, season: Season, warmer: std::ops::RangeInclusive<u32>) -> f64 {
    let mut water = known.water.central(&known.reaches[0], season);
    for index in (0..season.len()).filter(|index| warmer.contains(&season.date(index + 1).month())) {
        water.tmin_c[index] += 3.0;
        water.tmax_c[index] += 3.0;
    }
    let thermal = FittedTaxon { weights: THERMAL, ..fit.clone() };
    let water = [water];
    let request = SeasonRequest::new(Some(0), season.year, &water, 400, 9);
    forecast_season(&thermal, &request).unwrap().milestones[1][1].unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_warmth_of_spring_says_nothing_of_an_autumn_insect() {
    let club = Club::new().await;
    let autumn = later(&club, OTHER, 0, 60).await;
    let known = load(&autumn.db, &autumn.demo.watershed, None).await.unwrap();
    let fit = fitted(&known, OTHER);
    assert_eq!(fit.cycle, Cycle::Autumn);
    let season = Cycle::Autumn.season(2025);
    let warmer = |months| middle_after(&fit, &known, season, months);
    let (spring, summer) = (warmer(3..=6), warmer(7..=8));
    let plain = middle(&fit, THERMAL, &known, season);
    println!("day {plain:.1}; after a warm spring {spring:.1}, after a warm summer {summer:.1}");
    assert_eq!(spring, plain);
    assert!(summer < plain - 3.0, "{summer} and {plain}");
}

/// The same with a brood of May before it, so that it is one of autumn of a spring insect.
async fn with_a_spring_brood(club: &Club) -> Club {
    let two = later(club, OTHER, 0, 60).await;
    let mut tx = two.db.write().await.unwrap();
    let residents = taxa::residents(&mut tx, &two.demo.watershed).await.unwrap();
    let mut insect = residents.into_iter().find(|t| t.slug == slug(OTHER)).unwrap();
    let autumn = Brood { number: 2, ..insect.broods.remove(0) };
    insect.broods = vec![Brood { number: 1, median_day_of_year: 130.0, ..autumn.clone() }, autumn];
    taxa::upsert_taxon(&mut tx, &insect).await.unwrap();
    tx.commit().await.unwrap();
    two
}

#[tokio::test(flavor = "multi_thread")]
async fn an_autumn_brood_of_a_spring_insect_is_fitted_anew_once_and_published_beside_the_spring_brood() {
    let club = with_a_spring_brood(&Club::new().await).await;
    let home = &club.demo.watershed;
    let fits = club.fit(OTHER, None).await;
    assert_eq!(fits.iter().map(|fit| fit.brood).collect::<Vec<_>>(), [1, 2]);
    let queued = async || {
        let mut tx = club.db.read().await.unwrap();
        job::jobs(&mut tx, home, 10).await.unwrap().iter().filter(|job| job.kind == FIT).count()
    };
    // As a version of the program stored it whose clocks ran from January.
    let mut old = fits[1].clone();
    old.id = Uuid::from_u128(1);
    old.model_json = old.model_json.replacen("\"cycle\":\"autumn\"", "\"cycle\":\"calendar\"", 1);
    assert_ne!(old.model_json, fits[1].model_json);
    let mut tx = club.db.write().await.unwrap();
    fit::insert_fit(&mut tx, &old).await.unwrap();
    tx.commit().await.unwrap();
    let published = async |today| publish_season(&club.db, &CLOCK(), home, &[slug(OTHER)], day(today)).await.unwrap();
    assert!(published("2026-05-20").await.is_empty());
    assert_eq!(queued().await, 1);
    club.fit(OTHER, None).await;

    for today in ["2026-05-20", "2026-09-20"] {
        let made = published(today).await;
        assert_eq!(queued().await, 1, "fitted again once");
        for brood in [1, 2] {
            let own: Vec<_> = made.iter().filter(|forecast| forecast.brood == brood).collect();
            assert_eq!(own.len(), 5, "one on every reach");
            for forecast in own {
                assert_eq!(forecast.season, 2026);
                let middle = forecast.milestones[2].dates.p50.unwrap();
                let months = if brood == 1 { 4..=6 } else { 8..=10 };
                assert!(months.contains(&middle.month()), "brood {brood}: {middle}");
            }
        }
        let service = Service::builder(club.db.clone(), Arc::new(CLOCK())).shown_today(Some(day(today))).build();
        service.refresh().await.unwrap();
        let view = service.watershed(home).unwrap();
        let query = ForecastQuery { taxa: vec![slug(OTHER)], ..ForecastQuery::default() };
        let shown = answer(&service, &view, &query).await.unwrap();
        assert_eq!(shown.len(), 10, "both broods are of this season");
    }

    // Before July the clocks of autumn stand still.
    for (as_of, stands) in [("2025-06-30", true), ("2025-09-20", false)] {
        let request = ForecastRequest {
            watershed: home.clone(),
            reach: None,
            taxa: vec![slug(OTHER)],
            season: WhichSeason::On(day(as_of)),
            as_of: Some(day(as_of)),
            today: day(as_of),
            fits: FitChoice::Latest,
            in_season: false,
            weigh_visits: false,
        };
        let made = forecast(&club.db, &CLOCK(), &request).await.unwrap();
        assert_eq!(made.len(), 10);
        for Forecast { brood, progress, .. } in &made {
            let zero = *brood == 2 && stands;
            assert_eq!(progress.units_so_far == 0.0, zero, "brood {brood} on {as_of}: {progress:?}");
            assert_eq!(progress.long_run_mean == 0.0, zero, "brood {brood} on {as_of}: {progress:?}");
            assert!(progress.thermal_lead_days.abs() < 30.0, "brood {brood} on {as_of}: {progress:?}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_warmth_of_spring_says_nothing_of_the_autumn_brood_of_a_spring_insect() {
    let club = with_a_spring_brood(&Club::new().await).await;
    let known = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let insect = known.taxa.iter().find(|t| t.slug.as_str() == OTHER).unwrap();
    let input = input(&known, insect, 2);
    let flights = &input.flights.as_ref().unwrap().units;
    assert!(
        !flights.is_empty() && flights.iter().all(|unit| unit.drivers.idle_days >= 181),
        "spinners follow their duns"
    );
    let fit = fit_taxon(&input).unwrap();
    let season = Cycle::Autumn.season(2025);
    let plain = middle(&fit, THERMAL, &known, season);
    let (spring, summer) = (middle_after(&fit, &known, season, 3..=6), middle_after(&fit, &known, season, 7..=8));
    println!("day {plain:.1}; after a warm spring {spring:.1}, after a warm summer {summer:.1}");
    assert_eq!(spring, plain);
    assert!(summer < plain - 3.0, "{summer} and {plain}");
}
