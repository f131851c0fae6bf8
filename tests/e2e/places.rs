//! Reaches that come after a fit.

use subimago::domain::Reach;
use subimago::store::place;

use crate::club::{Club, document, slug};
use crate::reports::{file, heavy, report};

const TAXON: &str = "ephemera-danica";

#[tokio::test(flavor = "multi_thread")]
async fn a_reach_that_sorts_first_changes_no_other_and_has_a_forecast_of_its_own() {
    let club = Club::new().await;
    club.fit(TAXON, None).await;
    let unmoved = club.forecast_now(TAXON).await;
    // What the fit has not seen has a place too.
    file(&club, &[report(&club, 13, heavy())]).await;
    let before = club.forecast_now(TAXON).await;
    assert_ne!(unmoved.iter().map(document).collect::<Vec<_>>(), before.iter().map(document).collect::<Vec<_>>());
    let mut tx = club.db.write().await.unwrap();
    let known = place::reaches(&mut tx, &club.demo.watershed).await.unwrap();
    let new = Reach { slug: slug("a-new-pool"), name: "A New Pool".to_owned(), gauges: Vec::new(), ..known[0].clone() };
    assert!(known.iter().all(|reach| new.slug < reach.slug));
    place::upsert_reach(&mut tx, &club.demo.watershed, &new).await.unwrap();
    tx.commit().await.unwrap();
    let after = club.forecast_now(TAXON).await;
    assert_eq!(after.len(), before.len() + 1);
    for old in &before {
        let same = after.iter().find(|forecast| forecast.reach == old.reach).unwrap();
        assert_eq!(document(same), document(old), "{}", old.reach);
    }
    let own = after.iter().find(|forecast| forecast.reach == new.slug).unwrap();
    assert!(own.milestones[2].dates.p50.is_some());
}
