//! Declaring and changing watersheds, reaches, gauges and taxa.
//!
//! Changes read, approve and write in one transaction: `approve` sees the stored document and
//! refuses when the caller read another version. The watershed, or the taxon, is held before it is read, so that
//! nobody else changes it meanwhile. What a change means for fits and forecasts is queued with it.

use serde::Serialize;
use serde_json::Value;

use super::document::{
    Faults, GaugeDocument, GaugeInput, Input, ReachDocument, ReachInput, TaxonDocument, TaxonInput, WatershedDocument,
    WatershedInput, merge, read,
};
use super::once::{Answer, Once};
use super::place_effect::Anew;
use super::{AppError, Service, WatershedView};
use crate::domain::token::Token;
use crate::domain::{Gauge, Reach, Slug, Taxon, Watershed};
use crate::store::{StoreError, Tx, Upsert, place, taxon, token};

/// The document of a watershed as served.
#[must_use]
pub fn watershed_document(view: &WatershedView) -> WatershedDocument {
    build_document(
        &view.watershed,
        view.reaches.iter().map(|reach| ReachDocument::from(&**reach)).collect(),
        view.gauges.iter().map(|gauge| GaugeDocument::from(&**gauge)).collect(),
        view.taxa.iter().map(|taxon| taxon.slug.to_string()).collect(),
    )
}

fn build_document(
    watershed: &Watershed,
    reaches: Vec<ReachDocument>,
    gauges: Vec<GaugeDocument>,
    taxa: Vec<String>,
) -> WatershedDocument {
    WatershedDocument {
        slug: watershed.slug.to_string(),
        name: watershed.name.clone(),
        time_zone: watershed.time_zone.name().to_owned(),
        units: watershed.units.as_str(),
        reaches,
        gauges,
        taxa,
    }
}

fn taken(what: &str, slug: &Slug) -> AppError {
    AppError::Conflict { detail: format!("There is a {what} {slug} already.") }
}

/// What a failure to store something new means: two may be making it at once.
fn not_made(what: &'static str, slug: &Slug) -> impl FnOnce(StoreError) -> AppError {
    move |error| match error {
        StoreError::Conflict { .. } => taken(what, slug),
        other => other.into(),
    }
}

/// `stored` changed by `patch`, read and checked anew. The slug stays.
fn patched<I: Input + Serialize>(stored: &I, slug: &Slug, patch: Value) -> Result<I::Domain, AppError> {
    let renamed = patch.get("slug").is_some_and(|new| new.as_str() != Some(slug.as_str()));
    if renamed {
        return Err(AppError::fault("#/slug", "immutable", "cannot be changed"));
    }
    if !patch.is_object() {
        return Err(AppError::fault("#", "wrong_type", "must be a JSON object"));
    }
    let mut value = serde_json::to_value(stored).map_err(|error| AppError::Internal(error.to_string()))?;
    merge(&mut value, patch);
    read::<I>(value).map_err(AppError::Faults)
}

/// Makes a watershed and binds the maker's token to it.
///
/// # Errors
/// [`AppError::Conflict`] when the slug is taken.
pub async fn create_watershed(
    service: &Service,
    maker: &Token,
    watershed: &Watershed,
    once: &Once,
) -> Result<Answer, AppError> {
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, service.now()).await? {
        return Ok(answer);
    }
    if place::find_watershed(&mut tx, &watershed.slug).await?.is_some() {
        return Err(taken("watershed", &watershed.slug));
    }
    place::upsert_watershed(&mut tx, watershed).await.map_err(not_made("watershed", &watershed.slug))?;
    token::bind_token(&mut tx, maker.id, &watershed.slug).await?;
    let document = build_document(watershed, Vec::new(), Vec::new(), Vec::new());
    made(service, tx, once, &document, format!("/v1/watersheds/{}", watershed.slug)).await
}

