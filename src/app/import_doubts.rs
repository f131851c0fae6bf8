//! The doubts about trap records that are being imported, judged on the file together with what is
//! stored of the same reaches.

use std::collections::{BTreeMap, HashMap};
use std::io::{Read, Seek};

use crate::domain::{Record, RecordKind, Slug};
use crate::ingest::Fault;
use crate::ingest::csv::records::{CheckedRecords, Records};
use crate::model::record_checks::{Doubt, Interval, doubts};

/// What is doubted of each reach, and what is stored.
#[derive(Debug)]
pub(super) struct Doubting {
    found: BTreeMap<Slug, BTreeMap<Interval, Doubt>>,
    stored: HashMap<String, Record>,
}

impl Doubting {
    /// Looks at all intervals of a checked `file` and of what is `stored`.
    ///
    /// # Errors
    /// A [`Fault`] when the file changed since it was checked.
    pub(super) fn new(
        form: &Records,
        file: &mut (impl Read + Seek),
        checked: &CheckedRecords,
        stored: Vec<Record>,
    ) -> Result<Self, Fault> {
        let mut visits: BTreeMap<Slug, Vec<Interval>> = BTreeMap::new();
        let mut note = |record: &Record| {
            if record.kind == RecordKind::Trap {
                let interval = Interval::of_trap(record.date_from, record.date_to);
                visits.entry(record.reach.clone()).or_default().push(interval);
            }
        };
        form.give(file, checked, |record| {
            note(&record);
            true
        })?;
        stored.iter().for_each(note);
        let found = visits.into_iter().map(|(reach, visits)| (reach, doubts(&visits))).collect();
        let stored = stored.into_iter().map(|record| (record.key(), record)).collect();
        Ok(Self { found, stored })
    }

    /// Gives a record of the file its doubts. One that is stored already with the same content keeps
    /// the exposure it was given then, so that the same file changes nothing when it comes again
    /// after others.
    pub(super) fn judge(&self, record: &mut Record) {
        if let Some(known) = self.stored.get(&record.key()).filter(|known| same_content(known, record)) {
            record.exposure_known = known.exposure_known;
            record.doubts.clone_from(&known.doubts);
        } else if record.kind == RecordKind::Trap
            && let Some(doubt) = self
                .found
                .get(&record.reach)
                .and_then(|found| found.get(&Interval::of_trap(record.date_from, record.date_to)))
        {
            record.exposure_known &= doubt.exposure_known;
            record.doubts.push(doubt.text.clone());
        }
    }
}

fn same_content(a: &Record, b: &Record) -> bool {
    let told = |record: &Record| Record {
        known_at: chrono::DateTime::UNIX_EPOCH,
        known_assumed: false,
        source: String::new(),
        doubts: Vec::new(),
        exposure_known: true,
        ..record.clone()
    };
    told(a) == told(b)
}
