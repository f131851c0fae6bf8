//! Gauges of a watershed and their readings.

use std::sync::Arc;

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode, Uri};
use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use utoipa::IntoParams;

use super::{KeyParams, PageParams, PageQuery, ending, matching, page_response, table_response};
use crate::app::document::input::GaugePatch;
use crate::app::document::{
    GaugeDetailDocument, GaugeDocument, GaugeInput, JobDocument, List, ReadingDocument, ReadingsInput, ReadingsReceipt,
};
use crate::app::export::lists;
use crate::app::gauge_detail::gauge_detail;
use crate::app::reading::Step;
use crate::app::reading_page::End;
use crate::app::{AppError, Service, jobs, place, reading, reading_page};
use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Gauge, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::http::docs::{ChangeErrors, PublicErrors, QueueErrors, WriteErrors};
use crate::http::extract::{Json, Posted, Water, WatershedKeeper, path_slug};
use crate::http::negotiate::Wanted;
use crate::http::paging::{Page, Place};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoQuery, Query, QueryReader};
use crate::http::respond::{self, FORECAST_CACHE, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// Days listed unless asked otherwise.
const DEFAULT_SPAN_DAYS: u64 = 30;
/// Most days one question may span.
const MAX_SPAN_DAYS: i64 = 3660;

/// The gauges of a watershed.
#[utoipa::path(get, path = "/v1/watersheds/{w}/gauges", operation_id = "listGauges", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of gauges.", body = List<GaugeDocument>), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Water(view): Water,
    Query(PageQuery(page)): Query<PageQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let address = state.url(&format!("/v1/watersheds/{}/gauges", view.watershed.slug));
    let key = |gauge: &Arc<Gauge>| gauge.slug.key();
    page_response(&headers, &page, &address, &view.gauges, key, |gauge| GaugeDocument::from(&**gauge), PLACE_CACHE)
}

/// One gauge, with the age of its readings and how fetching them went.
#[utoipa::path(get, path = "/v1/watersheds/{w}/gauges/{g}", operation_id = "getGauge", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug")),
    responses((status = 200, description = "The gauge, the age of its readings, and how fetching them went.",
        body = GaugeDetailDocument), PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Water(view): Water,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let gauge = view.gauge(&path_slug("gauge", &path.1)?)?;
    let detail = gauge_detail(&state.service, &view.watershed, &gauge).await?;
    respond::cached_json(&headers, &detail, Tag::Strong, PLACE_CACHE)
}

/// Makes a gauge.
#[utoipa::path(post, path = "/v1/watersheds/{w}/gauges", operation_id = "createGauge", tag = "places",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = GaugeInput,
    responses((status = 201, description = "Made.", body = GaugeDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (gauge, once) = posted.read::<GaugeInput>(token.id)?;
    let answer = place::create_gauge(&state.service, &view.watershed.slug, &gauge, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Changes a gauge.
#[utoipa::path(patch, path = "/v1/watersheds/{w}/gauges/{g}", operation_id = "changeGauge", tag = "places",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = GaugePatch,
    responses((status = 200, description = "Changed.", body = GaugeDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let (watershed, slug) = (&view.watershed.slug, path_slug("gauge", &path.1)?);
    let read = gauge_detail(&state.service, &view.watershed, &*view.gauge(&slug)?).await?;
    // Who read the gauge read it with the state of fetching; who changed it before, without.
    let approve = |stored: &GaugeDocument| {
        let detail = GaugeDetailDocument { gauge: stored.clone(), ..read };
        matching(&headers)(&detail).or_else(|_| matching(&headers)(stored))
    };
    place::change_gauge(&state.service, watershed, &slug, patch, approve).await?;
    let gauge = state.service.watershed(watershed)?.gauge(&slug)?;
    respond::private_json(StatusCode::OK, &GaugeDocument::from(&*gauge), None)
}

/// Which readings to list.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReadingsQuery {
    /// First local day; default 30 days before `to`.
    from: Option<NaiveDate>,
    /// Last local day; default today.
    to: Option<NaiveDate>,
    /// `day` (default): one row per local day. `instant`: rows at instants as stored.
    #[param(value_type = Option<String>, pattern = "^(day|instant)$", example = "day")]
    step: Step,
    /// What was measured; `water_temperature` when left out.
    #[param(value_type = Option<String>,
        pattern = "^(water_temperature|air_temperature|discharge|level|clarity|ice)$", example = "water_temperature")]
    quantity: Quantity,
    #[param(ignore)]
    page: Page,
}

impl FromQuery for ReadingsQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let (from, to) = (reader.date("from"), reader.date("to"));
        let step = reader
            .parsed("step", "must be day or instant", |text| match text {
                "day" => Some(Step::Day),
                "instant" => Some(Step::Instant),
                _ => None,
            })
            .unwrap_or(Step::Day);
        let words: Vec<&str> = Quantity::WORDS.iter().map(|(_, word)| *word).collect();
        let quantity = reader
            .parsed("quantity", format!("must be one of {}", words.join(", ")), |text| Quantity::parse(text).ok())
            .unwrap_or_default();
        if let (Some(from), Some(to)) = (from, to) {
            if to < from {
                reader.fault("to", "out_of_order", "must not lie before from");
            } else if (to - from).num_days() > MAX_SPAN_DAYS {
                reader.fault("to", "too_long", format!("must lie within {MAX_SPAN_DAYS} days of from"));
            }
        }
        let mut filters: Vec<String> = Vec::new();
        filters.extend(from.map(|date| format!("from={date}")));
        filters.extend(to.map(|date| format!("to={date}")));
        if step == Step::Instant {
            filters.push("step=instant".to_owned());
        }
        if quantity != Quantity::default() {
            filters.push(format!("quantity={}", quantity.as_str()));
        }
        let page = Page::read(reader, filters.join("&"));
        Self { from, to, step, quantity, page }
    }
}

