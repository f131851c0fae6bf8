//! The many columns of a record.

use chrono::{DateTime, Utc};

use super::StoreError;
use super::arg::{Arg, args, words};
use super::row::Row;
use crate::domain::record::Weather;
use crate::domain::{AbundanceClass, Record, RecordKind, Stage};

/// What [`read_record`] reads, of record `d`, reach `e` and taxon `t`.
macro_rules! COLUMNS {
    () => {
        "d.id, d.record_key, d.version, e.slug AS reach, t.slug AS taxon, d.brood, d.kind, d.from_date, d.to_date, \
         d.count, d.abundance_class, d.effort, d.hour_start_s, d.hour_end_s, d.stage, d.cloud, d.wind_kmh, d.air_c, d.rain_mm, \
         d.external_id, d.known_at, d.known_assumed, d.source, d.doubts, d.exposure_known"
    };
}
pub(super) use COLUMNS;

/// Inserts rows of [`record_args`].
pub(super) const INSERT_HEAD: &str = "INSERT INTO record (watershed_id, record_key, version, reach_id, taxon_id, \
    brood, kind, from_date, to_date, count, abundance_class, effort, hour_start_s, hour_end_s, stage, cloud, \
    wind_kmh, air_c, rain_mm, external_id, known_at, known_assumed, source, doubts, exposure_known, stored_at) VALUES ";

/// The numbers a record row is filed under.
pub(super) struct Filed {
    pub(super) watershed_id: i64,
    pub(super) reach_id: i64,
    pub(super) taxon_id: i64,
    pub(super) key: String,
    pub(super) version: i64,
    pub(super) known_at_us: i64,
}

/// The values of [`INSERT_HEAD`].
pub(super) fn record_args(filed: Filed, record: &Record, now: DateTime<Utc>) -> Vec<Arg> {
    let Filed { watershed_id, reach_id, taxon_id, key, version, known_at_us } = filed;
    let mut row = args![
        watershed_id,
        key,
        version,
        reach_id,
        taxon_id,
        record.brood,
        record.kind.as_str(),
        record.date_from,
        record.date_to,
        record.count,
        record.abundance_class.map(AbundanceClass::as_str),
        record.effort,
        record.hours.map(|(start, _)| start),
        record.hours.map(|(_, end)| end),
        record.stage.map(Stage::as_str),
        record.weather.cloud,
        record.weather.wind_kmh,
        record.weather.air_c,
        record.weather.rain_mm,
        &record.external_id,
        known_at_us,
        record.known_assumed,
        &record.source,
    ];
    row.push(words(&record.doubts));
    row.extend(args![record.exposure_known, now]);
    row
}

/// Reads [`COLUMNS`].
pub(super) fn read_record(row: &Row) -> Result<Record, StoreError> {
    Ok(Record {
        reach: row.slug("reach")?,
        taxon: row.slug("taxon")?,
        brood: row.opt_number("brood")?,
        kind: row.word("kind", RecordKind::parse)?,
        date_from: row.opt_date("from_date")?,
        date_to: row.date("to_date")?,
        count: row.opt_number("count")?,
        abundance_class: row.opt_word("abundance_class", AbundanceClass::parse)?,
        effort: row.real("effort")?,
        hours: row.opt_clock_time("hour_start_s")?.zip(row.opt_clock_time("hour_end_s")?),
        stage: row.opt_word("stage", Stage::parse)?,
        weather: Weather {
            cloud: row.opt_real("cloud")?,
            wind_kmh: row.opt_real("wind_kmh")?,
            air_c: row.opt_real("air_c")?,
            rain_mm: row.opt_real("rain_mm")?,
        },
        external_id: row.opt_text("external_id")?,
        known_at: row.instant("known_at")?,
        known_assumed: row.flag("known_assumed")?,
        source: row.text("source")?,
        doubts: row.words("doubts")?,
        exposure_known: row.flag("exposure_known")?,
    })
}
