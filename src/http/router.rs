//! The table of all routes.

use std::sync::LazyLock;
use std::time::Duration;

use axum::body::Bytes;
use axum::extract::DefaultBodyLimit;
use axum::http::header::{CACHE_CONTROL, ETAG};
use axum::http::{Extensions, HeaderMap, Method, StatusCode, Uri, Version};
use axum::response::{IntoResponse, Redirect};
use axum::routing::{get, post};
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
    feeds, fits, forecasts, forms, gauges, guidance, health, imports, jobs, join, lessons, moderation, notices, photos,
    reaches, reports, seen, taxa, tokens, watersheds,
};
use super::occurrence::Usual;
use super::pages::desk;
use super::pages::embed::handlers as embed;
use super::pages::report::handlers as report;
use super::pages::seen::handlers as seen_pages;
use super::pages::{self, handlers, on_bank, reference::reference as reference_page};
use super::problem::{Kind, Problem};
use super::state::AppState;
use super::{docs, envelope, feed, negotiate, ogc, respond};

/// Largest JSON body, bytes.
const BODY_BYTES: usize = 1024 * 1024;

/// Longest time for a photo: 250 kB at two kilobytes a second.
const SLOW_AT_MOST: Duration = Duration::from_secs(125);
/// Longest time for a table: 50 MiB at one megabit a second take seven minutes.
const TABLE_AT_MOST: Duration = Duration::from_mins(10);

/// Operations whose address the router cannot spell (`{w}.ics`), described for the document.
#[derive(utoipa::OpenApi)]
#[openapi(paths(feed::calendar, feed::secret_calendar, feed::news, feed::secret_news))]
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
        .routes(routes!(gauges::sync))
        .routes(routes!(taxa::residents, taxa::add_resident))
        .routes(routes!(taxa::list, taxa::create))
        .routes(routes!(taxa::get, taxa::change))
        .routes(routes!(forecasts::list))
        .routes(routes!(guidance::get))
        .routes(routes!(seen::get))
        .routes(routes!(fits::list, fits::request))
        .routes(routes!(lessons::scores))
        .routes(routes!(lessons::review))
        .routes(routes!(lessons::plan))
        .routes(routes!(jobs::get))
        .routes(routes!(imports::get, imports::cancel))
        .routes(routes!(reports::list))
        .routes(routes!(reports::own, reports::file))
        .routes(routes!(reports::get, reports::change, reports::withdraw))
        .routes(routes!(moderation::decide, moderation::take_back))
        .routes(routes!(moderation::list))
        .routes(routes!(moderation::get))
        .routes(routes!(tokens::list, tokens::create))
        .routes(routes!(tokens::get, tokens::revoke))
        .routes(routes!(tokens::erase))
        .routes(routes!(join::list, join::create))
        .routes(routes!(join::revoke))
        .routes(routes!(join::exchange))
        .routes(routes!(notices::list, notices::create))
        .routes(routes!(notices::get, notices::change, notices::withdraw))
        .routes(routes!(feeds::get, feeds::change))
        .routes(routes!(feeds::create))
        .routes(routes!(feeds::revoke))
        .routes(routes!(forms::forecasts_csv))
        .routes(routes!(forms::reports_csv))
        .routes(routes!(forms::readings_csv))
        .routes(routes!(forms::reaches_geojson))
        .routes(routes!(forms::forecasts_json))
        .routes(routes!(forms::reports_json))
        .routes(routes!(forms::readings_json))
        .routes(routes!(forms::reaches_json))
}

/// Operations whose bodies may be long on the way where the signal is poor.
fn slow() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(photos::put, photos::remove))
}

/// Operations that take whole tables.
fn tables() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(imports::create))
}

/// Pages of the desk that take whole tables.
fn desk_tables() -> Router<AppState> {
    Router::new().route("/desk/{w}/imports", get(desk::imports::list_page).post(desk::imports::take))
}

/// The same places and observations for programs of geography.
fn geography() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(ogc::landing))
        .routes(routes!(ogc::conformance))
        .routes(routes!(ogc::collections))
        .routes(routes!(ogc::collection))
        .routes(routes!(ogc::items::items))
        .routes(routes!(ogc::items::item))
}

