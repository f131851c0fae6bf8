//! A fit that another version of the program stored.

use subimago::app::publish_season::publish_season;
use subimago::store::forecast::{ForecastFilter, forecasts};
use subimago::store::{fit, job};
use uuid::Uuid;

use crate::club::{CLOCK, Club, slug};

const SOUND: &str = "ephemera-danica";
const OUTDATED: &str = "heptagenia-sulphurea";

async fn published(club: &Club, taxon: &str) -> Vec<String> {
    let mut tx = club.db.read().await.unwrap();
    let filter = ForecastFilter { watershed: Some(club.demo.watershed.clone()), ..ForecastFilter::default() };
    let mut found = forecasts(&mut tx, &filter).await.unwrap();
    found.retain(|forecast| forecast.taxon.as_str() == taxon);
    found.into_iter().map(|forecast| forecast.etag).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn holds_no_other_taxon_up_keeps_what_is_published_and_is_made_again() {
    let club = Club::new().await;
    let (home, today) = (&club.demo.watershed, club.demo.today);
    club.fit(SOUND, None).await;
    let mut old = club.fit(OUTDATED, None).await.remove(0);
    publish_season(&club.db, &CLOCK(), home, &[], today).await.unwrap();
    let before = published(&club, OUTDATED).await;
    assert_eq!(before.len(), 5, "one on every reach");

    old.id = Uuid::from_u128(1);
    old.model_json = old.model_json.replacen("\"form\":", "\"form\":9", 1);
    let mut tx = club.db.write().await.unwrap();
    fit::insert_fit(&mut tx, &old).await.unwrap();
    tx.commit().await.unwrap();

    let tomorrow = today.succ_opt().unwrap();
    let made = publish_season(&club.db, &CLOCK(), home, &[], tomorrow).await.unwrap();
    assert!(made.len() == 5 && made.iter().all(|f| f.taxon == slug(SOUND)), "the other taxon is published");
    assert_eq!(published(&club, OUTDATED).await, before, "and this one stays as it was");
    let mut tx = club.db.read().await.unwrap();
    let waiting = job::jobs(&mut tx, home, 10).await.unwrap();
    let told: Vec<(&str, &str)> = waiting.iter().map(|job| (job.kind.as_str(), job.arguments_json.as_str())).collect();
    assert_eq!(told, [("fit", "{\"taxon\":\"heptagenia-sulphurea\"}")]);
}
