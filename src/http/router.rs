//! The table of all routes.

use std::time::Duration;

use axum::extract::DefaultBodyLimit;
use axum::http::header::ETAG;
use axum::http::{Extensions, HeaderMap, StatusCode, Version};
use axum::response::IntoResponse;
use axum::routing::get;
use axum::{Router, middleware};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, Predicate};
use tower_http::timeout::TimeoutLayer;
use utoipa::OpenApi as _;
use utoipa::openapi::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::api::{
    fits, forecasts, gauges, health, jobs, reaches, reports, season_review, skill, taxa, tokens, visit_plan, watersheds,
};
use super::pages::handlers as pages;
use super::state::AppState;
use super::{docs, envelope, feed, respond};

/// Largest JSON body, bytes.
const BODY_BYTES: usize = 1024 * 1024;

/// Operations whose address the router cannot spell (`{w}.ics`), described for the document.
#[derive(utoipa::OpenApi)]
#[openapi(paths(feed::calendar))]
struct Feeds;

/// Every operation of the interface.
fn interface() -> OpenApiRouter<AppState> {
    OpenApiRouter::with_openapi(docs::base())
        .routes(routes!(health::health))
        .routes(routes!(health::ready))
        .routes(routes!(watersheds::list, watersheds::create))
        .routes(routes!(watersheds::get, watersheds::change))
        .routes(routes!(reaches::list, reaches::create))
        .routes(routes!(reaches::get, reaches::change))
        .routes(routes!(gauges::list, gauges::create))
        .routes(routes!(gauges::get, gauges::change))
        .routes(routes!(gauges::readings, gauges::add))
        .routes(routes!(taxa::residents, taxa::add_resident))
        .routes(routes!(taxa::list, taxa::create))
        .routes(routes!(taxa::get, taxa::change))
        .routes(routes!(forecasts::list))
        .routes(routes!(fits::list, fits::request))
        .routes(routes!(skill::get))
        .routes(routes!(season_review::get))
        .routes(routes!(visit_plan::get))
        .routes(routes!(jobs::get))
        .routes(routes!(reports::list))
        .routes(routes!(reports::file))
        .routes(routes!(reports::get, reports::change, reports::withdraw))
        .routes(routes!(reports::decide))
        .routes(routes!(tokens::list, tokens::create))
        .routes(routes!(tokens::get, tokens::revoke))
}

/// Feeds, pages, reference and files.
fn public() -> Router<AppState> {
    Router::new()
        .route("/calendars/{file}", get(feed::calendar))
        .route("/", get(pages::home_page))
        .route("/w/{w}", get(pages::watershed_page))
        .route("/w/{w}/reaches/{r}", get(pages::reach_page))
        .route("/about", get(pages::about_page))
        .route("/problems", get(pages::problems_page))
        .route("/problems/", get(pages::problems_page))
        .route("/problems/{kind}", get(pages::problem_page))
        .route("/openapi.json", get(openapi_json))
        .route("/reference", get(docs::reference))
        .route("/reference/", get(docs::reference))
        .route("/reference/{*rest}", get(docs::reference_file))
        .route("/assets/style.css", get(pages::style))
        .route("/assets/favicon.svg", get(pages::favicon))
        .route("/favicon.ico", get(pages::favicon))
}

/// The OpenAPI document of this program.
#[must_use]
pub fn openapi() -> OpenApi {
    let mut document = interface().into_openapi();
    document.merge(Feeds::openapi());
    document
}

/// The OpenAPI document as committed and served: indented JSON with a line end.
///
/// # Errors
/// When it cannot be serialised.
pub fn openapi_text() -> Result<String, serde_json::Error> {
    let mut document = serde_json::to_value(openapi())?;
    drop_null_defaults(&mut document);
    serde_json::to_string_pretty(&document).map(|text| text + "\n")
}

/// The generator writes `default: null` for whatever may be left out, also where null is no value.
fn drop_null_defaults(value: &mut serde_json::Value) {
    match value {
        serde_json::Value::Object(map) => {
            if map.get("default").is_some_and(serde_json::Value::is_null) {
                map.remove("default");
            }
            map.values_mut().for_each(drop_null_defaults);
        }
        serde_json::Value::Array(list) => list.iter_mut().for_each(drop_null_defaults),
        _ => {}
    }
}

async fn openapi_json(headers: HeaderMap) -> axum::response::Response {
    match openapi_text() {
        Ok(text) => respond::cached(&headers, text, "application/json", respond::Tag::Weak, respond::PLACE_CACHE),
        Err(error) => {
            tracing::error!(%error, "the OpenAPI document could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

/// The service as a router.
pub fn router(state: AppState) -> Router {
    router_with(state, Router::new())
}

/// The service with further routes, which go through the same layers.
pub fn router_with(state: AppState, extra: Router<AppState>) -> Router {
    let (interface, _) = interface().split_for_parts();
    let timeout = Duration::from_secs(state.settings.handler_timeout_s);
    interface
        .merge(public())
        .merge(extra)
        .fallback(async || StatusCode::NOT_FOUND)
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, timeout))
        .layer(CatchPanicLayer::new())
        .layer(middleware::from_fn_with_state(state.clone(), envelope::envelope))
        .layer(CompressionLayer::new().compress_when(DefaultPredicate::new().and(may_compress)))
        .with_state(state)
}

/// A body under a strong tag goes out byte for byte: calendars and whatever If-Match is held to.
fn may_compress(_: StatusCode, _: Version, headers: &HeaderMap, _: &Extensions) -> bool {
    !headers.get(ETAG).is_some_and(|tag| tag.as_bytes().starts_with(b"\""))
}
