//! Lists of reports: filters and pages.

use chrono::TimeDelta;
use subimago::domain::report::ReportAction;
use subimago::domain::{Report, ReportState};
use subimago::store::report::{self, Change, Page, ReportCursor, ReportFilter};
use subimago::store::{Db, Span, Tx};
use uuid::Uuid;

use crate::report::{blank, seen};
use crate::support::{at, enrol, lay_out, on_both, slug};

on_both! {
    each_filter_limits,
    no_row_is_skipped_or_repeated_while_others_come_and_go,
    pages_can_be_walked_back,
}

async fn ids(tx: &mut Tx, filter: &ReportFilter, page: Page, limit: u32) -> Vec<Uuid> {
    report::reports(tx, filter, page, limit).await.expect("reads").iter().map(|report| report.id).collect()
}

async fn each_filter_limits(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (a, b) = (enrol(&mut tx, "a").await, enrol(&mut tx, "b").await);
    let rows = [
        Report { started_at: at(5), ..blank(a.id) },
        Report { started_at: at(4), reach: slug("long-pool"), ..blank(a.id) },
        Report { started_at: at(3), sightings: vec![seen("danica"), seen("danica")], ..blank(b.id) },
        Report { started_at: at(2), state: ReportState::Rejected, ..blank(a.id) },
    ];
    for row in &rows {
        report::insert_report(&mut tx, row).await.expect("stores");
    }
    let all = ReportFilter::default();
    let expected = |which: &[usize]| which.iter().map(|&n| rows[n].id).collect::<Vec<_>>();
    let cases = [
        (all.clone(), expected(&[0, 1, 2, 3])),
        (ReportFilter { watershed: Some(slug("OSTREY")), ..all.clone() }, expected(&[0, 1, 2, 3])),
        (ReportFilter { watershed: Some(slug("other")), ..all.clone() }, expected(&[])),
        (ReportFilter { reach: Some(slug("Long-Pool")), ..all.clone() }, expected(&[1])),
        (ReportFilter { taxon: Some(slug("Danica")), ..all.clone() }, expected(&[2])),
        (ReportFilter { state: Some(ReportState::Rejected), ..all.clone() }, expected(&[3])),
        (ReportFilter { token_id: Some(b.id), ..all.clone() }, expected(&[2])),
        (ReportFilter { started: Span { from: Some(at(3)), to: Some(at(4)) }, ..all.clone() }, expected(&[1, 2])),
    ];
    for (filter, expected) in cases {
        assert_eq!(ids(&mut tx, &filter, Page::First, 50).await, expected, "{filter:?}");
    }
    let change = Change { by: a.id, at: at(9), reason: None, action: ReportAction::Edit };
    report::withdraw_report(&mut tx, rows[0].id, 1, change).await.expect("withdraws");
    assert_eq!(ids(&mut tx, &all, Page::First, 50).await, expected(&[1, 2, 3]));
}

/// Several reports start at the same instant, so that pages part them by id; rows come and go
/// between pages.
async fn no_row_is_skipped_or_repeated_while_others_come_and_go(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    let mut stay = Vec::new();
    let mut go = Vec::new();
    for n in 0..30 {
        let row = Report { started_at: at(n / 7), ..blank(token.id) };
        report::insert_report(&mut tx, &row).await.expect("stores");
        if n % 3 == 0 { go.push(row) } else { stay.push(row) }
    }
    let filter = ReportFilter::default();
    let mut walked = Vec::new();
    let mut page = Page::First;
    loop {
        let rows = report::reports(&mut tx, &filter, page, 4).await.expect("reads");
        let Some(last) = rows.last() else { break };
        page = Page::After(ReportCursor::of(last));
        walked.extend(rows.iter().map(|row| row.id));
        if let Some(row) = go.pop() {
            let change = Change { by: token.id, at: at(50), reason: None, action: ReportAction::Edit };
            report::withdraw_report(&mut tx, row.id, 1, change).await.expect("withdraws");
        }
        let newcomer = Report { started_at: at(4) + TimeDelta::seconds(walked.len() as i64), ..blank(token.id) };
        report::insert_report(&mut tx, &newcomer).await.expect("stores");
    }
    let mut once = walked.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), walked.len(), "none is repeated");
    for row in &stay {
        assert!(walked.contains(&row.id), "none is skipped");
    }
}

async fn pages_can_be_walked_back(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let token = enrol(&mut tx, "a").await;
    for n in 0..9 {
        let row = Report { started_at: at(n / 2), ..blank(token.id) };
        report::insert_report(&mut tx, &row).await.expect("stores");
    }
    let filter = ReportFilter::default();
    let all = report::reports(&mut tx, &filter, Page::First, 50).await.expect("reads");
    let all_ids: Vec<Uuid> = all.iter().map(|row| row.id).collect();
    let sixth = ReportCursor::of(&all[6]);
    assert_eq!(ids(&mut tx, &filter, Page::Before(sixth), 4).await, all_ids[2..6]);
    assert_eq!(ids(&mut tx, &filter, Page::Before(sixth), 50).await, all_ids[..6]);
    assert_eq!(ids(&mut tx, &filter, Page::After(sixth), 50).await, all_ids[7..]);
}
