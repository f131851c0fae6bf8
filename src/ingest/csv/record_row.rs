//! One row of a file of records.

use chrono::{NaiveDate, NaiveTime};

use super::records::{
    AIR, BROOD, CLASS, CLOUD, COUNT, DATE_FROM, DATE_TO, EFFORT, HOUR_END, HOUR_START, ID, KIND, KNOWN, RAIN, SITE,
    STAGE, TAXON, WIND,
};
use super::values::{Calendar, Fields, Names};
use crate::domain::civil::end_of_day;
use crate::domain::record::Weather;
use crate::domain::{AbundanceClass, Record, RecordKind, Slug, Stage};
use crate::ingest::faults::FaultKind;

/// Longest time a trap or the wait for a first sighting may cover, days.
const MAX_DAYS: i64 = 366;
/// Most insects of one record.
const MAX_COUNT: u32 = 10_000_000;
/// Most traps, hours of light, or people.
const MAX_EFFORT: f64 = 10_000.0;
/// Longest identifier, characters.
const MAX_ID: usize = 200;

/// What a row may speak of.
pub(super) struct Context<'a> {
    pub(super) reaches: &'a [Slug],
    pub(super) taxa: &'a [Slug],
    pub(super) reach_names: Names,
    pub(super) taxon_names: Names,
    pub(super) calendar: Calendar,
    pub(super) source: &'a str,
}

/// Reads the row; all faults are kept in `fields`.
pub(super) fn read(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Record> {
    let calendar = context.calendar;
    let reach = fields.known(SITE, &context.reach_names);
    let taxon = fields.known(TAXON, &context.taxon_names);
    let date_from = fields.date(DATE_FROM, calendar);
    let date_to = if fields.need(DATE_TO).is_some() { fields.date(DATE_TO, calendar) } else { None };
    let count = fields.count(COUNT, MAX_COUNT);
    let class = fields.word(CLASS, AbundanceClass::parse);
    let kind = fields.word(KIND, RecordKind::parse);
    let effort = fields.number(EFFORT, f64::MIN_POSITIVE, MAX_EFFORT, "above 0 and at most 10000");
    let hours = hours(fields);
    let stage = fields.word(STAGE, Stage::parse);
    let brood = fields.number(BROOD, 1.0, 9.0, "a whole number from 1 to 9");
    if brood.is_some_and(|brood| brood.fract() != 0.0) {
        fields.bad(BROOD, "must be a whole number from 1 to 9");
    }
    let weather = Weather {
        cloud: fields.number(CLOUD, 0.0, 1.0, "between 0, clear, and 1, overcast"),
        wind_kmh: fields.number(WIND, 0.0, 300.0, "a wind speed in km/h between 0 and 300"),
        air_c: fields.number(AIR, -60.0, 60.0, "degrees Celsius between -60 and 60"),
        rain_mm: fields.number(RAIN, 0.0, 400.0, "mm of rain within an hour between 0 and 400"),
    };
    let external_id = fields.row.get(ID).map(str::to_owned);
    if external_id.as_ref().is_some_and(|id| id.chars().count() > MAX_ID || id.chars().any(char::is_control)) {
        fields.bad(ID, format!("must be at most {MAX_ID} characters without control characters"));
    }
    let date_to = date_to?;
    let known = fields.known_at(KNOWN, calendar, date_to, || end_of_day(calendar.time_zone, date_to));
    if !fields.faults.is_empty() {
        return None;
    }
    let kind = kind.unwrap_or_else(|| usual_kind(date_from, date_to, hours.is_some(), class.is_some()));
    check_amount(fields, kind, count, class);
    let date_from = check_days(fields, kind, date_from, date_to);
    if hours.is_some() && kind != RecordKind::Visit {
        fields.bad(HOUR_START, format!("hours belong to a visit, not to a {}", kind.as_str()));
    }
    let (known_at, known_assumed) = known?;
    Some(Record {
        reach: context.reaches.get(reach? as usize)?.clone(),
        taxon: context.taxa.get(taxon? as usize)?.clone(),
        brood: brood.map(|brood| brood as u8),
        kind,
        date_from,
        date_to,
        count,
        abundance_class: class,
        effort: effort.unwrap_or(1.0),
        hours,
        stage,
        weather,
        external_id,
        known_at,
        known_assumed,
        source: context.source.to_owned(),
        doubts: Vec::new(),
        exposure_known: kind != RecordKind::Trap || date_from.is_some(),
    })
}

/// The kind of a row that does not say. A lone day with a count and without hours is a trap.
fn usual_kind(date_from: Option<NaiveDate>, date_to: NaiveDate, hours: bool, class: bool) -> RecordKind {
    let spans_days = date_from.is_some_and(|from| from < date_to);
    if hours || (class && !spans_days) { RecordKind::Visit } else { RecordKind::Trap }
}

fn hours(fields: &mut Fields<'_>) -> Option<(NaiveTime, NaiveTime)> {
    let given = (fields.row.get(HOUR_START).is_some(), fields.row.get(HOUR_END).is_some());
    match given {
        (true, false) => fields.fault(HOUR_END, FaultKind::MissingValue, "is empty while hour_start is given"),
        (false, true) => fields.fault(HOUR_START, FaultKind::MissingValue, "is empty while hour_end is given"),
        _ => {}
    }
    let (start, end) = (fields.clock(HOUR_START), fields.clock(HOUR_END));
    let hours = (start?, end?);
    if hours.0 == hours.1 {
        fields.bad(HOUR_END, "must differ from hour_start");
    }
    Some(hours)
}

fn check_amount(fields: &mut Fields<'_>, kind: RecordKind, count: Option<u32>, class: Option<AbundanceClass>) {
    let none_seen = count.map_or(class == Some(AbundanceClass::None), |count| count == 0);
    if kind == RecordKind::FirstSighting {
        if none_seen {
            fields.bad(if count.is_some() { COUNT } else { CLASS }, "a first sighting cannot be of none");
        }
    } else if count.is_none() && class.is_none() {
        let reason = "is empty and abundance_class too; write 0 or none where none were seen";
        fields.fault(COUNT, FaultKind::MissingValue, reason);
    }
}

/// Checks the days for the kind; the first day as it is stored.
fn check_days(
    fields: &mut Fields<'_>,
    kind: RecordKind,
    date_from: Option<NaiveDate>,
    date_to: NaiveDate,
) -> Option<NaiveDate> {
    if let Some(from) = date_from {
        let days = (date_to - from).num_days();
        if days < 0 {
            fields.bad(DATE_TO, format!("is before date_from, {from}"));
        } else if days > MAX_DAYS {
            fields.bad(DATE_FROM, format!("lies {days} days before date_to; at most {MAX_DAYS} are taken"));
        } else if kind == RecordKind::Visit && days > 0 {
            fields.bad(DATE_FROM, format!("a visit is one day, but date_to is {date_to}"));
        } else if kind == RecordKind::FirstSighting && days == 0 {
            fields.bad(DATE_FROM, "must be a day before date_to, the last one looked without seeing");
        }
    }
    if kind == RecordKind::Visit { Some(date_to) } else { date_from }
}
