//! Computes and stores how good a watershed's forecasts would have been.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::NaiveDate;
use thiserror::Error;

use super::document::FitDocument;
use super::document::skill::{RangeDocument, SkillDocument, TaxonSkill, Verdict};
use super::fit::{FitError, Known, brood_numbers, input, load};
use super::threads;
use super::water::drivers;
use super::{AppError, Service};
use crate::clock::Clock;
use crate::domain::season::Cycle;
use crate::domain::{Slug, Taxon};
use crate::model::clock::Drivers;
use crate::model::emergence::{Assessment, FitInput, assess};
use crate::model::temperature::LeftOutSeason;
use crate::store::fit::{latest_fits, widenings};
use crate::store::skill::{StoredSkill, put_skill, skills};
use crate::store::{Db, StoreError, Tx};

/// Why no skill could be computed.
#[derive(Debug, Error)]
pub enum SkillError {
    /// The data could not be loaded.
    #[error(transparent)]
    Load(#[from] FitError),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// The computation was cut off.
    #[error("the computation was cut off")]
    CutOff,
    /// A table could not be written as text.
    #[error("a table of scores could not be stored")]
    Text(#[from] serde_json::Error),
}

/// Scores one resident taxon (all when `None`), brood by brood, and stores each as it ends; `progress` hears of each with
/// the number of its rows, 0 where too few years can be left out.
///
/// # Errors
/// [`SkillError`]; what was stored before stays.
pub async fn compute_skill(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    only: Option<&Slug>,
    progress: &(dyn Fn(&Slug, u8, usize) + Sync),
) -> Result<SkillDocument, SkillError> {
    let known = Arc::new(load(db, watershed, None::<NaiveDate>).await?);
    if let Some(slug) = only
        && !known.taxa.iter().any(|t| t.slug == *slug)
    {
        return Err(FitError::NoTaxon(slug.clone()).into());
    }
    let mut document = SkillDocument::empty(watershed.as_str());
    for taxon in known.taxa.iter().filter(|t| only.is_none_or(|slug| *slug == t.slug)) {
        for brood in brood_numbers(taxon) {
            let (shared, subject) = (known.clone(), taxon.clone());
            let found =
                threads::in_time(move || score(&shared, &subject, brood)).await.map_err(|_| SkillError::CutOff)?;
            let one = TaxonSkill::new(taxon.slug.as_str(), brood, &found);
            let stored = StoredSkill {
                taxon: taxon.slug.clone(),
                brood,
                computed_at: clock.now(),
                scores_json: serde_json::to_string(&one)?,
            };
            let mut tx = db.write().await?;
            put_skill(&mut tx, watershed, &stored).await?;
            tx.commit().await?;
            progress(&taxon.slug, brood, one.rows.len());
            document.add(one);
        }
    }
    add_ranges(&mut db.read().await?, watershed, &mut document).await?;
    Ok(document)
}

/// The skill stored last.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn stored_skill(service: &Service, watershed: &Slug) -> Result<SkillDocument, AppError> {
    let view = service.watershed(watershed)?;
    let mut tx = service.db().read().await?;
    let mut document = SkillDocument::empty(view.watershed.slug.as_str());
    for one in skills(&mut tx, &view.watershed.slug).await? {
        document.add(scores_of(&one)?);
    }
    add_ranges(&mut tx, &view.watershed.slug, &mut document).await?;
    Ok(document)
}

/// The verdicts on what of `watershed` could be scored, by taxon and brood.
///
/// # Errors
/// [`AppError::Store`].
pub(super) async fn verdicts(tx: &mut Tx, watershed: &Slug) -> Result<Vec<(Slug, u8, Verdict)>, AppError> {
    let mut all = Vec::new();
    for one in skills(tx, watershed).await? {
        match scores_of(&one) {
            Ok(scores) => all.extend(scores.verdict().map(|verdict| (one.taxon, one.brood, verdict))),
            // Forecasts must not be lost for scores that another version stored.
            Err(error) => tracing::warn!(%error, "pages do not tell how forecasts of {} have done", one.taxon),
        }
    }
    Ok(all)
}

async fn add_ranges(tx: &mut Tx, watershed: &Slug, document: &mut SkillDocument) -> Result<(), StoreError> {
    let ranges = widenings(tx, watershed).await?.into_iter();
    document.ranges =
        ranges.map(|(taxon, brood, widening)| RangeDocument { taxon: taxon.to_string(), brood, widening }).collect();
    Ok(())
}

/// The latest fit of every taxon and brood of a watershed, each with how often its intervals held where
/// that was scored since it was made.
///
/// # Errors
/// [`AppError::Store`], [`AppError::Internal`] for stored scores that cannot be read.
pub async fn fits_with_cover(service: &Service, watershed: &Slug) -> Result<Vec<FitDocument>, AppError> {
    let mut tx = service.db().read().await?;
    let stored = skills(&mut tx, watershed).await?;
    let mut documents = Vec::new();
    for fit in latest_fits(&mut tx, watershed).await? {
        let mut document = FitDocument::from(&fit);
        let own = |one: &&StoredSkill| {
            (&one.taxon, one.brood) == (&fit.taxon, fit.brood) && one.computed_at >= fit.created_at
        };
        // Scores are of all data; a trial on less of them has none.
        if let Some(one) = stored.iter().find(own).filter(|_| fit.through.is_none()) {
            document.cover = scores_of(one)?.cover();
        }
        documents.push(document);
    }
    Ok(documents)
}

fn scores_of(stored: &StoredSkill) -> Result<TaxonSkill, AppError> {
    serde_json::from_str(&stored.scores_json)
        .map_err(|error| AppError::Internal(format!("stored skill of {}: {error}", stored.taxon)))
}

fn score(known: &Known, taxon: &Taxon, brood: u8) -> Assessment {
    let input = input(known, taxon, brood);
    let waters = Waters::new(known, &input);
    assess(&input, &|site, season, issue| waters.members(site, season, issue)).unwrap_or_default()
}

/// Water of every season to be left out, by reach.
struct Waters<'a> {
    known: &'a Known,
    cycle: Cycle,
    left_out: Vec<Vec<(i32, LeftOutSeason)>>,
}

impl<'a> Waters<'a> {
    fn new(known: &'a Known, input: &FitInput) -> Self {
        let left_out = known.reaches.iter().map(|reach| {
            let Some(site) = known.water.reaches.get(&reach.slug) else { return Vec::new() };
            let measured: BTreeSet<i32> =
                site.completed.days().keys().map(|date| input.cycle.containing(*date).year).collect();
            let measured: Vec<i32> = measured.into_iter().collect();
            let one = |year: &i32| {
                (*year, LeftOutSeason::new(&site.completed, &site.climatology, input.cycle.season(*year), &measured))
            };
            input.years.iter().map(one).collect()
        });
        Self { known, cycle: input.cycle, left_out: left_out.collect() }
    }

    fn members(&self, site: usize, year: i32, issue: i64) -> Option<Vec<Drivers>> {
        let reach = self.known.reaches.get(site)?;
        let season = self.cycle.season(year);
        match self.left_out[site].iter().find(|(known, _)| *known == year) {
            Some((_, left_out)) => {
                Some(left_out.members(issue).into_iter().map(|days| drivers(reach, season, days.into_iter())).collect())
            }
            // Without water only the calendar runs, and it needs none.
            None => Some(vec![self.known.water.central(reach, season)]),
        }
    }
}
