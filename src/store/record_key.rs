//! Which rows are about the same record.

use chrono::Timelike as _;

use crate::domain::Record;

/// The key of a record in its watershed: the recorder's own identifier, or else reach, taxon,
/// brood, kind, days, hours and stage. The two forms cannot meet.
pub(super) fn record_key(record: &Record) -> String {
    if let Some(id) = &record.external_id {
        return format!("id {id}");
    }
    let text = |part: Option<String>| part.unwrap_or_else(|| "-".to_owned());
    let hours = record
        .hours
        .map(|(start, end)| format!("{}..{}", start.num_seconds_from_midnight(), end.num_seconds_from_midnight()));
    format!(
        "of {} {} {} {} {} {} {} {}",
        record.reach.key(),
        record.taxon.key(),
        text(record.brood.map(|brood| brood.to_string())),
        record.kind.as_str(),
        text(record.date_from.map(|date| date.to_string())),
        record.date_to,
        text(hours),
        text(record.stage.map(|stage| stage.as_str().to_owned())),
    )
}
