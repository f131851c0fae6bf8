//! Forecasts of the invented club scored with years left out.

use subimago::app::document::skill::TaxonSkill;
use subimago::app::skill::compute_skill;
use subimago::model::emergence::LEADS;
use subimago::store::skill::skills;

use crate::club::{CLOCK, Club, slug};

#[tokio::test(flavor = "multi_thread")]
async fn scores_of_a_taxon_are_whole_stored_and_the_same_again() {
    let club = Club::new().await;
    let taxon = slug("ephemera-danica");
    let watershed = &club.demo.watershed;
    let scored = compute_skill(&club.db, &CLOCK(), watershed, Some(&taxon), &|_, _, _| ()).await.unwrap();
    for lead in LEADS {
        let at = |clock: &str| scored.rows.iter().find(|r| r.clock == clock && r.lead_days == lead).unwrap();
        let (calendar, shipped) = (at("calendar"), at("shipped"));
        assert_eq!((calendar.skill_crps, calendar.brood), (Some(0.0), 1));
        // All clocks are scored on the same records and dates.
        for row in scored.rows.iter().filter(|r| r.lead_days == lead) {
            assert_eq!((row.records, row.dates), (calendar.records, calendar.dates), "{} {lead}", row.clock);
            assert!(row.rps.unwrap() < 1.0 && row.mae_days.unwrap() < 40.0, "{row:?}");
            let tenths: f64 = row.pit.unwrap().iter().sum();
            assert!((tenths - 1.0).abs() < 1e-9 && (0.0..=1.0).contains(&row.cover80.unwrap()));
        }
        // A mixture is never far worse than the calendar that it contains.
        assert!(shipped.skill_crps.unwrap() > -0.5, "{shipped:?}");
    }
    let mut tx = club.db.read().await.unwrap();
    let hours = &scored.hours[0];
    assert!(hours.visits > 15 && hours.years >= 5, "{hours:?}");
    // Members come at noon or at dusk: even at the right hour, visits lie hours from it.
    assert!(hours.error_hours < 4.0 && hours.error_hours < hours.error_by_traits_hours + 0.3, "{hours:?}");
    let flights = &scored.flights[0];
    assert!(flights.watches > 30 && flights.years >= 5, "{flights:?}");
    // Telling when they fly must beat telling how often they do.
    assert!(flights.rps < flights.rps_of_frequencies, "{flights:?}");
    let one = TaxonSkill { rows: scored.rows.clone(), hours: Some(hours.clone()), flights: Some(flights.clone()) };
    let stored = skills(&mut tx, watershed).await.unwrap();
    assert_eq!(stored.len(), 1);
    assert_eq!(stored[0].scores_json, serde_json::to_string(&one).unwrap());
    drop(tx);
    let again = compute_skill(&club.db, &CLOCK(), watershed, Some(&taxon), &|_, _, _| ()).await.unwrap();
    assert_eq!(again, scored);
}
