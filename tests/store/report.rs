//! Reports: storing, replacing, withdrawing, what models see.

use chrono::TimeDelta;
use subimago::domain::report::{Described, ReportAction, WingPads};
use subimago::domain::{AbundanceClass, Report, ReportState, Sighting, Stage};
use subimago::store::report::{self, Change};
use subimago::store::{Db, StoreError, Tx};
use uuid::Uuid;

use crate::support::{at, enrol, lay_out, on_both, slug};

on_both! {
    every_field_comes_back_as_it_went_in,
    an_id_is_given_once_for_ever,
    replacing_files_what_was_said_before,
    a_withdrawn_report_leaves_everything_but_its_history,
    models_see_accepted_reports_known_by_then,
    what_is_not_there_is_named,
}

/// A blank report.
pub(crate) fn blank(token_id: Uuid) -> Report {
    Report {
        id: Uuid::new_v4(),
        watershed: slug("Ostrey"),
        reach: slug("alder-fold"),
        started_at: at(1),
        ended_at: at(1) + TimeDelta::hours(2),
        people: 1,
        looked_for: None,
        water_c: None,
        sky: None,
        note: None,
        sightings: Vec::new(),
        state: ReportState::Accepted,
        received_at: at(2),
        token_id,
        version: 1,
    }
}

/// A sighting of `taxon` without anything else.
pub(crate) fn seen(taxon: &str) -> Sighting {
    Sighting {
        taxon: Some(slug(taxon)),
        described: None,
        stage: Stage::Dun,
        abundance_class: Some(AbundanceClass::Moderate),
        count: None,
        wing_pads: None,
        behaviour: None,
    }
}

/// A report with every field set.
fn full(token_id: Uuid) -> Report {
    let unnamed = Sighting {
        taxon: None,
        described: Some(Described { length_mm: 7.5, colour: "olive, \"dull\"".to_owned() }),
        stage: Stage::Nymph,
        abundance_class: None,
        count: Some(0),
        wing_pads: Some(WingPads::Dark),
        behaviour: Some("drifting\nslowly".to_owned()),
    };
    Report {
        people: 3,
        looked_for: Some(vec![slug("rhodani"), slug("danica")]),
        water_c: Some(11.3),
        sky: Some("bright".to_owned()),
        note: Some("<b>not html</b>".to_owned()),
        sightings: vec![unnamed, seen("rhodani"), seen("danica")],
        state: ReportState::NeedsInfo,
        version: 1,
        ..blank(token_id)
    }
}

async fn find(tx: &mut Tx, id: Uuid) -> Option<Report> {
    report::find_report(tx, id).await.expect("reads")
}

async fn every_field_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let nothing_looked_for = Report { looked_for: Some(Vec::new()), ..blank(token.id) };
    for report in [full(token.id), blank(token.id), nothing_looked_for] {
        assert_eq!(find(&mut tx, report.id).await, None);
        report::insert_report(&mut tx, &report).await.expect("stores");
        assert_eq!(find(&mut tx, report.id).await, Some(report));
    }
}

async fn an_id_is_given_once_for_ever(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let first = full(token.id);
    report::insert_report(&mut tx, &first).await.expect("stores");
    let again = Report { id: first.id, ..blank(token.id) };
    assert!(matches!(report::insert_report(&mut tx, &again).await, Err(StoreError::Conflict { .. })));
    assert_eq!(find(&mut tx, first.id).await.as_ref(), Some(&first), "the first is untouched");
    let change = Change { by: token.id, at: at(3), reason: None, action: ReportAction::Edit };
    report::withdraw_report(&mut tx, first.id, 1, change).await.expect("withdraws");
    assert!(matches!(report::insert_report(&mut tx, &again).await, Err(StoreError::Conflict { .. })));
}

