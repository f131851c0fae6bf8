//! Features of a collection.

use std::collections::HashMap;
use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};
use chrono_tz::Tz;

use super::documents::{Items, ObservationProperties, Properties};
use super::filter::ItemsQuery;
use super::{Collection, GEO_JSON, JSON, places};
use crate::app::document::geography::{Feature, Link, ReachProperties};
use crate::app::observed::{self, Observation};
use crate::app::{Snapshot, WatershedView};
use crate::domain::grid::{CellCentre, UNCERTAINTY_M};
use crate::domain::{AbundanceClass, Reach, Slug, Stage};
use crate::http::api::PageParams;
use crate::http::docs::FeedErrors;
use crate::http::paging::Page;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// The features of a collection.
#[utoipa::path(get, path = "/ogc/collections/{collection}/items", operation_id = "ogcItems", tag = "geography",
    params(("collection" = String, Path, description = "`reaches` or `observations`"), ItemsQuery, PageParams),
    responses((status = 200, description = "A page of features.", body = Items,
        content_type = "application/geo+json"), FeedErrors))]
pub(crate) async fn items(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(query): Query<ItemsQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let (document, links) = match Collection::named(&id)? {
        Collection::Reaches => reaches(&state, &query),
        Collection::Observations => observations(&state, &query).await?,
    };
    // When it was made is no part of what it says.
    let bytes = respond::json_bytes(&document)?;
    let etag = respond::entity_tag(&respond::json_bytes(&(&document.features, &document.links))?, Tag::Weak);
    let mut response = respond::cached_under(&headers, bytes.into(), GEO_JSON, &etag, PLACE_CACHE);
    response.headers_mut().extend(links);
    Ok(response)
}

/// One feature.
#[utoipa::path(get, path = "/ogc/collections/{collection}/items/{feature}", operation_id = "ogcItem",
    tag = "geography",
    params(("collection" = String, Path, description = "`reaches` or `observations`"),
        ("feature" = String, Path, description = "Identifier")),
    responses((status = 200, description = "The feature.", body = Feature<Properties>,
        content_type = "application/geo+json"), FeedErrors))]
pub(crate) async fn item(
    State(state): State<AppState>,
    Path((id, feature)): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let which = Collection::named(&id)?;
    let found = match which {
        Collection::Reaches => all_reaches(&state).into_iter().find(|one| one.id() == feature).map(|one| one.feature()),
        Collection::Observations => {
            let all = observed::all(&state.service).await?;
            let teller = Teller::of(&state);
            all.iter().find(|one| one.id == feature).and_then(|one| teller.feature(one))
        }
    };
    let mut found = found.ok_or_else(|| Problem::not_found("feature"))?;
    let collection = state.url(&format!("/ogc/collections/{}", which.id()));
    found.links = vec![
        Link::new(format!("{collection}/items/{}", found.id), "self", GEO_JSON),
        Link::new(collection, "collection", JSON),
    ];
    Ok(respond::cached(&headers, respond::json_bytes(&found)?, GEO_JSON, Tag::Weak, PLACE_CACHE))
}

/// A page of `matched`, sorted by `key`.
fn page<T: Clone>(
    state: &AppState,
    which: Collection,
    page: &Page,
    matched: &[T],
    key: impl Fn(&T) -> String,
    feature: impl Fn(&T) -> Option<Feature<Properties>>,
) -> (Items, HeaderMap) {
    let address = state.url(&format!("/ogc/collections/{}/items", which.id()));
    let slice = page.slice(matched, &key);
    let features: Vec<Feature<Properties>> = page.shown(&slice).iter().filter_map(feature).collect();
    let (list, headers) = page.list(slice, &address, key, |_| String::new());
    let mut links = vec![
        Link::new(page.address(&address), "self", GEO_JSON),
        Link::new(state.url(&format!("/ogc/collections/{}", which.id())), "collection", JSON),
    ];
    links.extend(list.next.map(|next| Link::new(next, "next", GEO_JSON)));
    links.extend(list.prev.map(|prev| Link::new(prev, "prev", GEO_JSON)));
    let number_returned = features.len();
    let (kind, time_stamp) = ("FeatureCollection", state.service.now());
    (Items { kind, features, links, time_stamp, number_matched: matched.len(), number_returned }, headers)
}

