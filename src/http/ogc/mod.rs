//! OGC API Features, Part 1: Core, with GeoJSON (OGC 17-069r4). Reaches and observations of all watersheds, at the
//! centres of grid cells: what a box selects is judged on those too, or asking often would find what they hide.

mod documents;
mod filter;
pub(crate) mod items;

use std::collections::BTreeMap;

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};

use self::documents::{CollectionDocument, Collections, Conformance, Extent, Landing, SpatialExtent, TemporalExtent};
use super::docs::FeedErrors;
use super::problem::Problem;
use super::query::{NoQuery, Query};
use super::respond::{self, PLACE_CACHE, Tag};
use super::state::AppState;
use crate::app::document::geography::Link;
use crate::app::observed;
use crate::domain::Slug;
use crate::domain::grid::CellCentre;

const JSON: &str = "application/json";
const GEO_JSON: &str = "application/geo+json";
const CRS: &str = "http://www.opengis.net/def/crs/OGC/1.3/CRS84";

/// What can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Collection {
    Reaches,
    Observations,
}

impl Collection {
    const ALL: [Self; 2] = [Self::Reaches, Self::Observations];

    const fn id(self) -> &'static str {
        match self {
            Self::Reaches => "reaches",
            Self::Observations => "observations",
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Self::Reaches => "Reaches",
            Self::Observations => "Observations",
        }
    }

    const fn description(self) -> &'static str {
        match self {
            Self::Reaches => "Named stretches of rivers, each at the centre of the grid cell that holds its point.",
            Self::Observations => {
                "Insects seen, and looked for and not seen, by day and reach, at the centre of the grid cell that \
                 holds the reach's point. No observers, spots, hours or counts."
            }
        }
    }

    fn named(id: &str) -> Result<Self, Problem> {
        Self::ALL.into_iter().find(|known| known.id() == id).ok_or_else(|| Problem::not_found("collection"))
    }
}

/// Centres of the cells of all reaches, by watershed and reach.
type Places = BTreeMap<(Slug, Slug), CellCentre>;

fn places(state: &AppState) -> Places {
    let snapshot = state.service.snapshot();
    let of_view = |view: &std::sync::Arc<crate::app::WatershedView>| {
        let watershed = view.watershed.slug.clone();
        let place = |reach: &std::sync::Arc<crate::domain::Reach>| {
            ((watershed.clone(), reach.slug.clone()), CellCentre::of(reach.latitude, reach.longitude))
        };
        view.reaches.iter().map(place).collect::<Vec<_>>()
    };
    snapshot.watersheds().iter().flat_map(of_view).collect()
}

/// Where to begin.
#[utoipa::path(get, path = "/ogc", operation_id = "ogcLanding", tag = "geography",
    responses((status = 200, description = "Ways on.", body = Landing), FeedErrors))]
pub(crate) async fn landing(
    State(state): State<AppState>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let link = |path: &str, rel, media| Link::new(state.url(path), rel, media);
    let document = Landing {
        title: "Emerging insects",
        description: "Reaches of rivers and what was seen emerging there.",
        links: vec![
            link("/ogc", "self", JSON),
            link("/openapi.json", "service-desc", "application/vnd.oai.openapi+json;version=3.1"),
            link("/reference", "service-doc", "text/html"),
            link("/ogc/conformance", "conformance", JSON),
            link("/ogc/collections", "data", JSON),
        ],
    };
    respond::cached_json(&headers, &document, Tag::Weak, PLACE_CACHE)
}

/// What of the standard is kept to.
#[utoipa::path(get, path = "/ogc/conformance", operation_id = "ogcConformance", tag = "geography",
    responses((status = 200, description = "Classes of requirements.", body = Conformance), FeedErrors))]
pub(crate) async fn conformance(_: Query<NoQuery>, headers: HeaderMap) -> Result<Response<Body>, Problem> {
    let document = Conformance {
        conforms_to: vec![
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
        ],
    };
    respond::cached_json(&headers, &document, Tag::Weak, PLACE_CACHE)
}

/// What can be asked for.
#[utoipa::path(get, path = "/ogc/collections", operation_id = "ogcCollections", tag = "geography",
    responses((status = 200, description = "The collections.", body = Collections), FeedErrors))]
pub(crate) async fn collections(
    State(state): State<AppState>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let mut collections = Vec::new();
    for which in Collection::ALL {
        collections.push(describe(&state, which).await?);
    }
    let links = vec![Link::new(state.url("/ogc/collections"), "self", JSON)];
    respond::cached_json(&headers, &Collections { collections, links }, Tag::Weak, PLACE_CACHE)
}

/// One collection.
#[utoipa::path(get, path = "/ogc/collections/{collection}", operation_id = "ogcCollection", tag = "geography",
    params(("collection" = String, Path, description = "`reaches` or `observations`")),
    responses((status = 200, description = "The collection.", body = CollectionDocument), FeedErrors))]
pub(crate) async fn collection(
    State(state): State<AppState>,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let document = describe(&state, Collection::named(&id)?).await?;
    respond::cached_json(&headers, &document, Tag::Weak, PLACE_CACHE)
}

async fn describe(state: &AppState, which: Collection) -> Result<CollectionDocument, Problem> {
    let places = places(state);
    let spatial = places.values().fold(None, |bounds: Option<[f64; 4]>, place| {
        let [west, south, east, north] =
            bounds.unwrap_or([place.longitude, place.latitude, place.longitude, place.latitude]);
        Some([
            west.min(place.longitude),
            south.min(place.latitude),
            east.max(place.longitude),
            north.max(place.latitude),
        ])
    });
    let temporal = match which {
        Collection::Reaches => None,
        Collection::Observations => {
            let all = observed::all(&state.service).await?;
            let first = all.iter().map(|seen| seen.days.0).min();
            let last = all.last().map(|seen| seen.days.1);
            // Days begin and end by local clocks; the extent is told in UTC days.
            let at = |day: chrono::NaiveDate, time: &str| format!("{day}T{time}Z");
            first.zip(last).map(|(first, last)| [at(first, "00:00:00"), at(last, "23:59:59")])
        }
    };
    let id = which.id();
    let link = |tail: &str, rel, media| Link::new(state.url(&format!("/ogc/collections/{id}{tail}")), rel, media);
    Ok(CollectionDocument {
        id,
        title: which.title(),
        description: which.description(),
        item_type: "feature",
        crs: vec![CRS],
        extent: Extent {
            spatial: spatial.map(|bounds| SpatialExtent { bbox: vec![bounds], crs: CRS }),
            temporal: temporal.map(|interval| TemporalExtent {
                interval: vec![interval],
                trs: "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian",
            }),
        },
        links: vec![link("", "self", JSON), link("/items", "items", GEO_JSON)],
    })
}
