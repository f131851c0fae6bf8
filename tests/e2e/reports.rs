//! A report changes what the next fit sees, blank ones included.

use chrono::{TimeZone, Utc};
use subimago::domain::{AbundanceClass, Report, ReportState, Sighting, Stage};
use subimago::store::report::insert_report;
use uuid::Uuid;

use crate::club::{Club, slug};

const TAXON: &str = "ephemera-danica";

/// A report of 50 minutes from `hour` UTC on 19 May 2026 at the long bridge.
pub(crate) fn report(club: &Club, hour: u32, sightings: Vec<Sighting>) -> Report {
    let at = |minute: u32| Utc.with_ymd_and_hms(2026, 5, 19, hour, minute, 0).single().unwrap();
    Report {
        id: Uuid::new_v4(),
        watershed: club.demo.watershed.clone(),
        reach: slug("ostrey-long-bridge"),
        started_at: at(0),
        ended_at: at(50),
        people: 1,
        looked_for: None,
        water_c: None,
        sky: None,
        note: None,
        sightings,
        state: ReportState::Accepted,
        received_at: at(55),
        token_id: Uuid::from_u128(1),
        version: 1,
    }
}

pub(crate) fn heavy() -> Vec<Sighting> {
    vec![Sighting {
        taxon: Some(slug(TAXON)),
        described: None,
        stage: Stage::Dun,
        abundance_class: Some(AbundanceClass::Heavy),
        count: None,
        wing_pads: None,
        behaviour: None,
    }]
}

/// Stores reports under one member's token.
pub(crate) async fn file(club: &Club, reports: &[Report]) {
    let mut tx = club.db.write().await.unwrap();
    let token = subimago::domain::token::Token {
        id: Uuid::from_u128(1),
        name: "a member".to_owned(),
        role: subimago::domain::token::Role::Member,
        watersheds: vec![club.demo.watershed.clone()],
        created_at: Utc.with_ymd_and_hms(2026, 1, 1, 0, 0, 0).single().unwrap(),
        expires_at: Utc.with_ymd_and_hms(2027, 1, 1, 0, 0, 0).single().unwrap(),
        revoked_at: None,
        last_used_date: None,
    };
    if subimago::store::token::find_token(&mut tx, token.id).await.unwrap().is_none() {
        subimago::store::token::insert_token(&mut tx, &token, &[7; 32]).await.unwrap();
    }
    for report in reports {
        insert_report(&mut tx, report).await.unwrap();
    }
    tx.commit().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_next_fit_uses_a_report_and_three_of_one_evening_count_once() {
    let club = Club::new().await;
    let before = club.fit(TAXON, None).await[0].clone();
    file(&club, &[report(&club, 13, heavy()), report(&club, 14, heavy()), report(&club, 15, Vec::new())]).await;
    let after = club.fit(TAXON, None).await[0].clone();
    assert_eq!(after.records, before.records + 1, "one evening at one reach is one visit");
    assert_ne!(after.id, before.id);
    // Before the reports were received they are not known.
    let then = club.fit(TAXON, Some(crate::club::day("2026-05-18"))).await[0].clone();
    assert!(then.records <= before.records);
}