/// A reach and where it belongs.
#[derive(Debug, Clone)]
struct Placed {
    watershed: Slug,
    reach: Arc<Reach>,
}

impl Placed {
    fn id(&self) -> String {
        format!("{}:{}", self.watershed, self.reach.slug)
    }

    fn place(&self) -> CellCentre {
        CellCentre::of(self.reach.latitude, self.reach.longitude)
    }

    fn feature(&self) -> Feature<Properties> {
        let place = self.place();
        let properties = Properties::Reach(ReachProperties::of(&self.watershed, &self.reach));
        Feature::at(place.latitude, place.longitude, self.id(), properties)
    }
}

fn all_reaches(state: &AppState) -> Vec<Placed> {
    let snapshot = state.service.snapshot();
    let of_view = |view: &Arc<WatershedView>| {
        let watershed = view.watershed.slug.clone();
        let placed = move |reach: &Arc<Reach>| Placed { watershed: watershed.clone(), reach: Arc::clone(reach) };
        view.reaches.iter().map(placed).collect::<Vec<_>>()
    };
    let mut all: Vec<Placed> = snapshot.watersheds().iter().flat_map(of_view).collect();
    all.sort_by_cached_key(|placed| placed.id().to_ascii_lowercase());
    all
}

/// Reaches have no time: whatever is asked of it, they fit.
fn reaches(state: &AppState, query: &ItemsQuery) -> (Items, HeaderMap) {
    let mut matched = all_reaches(state);
    matched.retain(|placed| query.bbox.is_none_or(|bounds| bounds.holds(placed.place())));
    let key = |placed: &Placed| placed.id().to_ascii_lowercase();
    page(state, Collection::Reaches, &query.page, &matched, key, |placed| Some(placed.feature()))
}

async fn observations(state: &AppState, query: &ItemsQuery) -> Result<(Items, HeaderMap), Problem> {
    let all = observed::all(&state.service).await?;
    let teller = Teller::of(state);
    let matched: Vec<Arc<Observation>> = all.iter().filter(|one| teller.fits(one, query)).cloned().collect();
    let key = |one: &Arc<Observation>| one.key();
    Ok(page(state, Collection::Observations, &query.page, &matched, key, |one| teller.feature(one)))
}

/// Tells observations with the places and names of now.
struct Teller {
    snapshot: Arc<Snapshot>,
    places: super::Places,
    zones: HashMap<Slug, Tz>,
}

impl Teller {
    fn of(state: &AppState) -> Self {
        let snapshot = state.service.snapshot();
        let zone = |view: &Arc<WatershedView>| (view.watershed.slug.clone(), view.watershed.time_zone);
        let zones = snapshot.watersheds().iter().map(zone).collect();
        Self { places: places(state), zones, snapshot }
    }

    fn place(&self, one: &Observation) -> Option<CellCentre> {
        self.places.get(&(one.watershed.clone(), one.reach.clone())).copied()
    }

    fn fits(&self, one: &Observation, query: &ItemsQuery) -> bool {
        let Some(place) = self.place(one) else { return false };
        let zone = self.zones.get(&one.watershed).copied().unwrap_or(Tz::UTC);
        query.bbox.is_none_or(|bounds| bounds.holds(place))
            && query.datetime.is_none_or(|time| time.meets(one.days, zone))
    }

    fn feature(&self, one: &Observation) -> Option<Feature<Properties>> {
        let place = self.place(one)?;
        let name =
            self.snapshot.taxon(&one.taxon).map_or_else(|_| one.taxon.to_string(), |t| t.scientific_name.clone());
        let properties = Properties::Observation(ObservationProperties {
            watershed: one.watershed.to_string(),
            reach: one.reach.to_string(),
            from: one.days.0,
            date: one.days.1,
            taxon: one.taxon.to_string(),
            scientific_name: name,
            kind: one.kind.as_str(),
            stage: one.stage.map(Stage::as_str),
            abundance_class: one.abundance_class.map(AbundanceClass::as_str),
            detected: one.detected,
            uncertainty_m: UNCERTAINTY_M,
        });
        Some(Feature::at(place.latitude, place.longitude, one.id.clone(), properties))
    }
}
