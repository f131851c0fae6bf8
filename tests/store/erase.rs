//! Forgetting the person behind a token.

use subimago::domain::report::ReportAction;
use subimago::domain::report::{Described, WingPads};
use subimago::domain::{Report, Sighting, Stage};
use subimago::store::erase::{ERASED, Erased, erase_member};
use subimago::store::idempotency::{
    IdempotencyKey, StoredAnswer, claim_idempotency, find_idempotency, finish_idempotency,
};
use subimago::store::report::{self, Change};
use subimago::store::{Db, StoreError, Tx, token};
use uuid::Uuid;

use crate::report::{blank, seen};
use crate::support::{at, enrol, lay_out, on_both, slug, sqlite_url};

on_both! {
    words_go_and_observations_stay,
    others_keep_their_words,
    a_token_that_is_not_there_is_named,
}

/// A word that stands in every place a member can write to.
const WORD: &str = "heronsgate";

fn wordy(token_id: Uuid) -> Report {
    let unnamed = Sighting {
        taxon: None,
        described: Some(Described { length_mm: 7.5, colour: WORD.to_owned() }),
        stage: Stage::Nymph,
        abundance_class: None,
        count: Some(4),
        wing_pads: Some(WingPads::Dark),
        behaviour: Some(WORD.to_owned()),
    };
    Report {
        people: 3,
        looked_for: Some(vec![slug("rhodani"), slug("danica")]),
        water_c: Some(11.3),
        sky: Some(WORD.to_owned()),
        note: Some(format!("by {WORD}'s gate")),
        sightings: vec![seen("danica"), unnamed],
        ..blank(token_id)
    }
}

/// Files a report of `by` with one earlier version and a kept answer.
async fn file(tx: &mut Tx, by: Uuid, keeper: Uuid) -> Report {
    let mut filed = wordy(by);
    report::insert_report(tx, &filed).await.expect("stores");
    filed.people = 2;
    filed.version = report::replace_report(
        tx,
        &filed,
        Change { by: keeper, at: at(3), reason: Some(WORD), action: ReportAction::Edit },
    )
    .await
    .expect("stores");
    let key = IdempotencyKey { token_id: by, route: "POST /v1/reports", key: "0123456789abcdef" };
    claim_idempotency(tx, key, "print", at(2)).await.expect("claims");
    let answer = StoredAnswer { status: 201, body: WORD.to_owned(), location: None };
    finish_idempotency(tx, key, &answer).await.expect("stores");
    filed
}

async fn words_go_and_observations_stay(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (member, keeper) = (enrol(&mut tx, WORD).await.id, enrol(&mut tx, "keeper").await.id);
    let filed = file(&mut tx, member, keeper).await;
    // The answer that the keeper got when making the member's token.
    let made = IdempotencyKey { token_id: keeper, route: "POST /v1/tokens", key: "fedcba9876543210" };
    claim_idempotency(&mut tx, made, "print", at(0)).await.expect("claims");
    let location = Some(format!("/v1/tokens/{member}"));
    let answer = StoredAnswer { status: 201, body: WORD.to_owned(), location };
    finish_idempotency(&mut tx, made, &answer).await.expect("stores");
    let withdrawn = wordy(member);
    report::insert_report(&mut tx, &withdrawn).await.expect("stores");
    let change = Change { by: member, at: at(4), reason: None, action: ReportAction::Edit };
    report::withdraw_report(&mut tx, withdrawn.id, 1, change).await.expect("withdraws");

    let done = erase_member(&mut tx, member, at(9)).await.expect("erases");
    assert_eq!(done, Erased { reports: 2, revisions: 2, answers: 2 });

    let left = report::find_report(&mut tx, filed.id).await.expect("reads").expect("it stays");
    let mut expected = filed.clone();
    expected.sky = None;
    expected.note = None;
    expected.sightings[1].behaviour = None;
    expected.sightings[1].described = Some(Described { length_mm: 7.5, colour: ERASED.to_owned() });
    assert_eq!(left, expected, "what was observed is as before");
    assert_eq!(report::accepted_reports(&mut tx, &slug("ostrey"), None).await.expect("reads"), [expected]);
    for id in [filed.id, withdrawn.id] {
        let earlier = report::report_revisions(&mut tx, id).await.expect("reads").pop().expect("a version");
        assert!(!earlier.document_json.contains(WORD), "{}", earlier.document_json);
        assert!(earlier.document_json.contains("\"count\":4") && earlier.document_json.contains("rhodani"));
        assert_eq!(earlier.reason, None);
    }
    assert_eq!(find_idempotency(&mut tx, made).await.expect("reads"), None);
    let ended = token::find_token(&mut tx, member).await.expect("reads").expect("its row stays");
    assert_eq!((ended.name.as_str(), ended.revoked_at, ended.last_used_date), (ERASED, Some(at(9)), None));
    // Again: nothing more to do, and the end stays where it was.
    let again = erase_member(&mut tx, member, at(20)).await.expect("erases");
    assert_eq!(again.answers, 0);
    assert_eq!(token::find_token(&mut tx, member).await.expect("reads").expect("there").revoked_at, Some(at(9)));
}

async fn others_keep_their_words(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (member, other) = (enrol(&mut tx, "member").await.id, enrol(&mut tx, "other").await.id);
    let kept = file(&mut tx, other, other).await;
    let before = report::report_revisions(&mut tx, kept.id).await.expect("reads");
    erase_member(&mut tx, member, at(9)).await.expect("erases");
    assert_eq!(report::find_report(&mut tx, kept.id).await.expect("reads"), Some(kept.clone()));
    assert_eq!(report::report_revisions(&mut tx, kept.id).await.expect("reads"), before);
    let key = IdempotencyKey { token_id: other, route: "POST /v1/reports", key: "0123456789abcdef" };
    assert!(find_idempotency(&mut tx, key).await.expect("reads").is_some());
    assert_eq!(token::find_token(&mut tx, other).await.expect("reads").expect("there").revoked_at, None);
}

async fn a_token_that_is_not_there_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let refused = erase_member(&mut tx, Uuid::nil(), at(1)).await;
    assert!(matches!(refused, Err(StoreError::UnknownReference { .. })), "{refused:?}");
}

/// A long note fills pages of its own, which are free once it is gone: its words must not stay in them.
#[tokio::test]
async fn erased_words_leave_the_sqlite_file() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let path = folder.path().join("test.db");
    let db = Db::connect(&sqlite_url(&path)).await.expect("connects");
    db.migrate().await.expect("migrates");
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let member = enrol(&mut tx, "member").await.id;
    let note = Some(format!("{WORD} ").repeat(1000));
    let filed = Report { note, ..blank(member) };
    report::insert_report(&mut tx, &filed).await.expect("stores");
    tx.commit().await.expect("commits");
    db.fold_log().await.expect("folds");
    let holds = || {
        let bytes = std::fs::read(&path).expect("the file");
        bytes.windows(WORD.len()).any(|window| window == WORD.as_bytes())
    };
    assert!(holds(), "the words are there before");
    let mut tx = db.write().await.expect("begins");
    erase_member(&mut tx, member, at(9)).await.expect("erases");
    tx.commit().await.expect("commits");
    db.fold_log().await.expect("folds");
    assert!(!holds(), "the words live on in free pages");
    db.close().await;
}
