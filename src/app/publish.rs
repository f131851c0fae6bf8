//! Publishing the forecasts of a taxon together with its calendar entries.

use chrono::{DateTime, TimeDelta, Utc};
use sha2::{Digest, Sha256};

use super::AppError;
use super::digest::hex;
use super::document::ForecastDocument;
use super::feed::{self, Entry, EntryStatus, SeenDays};
use super::sightings::Sightings;
use crate::domain::{Forecast, Reach, Slug, Taxon};
use crate::store::feed::{FeedEvent, feed_events, put_feed_event};
use crate::store::forecast::{PublishedForecast, newest_issue, replace_forecasts};
use crate::store::{Tx, place};

/// What is published and was issued so much later has not overtaken what is new: a clock was wrong.
const LONGEST_RACE: TimeDelta = TimeDelta::minutes(30);

/// Replaces what is published for `taxon` in `watershed` by `forecasts`, unless newer ones were published meanwhile, and brings its calendar
/// entries up to date, in the caller's transaction. Call [`super::Service::refresh`] after commit.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown reach or fit.
pub async fn publish(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: &Taxon,
    forecasts: &[Forecast],
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    let sightings = Sightings::load(tx, watershed).await?;
    publish_among(tx, watershed, taxon, forecasts, &sightings, now).await
}

/// [`publish`] of one among many taxa of a watershed, whose `sightings` were read once.
///
/// # Errors
/// As [`publish`].
pub async fn publish_among(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: &Taxon,
    forecasts: &[Forecast],
    sightings: &Sightings,
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    if is_overtaken(tx, watershed, taxon, forecasts).await? {
        return Ok(());
    }
    let documents: Vec<ForecastDocument> = forecasts.iter().map(ForecastDocument::from).collect();
    let rows: Vec<PublishedForecast> = forecasts
        .iter()
        .zip(&documents)
        .map(|(forecast, document)| row(forecast, document))
        .collect::<Result<_, _>>()?;
    replace_forecasts(tx, watershed, &taxon.slug, &rows).await?;
    let reaches = place::reaches(tx, watershed).await?;
    update_entries(tx, watershed, taxon, &reaches, &documents, &sightings.of(taxon), now).await
}

/// Whether `forecasts` rest on less than what is published: two reports may be worked on at once, and the first be
/// ready last.
async fn is_overtaken(tx: &mut Tx, watershed: &Slug, taxon: &Taxon, forecasts: &[Forecast]) -> Result<bool, AppError> {
    let Some(issued_at) = forecasts.iter().map(|forecast| forecast.issued_at).max() else { return Ok(false) };
    let newest = newest_issue(tx, watershed, &taxon.slug).await?;
    Ok(newest.is_some_and(|newest| newest > issued_at && newest - issued_at < LONGEST_RACE))
}

fn row(forecast: &Forecast, document: &ForecastDocument) -> Result<PublishedForecast, AppError> {
    let document_json = to_json(document)?;
    Ok(PublishedForecast {
        watershed: forecast.watershed.clone(),
        reach: forecast.reach.clone(),
        taxon: forecast.taxon.clone(),
        brood: forecast.brood,
        season: forecast.season,
        fit_id: forecast.fit_id,
        issued_at: forecast.issued_at,
        data_as_of: forecast.data_as_of,
        etag: hex_digest(&document_json),
        document_json,
    })
}

async fn update_entries(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: &Taxon,
    reaches: &[Reach],
    documents: &[ForecastDocument],
    seen: &[SeenDays],
    now: DateTime<Utc>,
) -> Result<(), AppError> {
    let of_this_taxon = |entry: &Entry| entry.content.taxon.eq_ignore_ascii_case(taxon.slug.as_str());
    let stored: Vec<Entry> = feed_events(tx, watershed)
        .await?
        .iter()
        .map(feed::entry_of)
        .collect::<Result<Vec<_>, _>>()?
        .into_iter()
        .filter(of_this_taxon)
        .collect();
    let mut planned = Vec::new();
    for document in documents {
        if let Some(reach) = reaches.iter().find(|reach| reach.slug.as_str().eq_ignore_ascii_case(&document.reach)) {
            planned.extend(feed::plan(watershed, document, reach, taxon));
        }
    }
    let oldest_season = documents.iter().map(|document| document.season).min();
    for old in &stored {
        let gone = !planned.iter().any(|(uid, _)| *uid == old.uid);
        // Entries of past seasons stay as they were; only what this publication speaks of is withdrawn.
        let spoken_of = oldest_season.is_none_or(|season| old.content.season >= season);
        if gone && spoken_of && old.content.status != EntryStatus::Cancelled {
            put(tx, watershed, &feed::cancel(old, now), now).await?;
        }
    }
    for (uid, content) in planned {
        let old = stored.iter().find(|entry| entry.uid == uid);
        let entry = feed::advance(old, uid, feed::confirmed(content, old, seen), now);
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

fn to_json(value: &impl serde::Serialize) -> Result<String, AppError> {
    serde_json::to_string(value).map_err(|error| AppError::Internal(format!("a document cannot be written: {error}")))
}

fn hex_digest(text: &str) -> String {
    hex(&Sha256::digest(text))
}