/// Changes a watershed.
///
/// # Errors
/// What `approve` refuses; all faults of the changed document.
pub async fn change_watershed(
    service: &Service,
    slug: &Slug,
    patch: Value,
    approve: impl FnOnce(&WatershedDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    place::hold_watershed(&mut tx, slug).await?;
    let stored = place::find_watershed(&mut tx, slug).await?.ok_or_else(|| AppError::not_found("watershed"))?;
    let reaches = place::reaches(&mut tx, slug).await?;
    let gauges = place::gauges(&mut tx, slug).await?;
    let taxa = taxon::residents(&mut tx, slug).await?;
    approve(&build_document(
        &stored,
        reaches.iter().map(Into::into).collect(),
        gauges.iter().map(Into::into).collect(),
        taxa.iter().map(|taxon| taxon.slug.to_string()).collect(),
    ))?;
    let changed = patched(&WatershedInput::from(&stored), &stored.slug, patch)?;
    place::upsert_watershed(&mut tx, &changed).await?;
    Anew::after_watershed(&stored, &changed).queue(&mut tx, slug, None, service.now()).await?;
    stored_and_served(service, tx).await
}

/// Makes a reach.
///
/// # Errors
/// [`AppError::Conflict`] when the slug is taken; faults for unknown gauges.
pub async fn create_reach(service: &Service, watershed: &Slug, reach: &Reach, once: &Once) -> Result<Answer, AppError> {
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, service.now()).await? {
        return Ok(answer);
    }
    place::hold_watershed(&mut tx, watershed).await?;
    if place::find_reach(&mut tx, watershed, &reach.slug).await?.is_some() {
        return Err(taken("reach", &reach.slug));
    }
    check_gauges(&mut tx, watershed, reach).await?;
    place::upsert_reach(&mut tx, watershed, reach).await?;
    Anew::after_reach(None, reach).queue(&mut tx, watershed, None, service.now()).await?;
    let location = format!("/v1/watersheds/{watershed}/reaches/{}", reach.slug);
    made(service, tx, once, &ReachDocument::from(reach), location).await
}

