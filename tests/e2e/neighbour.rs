//! A second, colder water without records, beside the club's own.

use subimago::app::fit::{FitRequest, fit_watershed, input, load};
use subimago::app::fit_prior;
use subimago::app::jobs::FIT;
use subimago::domain::{Fit, ReadingTime, Slug};
use subimago::store::{Span, job, place, reading, taxon};

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
    let behind = || fit_prior::learn_again(&club.db, &brook, chrono::Utc::now_for_tests());
    assert_eq!(behind().await.unwrap(), [slug(TAXON)], "its neighbour has learned since");
    assert_eq!(queued(&club, &brook).await, 1);
    let none = fit_prior::learn_again(&club.db, &club.demo.watershed, chrono::Utc::now_for_tests()).await.unwrap();
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
