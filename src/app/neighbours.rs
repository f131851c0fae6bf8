//! Fits that other waters have made, for taxa with few years of records here.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use crate::domain::season::Cycle;
use crate::domain::{Fit, Reach, Record, Report, Slug, Taxon, Watershed};
use crate::model::clock::Drivers;
use crate::model::emergence::{FittedForm, FittedTaxon, Middle, Reading, TaxonPrior, WatershedSds};
use crate::store::meta::{get_meta, set_meta};
use crate::store::{Db, StoreError, Tx, fit as fits, place, taxon as taxa};

use super::AppError;
use super::document::fit::FitRequest;
use super::fit::brood_numbers;
use super::in_season::spoken_of;
use super::jobs::enqueue_fit;
use super::water_air::km;

/// Own years from which another water's fit is no longer asked; such fits have learned from nobody.
const YEARS_ALONE: u32 = 6;
/// Waters further than this are another climate and other populations, whose heat tells nothing here (common practice, no
/// source), kilometres.
const NEAR_KM: f64 = 600.0;
/// Of more than so many the nearest are asked: a fit is some hundred kilobytes, and these tell how far waters differ.
const MOST_WATERS: usize = 8;

/// The fits that may help, and who needs help.
#[derive(Debug, Clone, Default)]
pub struct Neighbours {
    watershed: Option<Slug>,
    /// Years known here of the taxa that need help.
    own_years: BTreeMap<String, u32>,
    /// Of watersheds near by and of this one.
    fits: Vec<Fit>,
    /// The same, read when first needed.
    read: OnceLock<Vec<Option<FittedTaxon>>>,
}

impl Neighbours {
    /// In words, what was taken from where.
    #[must_use]
    pub fn told(&self, taxon: &Taxon, brood: u8) -> Option<String> {
        let sources = self.sources(taxon, brood);
        let one = |&index: &usize| format!("{} ({} years there)", self.fits[index].watershed, self.fits[index].years);
        let list: Vec<String> = sources.iter().map(one).collect();
        (!list.is_empty()).then(|| {
            format!(
                "few records of this water: the heat its emergence needs is taken from {} as a start",
                list.join(", ")
            )
        })
    }

    /// `traits` with what other waters have learned of a taxon and brood, for this one, whose usual year is `climate`;
    /// `None` where nobody has anything to tell.
    pub(super) fn carried_over(
        &self,
        traits: &TaxonPrior,
        taxon: &Taxon,
        brood: u8,
        climate: &Drivers,
        has_water: bool,
    ) -> Option<TaxonPrior> {
        let sources = self.sources(taxon, brood);
        if sources.is_empty() {
            return None;
        }
        let cycle = Cycle::of_brood(taxon, brood);
        let mut best: Option<(u32, Reading)> = None;
        let (mut independent, mut all) = (Vec::new(), Vec::new());
        let mut numbers = Numbers::default();
        let subject = numbers.of_taxon(&taxon.slug, brood);
        for (index, (fit, fitted)) in self.fits.iter().zip(self.read()).enumerate() {
            let helps = sources.contains(&index);
            if !helps && fit.years < YEARS_ALONE {
                continue;
            }
            let fitted = fitted.as_ref().filter(|fitted| fitted.cycle == cycle);
            let Some(reading) = fitted.and_then(|fitted| Reading::of(fitted, climate, has_water)) else { continue };
            let (day, sd_days) = reading.median_day;
            let (taxon, water) = (numbers.of_taxon(&fit.taxon, fit.brood), numbers.of_water(&fit.watershed));
            let middle = Middle { taxon, water, day, sd_days };
            all.push(middle);
            if fit.years >= YEARS_ALONE {
                independent.push(middle);
            }
            if helps && best.is_none_or(|(years, _)| years < fit.years) {
                best = Some((fit.years, reading));
            }
        }
        let here = numbers.of_water(self.watershed.as_ref()?);
        let median_day = WatershedSds::estimate(&independent).expected(&all, subject, here)?;
        Some(best?.1.carried_over(traits, median_day))
    }

