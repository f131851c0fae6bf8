//! Emergence records, as versions.

use std::collections::HashMap;

use chrono::{DateTime, Utc};

use super::arg::{Arg, args};
use super::dialect::insert_many;
use super::keys::{Ids, lock_watershed, taxon_id, watershed_id};
use super::record_row::{COLUMNS, Filed, INSERT_HEAD, read_record, record_args};
use super::since::cut_off;
use super::{Counts, StoreError, Tx, Upsert};
use crate::domain::{Record, Slug};

/// Keys compared with the stored ones at once.
const CHUNK: usize = 1000;

/// One stored version.
struct Version {
    number: i64,
    record: Record,
}

/// Stores records of reaches of `watershed`.
///
/// A record is *created* when its key (the recorder's identifier, or else reach, taxon, brood,
/// kind, days, hours and stage) is new; *unchanged* when the version known at its `known_at` says
/// the same, or when its `known_at` is merely assumed and the latest version says the same; and
/// otherwise *updated*: a new version, the old ones kept. A correction whose `known_at` is assumed
/// counts as known no earlier than what it corrects. Doubts, exposure and source come from us, not
/// from the recorder; of these only a changed exposure makes a new version.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed, a reach or a taxon.
pub async fn put_records(
    tx: &mut Tx,
    watershed: &Slug,
    records: &[Record],
    now: DateTime<Utc>,
) -> Result<Counts, StoreError> {
    let watershed_id = lock_watershed(tx, watershed).await?;
    let (reaches, taxa) = (Ids::reaches(tx, watershed_id).await?, Ids::taxa(tx).await?);
    let mut counts = Counts::default();
    for chunk in records.chunks(CHUNK) {
        let keyed: Vec<(String, &Record)> = chunk.iter().map(|record| (record.key(), record)).collect();
        let mut versions = stored_versions(tx, watershed_id, &keyed).await?;
        let mut new_rows = Vec::new();
        for (key, record) in keyed {
            let (reach_id, taxon_id) = (reaches.get(&record.reach)?, taxa.get(&record.taxon)?);
            let known = versions.entry(key.clone()).or_default();
            let upsert = if known.is_empty() {
                Upsert::Created
            } else if says_nothing_new(known, record) {
                Upsert::Unchanged
            } else {
                Upsert::Updated
            };
            counts.add(upsert);
            if upsert == Upsert::Unchanged {
                continue;
            }
            let latest = known.iter().map(|version| version.record.known_at).max();
            let known_at = match latest {
                Some(latest) if record.known_assumed => record.known_at.max(latest),
                _ => record.known_at,
            };
            let version = known.iter().map(|version| version.number).max().unwrap_or(0) + 1;
            let known_at_us = known_at.timestamp_micros();
            let filed = Filed { watershed_id, reach_id, taxon_id, key, version, known_at_us };
            new_rows.push(record_args(filed, record, now));
            known.push(Version { number: version, record: Record { known_at, ..record.clone() } });
        }
        insert_many(tx, INSERT_HEAD, new_rows).await?;
    }
    Ok(counts)
}

fn says_nothing_new(known: &[Version], record: &Record) -> bool {
    let latest = |until: i64| {
        let micros = |version: &&Version| version.record.known_at.timestamp_micros();
        known.iter().filter(|version| micros(version) <= until).max_by_key(|version| (micros(version), version.number))
    };
    let says_it = |version: Option<&Version>| version.is_some_and(|version| same(&version.record, record));
    says_it(latest(record.known_at.timestamp_micros())) || (record.known_assumed && says_it(latest(i64::MAX)))
}

/// Whether two rows of one key say the same.
fn same(a: &Record, b: &Record) -> bool {
    let told = |record: &Record| Record {
        known_at: DateTime::UNIX_EPOCH,
        known_assumed: false,
        source: String::new(),
        doubts: Vec::new(),
        ..record.clone()
    };
    told(a) == told(b)
}

async fn stored_versions(
    tx: &mut Tx,
    watershed_id: i64,
    keyed: &[(String, &Record)],
) -> Result<HashMap<String, Vec<Version>>, StoreError> {
    let mut versions: HashMap<String, Vec<Version>> = HashMap::new();
    let sql = tx.dialect().in_list(
        concat!(
            "SELECT ",
            COLUMNS!(),
            " FROM record d JOIN reach e ON e.id = d.reach_id JOIN taxon t ON t.id = d.taxon_id ",
            "WHERE d.record_key IN "
        ),
        keyed.len(),
    );
    let sql = sql + " AND d.watershed_id = " + &tx.dialect().placeholder(keyed.len() + 1);
    let keys = keyed.iter().map(|(key, _)| Arg::from(key));
    let args = keys.chain(std::iter::once(Arg::from(watershed_id))).collect();
    for row in tx.rows_built("record", sql, args).await? {
        let version = Version { number: row.int("version")?, record: read_record(&row)? };
        versions.entry(row.text("record_key")?).or_default().push(version);
    }
    Ok(versions)
}

/// The records of `watershed`, or of one taxon there, by day, reach, taxon and key: of each the
/// version that was known last among those with `known_at` not after `known_by` (all when `None`).
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon.
pub async fn records(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: Option<&Slug>,
    known_by: Option<DateTime<Utc>>,
) -> Result<Vec<Record>, StoreError> {
    // The taxon is compared after the version is chosen: a correction may have moved a record.
    const SQL: &str = concat!(
        "SELECT ",
        COLUMNS!(),
        " FROM (SELECT r.*, row_number() OVER (PARTITION BY r.record_key ORDER BY r.known_at DESC, r.version DESC) \
           AS place FROM record r WHERE r.watershed_id = $1 AND r.known_at <= $2) AS d \
         JOIN reach e ON e.id = d.reach_id JOIN taxon t ON t.id = d.taxon_id \
         WHERE d.place = 1 AND ($3 IS NULL OR d.taxon_id = $3) \
         ORDER BY d.to_date, e.slug_key, t.slug_key, d.record_key",
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    let taxon_id = match taxon {
        Some(taxon) => Some(taxon_id(tx, taxon).await?),
        None => None,
    };
    let rows = tx.rows("record", SQL, args![watershed_id, cut_off(known_by), taxon_id]).await?;
    rows.iter().map(read_record).collect()
}