/// Feeds, pages, reference and files.
fn public() -> Router<AppState> {
    Router::new()
        .route("/calendars/{file}", get(feed::calendar))
        .route("/calendars/{key}/{file}", get(feed::secret_calendar))
        .route("/feeds/{file}", get(feed::news))
        .route("/feeds/{key}/{file}", get(feed::secret_news))
        .route("/", get(handlers::home_page))
        .route("/w/{w}", get(handlers::watershed_page))
        .route("/w/{w}/digest.txt", get(handlers::weekly_digest))
        .route("/w/{w}/reaches/{r}/card", get(handlers::evening_card))
        .route("/w/{w}/season", get(handlers::season))
        .route("/w/{w}/print", get(handlers::sheet))
        .route("/w/{w}/skill", get(handlers::skill_page))
        .route("/w/{w}/reaches/{r}", get(handlers::reach_page))
        .route("/w/{w}/seen", get(seen_pages::choose_reach))
        .route("/w/{w}/reaches/{r}/seen", get(seen_pages::seen_page))
        .route("/w/{w}/reaches/{r}/guidance", get(on_bank::bank_page))
        .route("/w/{w}/taxa/{t}", get(handlers::taxon_page))
        .route("/report", get(report::report_page))
        .route("/report-worker.js", get(report::worker))
        .route("/embed/{file}", get(embed::embed))
        .route("/about", get(handlers::about_page))
        .route("/problems", get(handlers::problems_page))
        .route("/problems/", get(handlers::problems_page))
        .route("/problems/{kind}", get(handlers::problem_page))
        .route("/openapi.json", get(openapi_json))
        .route("/reference", get(reference))
        .route("/assets/style.css", get(handlers::style))
        .route("/assets/report.css", get(report::style))
        .route("/assets/report.js", get(report::script))
        .route("/assets/embed.js", get(embed::host_script))
        .route("/assets/frame.js", get(embed::frame_script))
        .route("/assets/frame.css", get(embed::frame_style))
        .route("/assets/favicon.svg", get(handlers::favicon))
        .route("/favicon.ico", get(handlers::favicon))
}

/// The keeper's desk.
fn keepers_desk() -> Router<AppState> {
    Router::new()
        .route("/assets/desk.css", get(desk::style))
        .route("/desk", get(desk::sign_in::desk_page))
        .route("/desk/sign-in", post(desk::sign_in::sign_in))
        .route("/desk/sign-out", post(desk::sign_in::sign_out))
        .route("/desk/{w}", get(desk::reports::list_page))
        .route("/desk/{w}/reports/{id}", get(desk::reports::report_page).post(desk::reports::decide))
        .route("/desk/{w}/reports/{id}/photo.jpg", get(desk::reports::photo_file))
        .route("/desk/{w}/gauges", get(desk::gauges::list_page))
        .route("/desk/{w}/gauges/{g}", get(desk::gauges::gauge_page).post(desk::gauges::change))
        .route("/desk/{w}/imports/{id}", get(desk::imports::import_page))
        .route("/desk/{w}/imports/{id}/stop", post(desk::imports::stop))
        .route("/desk/{w}/fits", get(desk::fits::fits_page).post(desk::fits::request))
        .route("/desk/{w}/visits", get(desk::lessons::visits_page))
        .route("/desk/{w}/review", get(desk::lessons::review_page))
        .route("/desk/{w}/places", get(desk::places::places_page).post(desk::places::make))
        .route("/desk/{w}/places/{kind}/{slug}", get(desk::places::thing_page).post(desk::places::change))
        .route("/desk/{w}/notices", get(desk::notices::list_page).post(desk::notices::make))
        .route("/desk/{w}/notices/{id}", get(desk::notices::notice_page).post(desk::notices::change))
        .route("/desk/{w}/feeds", get(desk::feeds::feeds_page).post(desk::feeds::change))
        .route("/desk/{w}/access", get(desk::access::access_page).post(desk::access::change))
}

/// The OpenAPI document of this program.
#[must_use]
pub fn openapi() -> OpenApi {
    let mut document = interface().into_openapi();
    document.merge(slow().into_openapi());
    document.merge(tables().into_openapi());
    document.merge(geography().into_openapi());
    document.merge(Feeds::openapi());
    document
}