    /// Which fits tell of a taxon and brood: all that have learned from nobody, or else the one with most years, the first
    /// of several. Since help only flows from more years to fewer, no fit ever learns from itself.
    fn sources(&self, taxon: &Taxon, brood: u8) -> Vec<usize> {
        let Some(own) = self.own_years.get(&taxon.slug.key()) else { return Vec::new() };
        let of_subject = |fit: &Fit| {
            fit.taxon == taxon.slug
                && fit.brood == brood
                && fit.years > *own
                && Some(&fit.watershed) != self.watershed.as_ref()
        };
        let usable = |index: &usize| self.read()[*index].is_some();
        let found: Vec<usize> = (0..self.fits.len()).filter(|&i| of_subject(&self.fits[i])).filter(usable).collect();
        let alone: Vec<usize> = found.iter().copied().filter(|&i| self.fits[i].years >= YEARS_ALONE).collect();
        if alone.is_empty() {
            found.into_iter().rev().max_by_key(|&i| self.fits[i].years).into_iter().collect()
        } else {
            alone
        }
    }

    /// A fit of an older form is as good as none; its own watershed will make it anew.
    fn read(&self) -> &[Option<FittedTaxon>] {
        self.read.get_or_init(|| {
            let form = |fit: &Fit| serde_json::from_str(&fit.model_json).ok().and_then(FittedForm::into_fitted);
            self.fits.iter().map(form).collect()
        })
    }
}

/// Numbers for taxa with their broods, and for waters.
#[derive(Default)]
struct Numbers {
    taxa: BTreeMap<(String, u8), usize>,
    waters: BTreeMap<String, usize>,
}

impl Numbers {
    fn of_taxon(&mut self, taxon: &Slug, brood: u8) -> usize {
        let next = self.taxa.len();
        *self.taxa.entry((taxon.key(), brood)).or_insert(next)
    }

    fn of_water(&mut self, watershed: &Slug) -> usize {
        let next = self.waters.len();
        *self.waters.entry(watershed.key()).or_insert(next)
    }
}

/// The fits that help where fewer than six years are known of a taxon here: of watersheds near by and, for how far waters
/// differ, of this one; for a hindcast only such that saw nothing after `through`.
///
/// # Errors
/// [`StoreError`] of the database.
pub(super) async fn neighbours(
    tx: &mut Tx,
    watershed: &Watershed,
    taxa: &[Taxon],
    records: &[Record],
    reports: &[Report],
    through: Option<NaiveDate>,
) -> Result<Neighbours, StoreError> {
    let reported: Vec<(NaiveDate, Option<Vec<Slug>>)> =
        reports.iter().map(|r| (r.started_at.with_timezone(&watershed.time_zone).date_naive(), spoken_of(r))).collect();
    let mut own_years = BTreeMap::new();
    for taxon in taxa {
        let own = records.iter().filter(|r| r.taxon == taxon.slug).map(|r| r.date_to);
        let cycle = Cycle::of(taxon);
        // Only what speaks of the taxon teaches its fit anything.
        let speaks = |spoken: &Option<Vec<Slug>>| spoken.as_ref().is_none_or(|taxa| taxa.contains(&taxon.slug));
        let seen = reported.iter().filter(|(_, spoken)| speaks(spoken)).map(|(date, _)| *date);
        let years: BTreeSet<i32> = own.chain(seen).map(|date| cycle.containing(date).year).collect();
        let years = u32::try_from(years.len()).unwrap_or(u32::MAX);
        if years < YEARS_ALONE {
            own_years.insert(taxon.slug.key(), years);
        }
    }
    if own_years.is_empty() {
        return Ok(Neighbours::default());
    }
    let mut known = near(tx, &watershed.slug).await?;
    if known.is_empty() {
        return Ok(Neighbours::default());
    }
    known.push(watershed.slug.clone());
    let mut fits = fits::fits_with_records(tx, &known, through).await?;
    fits.retain(|fit| fit.years >= YEARS_ALONE || fit.watershed != watershed.slug);
    Ok(Neighbours { watershed: Some(watershed.slug.clone()), own_years, fits, read: OnceLock::new() })
}