/// Readings of a gauge in order of time. As CSV in the form in which they are imported.
#[utoipa::path(get, path = "/v1/watersheds/{w}/gauges/{g}/readings", operation_id = "listReadings", tag = "readings",
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug"),
        ReadingsQuery, PageParams),
    responses((status = 200, description = "A page of readings.",
        content((List<ReadingDocument> = "application/json"), (String = "text/csv"))), PublicErrors))]
pub(crate) async fn readings(
    State(state): State<AppState>,
    Water(view): Water,
    Path(path): Path<(String, String)>,
    Query(query): Query<ReadingsQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let gauge = view.gauge(&path_slug("gauge", &path.1)?)?;
    let today = state.service.today(view.watershed.time_zone);
    let span = Days::new(DEFAULT_SPAN_DAYS);
    let to = query.to.unwrap_or_else(|| query.from.map_or(today, |from| today.max(from).min(from + Days::new(3660))));
    let from = query.from.unwrap_or(to - span);
    let all = around(&state.service, &view.watershed, &gauge.slug, &query, (from, to)).await?;
    let path = format!("/v1/watersheds/{}/gauges/{}/readings{}", view.watershed.slug, gauge.slug, ending(&uri));
    let address = state.url(&path);
    let document = |reading: &Reading| ReadingDocument::from(reading);
    if form == Wanted::Csv {
        let page = query.page.slice(&all, reading_key);
        let shown = query.page.shown(&page).to_vec();
        let (_, links) = query.page.list(page, &address, reading_key, document);
        let table = lists::readings(&shown, query.quantity, query.step)?;
        return Ok(table_response(&headers, table, links, FORECAST_CACHE));
    }
    page_response(&headers, &query.page, &address, &all, reading_key, document, FORECAST_CACHE)
}

/// The readings of a page and one more on the side it leads to.
async fn around(
    service: &Service,
    water: &Watershed,
    gauge: &Slug,
    query: &ReadingsQuery,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<Vec<Reading>, AppError> {
    let (after, before) = match &query.page.place {
        Place::First => (None, None),
        Place::After(key) => (Some(key), None),
        Place::Before(key) => (None, Some(key)),
    };
    let part = (query.page.limit + 1, if before.is_some() { End::Last } else { End::First });
    match query.step {
        Step::Instant => {
            let (first, last) = (start_of_day(water.time_zone, from), end_of_day(water.time_zone, to));
            let at = |key: &String| key.parse::<DateTime<Utc>>().ok().map(|at| at.clamp(first, last));
            // The store keeps microseconds.
            let next = TimeDelta::microseconds(1);
            let from = after.and_then(at).map_or(first, |at| at + next);
            let to = before.and_then(at).map_or(last, |at| at - next);
            reading_page::instants(service, water, gauge, query.quantity, (from, to), part).await
        }
        Step::Day => {
            let date = |key: &String| key.parse::<NaiveDate>().ok().map(|date| date.clamp(from, to));
            let first = after.and_then(date).map_or(from, |date| date + Days::new(1));
            let last = before.and_then(date).map_or(to, |date| date - Days::new(1));
            reading_page::days(service, water, gauge, query.quantity, (first, last), part).await
        }
    }
}

/// Sorts as time does: dates and fixed-width instants.
fn reading_key(reading: &Reading) -> String {
    match reading.time {
        ReadingTime::Day { date, .. } => date.to_string(),
        ReadingTime::Instant { at, .. } => at.format("%Y-%m-%dT%H:%M:%S%.6fZ").to_string(),
    }
}

/// Adds readings to a gauge: all of them or none.
#[utoipa::path(post, path = "/v1/watersheds/{w}/gauges/{g}/readings", operation_id = "addReadings", tag = "readings",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug"),
        KeyParams),
    request_body = ReadingsInput,
    responses((status = 200, description = "Stored.", body = ReadingsReceipt), WriteErrors))]
pub(crate) async fn add(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let gauge = view.gauge(&path_slug("gauge", &path.1)?)?;
    let (new, once) = posted.read::<ReadingsInput>(token.id)?;
    let answer = reading::add(&state.service, &view.watershed.slug, &gauge.slug, &new, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Queues fetching the gauge's readings from its source, unless that waits already.
#[utoipa::path(post, path = "/v1/watersheds/{w}/gauges/{g}/sync", operation_id = "syncGauge", tag = "readings",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("g" = String, Path, description = "Gauge slug")),
    responses((status = 202, description = "Queued.", body = JobDocument,
        headers(("Location" = String, description = "Address of the job"))), QueueErrors))]
pub(crate) async fn sync(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let gauge = view.gauge(&path_slug("gauge", &path.1)?)?;
    let job = jobs::request_sync(&state.service, &view.watershed.slug, &gauge).await?;
    let address = state.url(&format!("/v1/jobs/{}", job.id));
    respond::private_json(StatusCode::ACCEPTED, &JobDocument::from(&job), Some(&address))
}
