//! Lists under addresses that name their form, for spreadsheets and maps that send no Accept.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, Uri};

use super::forecasts::ForecastParams;
use super::gauges::ReadingsQuery;
use super::{PageParams, PageQuery, forecasts, gauges, reaches, reports};
use crate::app::document::geography::{FeatureCollection, ReachProperties};
use crate::app::document::{ForecastDocument, List, PublicReport, ReachDocument, ReadingDocument};
use crate::app::forecasts::ForecastQuery;
use crate::http::docs::FeedErrors;
use crate::http::extract::Water;
use crate::http::negotiate::Wanted;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// Forecasts of a watershed as a table, a row per day.
#[utoipa::path(get, path = "/v1/watersheds/{w}/forecasts.csv", operation_id = "listForecastsCsv", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), ForecastParams),
    responses((status = 200, description = "The table.", body = String, content_type = "text/csv"), FeedErrors))]
pub(crate) async fn forecasts_csv(
    state: State<AppState>,
    water: Water,
    query: Query<ForecastQuery>,
    form: Wanted,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    forecasts::list(state, water, query, form, headers).await
}

/// Accepted reports of a watershed as a table, a row per sighting and one for each blank report.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reports.csv", operation_id = "listReportsCsv", tag = "reports",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "The table.", body = String, content_type = "text/csv"), FeedErrors))]
pub(crate) async fn reports_csv(
    state: State<AppState>,
    water: Water,
    query: Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    reports::list(state, water, query, form, uri, headers).await
}

/// Readings of a gauge as a table, in the form in which they are imported.
#[utoipa::path(get, path = "/v1/watersheds/{w}/gauges/{g}/readings.csv", operation_id = "listReadingsCsv",
    tag = "readings",
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug"),
        ReadingsQuery, PageParams),
    responses((status = 200, description = "The table.", body = String, content_type = "text/csv"), FeedErrors))]
pub(crate) async fn readings_csv(
    state: State<AppState>,
    water: Water,
    path: Path<(String, String)>,
    query: Query<ReadingsQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    gauges::readings(state, water, path, query, form, uri, headers).await
}

/// The reaches of a watershed as points.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches.geojson", operation_id = "listReachesGeojson", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "The points.", body = FeatureCollection<ReachProperties>,
        content_type = "application/geo+json"), FeedErrors))]
pub(crate) async fn reaches_geojson(
    state: State<AppState>,
    water: Water,
    query: Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    reaches::list(state, water, query, form, uri, headers).await
}

/// Forecasts of a watershed as JSON, whatever is accepted.
#[utoipa::path(get, path = "/v1/watersheds/{w}/forecasts.json", operation_id = "listForecastsJson", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), ForecastParams),
    responses((status = 200, description = "The forecasts.", body = List<ForecastDocument>), FeedErrors))]
pub(crate) async fn forecasts_json(
    state: State<AppState>,
    water: Water,
    query: Query<ForecastQuery>,
    form: Wanted,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    forecasts::list(state, water, query, form, headers).await
}

/// Accepted reports of a watershed as JSON, whatever is accepted.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reports.json", operation_id = "listReportsJson", tag = "reports",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of reports.", body = List<PublicReport>), FeedErrors))]
pub(crate) async fn reports_json(
    state: State<AppState>,
    water: Water,
    query: Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    reports::list(state, water, query, form, uri, headers).await
}

/// Readings of a gauge as JSON, whatever is accepted.
#[utoipa::path(get, path = "/v1/watersheds/{w}/gauges/{g}/readings.json", operation_id = "listReadingsJson",
    tag = "readings",
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug"),
        ReadingsQuery, PageParams),
    responses((status = 200, description = "A page of readings.", body = List<ReadingDocument>), FeedErrors))]
pub(crate) async fn readings_json(
    state: State<AppState>,
    water: Water,
    path: Path<(String, String)>,
    query: Query<ReadingsQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    gauges::readings(state, water, path, query, form, uri, headers).await
}

/// Reaches of a watershed as JSON, whatever is accepted.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches.json", operation_id = "listReachesJson", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of reaches.", body = List<ReachDocument>), FeedErrors))]
pub(crate) async fn reaches_json(
    state: State<AppState>,
    water: Water,
    query: Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    reaches::list(state, water, query, form, uri, headers).await
}
