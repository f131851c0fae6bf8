//! Changes of the data whose effect is known beforehand.

use subimago::app::fit::{Known, input, load};
use subimago::domain::season::Season;
use subimago::domain::{Forecast, ReadingTime};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::model::clock::Drivers;
use subimago::model::emergence::{FittedTaxon, SeasonRequest, fit_taxon, forecast_season};
use subimago::store::taxon;

use crate::club::{Club, day, document, shift_reading, shift_record, slug};

const TAXON: &str = "ephemera-danica";
const CALENDAR: [f64; 4] = [1.0, 0.0, 0.0, 0.0];
const THERMAL: [f64; 4] = [0.0, 1.0, 0.0, 0.0];

fn width_days(forecast: &Forecast) -> i64 {
    let dates = forecast.milestones[1].dates;
    dates.p90.map_or(400, |late| (late - dates.p10.unwrap()).num_days())
}

fn middle(fitted: &FittedTaxon, weights: [f64; 4], site: usize, year: i32, water: &Drivers) -> f64 {
    let fitted = FittedTaxon { weights, ..fitted.clone() };
    let water = [water.clone()];
    let request = SeasonRequest::new(Some(site), year, &water, 400, 9);
    forecast_season(&fitted, &request).unwrap().milestones[1][1].unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn reversed_rows_give_the_same_forecast_and_ten_days_move_it_by_ten() {
    let club = Club::new().await;
    club.fit(TAXON, None).await;
    let before = club.forecast(TAXON, None).await;

    let same = club.changed(|_| (), |_| ()).await;
    same.fit(TAXON, None).await;
    let again = same.forecast(TAXON, None).await;
    assert_eq!(before.iter().map(document).collect::<Vec<_>>(), again.iter().map(document).collect::<Vec<_>>());

    let later = club.changed(|r| shift_reading(r, 10), |r| shift_record(r, 10)).await;
    later.fit(TAXON, None).await;
    let known = load(&later.db, &later.demo.watershed, None).await.unwrap();
    let plain = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let fitted = |known: &Known| {
        let subject = known.taxa.iter().find(|t| t.slug.as_str() == TAXON).unwrap();
        fit_taxon(&input(known, subject, 1)).unwrap()
    };
    let (a, b) = (fitted(&plain), fitted(&known));
    // A season already over, so that its water is known in both.
    let season = Season::of_year(2024);
    for weights in [CALENDAR, THERMAL] {
        let moved: Vec<f64> = (0..plain.reaches.len())
            .map(|site| {
                let date = |known: &Known, fitted: &FittedTaxon| {
                    middle(fitted, weights, site, 2024, &known.water.central(&known.reaches[site], season))
                };
                date(&known, &b) - date(&plain, &a)
            })
            .collect();
        println!("{weights:?}: moved by {moved:.1?}");
        // A posterior that leans has its mean to the first order: one reach may part by a day, all together hardly.
        let mean = moved.iter().sum::<f64>() / moved.len() as f64;
        assert!(moved.iter().all(|m| (m - 10.0).abs() <= 1.5), "{weights:?}: moved by {moved:?} d");
        assert!((mean - 10.0).abs() <= 0.5, "{weights:?}: moved by {mean} d on average");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn warmer_water_moves_the_thermal_clock_and_leaves_the_calendar() {
    let club = Club::new().await;
    let known = load(&club.db, &club.demo.watershed, None).await.unwrap();
    let subject = known.taxa.iter().find(|t| t.slug.as_str() == TAXON).unwrap();
    let fitted = fit_taxon(&input(&known, subject, 1)).unwrap();
    let season = Season::of_year(2025);
    let cool = known.water.central(&known.reaches[0], season);
    let mut warm = cool.clone();
    for list in [&mut warm.tmin_c, &mut warm.tmax_c] {
        for t in list.iter_mut() {
            *t += 2.0;
        }
    }
    let thermal = |water: &Drivers| middle(&fitted, THERMAL, 0, 2025, water);
    let calendar = |water: &Drivers| middle(&fitted, CALENDAR, 0, 2025, water);
    assert!(thermal(&warm) < thermal(&cool) - 5.0, "{} and {}", thermal(&warm), thermal(&cool));
    assert_eq!(calendar(&warm), calendar(&cool));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cut_off_hides_what_came_later() {
    let mut club = Club::new().await;
    let cut = day("2026-05-10");
    club.fit(TAXON, Some(cut)).await;
    let before = club.forecast(TAXON, Some(cut)).await;
    club.move_on("2026-07-15").await;
    club.fit(TAXON, Some(cut)).await;
    let after = club.forecast(TAXON, Some(cut)).await;
    assert_eq!(before.iter().map(document).collect::<Vec<_>>(), after.iter().map(document).collect::<Vec<_>>());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_taxon_without_records_is_prior_driven_and_clearly_wider() {
    let club = Club::new().await;
    let stranger = seed_taxa()
        .unwrap()
        .into_iter()
        .find(|t| t.slug.as_str() == "epeorus-pleuralis")
        .expect("a spring mayfly that the demo has no records of");
    let mut tx = club.db.write().await.unwrap();
    taxon::upsert_taxon(&mut tx, &stranger).await.unwrap();
    taxon::set_resident(&mut tx, &club.demo.watershed, &stranger.slug, true).await.unwrap();
    tx.commit().await.unwrap();
    let unknown = club.fit(stranger.slug.as_str(), None).await;
    assert!(unknown[0].prior_driven && unknown[0].records == 0);
    club.fit(TAXON, None).await;
    let wide = club.forecast(stranger.slug.as_str(), None).await;
    let narrow = club.forecast(TAXON, None).await;
    let mean = |list: &[Forecast]| list.iter().map(|f| width_days(f) as f64).sum::<f64>() / list.len() as f64;
    println!("80 % interval of the 10 % date: {:.0} d without records, {:.0} d with", mean(&wide), mean(&narrow));
    assert!(mean(&wide) > 1.3 * mean(&narrow), "{} against {} days", mean(&wide), mean(&narrow));
    assert!(wide.iter().all(|f| f.prior_driven) && narrow.iter().all(|f| !f.prior_driven));
    assert_eq!(slug(TAXON), narrow[0].taxon);
}

#[tokio::test(flavor = "multi_thread")]
async fn two_degrees_on_this_season_alone_bring_the_published_dates_forward() {
    let club = Club::new().await;
    let year = 2026;
    let warm = club
        .changed(
            |r| {
                if let ReadingTime::Day { date, mean: tmean_c, low: tmin_c, high: tmax_c } = &mut r.time
                    && Season::containing(*date).year == year
                {
                    for t in [tmean_c, tmin_c, tmax_c] {
                        *t += 2.0;
                    }
                }
            },
            |_| (),
        )
        .await;
    // Fits that know nothing of this season, so that only its water differs.
    let through = Some(day("2025-12-31"));
    club.fit(TAXON, through).await;
    warm.fit(TAXON, through).await;
    let (a, b) = (club.forecast(TAXON, None).await, warm.forecast(TAXON, None).await);
    for (cool, warm) in a.iter().zip(&b) {
        let at = |f: &Forecast| f.milestones[1].dates.p50.unwrap();
        if cool.weights[0] < 0.5 {
            assert!(at(warm) < at(cool), "{}: {} and {}", cool.reach, at(cool), at(warm));
        }
    }
}
