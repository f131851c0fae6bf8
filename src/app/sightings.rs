//! What was seen of the insects of a watershed, and when: what confirms calendar entries.

use super::AppError;
use super::feed::SeenDays;
use super::observations::{Subject, brood_of};
use super::visits::report_visits;
use crate::domain::{AbundanceClass, Record, RecordKind, Report, Slug, Taxon, Watershed};
use crate::store::{Tx, place, record, report};

/// Records and accepted reports of a watershed.
#[derive(Debug, Clone)]
pub struct Sightings {
    water: Watershed,
    records: Vec<Record>,
    reports: Vec<Report>,
}

impl Sightings {
    /// Reads all that is known.
    ///
    /// # Errors
    /// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
    pub async fn load(tx: &mut Tx, watershed: &Slug) -> Result<Self, AppError> {
        let water = place::find_watershed(tx, watershed).await?.ok_or_else(|| AppError::not_found("watershed"))?;
        let records = record::records(tx, watershed, None, None).await?;
        let reports = report::accepted_reports(tx, watershed, None).await?;
        Ok(Self { water, records, reports })
    }

    /// When `taxon` was seen.
    #[must_use]
    pub fn of(&self, taxon: &Taxon) -> Vec<SeenDays> {
        let mut seen = Vec::new();
        for (subject, flight) in [(Subject::Emergence, false), (Subject::Flight, true)] {
            let own = self.records.iter().filter(|record| record.taxon == taxon.slug && !record.is_blank());
            seen.extend(own.filter(|record| subject.is_told_by(record.stage)).filter_map(|record| {
                // What a trap holds may have come on any of its days; where nobody knows them it tells no date.
                let from = if record.kind == RecordKind::Trap { record.date_from? } else { record.date_to };
                let brood = record.brood.unwrap_or_else(|| brood_of(taxon, record.date_to));
                Some(SeenDays { reach: record.reach.clone(), brood, flight, from, to: record.date_to })
            }));
            let zone = self.water.time_zone;
            let visits = report_visits(taxon, &self.reports, subject);
            seen.extend(visits.into_iter().filter(|visit| visit.class != AbundanceClass::None).map(|visit| {
                let (from, to) = visit.days(zone);
                SeenDays { brood: brood_of(taxon, visit.date(zone)), reach: visit.reach, flight, from, to }
            }));
        }
        seen
    }
}
