//! Publishing the forecasts of taxa together with their calendar entries.

use chrono::{DateTime, TimeDelta, Utc};

use super::AppError;
use super::feed::{self, Entry, EntryStatus, SeenDays};
use super::issue::{Issue, hex_digest, to_json};
use super::sightings::Sightings;
use crate::domain::{Forecast, Slug, Taxon};
use crate::store::feed::{FeedEvent, feed_events, put_feed_event};
use crate::store::forecast::{newest_issues_by_taxon, replace_forecasts};
use crate::store::{Tx, place};

/// What is published and was issued so much later has not overtaken what is new: a clock was wrong.
const LONGEST_RACE: TimeDelta = TimeDelta::minutes(30);

/// [`publish_all`] of one taxon.
///
/// # Errors
/// As [`publish_all`].
pub async fn publish(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: &Taxon,
    forecasts: &[Forecast],
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    let reaches = place::reaches(tx, watershed).await?;
    let issue = Issue::new(watershed, &reaches, taxon.clone(), forecasts)?;
    let sightings = Sightings::load(tx, watershed).await?;
    publish_all(tx, watershed, &[issue], &sightings, now).await
}

/// Replaces what is published for the taxa of `issues` in `watershed`, except where newer forecasts were published
/// meanwhile, and brings their calendar entries up to date, in the caller's transaction. `sightings` are what was seen.
/// Call [`super::Service::refresh`] after commit.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown reach or fit.
pub(super) async fn publish_all(
    tx: &mut Tx,
    watershed: &Slug,
    issues: &[Issue],
    sightings: &Sightings,
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    let newest = newest_issues_by_taxon(tx, watershed).await?;
    let entries: Vec<Entry> = feed_events(tx, watershed).await?.iter().map(feed::entry_of).collect::<Result<_, _>>()?;
    for issue in issues {
        let taxon = &issue.taxon.slug;
        if is_overtaken(issue, newest.get(taxon).copied()) {
            continue;
        }
        replace_forecasts(tx, watershed, taxon, &issue.rows).await?;
        let of_taxon = |entry: &&Entry| entry.content.taxon.eq_ignore_ascii_case(taxon.as_str());
        let stored: Vec<&Entry> = entries.iter().filter(of_taxon).collect();
        update_entries(tx, watershed, issue, &stored, &sightings.of(&issue.taxon), now).await?;
    }
    Ok(())
}

/// Whether `issue` rests on less than what is published, of which the `newest` was issued then: two reports may be
/// worked on at once, and the first be ready last.
fn is_overtaken(issue: &Issue, newest: Option<DateTime<Utc>>) -> bool {
    let (Some(issued_at), Some(newest)) = (issue.rows.iter().map(|row| row.issued_at).max(), newest) else {
        return false;
    };
    newest > issued_at && newest - issued_at < LONGEST_RACE
}

async fn update_entries(
    tx: &mut Tx,
    watershed: &Slug,
    issue: &Issue,
    stored: &[&Entry],
    seen: &[SeenDays],
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    let oldest_season = issue.rows.iter().map(|row| row.season).min();
    for old in stored {
        let gone = !issue.entries.iter().any(|(uid, _)| *uid == old.uid);
        // Entries of past seasons stay as they were; only what this publication speaks of is withdrawn.
        let spoken_of = oldest_season.is_none_or(|season| old.content.season >= season);
        if gone && spoken_of && old.content.status != EntryStatus::Cancelled {
            put(tx, watershed, &feed::cancel(old, now), now).await?;
        }
    }
    for (uid, content) in &issue.entries {
        let old = stored.iter().find(|entry| entry.uid == *uid).copied();
        let entry = feed::advance(old, *uid, feed::confirmed(content.clone(), old, seen), now);
        if old != Some(&entry) {
            put(tx, watershed, &entry, now).await?;
        }
    }
    Ok(())
}

async fn put(tx: &mut Tx, watershed: &Slug, entry: &Entry, now: DateTime<Utc>) -> Result<(), AppError> {
    let content = to_json(&entry.content)?;
    let event = FeedEvent {
        uid: entry.uid.to_string(),
        watershed: watershed.clone(),
        content_hash: hex_digest(&content),
        content,
        sequence: i64::from(entry.sequence),
        changed_at: entry.changed_at,
        withdrawn_at: (entry.content.status == EntryStatus::Cancelled).then_some(now),
    };
    Ok(put_feed_event(tx, &event).await?)
}
