//! What everyone may know of what was seen and what was looked for in vain: records and accepted reports of all
//! watersheds, one entry per taxon and stage, by day. No spot, hour, count or person is in it.

use std::sync::Arc;

use chrono::NaiveDate;

use super::export::samples::{Found, Sample, samples};
use super::{AppError, Service};
use crate::domain::{AbundanceClass, RecordKind, Slug, Stage};
use crate::store::{observed, place, record, report, taxon};

/// One taxon at one reach.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Observation {
    /// Identifier, the same as in exported archives.
    pub id: String,
    /// The watershed.
    pub watershed: Slug,
    /// The reach.
    pub reach: Slug,
    /// The taxon.
    pub taxon: Slug,
    /// How it was made.
    pub kind: RecordKind,
    /// First and last local day.
    pub days: (NaiveDate, NaiveDate),
    /// Life stage seen.
    pub stage: Option<Stage>,
    /// Abundance class, where noted.
    pub abundance_class: Option<AbundanceClass>,
    /// False where it was looked for and not seen.
    pub detected: bool,
}

impl Observation {
    /// Sorts by last day, then by identifier.
    #[must_use]
    pub fn key(&self) -> String {
        format!("{}/{}", self.days.1, self.id)
    }
}

/// All observations by [`Observation::key`], and the state of the database they were read in.
#[derive(Debug)]
pub(super) struct Observed {
    mark: String,
    all: Arc<[Arc<Observation>]>,
}

/// All observations by [`Observation::key`], read anew when any has changed.
///
/// # Errors
/// [`AppError::Store`].
pub async fn all(service: &Service) -> Result<Arc<[Arc<Observation>]>, AppError> {
    let mut tx = service.db().read().await?;
    let mark = observed::mark(&mut tx).await?;
    if let Some(known) = service.observed().filter(|known| known.mark == mark) {
        return Ok(Arc::clone(&known.all));
    }
    let mut all: Vec<Arc<Observation>> = Vec::new();
    for water in place::watersheds(&mut tx).await? {
        let slug = &water.slug;
        let residents: Vec<Slug> = taxon::residents(&mut tx, slug).await?.into_iter().map(|t| t.slug).collect();
        let records = record::records(&mut tx, slug, None, None).await?;
        let reports = report::accepted_reports(&mut tx, slug, None).await?;
        let (samples, _) = samples(slug, water.time_zone, &residents, records, &reports);
        all.extend(samples.iter().flat_map(|sample| of_sample(slug, sample)));
    }
    all.sort_by_cached_key(|observation| observation.key());
    let all: Arc<[_]> = all.into();
    service.keep_observed(Arc::new(Observed { mark, all: Arc::clone(&all) }));
    Ok(all)
}

fn of_sample<'a>(watershed: &'a Slug, sample: &'a Sample) -> impl Iterator<Item = Arc<Observation>> + 'a {
    let days = (sample.first_day(), sample.like.date_to);
    sample.found.iter().map(move |Found { id, record }| {
        Arc::new(Observation {
            id: id.to_string(),
            watershed: watershed.clone(),
            reach: record.reach.clone(),
            taxon: record.taxon.clone(),
            kind: record.kind,
            days,
            stage: record.stage,
            abundance_class: record.abundance_class,
            detected: !record.is_blank(),
        })
    })
}
