//! A second, colder water without records, beside the club's own.

use subimago::app::fit::{FitRequest, fit_watershed, input, load};
use subimago::app::jobs::FIT;
use subimago::app::neighbours;
use subimago::domain::{Fit, ReadingTime, Slug};
use subimago::model::emergence::FittedForm;
use subimago::store::{Span, fit as store_fit, job, place, reading, taxon};
use uuid::Uuid;

use subimago::clock::FixedClock;

use crate::club::{CLOCK, Club, NowForTests, day, slug};

const TAXON: &str = "ephemera-danica";
const COLDER_C: f64 = 2.0;

/// Lays out a watershed with the water of the club's first reach, so much colder.
async fn colder_neighbour(club: &Club) -> Slug {
    let (home, name) = (&club.demo.watershed, slug("upper-brook"));
    let mut tx = club.db.write().await.unwrap();
    let mut watershed = place::find_watershed(&mut tx, home).await.unwrap().unwrap();
    let gauge = place::gauges(&mut tx, home).await.unwrap().remove(0);
    let mut reach = place::reaches(&mut tx, home).await.unwrap().remove(0);
    watershed.slug = name.clone();
    "Upper Brook".clone_into(&mut watershed.name);
    reach.gauges = vec![gauge.slug.clone()];
    place::upsert_watershed(&mut tx, &watershed).await.unwrap();
    place::upsert_gauge(&mut tx, &name, &gauge).await.unwrap();
    place::upsert_reach(&mut tx, &name, &reach).await.unwrap();
    let everything = Span { from: None, to: None };
    let mut list = reading::daily_readings(&mut tx, home, &gauge.slug, None, everything).await.unwrap();
    for one in &mut list {
        if let ReadingTime::Day { mean: tmean_c, low: tmin_c, high: tmax_c, .. } = &mut one.time {
            [tmean_c, tmin_c, tmax_c].into_iter().for_each(|t| *t = (*t - COLDER_C).max(0.1));
        }
    }
    reading::put_readings(&mut tx, &name, &list, chrono::Utc::now_for_tests()).await.unwrap();
    taxon::set_resident(&mut tx, &name, &slug(TAXON), true).await.unwrap();
    tx.commit().await.unwrap();
    name
}

async fn fit(club: &Club, watershed: &Slug, through: Option<&str>, hour: i64) -> Fit {
    let request = FitRequest { watershed: watershed.clone(), taxon: Some(slug(TAXON)), through: through.map(day) };
    let clock = FixedClock(CLOCK().0 + chrono::TimeDelta::hours(hour));
    let outcomes = fit_watershed(&club.db, &clock, &request, &|_| {}).await.unwrap();
    outcomes.into_iter().next().unwrap().fit.unwrap()
}

async fn middle(club: &Club, watershed: &Slug, through: Option<&str>) -> (f64, f64) {
    let known = load(&club.db, watershed, through.map(day)).await.unwrap();
    let subject = known.taxa.iter().find(|t| t.slug.as_str() == TAXON).unwrap();
    input(&known, subject, 1).prior.median_day.unwrap()
}

