//! The queue: leases, fences, retries.

use chrono::TimeDelta;
use subimago::domain::job::{Job, JobState, Kinds};
use subimago::store::job::{self, Lease};
use subimago::store::{Db, StoreError, Tx};
use uuid::Uuid;

use crate::support::{at, lay_out, on_both, slug};

on_both! {
    a_job_runs_from_queue_to_done,
    a_late_worker_is_refused,
    a_worker_takes_the_kinds_that_are_its_own,
    expired_leases_are_settled,
    the_same_work_is_found_while_it_waits,
    a_job_that_was_found_waiting_starts_after_its_finder,
    a_job_that_is_taken_first_is_not_found,
    workers_at_once_take_different_jobs,
    a_job_is_of_a_watershed_that_is_there,
    ended_jobs_go_but_for_the_newest_of_a_kind,
}

const LEASE: TimeDelta = TimeDelta::seconds(30);

async fn enqueue(tx: &mut Tx, arguments: &str) -> Job {
    job::enqueue_job(tx, Uuid::new_v4(), &slug("ostrey"), "fit", arguments, at(0)).await.expect("queues")
}

async fn find(tx: &mut Tx, id: Uuid) -> Job {
    job::find_job(tx, id).await.expect("reads").expect("is there")
}

/// Lays out the place and queues two jobs.
async fn two_jobs(db: &Db) -> (Job, Job) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let jobs = (enqueue(&mut tx, r#"{"taxon":"a"}"#).await, enqueue(&mut tx, r#"{"taxon":"b"}"#).await);
    tx.commit().await.expect("commits");
    jobs
}

async fn a_worker_takes_the_kinds_that_are_its_own(db: Db) {
    let (fit, _) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    let sync = job::enqueue_job(&mut tx, Uuid::new_v4(), &slug("ostrey"), "sync", "{}", at(0)).await.expect("queues");
    let mut claim = async |kinds| job::claim_job_of(&mut tx, kinds, LEASE, at(1)).await.expect("claims").map(|j| j.id);
    assert_eq!(claim(Kinds::AllBut("fit")).await, Some(sync.id));
    assert_eq!(claim(Kinds::AllBut("fit")).await, None, "the fits are left to others");
    assert_eq!(claim(Kinds::Only("sync")).await, None);
    assert_eq!(claim(Kinds::All).await, Some(fit.id));
}

async fn a_job_runs_from_queue_to_done(db: Db) {
    let (first, second) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    assert_eq!(first.state, JobState::Queued);
    assert_eq!((first.kind.as_str(), first.attempts, first.created_at), ("fit", 0, at(0)));
    let running = job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
    assert_eq!((running.id, running.state, running.attempts), (first.id, JobState::Running, 1));
    assert_eq!(running.lease_until, Some(at(1) + LEASE));
    assert!(running.fence > first.fence);
    let held = Lease::of(&running);
    job::heartbeat_job(&mut tx, held, LEASE, at(2)).await.expect("beats");
    job::progress_job(&mut tx, held, 3, 9, at(2)).await.expect("notes");
    let now = find(&mut tx, first.id).await;
    assert_eq!((now.done, now.total, now.lease_until, now.updated_at), (3, 9, Some(at(2) + LEASE), at(2)));
    job::finish_job(&mut tx, held, Ok(r#"{"fitted":1}"#), at(3)).await.expect("ends");
    let now = find(&mut tx, first.id).await;
    assert_eq!((now.state, now.lease_until), (JobState::Done, None));
    assert_eq!(now.result_json.as_deref(), Some(r#"{"fitted":1}"#));
    let running = job::claim_job(&mut tx, LEASE, at(4)).await.expect("claims").expect("one waits");
    assert_eq!(running.id, second.id, "in the order of queueing");
    job::finish_job(&mut tx, Lease::of(&running), Err(r#"{"error":1}"#), at(5)).await.expect("ends");
    assert_eq!(find(&mut tx, second.id).await.state, JobState::Failed);
    assert_eq!(job::claim_job(&mut tx, LEASE, at(6)).await.expect("claims"), None);
    let all = job::jobs(&mut tx, &slug("ostrey"), 50).await.expect("reads");
    assert_eq!(all.iter().map(|job| job.id).collect::<Vec<_>>(), [second.id, first.id]);
    assert_eq!(job::jobs(&mut tx, &slug("ostrey"), 1).await.expect("reads").len(), 1);
}

async fn a_late_worker_is_refused(db: Db) {
    let (first, _) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    let slow = Lease::of(&job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits"));
    let next = job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
    assert_ne!(next.id, first.id, "a held job is not given twice");
    let after = at(1) + LEASE + TimeDelta::microseconds(1);
    let quick = job::claim_job(&mut tx, LEASE, after).await.expect("claims").expect("its lease ran out");
    assert_eq!((quick.id, quick.attempts), (first.id, 2));
    for outcome in [
        job::heartbeat_job(&mut tx, slow, LEASE, after).await,
        job::progress_job(&mut tx, slow, 1, 2, after).await,
        job::finish_job(&mut tx, slow, Ok("{}"), after).await,
    ] {
        assert!(matches!(outcome, Err(StoreError::LeaseLost { job }) if job == first.id));
    }
    assert_eq!(find(&mut tx, first.id).await, quick, "nothing of it was written");
    job::finish_job(&mut tx, Lease::of(&quick), Ok("{}"), after).await.expect("ends");
    let twice = job::finish_job(&mut tx, Lease::of(&quick), Ok("{}"), after).await;
    assert!(matches!(twice, Err(StoreError::LeaseLost { .. })), "an ended job has no holder");
}

async fn expired_leases_are_settled(db: Db) {
    let (first, second) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    for _ in 0..2 {
        job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
    }
    let after = at(1) + LEASE + TimeDelta::microseconds(1);
    assert_eq!(job::release_expired_jobs(&mut tx, 2, at(1) + LEASE).await.expect("settles"), 0);
    assert_eq!(job::release_expired_jobs(&mut tx, 2, after).await.expect("settles"), 2);
    assert_eq!(find(&mut tx, first.id).await.state, JobState::Queued);
    let again = job::claim_job(&mut tx, LEASE, after).await.expect("claims").expect("one waits");
    assert_eq!(again.attempts, 2);
    assert_eq!(job::release_expired_jobs(&mut tx, 2, after + LEASE + LEASE).await.expect("settles"), 1);
    let given_up = find(&mut tx, again.id).await;
    assert_eq!(given_up.state, JobState::Failed);
    let told: serde_json::Value = serde_json::from_str(&given_up.result_json.expect("a reason")).expect("JSON");
    assert!(told["code"].is_string() && told["detail"].is_string(), "as other failures are told: {told}");
    assert_eq!(find(&mut tx, second.id).await.state, JobState::Queued);
}

async fn the_same_work_is_found_while_it_waits(db: Db) {
    let (first, _) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    let mut found = async |kind: &str, arguments: &str| {
        job::hold_queued_job(&mut tx, &slug("ostrey"), kind, arguments).await.expect("reads").map(|job| job.id)
    };
    assert_eq!(found("fit", r#"{"taxon":"a"}"#).await, Some(first.id));
    assert_eq!(found("import", r#"{"taxon":"a"}"#).await, None);
    assert_eq!(found("fit", "{}").await, None);
    job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
    let found = job::hold_queued_job(&mut tx, &slug("ostrey"), "fit", r#"{"taxon":"a"}"#).await.expect("reads");
    assert_eq!(found, None, "a running job may have read its data already");
}

/// On PostgreSQL a worker passes over it meanwhile; on SQLite it waits for its turn.
async fn a_job_that_was_found_waiting_starts_after_its_finder(db: Db) {
    let (first, second) = two_jobs(&db).await;
    let mut finder = db.write().await.expect("begins");
    let found = job::hold_queued_job(&mut finder, &slug("ostrey"), "fit", r#"{"taxon":"a"}"#).await.expect("reads");
    assert_eq!(found.map(|job| job.id), Some(first.id));
    if db.has_many_writers() {
        let mut also = db.write().await.expect("begins");
        let found = job::hold_queued_job(&mut also, &slug("ostrey"), "fit", r#"{"taxon":"a"}"#).await.expect("reads");
        assert_eq!(found.map(|job| job.id), Some(first.id), "two reports do not wait for each other");
        drop(also);
        let mut worker = db.write().await.expect("begins");
        let taken = job::claim_job(&mut worker, LEASE, at(1)).await.expect("claims").expect("one is free");
        assert_eq!(taken.id, second.id);
        assert_eq!(job::claim_job(&mut worker, LEASE, at(1)).await.expect("claims"), None);
    }
    finder.commit().await.expect("commits");
    let mut worker = db.write().await.expect("begins");
    let taken = job::claim_job(&mut worker, LEASE, at(1)).await.expect("claims").expect("one waits");
    assert_eq!(taken.id, first.id);
}

/// What the finder stores is read by a job that is queued anew.
async fn a_job_that_is_taken_first_is_not_found(db: Db) {
    let (first, _) = two_jobs(&db).await;
    let mut worker = db.write().await.expect("begins");
    let taken = job::claim_job(&mut worker, LEASE, at(1)).await.expect("claims").expect("one waits");
    assert_eq!(taken.id, first.id);
    let finder = tokio::spawn({
        let db = db.clone();
        async move {
            let mut tx = db.write().await.expect("begins");
            job::hold_queued_job(&mut tx, &slug("ostrey"), "fit", r#"{"taxon":"a"}"#).await.expect("reads")
        }
    });
    tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    assert!(!finder.is_finished(), "it waits to see whether the job is really taken");
    worker.commit().await.expect("commits");
    assert_eq!(finder.await.expect("runs"), None);
}

/// On PostgreSQL the second worker passes by the row the first has locked and not yet committed;
/// on SQLite it waits for its turn. Either way no job goes to two.
async fn workers_at_once_take_different_jobs(db: Db) {
    let (first, second) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    let a = job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
    let other = tokio::spawn({
        let db = db.clone();
        async move {
            let mut tx = db.write().await.expect("begins");
            let job = job::claim_job(&mut tx, LEASE, at(1)).await.expect("claims").expect("one waits");
            tx.commit().await.expect("commits");
            job
        }
    });
    let b = if db.kind() == "PostgreSQL" {
        let b = tokio::time::timeout(std::time::Duration::from_secs(10), other).await.expect("does not wait");
        tx.commit().await.expect("commits");
        b
    } else {
        tx.commit().await.expect("commits");
        other.await
    };
    assert_eq!((a.id, b.expect("runs").id), (first.id, second.id));
}

async fn a_job_is_of_a_watershed_that_is_there(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let id = Uuid::new_v4();
    let error = job::enqueue_job(&mut tx, id, &slug("gone"), "fit", "{}", at(0)).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "watershed", .. }));
    assert_eq!(job::find_job(&mut tx, id).await.expect("reads"), None);
}

async fn ended_jobs_go_but_for_the_newest_of_a_kind(db: Db) {
    let (old, other) = two_jobs(&db).await;
    let mut tx = db.write().await.expect("begins");
    let waiting = enqueue(&mut tx, r#"{"taxon":"c"}"#).await;
    let sync = job::enqueue_job(&mut tx, Uuid::new_v4(), &slug("ostrey"), "sync", "{}", at(0)).await.expect("queues");
    let file = job::enqueue_job(&mut tx, Uuid::new_v4(), &slug("ostrey"), "import", "{}", at(0)).await.expect("queues");
    job::enqueue_job(&mut tx, Uuid::new_v4(), &slug("ostrey"), "import", "{}", at(0)).await.expect("queues");
    subimago::store::import_part::put_part(&mut tx, file.id, 0, "x").await.expect("stores");
    for (day, id) in [(1, old.id), (9, other.id)] {
        let held = job::claim_job(&mut tx, LEASE, at(day)).await.expect("claims").expect("one waits");
        assert_eq!(held.id, id);
        job::finish_job(&mut tx, Lease::of(&held), Ok("{}"), at(day)).await.expect("ends");
    }
    for id in [sync.id, file.id] {
        assert!(job::cancel_job(&mut tx, id, at(1)).await.expect("cancels"));
    }
    assert_eq!(job::drop_ended_jobs(&mut tx, at(1)).await.expect("drops"), 0);
    assert_eq!(job::drop_ended_jobs(&mut tx, at(2)).await.expect("drops"), 1);
    assert_eq!(job::find_job(&mut tx, old.id).await.expect("reads"), None);
    for kept in [other.id, waiting.id, sync.id, file.id] {
        assert!(job::find_job(&mut tx, kept).await.expect("reads").is_some());
    }
}
