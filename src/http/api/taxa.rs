//! Taxa, shared by all watersheds, and which of them live where.

use std::sync::Arc;

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{KeyParams, PageParams, PageQuery, matching, page_response};
use crate::app::document::input::TaxonPatch;
use crate::app::document::{Faults, Input, List, TaxonDocument, TaxonInput};
use crate::app::place;
use crate::domain::{Slug, Taxon};
use crate::http::docs::{ChangeErrors, PublicErrors, WriteErrors};
use crate::http::extract::{Json, Keeper, Posted, Water, WatershedKeeper, path_slug};
use crate::http::paging::Page;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// All taxa.
#[utoipa::path(get, path = "/v1/taxa", operation_id = "listTaxa", tag = "taxa", params(PageParams),
    responses((status = 200, description = "A page of taxa.", body = List<TaxonDocument>), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Query(PageQuery(page)): Query<PageQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    taxa_page(&headers, &page, &state.url("/v1/taxa"), state.service.snapshot().taxa())
}

fn taxa_page(headers: &HeaderMap, page: &Page, address: &str, taxa: &[Arc<Taxon>]) -> Result<Response<Bytes>, Problem> {
    let document = |taxon: &Arc<Taxon>| TaxonDocument::from(&**taxon);
    page_response(headers, page, address, taxa, |taxon| taxon.slug.key(), document, PLACE_CACHE)
}

/// One taxon.
#[utoipa::path(get, path = "/v1/taxa/{t}", operation_id = "getTaxon", tag = "taxa",
    params(("t" = String, Path, description = "Taxon slug")),
    responses((status = 200, description = "The taxon.", body = TaxonDocument), PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Path(t): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let taxon = state.service.snapshot().taxon(&path_slug("taxon", &t)?)?;
    respond::cached_json(&headers, &TaxonDocument::from(&*taxon), Tag::Strong, PLACE_CACHE)
}

/// Makes a taxon; it lives in no watershed until said so.
#[utoipa::path(post, path = "/v1/taxa", operation_id = "createTaxon", tag = "taxa",
    security(("token" = [])), params(KeyParams), request_body = TaxonInput,
    responses((status = 201, description = "Made.", body = TaxonDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (taxon, once) = posted.read::<TaxonInput>(token.id)?;
    let answer = place::create_taxon(&state.service, &taxon, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Changes a taxon; the changer must keep every watershed it lives in.
#[utoipa::path(patch, path = "/v1/taxa/{t}", operation_id = "changeTaxon", tag = "taxa",
    security(("token" = [])),
    params(("t" = String, Path, description = "Taxon slug"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = TaxonPatch,
    responses((status = 200, description = "Changed.", body = TaxonDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(t): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let slug = path_slug("taxon", &t)?;
    place::change_taxon(&state.service, &token, &slug, patch, matching(&headers)).await?;
    let taxon = state.service.snapshot().taxon(&slug)?;
    respond::private_json(StatusCode::OK, &TaxonDocument::from(&*taxon), None)
}

/// The taxa that live in a watershed.
#[utoipa::path(get, path = "/v1/watersheds/{w}/taxa", operation_id = "listResidents", tag = "taxa",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of taxa.", body = List<TaxonDocument>), PublicErrors))]
pub(crate) async fn residents(
    State(state): State<AppState>,
    Water(view): Water,
    Query(PageQuery(page)): Query<PageQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    // As they are told for every water, not as they live at this one: what is changed is changed for all.
    let snapshot = state.service.snapshot();
    let taxa: Vec<_> = view.taxa.iter().map(|taxon| snapshot.taxon(&taxon.slug)).collect::<Result<_, _>>()?;
    taxa_page(&headers, &page, &state.url(&format!("/v1/watersheds/{}/taxa", view.watershed.slug)), &taxa)
}

/// A taxon that lives in a watershed.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct ResidentInput {
    /// Taxon slug.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ephemera-danica")]
    taxon: Option<String>,
}

impl Input for ResidentInput {
    type Domain = Slug;

    fn into_domain(self, faults: &mut Faults) -> Option<Slug> {
        faults.check("#/taxon", Slug::new(&self.taxon?))
    }
}

/// Says that a known taxon lives in a watershed.
#[utoipa::path(post, path = "/v1/watersheds/{w}/taxa", operation_id = "addResident", tag = "taxa",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = ResidentInput,
    responses((status = 201, description = "It lives there now.", body = TaxonDocument,
            headers(("Location" = String, description = "Address of the taxon"))),
        (status = 200, description = "It lived there already.", body = TaxonDocument), WriteErrors))]
pub(crate) async fn add_resident(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (slug, once) = posted.read::<ResidentInput>(token.id)?;
    let answer = place::add_resident(&state.service, &view.watershed.slug, &slug, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}