async fn queued(club: &Club, watershed: &Slug) -> usize {
    let mut tx = club.db.read().await.unwrap();
    job::jobs(&mut tx, watershed, 10).await.unwrap().iter().filter(|job| job.kind == FIT).count()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_water_starts_from_the_heat_that_its_neighbour_has_learned() {
    let club = Club::new().await;
    let brook = colder_neighbour(&club).await;
    let before = fit(&club, &brook, None, 0).await;
    assert!(before.prior_driven, "nobody to learn from yet");
    let of_region = "the usual season of its region is read on this water's usual warmth";
    assert!(before.warnings.len() == 1 && before.warnings[0].contains(of_region), "{:?}", before.warnings);
    let traits = middle(&club, &brook, None).await;

    let home = fit(&club, &club.demo.watershed, None, 1).await;
    assert!(home.warnings.iter().all(|w| !w.contains("upper-brook")), "who has records does not ask who has none");
    let behind = || neighbours::learn_again(&club.db, &brook, chrono::Utc::now_for_tests());
    assert_eq!(behind().await.unwrap(), [slug(TAXON)], "its neighbour has learned since");
    assert_eq!(queued(&club, &brook).await, 1);
    let none = neighbours::learn_again(&club.db, &club.demo.watershed, chrono::Utc::now_for_tests()).await.unwrap();
    assert!(none.is_empty(), "who has records waits for nobody: {none:?}");
    let after = fit(&club, &brook, None, 2).await;
    assert!(behind().await.unwrap().is_empty(), "now it knows");
    assert_eq!(queued(&club, &brook).await, 1);
    assert!(after.prior_driven, "labelled as before");
    assert!(after.warnings.iter().any(|w| w.contains(club.demo.watershed.as_str())), "{:?}", after.warnings);
    assert!(after.warnings.iter().all(|w| !w.contains(of_region)), "its day is no longer the region's");
    assert_ne!(before.id, after.id);
    let carried = middle(&club, &brook, None).await;
    assert!(carried.1 < traits.1, "surer: {carried:?} after {traits:?}");
    // The home reaches' middle days lie about 27 May; two degrees are worth a week and more.
    let own = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let fitted = {
        let subject = own.taxa.iter().find(|t| t.slug.as_str() == TAXON).unwrap();
        subimago::model::emergence::fit_taxon(&input(&own, subject, 1)).unwrap()
    };
    let there = fitted.members.iter().find(|m| m.fit.clock.index() == 1).unwrap().fit.mean[2];
    assert!(carried.0 > there + 7.0, "day {} on colder water, {there} at home", carried.0);

    // Heat that is counted from another day there, as by an older version of the program, helps nobody here.
    let put = async |id, model_json| {
        let mut tx = club.db.write().await.unwrap();
        let one = Fit { id: Uuid::from_u128(id), model_json, ..home.clone() };
        store_fit::insert_fit(&mut tx, &one).await.unwrap();
        tx.commit().await.unwrap();
    };
    let from_july = home.model_json.replacen("\"cycle\":\"calendar\"", "\"cycle\":\"autumn\"", 1);
    assert_ne!(from_july, home.model_json);
    put(1, from_july).await;
    assert_eq!(middle(&club, &brook, None).await, traits);
    let alone = fit(&club, &brook, None, 3).await;
    let told = |w: &String| w.contains(club.demo.watershed.as_str());
    assert!(!alone.warnings.iter().any(told), "nor is it told of: {:?}", alone.warnings);
    put(2, home.model_json.clone()).await;
    assert_eq!(middle(&club, &brook, None).await, carried);

    // A hindcast must not learn from a fit that saw more.
    // The region's season, on the water as it was known by then.
    let by_region = |(day, sd): (f64, f64)| (day - traits.0).abs() < 1.0 && (sd - traits.1).abs() < 0.5;
    assert!(by_region(middle(&club, &brook, Some("2025-12-31")).await));
    fit(&club, &club.demo.watershed, Some("2025-12-31"), 3).await;
    assert!(!by_region(middle(&club, &brook, Some("2025-12-31")).await));

    // What lies far away is no neighbour.
    let mut tx = club.db.write().await.unwrap();
    let mut reach = place::reaches(&mut tx, &brook).await.unwrap().remove(0);
    reach.latitude -= 8.0;
    place::upsert_reach(&mut tx, &brook, &reach).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(middle(&club, &brook, None).await, traits);
}

/// What other taxa tell of a water holds for one without records there: here all others are eight days later than the
/// club's at equal heat.
#[tokio::test(flavor = "multi_thread")]
async fn a_water_on_which_others_are_late_is_late_for_a_taxon_without_records() {
    let club = Club::new().await;
    let brook = colder_neighbour(&club).await;
    let home = club.demo.watershed.clone();
    fit(&club, &home, None, 0).await;
    let before = middle(&club, &brook, None).await;

    // Fits of others are stood for by that of one taxon, moved about.
    let mut tx = club.db.write().await.unwrap();
    let told = store_fit::fit_to_publish(&mut tx, &home, &slug(TAXON), 1).await.unwrap().unwrap();
    let residents = taxon::residents(&mut tx, &home).await.unwrap();
    for (k, other) in residents.iter().filter(|taxon| taxon.slug.as_str() != TAXON).take(5).enumerate() {
        for (watershed, days) in [(&home, 0.0), (&brook, LATER_DAYS)] {
            let moved = 6.0 * k as f64 - 12.0 + days;
            let fit = Fit {
                id: Uuid::new_v4(),
                watershed: watershed.clone(),
                taxon: other.slug.clone(),
                years: 8,
                model_json: later(&told.model_json, moved),
                ..told.clone()
            };
            store_fit::insert_fit(&mut tx, &fit).await.unwrap();
        }
    }
    tx.commit().await.unwrap();
    let after = middle(&club, &brook, None).await;
    assert!(after.0 - before.0 > 0.6 * LATER_DAYS, "{before:?} {after:?}");
    assert!(after.0 - before.0 < 1.1 * LATER_DAYS, "{before:?} {after:?}");
    assert!(after.1 < before.1, "surer: {before:?} {after:?}");
}

const LATER_DAYS: f64 = 8.0;

/// A stored fit with its middle day moved.
fn later(model_json: &str, days: f64) -> String {
    let form: FittedForm = serde_json::from_str(model_json).unwrap();
    let mut fitted = form.into_fitted().unwrap();
    for member in &mut fitted.members {
        member.fit.mean[2] += days;
    }
    serde_json::to_string(&FittedForm::from(&fitted)).unwrap()
}
