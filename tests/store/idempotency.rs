//! Requests sent again.

use std::time::Duration;

use chrono::TimeDelta;
use subimago::domain::token::Token;
use subimago::store::idempotency::{
    self, Claim, IdempotencyKey, StoredAnswer, claim_idempotency, finish_idempotency, forget_answers, purge_idempotency,
};
use subimago::store::{Db, StoreError};
use uuid::Uuid;

use crate::support::{at, enrol, lay_out, on_both};

on_both! {
    the_first_answer_is_given_again,
    failed_work_leaves_no_claim,
    a_claim_whose_worker_died_is_taken_over,
    answers_are_kept_thirty_days,
    of_two_requests_at_once_one_does_the_work,
    an_unknown_token_is_named,
    answers_about_one_thing_are_forgotten,
}

fn key(token: &Token) -> IdempotencyKey<'_> {
    IdempotencyKey { token_id: token.id, route: "POST /v1/reports", key: "0123456789abcdef" }
}

fn answer() -> StoredAnswer {
    StoredAnswer { status: 201, body: r#"{"id":1}"#.to_owned(), location: Some("/v1/reports/1".to_owned()) }
}

async fn laid_out(db: &Db) -> (Token, Token) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let tokens = (enrol(&mut tx, "a").await, enrol(&mut tx, "b").await);
    tx.commit().await.expect("commits");
    tokens
}

async fn the_first_answer_is_given_again(db: Db) {
    let (a, b) = laid_out(&db).await;
    let mut tx = db.write().await.expect("begins");
    assert_eq!(idempotency::find_idempotency(&mut tx, key(&a)).await.expect("reads"), None);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", at(0)).await.expect("claims"), Claim::Fresh);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", at(0)).await.expect("claims"), Claim::Running);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "g", at(0)).await.expect("claims"), Claim::OtherPayload);
    finish_idempotency(&mut tx, key(&a), &answer()).await.expect("files");
    tx.commit().await.expect("commits");
    let mut tx = db.write().await.expect("begins");
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", at(29)).await.expect("claims"), Claim::Replay(answer()));
    assert_eq!(claim_idempotency(&mut tx, key(&a), "g", at(29)).await.expect("claims"), Claim::OtherPayload);
    let other_route = IdempotencyKey { route: "POST /v1/tokens", ..key(&a) };
    assert_eq!(claim_idempotency(&mut tx, other_route, "g", at(0)).await.expect("claims"), Claim::Fresh);
    assert_eq!(
        claim_idempotency(&mut tx, key(&b), "g", at(0)).await.expect("claims"),
        Claim::Fresh,
        "others' keys are theirs"
    );
    let found = idempotency::find_idempotency(&mut tx, key(&a)).await.expect("reads").expect("is there");
    assert_eq!((found.fingerprint.as_str(), found.answer, found.created_at), ("f", Some(answer()), at(0)));
}

async fn failed_work_leaves_no_claim(db: Db) {
    let (a, _) = laid_out(&db).await;
    let mut tx = db.write().await.expect("begins");
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", at(0)).await.expect("claims"), Claim::Fresh);
    drop(tx);
    let mut tx = db.write().await.expect("begins");
    assert_eq!(claim_idempotency(&mut tx, key(&a), "g", at(0)).await.expect("claims"), Claim::Fresh);
    finish_idempotency(&mut tx, key(&a), &answer()).await.expect("files");
    let twice = finish_idempotency(&mut tx, key(&a), &answer()).await;
    assert!(matches!(twice, Err(StoreError::Conflict { .. })));
    assert_eq!(claim_idempotency(&mut tx, key(&a), "g", at(0)).await.expect("claims"), Claim::Replay(answer()));
}

async fn a_claim_whose_worker_died_is_taken_over(db: Db) {
    let (a, _) = laid_out(&db).await;
    let mut tx = db.write().await.expect("begins");
    claim_idempotency(&mut tx, key(&a), "f", at(0)).await.expect("claims");
    let soon = at(0) + TimeDelta::minutes(10);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", soon).await.expect("claims"), Claim::Running);
    let late = soon + TimeDelta::microseconds(1);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", late).await.expect("claims"), Claim::Fresh);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", late).await.expect("claims"), Claim::Running);
}

async fn answers_about_one_thing_are_forgotten(db: Db) {
    let (a, b) = laid_out(&db).await;
    let mut tx = db.write().await.expect("begins");
    let other = StoredAnswer { location: Some("/v1/reports/12".to_owned()), ..answer() };
    for (token, answer) in [(&a, answer()), (&b, other.clone())] {
        claim_idempotency(&mut tx, key(token), "f", at(0)).await.expect("claims");
        finish_idempotency(&mut tx, key(token), &answer).await.expect("files");
    }
    assert_eq!(forget_answers(&mut tx, "/v1/reports/1").await.expect("forgets"), 1);
    assert_eq!(idempotency::find_idempotency(&mut tx, key(&a)).await.expect("reads"), None);
    assert_eq!(claim_idempotency(&mut tx, key(&b), "f", at(0)).await.expect("claims"), Claim::Replay(other));
}

async fn answers_are_kept_thirty_days(db: Db) {
    let (a, b) = laid_out(&db).await;
    let mut tx = db.write().await.expect("begins");
    for (token, day) in [(&a, 0), (&b, 1)] {
        claim_idempotency(&mut tx, key(token), "f", at(day)).await.expect("claims");
        finish_idempotency(&mut tx, key(token), &answer()).await.expect("files");
    }
    assert_eq!(purge_idempotency(&mut tx, at(30)).await.expect("purges"), 0);
    assert_eq!(purge_idempotency(&mut tx, at(31)).await.expect("purges"), 1);
    assert_eq!(claim_idempotency(&mut tx, key(&a), "f", at(31)).await.expect("claims"), Claim::Fresh);
    assert_eq!(claim_idempotency(&mut tx, key(&b), "f", at(31)).await.expect("claims"), Claim::Replay(answer()));
}

/// The second waits for the first to commit, then gets its answer: one request does the work.
async fn of_two_requests_at_once_one_does_the_work(db: Db) {
    let (a, _) = laid_out(&db).await;
    let mut first = db.write().await.expect("begins");
    assert_eq!(claim_idempotency(&mut first, key(&a), "f", at(0)).await.expect("claims"), Claim::Fresh);
    let second = tokio::spawn({
        let (db, a) = (db.clone(), a.clone());
        async move {
            let mut tx = db.write().await.expect("begins");
            claim_idempotency(&mut tx, key(&a), "f", at(0)).await.expect("claims")
        }
    });
    tokio::time::sleep(Duration::from_millis(100)).await;
    finish_idempotency(&mut first, key(&a), &answer()).await.expect("files");
    first.commit().await.expect("commits");
    assert_eq!(second.await.expect("runs"), Claim::Replay(answer()));
}

async fn an_unknown_token_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let stray = IdempotencyKey { token_id: Uuid::new_v4(), route: "r", key: "k" };
    let error = claim_idempotency(&mut tx, stray, "f", at(0)).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "token", .. }));
}