/// Changes a reach.
///
/// # Errors
/// What `approve` refuses; all faults of the changed document.
pub async fn change_reach(
    service: &Service,
    watershed: &Slug,
    slug: &Slug,
    patch: Value,
    approve: impl FnOnce(&ReachDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    place::hold_watershed(&mut tx, watershed).await?;
    let stored = place::find_reach(&mut tx, watershed, slug).await?.ok_or_else(|| AppError::not_found("reach"))?;
    approve(&ReachDocument::from(&stored))?;
    let changed = patched(&ReachInput::from(&stored), &stored.slug, patch)?;
    check_gauges(&mut tx, watershed, &changed).await?;
    place::upsert_reach(&mut tx, watershed, &changed).await?;
    Anew::after_reach(Some(&stored), &changed).queue(&mut tx, watershed, None, service.now()).await?;
    stored_and_served(service, tx).await
}

async fn check_gauges(tx: &mut Tx, watershed: &Slug, reach: &Reach) -> Result<(), AppError> {
    let known = place::gauges(tx, watershed).await?;
    let mut faults = Faults::default();
    for (index, slug) in reach.gauges.iter().enumerate() {
        if !known.iter().any(|gauge| gauge.slug == *slug) {
            faults.add(format!("#/gauges/{index}"), "unknown_slug", "is not a gauge of this watershed");
        } else if reach.gauges[..index].contains(slug) {
            faults.add(format!("#/gauges/{index}"), "repeated", "stands in the list already");
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(AppError::Faults(faults)) }
}

/// Makes a gauge.
///
/// # Errors
/// [`AppError::Conflict`] when the slug is taken.
pub async fn create_gauge(service: &Service, watershed: &Slug, gauge: &Gauge, once: &Once) -> Result<Answer, AppError> {
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, service.now()).await? {
        return Ok(answer);
    }
    place::hold_watershed(&mut tx, watershed).await?;
    if place::find_gauge(&mut tx, watershed, &gauge.slug).await?.is_some() {
        return Err(taken("gauge", &gauge.slug));
    }
    place::upsert_gauge(&mut tx, watershed, gauge).await?;
    let location = format!("/v1/watersheds/{watershed}/gauges/{}", gauge.slug);
    made(service, tx, once, &GaugeDocument::from(gauge), location).await
}

/// Changes a gauge.
///
/// # Errors
/// What `approve` refuses; all faults of the changed document.
pub async fn change_gauge(
    service: &Service,
    watershed: &Slug,
    slug: &Slug,
    patch: Value,
    approve: impl FnOnce(&GaugeDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    place::hold_watershed(&mut tx, watershed).await?;
    let stored = place::find_gauge(&mut tx, watershed, slug).await?.ok_or_else(|| AppError::not_found("gauge"))?;
    approve(&GaugeDocument::from(&stored))?;
    let changed = patched(&GaugeInput::from(&stored), &stored.slug, patch)?;
    place::upsert_gauge(&mut tx, watershed, &changed).await?;
    Anew::after_gauge(&stored, &changed).queue(&mut tx, watershed, None, service.now()).await?;
    stored_and_served(service, tx).await
}

/// Makes a taxon, known to every watershed and resident in none.
///
/// # Errors
/// [`AppError::Conflict`] when the slug is taken.
pub async fn create_taxon(service: &Service, new: &Taxon, once: &Once) -> Result<Answer, AppError> {
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, service.now()).await? {
        return Ok(answer);
    }
    if taxon::find_taxon(&mut tx, &new.slug).await?.is_some() {
        return Err(taken("taxon", &new.slug));
    }
    taxon::upsert_taxon(&mut tx, new).await.map_err(not_made("taxon", &new.slug))?;
    made(service, tx, once, &TaxonDocument::from(new), format!("/v1/taxa/{}", new.slug)).await
}

/// Changes a taxon. Because it is shared, the changer must keep every watershed it lives in.
///
/// # Errors
/// [`AppError::Forbidden`] when it lives in another's watershed; what `approve` refuses; all faults
/// of the changed document.
pub async fn change_taxon(
    service: &Service,
    changer: &Token,
    slug: &Slug,
    patch: Value,
    approve: impl FnOnce(&TaxonDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    taxon::hold_taxon(&mut tx, slug).await?;
    let stored = taxon::find_taxon(&mut tx, slug).await?.ok_or_else(|| AppError::not_found("taxon"))?;
    let homes = taxon::homes(&mut tx, slug).await?;
    if homes.iter().any(|home| !changer.watersheds.contains(home)) {
        return Err(AppError::Forbidden { detail: "The taxon also lives in a watershed you do not keep." });
    }
    approve(&TaxonDocument::from(&stored))?;
    let tells_reference = patch.get("window_reference").is_some();
    let mut changed = patched(&TaxonInput::from(&stored), &stored.slug, patch)?;
    // Who tells another season without saying of which waters tells it of the own.
    if !tells_reference && (&changed.broods, changed.window) != (&stored.broods, stored.window) {
        changed.window_reference = None;
    }
    keep_what_the_input_lacks(&mut changed, &stored);
    taxon::upsert_taxon(&mut tx, &changed).await?;
    for home in &homes {
        Anew::after_taxon(&stored, &changed).queue(&mut tx, home, Some(slug), service.now()).await?;
    }
    stored_and_served(service, tx).await
}

/// Traits that only imports set stay; the provenance of a group changes only with its values.
fn keep_what_the_input_lacks(changed: &mut Taxon, stored: &Taxon) {
    changed.region.clone_from(&stored.region);
    changed.peak_hour_sd = stored.peak_hour_sd;
    changed.spinner_time.clone_from(&stored.spinner_time);
    changed.voltinism.clone_from(&stored.voltinism);
    changed.water_type.clone_from(&stored.water_type);
    changed.emergence_water_c = stored.emergence_water_c;
    let (was, is) = (&stored.provenance, &mut changed.provenance);
    if (changed.base_temp_c, changed.base_temp_sd) == (stored.base_temp_c, stored.base_temp_sd) {
        is.thermal.clone_from(&was.thermal);
    }
    if changed.window == stored.window {
        is.window.clone_from(&was.window);
    }
    let behaviour = |taxon: &Taxon| {
        (taxon.peak_hour, taxon.emergence_mode, taxon.oviposition_mode.clone(), taxon.nymph_habit.clone())
    };
    let (new, old) = (
        (changed.peak_hour, changed.emergence_mode, changed.oviposition_mode.clone(), changed.nymph_habit.clone()),
        behaviour(stored),
    );
    if new == old {
        is.behaviour.clone_from(&was.behaviour);
    }
    if (changed.body_mm, changed.hooks) == (stored.body_mm, stored.hooks) {
        is.size.clone_from(&was.size);
    }
    if changed.looks == stored.looks {
        is.looks.clone_from(&was.looks);
    }
}

/// Says that a known taxon lives in `watershed`: made when that is news.
///
/// # Errors
/// One fault for an unknown taxon.
pub async fn add_resident(service: &Service, watershed: &Slug, slug: &Slug, once: &Once) -> Result<Answer, AppError> {
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, service.now()).await? {
        return Ok(answer);
    }
    let Some(known) = taxon::find_taxon(&mut tx, slug).await? else {
        return Err(AppError::fault("#/taxon", "unknown_slug", "is not a known taxon"));
    };
    let document = TaxonDocument::from(&known);
    if taxon::set_resident(&mut tx, watershed, slug, true).await? != Upsert::Unchanged {
        Anew::Fitted.queue(&mut tx, watershed, Some(slug), service.now()).await?;
        return made(service, tx, once, &document, format!("/v1/taxa/{}", known.slug)).await;
    }
    let answer = once.end(&mut tx, 200, &document, None).await?;
    tx.commit().await?;
    Ok(answer)
}

/// Ends the making of something: stores the answer, commits and serves it.
async fn made(
    service: &Service,
    mut tx: Tx,
    once: &Once,
    document: &impl Serialize,
    location: String,
) -> Result<Answer, AppError> {
    let answer = once.end(&mut tx, 201, document, Some(location)).await?;
    stored_and_served(service, tx).await?;
    Ok(answer)
}

/// Commits a change of places or taxa and serves it, here and in other processes.
async fn stored_and_served(service: &Service, mut tx: Tx) -> Result<(), AppError> {
    place::tell_changed(&mut tx).await?;
    tx.commit().await?;
    service.serve_stored().await;
    Ok(())
}