/// The OpenAPI document as committed and served: indented JSON with a line end.
///
/// # Errors
/// When it cannot be serialised.
pub fn openapi_text() -> Result<String, serde_json::Error> {
    serde_json::to_string_pretty(&openapi_value()?).map(|text| text + "\n")
}

fn openapi_value() -> Result<serde_json::Value, serde_json::Error> {
    let mut document = serde_json::to_value(openapi())?;
    drop_null_defaults(&mut document);
    Ok(document)
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

/// The description of the interface, which stays the same while the program runs.
struct Written {
    openapi: Bytes,
    reference: Bytes,
}

static WRITTEN: LazyLock<Result<Written, serde_json::Error>> = LazyLock::new(|| {
    let reference = reference_page(&openapi_value()?).into_string();
    Ok(Written { openapi: openapi_text()?.into(), reference: reference.into() })
});

async fn openapi_json(headers: HeaderMap) -> Result<axum::response::Response, Problem> {
    let written = WRITTEN.as_ref().map_err(unwritten)?;
    Ok(respond::cached(&headers, written.openapi.clone(), "application/json", respond::Tag::Weak, respond::PLACE_CACHE))
}

async fn reference(headers: HeaderMap) -> Result<axum::response::Response, Problem> {
    let written = WRITTEN.as_ref().map_err(unwritten)?;
    Ok(respond::cached(&headers, written.reference.clone(), pages::HTML, respond::Tag::Weak, respond::PLACE_CACHE))
}

fn unwritten(error: &serde_json::Error) -> Problem {
    tracing::error!(%error, "the OpenAPI document could not be written");
    Problem::new(Kind::Internal, Usual::Broken)
}

/// The service as a router.
pub fn router(state: AppState) -> Router {
    router_with(state, Router::new())
}

/// The service with further routes, which go through the same layers.
pub fn router_with(state: AppState, extra: Router<AppState>) -> Router {
    let (interface, _) = interface().split_for_parts();
    let interface = interface.route_layer(middleware::from_fn(negotiate::choose));
    let timeout = Duration::from_secs(state.settings.handler_timeout_s);
    let (slow, _) = slow().split_for_parts();
    let slow = slow.route_layer(middleware::from_fn(negotiate::choose));
    let slow = slow.layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, SLOW_AT_MOST));
    let (tables, _) = tables().split_for_parts();
    let tables = tables.route_layer(middleware::from_fn(negotiate::choose)).merge(desk_tables());
    let tables = tables.layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, TABLE_AT_MOST));
    let (geography, _) = geography().split_for_parts();
    interface
        .merge(geography)
        .merge(public())
        .merge(keepers_desk())
        .merge(extra)
        .fallback(nothing_here)
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, timeout))
        .merge(slow)
        .merge(tables)
        .layer(CatchPanicLayer::new())
        .layer(middleware::from_fn_with_state(state.clone(), envelope::envelope))
        .layer(CompressionLayer::new().compress_when(DefaultPredicate::new().and(may_compress)))
        .with_state(state)
}

/// An address that no route has: with a slash too many at its end it leads to the one without.
async fn nothing_here(method: Method, uri: Uri) -> axum::response::Response {
    let path = uri.path();
    let slashed = path.len() > 1 && path.ends_with('/') && !path.starts_with("/v1/");
    if !slashed || !matches!(method, Method::GET | Method::HEAD) {
        return StatusCode::NOT_FOUND.into_response();
    }
    // Two slashes at the beginning would name another host.
    let bare = path.trim_matches(['/', '\\']);
    let query = uri.query().map(|query| format!("?{query}")).unwrap_or_default();
    ([(CACHE_CONTROL, respond::PLACE_CACHE)], Redirect::permanent(&format!("/{bare}{query}"))).into_response()
}

/// A body under a strong tag goes out byte for byte: calendars and whatever If-Match is held to.
fn may_compress(_: StatusCode, _: Version, headers: &HeaderMap, _: &Extensions) -> bool {
    !headers.get(ETAG).is_some_and(|tag| tag.as_bytes().starts_with(b"\""))
}