async fn replacing_files_what_was_said_before(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (token, keeper) = (enrol(&mut tx, "a").await, enrol(&mut tx, "keeper").await);
    let first = full(token.id);
    report::insert_report(&mut tx, &first).await.expect("stores");
    let wanted = Report {
        reach: slug("long-pool"),
        sightings: vec![seen("danica")],
        looked_for: None,
        note: None,
        state: ReportState::Rejected,
        ..first.clone()
    };
    let change = Change { by: keeper.id, at: at(4), reason: Some("another river"), action: ReportAction::Edit };
    assert_eq!(report::replace_report(&mut tx, &wanted, change).await.expect("replaces"), 2);
    assert_eq!(find(&mut tx, first.id).await, Some(Report { version: 2, ..wanted.clone() }));

    let stale = report::replace_report(&mut tx, &wanted, change).await;
    assert!(matches!(stale, Err(StoreError::Conflict { .. })), "version 1 is no longer stored");
    let back = Report { version: 2, ..first.clone() };
    assert_eq!(report::replace_report(&mut tx, &back, change).await.expect("replaces"), 3);

    let revisions = report::report_revisions(&mut tx, first.id).await.expect("reads");
    assert_eq!(revisions.iter().map(|r| r.version).collect::<Vec<_>>(), [1, 2]);
    assert_eq!((revisions[0].changed_at, revisions[0].changed_by), (at(4), keeper.id));
    assert_eq!(revisions[0].reason.as_deref(), Some("another river"));
    let said: serde_json::Value = serde_json::from_str(&revisions[0].document_json).expect("is JSON");
    assert_eq!(said["note"], "<b>not html</b>");
    assert_eq!(said["sightings"][0]["described"]["length_mm"], 7.5);
    assert_eq!(said["sightings"][1]["taxon"], "rhodani");
    assert_eq!((said["state"].as_str(), said["version"].as_u64()), (Some("needs_info"), Some(1)));
    let said: serde_json::Value = serde_json::from_str(&revisions[1].document_json).expect("is JSON");
    assert_eq!((said["reach"].as_str(), said["looked_for"].is_null()), (Some("Long-Pool"), true));
}

async fn a_withdrawn_report_leaves_everything_but_its_history(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let first = blank(token.id);
    report::insert_report(&mut tx, &first).await.expect("stores");
    assert_eq!(report::report_withdrawn_at(&mut tx, first.id).await.expect("reads"), None);
    let change = Change { by: token.id, at: at(5), reason: None, action: ReportAction::Edit };
    let stale = report::withdraw_report(&mut tx, first.id, 7, change).await;
    assert!(matches!(stale, Err(StoreError::Conflict { .. })));
    report::withdraw_report(&mut tx, first.id, 1, change).await.expect("withdraws");
    assert_eq!(find(&mut tx, first.id).await, None);
    assert_eq!(report::report_withdrawn_at(&mut tx, first.id).await.expect("reads"), Some(at(5)));
    assert!(report::accepted_reports(&mut tx, &slug("ostrey"), None).await.expect("reads").is_empty());
    assert_eq!(report::report_revisions(&mut tx, first.id).await.expect("reads").len(), 1);
    let twice = report::withdraw_report(&mut tx, first.id, 2, change).await;
    assert!(matches!(twice, Err(StoreError::UnknownReference { what: "report", .. })));
    let late = report::replace_report(&mut tx, &first, change).await;
    assert!(matches!(late, Err(StoreError::UnknownReference { what: "report", .. })));
}

async fn models_see_accepted_reports_known_by_then(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let early = Report { sightings: vec![seen("danica")], ..blank(token.id) };
    let late = Report { started_at: at(0), received_at: at(6), ..full(token.id) };
    let late = Report { state: ReportState::Accepted, ..late };
    report::insert_report(&mut tx, &early).await.expect("stores");
    report::insert_report(&mut tx, &late).await.expect("stores");
    for state in [ReportState::New, ReportState::NeedsInfo, ReportState::Rejected] {
        report::insert_report(&mut tx, &Report { state, ..blank(token.id) }).await.expect("stores");
    }
    let accepted =
        async |tx: &mut Tx, known_by| report::accepted_reports(tx, &slug("ostrey"), known_by).await.expect("reads");
    assert_eq!(accepted(&mut tx, None).await, [late.clone(), early.clone()], "by time of visit");
    assert_eq!(accepted(&mut tx, Some(at(6))).await, [late, early.clone()]);
    assert_eq!(accepted(&mut tx, Some(at(6) - TimeDelta::microseconds(1))).await, [early]);
}

async fn what_is_not_there_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let unknown = async |tx: &mut Tx, report: Report| match report::insert_report(tx, &report).await {
        Err(StoreError::UnknownReference { what, .. }) => what,
        other => panic!("{other:?}"),
    };
    assert_eq!(unknown(&mut tx, Report { reach: slug("gone"), ..blank(token.id) }).await, "reach");
    assert_eq!(unknown(&mut tx, Report { watershed: slug("gone"), ..blank(token.id) }).await, "watershed");
    assert_eq!(unknown(&mut tx, blank(Uuid::new_v4())).await, "token");
    assert_eq!(unknown(&mut tx, Report { sightings: vec![seen("gone")], ..blank(token.id) }).await, "taxon");
    let nul = Report { note: Some("a\0b".to_owned()), ..blank(token.id) };
    let error = report::insert_report(&mut tx, &nul).await.expect_err("refused");
    assert!(matches!(error, StoreError::Unstorable { .. }), "PostgreSQL cannot keep it");
}
