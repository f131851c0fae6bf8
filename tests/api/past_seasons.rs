//! Past seasons while some taxa are still to be fitted, and waters that learn from others.

use chrono::{DateTime, TimeDelta, Utc};
use subimago::app::fit::{FitRequest, fit_watershed, load};
use subimago::app::forecasts::{Hindcast as _, HindcastQuery};
use subimago::app::hindcast::ComputedHere;
use subimago::app::neighbours::learn_again;
use subimago::app::{AppError, Service};
use subimago::clock::FixedClock;
use subimago::domain::season::WhichSeason;
use subimago::domain::{Fit, Reach, Report, ReportState, Slug};
use subimago::store::{fit, place, report};
use uuid::Uuid;

use crate::place_changes::taken;
use crate::support::{TestApp, now, on_both, slug};

/// A true fit of one taxon of the water, which has no records of it.
async fn fitted(app: &TestApp, taxon: &str) -> Fit {
    let request = FitRequest { watershed: slug("ostrey"), taxon: Some(slug(taxon)), through: None };
    let clock = FixedClock(now());
    let mut made = fit_watershed(app.service.db(), &clock, &request, &|_| {}).await.expect("fits");
    made.pop().expect("one").fit.expect("a clock carries it")
}

async fn past(service: &Service, taxa: &[&str]) -> Result<Vec<String>, AppError> {
    let query = HindcastQuery {
        watershed: slug("ostrey"),
        reaches: vec![slug("mill-meadow")],
        taxa: taxa.iter().map(|taxon| slug(taxon)).collect(),
        season: WhichSeason::Named(2024),
        as_of: None,
    };
    let made = ComputedHere::default().forecast(service, query).await?;
    assert!(made.iter().all(|forecast| forecast.season == 2024 && forecast.issued_at == now()));
    Ok(made.into_iter().map(|forecast| forecast.taxon.to_string()).collect())
}

on_both! {
    async fn a_taxon_that_is_still_to_be_fitted_keeps_no_other_from_past_seasons(app) {
        fitted(&app, "baetis-rhodani").await;
        let service = &app.service;
        assert_eq!(past(service, &[]).await.expect("some are fitted"), ["baetis-rhodani"]);
        let two = past(service, &["baetis-rhodani", "ephemera-danica"]).await.expect("one is fitted");
        assert_eq!(two, ["baetis-rhodani"]);
        assert!(matches!(past(service, &["ephemera-danica"]).await, Err(AppError::Unavailable { .. })));
        assert!(matches!(past(service, &["baetis-rhodani", "gone"]).await, Err(AppError::NotFound { what: "taxon" })));
        fitted(&app, "serratella-ignita").await;
        let two = past(service, &["serratella-ignita", "baetis-rhodani"]).await.expect("both are fitted");
        assert_eq!(two.len(), 2);
    }
}

fn days_ago(days: i64) -> DateTime<Utc> {
    now() - TimeDelta::days(days)
}

async fn put(app: &TestApp, watershed: &str, created_at: DateTime<Utc>, years: u32, model_json: &str) {
    let made = Fit {
        id: Uuid::now_v7(),
        watershed: slug(watershed),
        taxon: slug("ephemera-danica"),
        brood: 1,
        created_at,
        through: None,
        records: 50,
        years,
        prior_driven: false,
        weights: [0.25, 0.5, 0.25, 0.0],
        beats_calendar: true,
        widening: Some(1.0),
        warnings: Vec::new(),
        model_json: model_json.to_owned(),
    };
    let mut tx = app.service.db().write().await.expect("begins");
    fit::insert_fit(&mut tx, &made).await.expect("stores");
    tx.commit().await.expect("commits");
}

/// Lays the other watershed beside this one: only waters near by are learned from.
async fn near_by(app: &TestApp) {
    let mut tx = app.service.db().write().await.expect("begins");
    let reach = Reach { gauges: Vec::new(), ..crate::water::reaches()[0].clone() };
    place::upsert_reach(&mut tx, &slug("elsewhere"), &reach).await.expect("stores");
    tx.commit().await.expect("commits");
}

on_both! {
    async fn each_fit_of_another_water_is_learned_from_once(app) {
        near_by(&app).await;
        let again = async || learn_again(app.service.db(), &slug("ostrey"), now()).await.expect("asks");
        put(&app, "ostrey", days_ago(9), 2, "{}").await;
        assert_eq!(again().await, Vec::<Slug>::new());
        put(&app, "elsewhere", days_ago(8), 9, "{}").await;
        assert_eq!(again().await, [slug("ephemera-danica")]);
        assert_eq!(taken(&app).await.len(), 1);
        // The fit turned out the same: it stands as it was made nine days ago.
        assert_eq!(again().await, Vec::<Slug>::new());
        assert_eq!(taken(&app).await, []);
        put(&app, "elsewhere", days_ago(7), 10, "{}").await;
        assert_eq!(again().await, [slug("ephemera-danica")], "that water has learned more");
    }
}

on_both! {
    async fn years_of_reports_that_do_not_speak_of_a_taxon_do_not_count_for_it(app) {
        near_by(&app).await;
        let model = fitted(&app, "ephemera-danica").await.model_json;
        put(&app, "elsewhere", days_ago(8), 5, &model).await;
        let mut tx = app.service.db().write().await.expect("begins");
        let hash = subimago::app::token::hash(&app.member).expect("well formed");
        let token = subimago::store::token::find_token_by_hash(&mut tx, &hash).await.expect("reads").expect("is there");
        for year in 2018..2026 {
            let started_at = crate::support::date(year, 5, 20).and_hms_opt(18, 0, 0).expect("valid").and_utc();
            let filed = Report {
                id: Uuid::now_v7(),
                watershed: slug("ostrey"),
                reach: slug("mill-meadow"),
                started_at,
                ended_at: started_at + TimeDelta::hours(2),
                people: 1,
                looked_for: Some(vec![slug("baetis-rhodani")]),
                sightings: Vec::new(),
                water_c: None,
                sky: None,
                note: None,
                state: ReportState::Accepted,
                received_at: started_at,
                token_id: token.id,
                version: 1,
            };
            report::insert_report(&mut tx, &filed).await.expect("stores");
        }
        tx.commit().await.expect("commits");
        let known = load(app.service.db(), &slug("ostrey"), None).await.expect("loads");
        let helped = |text: &str| {
            let taxon = known.taxa.iter().find(|taxon| taxon.slug == slug(text)).expect("lives there");
            known.neighbours.told(taxon, 1).is_some()
        };
        assert!(helped("ephemera-danica"), "nobody ever looked for it here");
        assert!(!helped("baetis-rhodani"), "no other water knows it");
    }
}