/// The other watersheds with a reach near one of `watershed`, see [`nearest`].
async fn near(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Slug>, StoreError> {
    let own = place::reaches(tx, watershed).await?;
    let mut apart = Vec::new();
    for other in place::watersheds(tx).await?.into_iter().filter(|other| other.slug != *watershed) {
        let reaches = place::reaches(tx, &other.slug).await?;
        let at = |reach: &Reach| (reach.latitude, reach.longitude);
        let apart_km = own.iter().flat_map(|here| reaches.iter().map(move |there| km(at(here), at(there))));
        apart.extend(apart_km.min_by(f64::total_cmp).map(|km| (km, other.slug)));
    }
    Ok(nearest(apart))
}

/// Those of watersheds so many kilometres away that lie within [`NEAR_KM`], the nearest first and at most
/// [`MOST_WATERS`].
fn nearest(mut apart_km: Vec<(f64, Slug)>) -> Vec<Slug> {
    apart_km.retain(|(km, _)| *km <= NEAR_KM);
    apart_km.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    apart_km.into_iter().take(MOST_WATERS).map(|(_, slug)| slug).collect()
}

/// Queues fits of the taxa of `watershed` that have few years of their own and that another water has learned more of
/// since they were fitted.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown watershed.
pub async fn learn_again(db: &Db, watershed: &Slug, now: DateTime<Utc>) -> Result<Vec<Slug>, AppError> {
    let behind = {
        let mut tx = db.read().await?;
        let near = near(&mut tx, watershed).await?;
        let helpers = fits::fits_with_records(&mut tx, &near, None).await?;
        let mut behind = Vec::new();
        for taxon in taxa::residents(&mut tx, watershed).await? {
            for brood in brood_numbers(&taxon) {
                if let Some(helper) = news(&mut tx, watershed, &helpers, &taxon.slug, brood).await? {
                    behind.push((taxon.slug.clone(), brood, helper));
                }
            }
        }
        behind
    };
    let mut taxa: Vec<Slug> = behind.iter().map(|(taxon, ..)| taxon.clone()).collect();
    taxa.dedup();
    if !behind.is_empty() {
        let mut tx = db.write().await?;
        for taxon in &taxa {
            enqueue_fit(&mut tx, watershed, &FitRequest { taxon: Some(taxon.clone()) }, now).await?;
        }
        for (taxon, brood, helper) in &behind {
            set_meta(&mut tx, &asked_key(watershed, taxon, *brood), &helper.to_string()).await?;
        }
        tx.commit().await?;
    }
    Ok(taxa)
}

/// Where it is noted which fit of another water a taxon and brood was last fitted again for.
fn asked_key(watershed: &Slug, taxon: &Slug, brood: u8) -> String {
    format!("fitted_for/{}/{}/{brood}", watershed.key(), taxon.key())
}

/// The fit that would help, if it was made after the own one and no fit was asked for on its account: what is fitted
/// again may turn out the same, and then keeps the time at which it was first made. Without an own fit one is awaited
/// anyway.
async fn news(
    tx: &mut Tx,
    watershed: &Slug,
    helpers: &[Fit],
    taxon: &Slug,
    brood: u8,
) -> Result<Option<Uuid>, StoreError> {
    let own = fits::fit_to_publish(tx, watershed, taxon, brood).await?;
    let Some(own) = own.filter(|fit| fit.through.is_none() && fit.years < YEARS_ALONE) else {
        return Ok(None);
    };
    let of_subject = |fit: &&Fit| fit.taxon == *taxon && fit.brood == brood && fit.years > own.years;
    let newest = helpers.iter().filter(of_subject).max_by_key(|fit| fit.created_at);
    let Some(helper) = newest.filter(|helper| helper.created_at > own.created_at) else { return Ok(None) };
    let asked = get_meta(tx, &asked_key(watershed, taxon, brood)).await?;
    Ok(Some(helper.id).filter(|id| asked != Some(id.to_string())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_eight_nearest_waters_are_asked_and_none_far_away() {
        let water = |(km, name): (f64, &str)| (km, Slug::new(name).expect("a slug"));
        let names = |apart: &[(f64, &str)]| -> Vec<String> {
            nearest(apart.iter().copied().map(water).collect()).iter().map(Slug::key).collect()
        };
        assert_eq!(
            names(&[(601.0, "far"), (600.0, "edge"), (0.0, "same-bank"), (30.0, "b"), (30.0, "a")]),
            ["same-bank", "a", "b", "edge"]
        );
        let many: Vec<(f64, &str)> = ["j", "i", "h", "g", "f", "e", "d", "c", "b", "a"]
            .into_iter()
            .zip(0..)
            .map(|(n, k)| (f64::from(k), n))
            .collect();
        assert_eq!(names(&many), ["j", "i", "h", "g", "f", "e", "d", "c"]);
    }
}
