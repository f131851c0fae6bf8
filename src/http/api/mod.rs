//! The JSON interface, one file per resource.

pub(crate) mod feeds;
pub(crate) mod fits;
pub(crate) mod forecasts;
pub(crate) mod forms;
pub(crate) mod gauges;
pub(crate) mod guidance;
pub(crate) mod health;
pub(crate) mod imports;
pub(crate) mod jobs;
pub(crate) mod join;
pub(crate) mod lessons;
pub(crate) mod moderation;
pub(crate) mod notices;
pub(crate) mod photos;
pub(crate) mod reaches;
pub(crate) mod reports;
pub(crate) mod seen;
pub(crate) mod taxa;
pub(crate) mod tokens;
pub(crate) mod watersheds;

use axum::body::Body;
use axum::http::{HeaderMap, Response, Uri};
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};

use super::negotiate::Wanted;
use super::paging::Page;
use super::problem::Problem;
use super::query::{FromQuery, QueryReader};
use super::respond::{self, Tag};
use crate::app::AppError;

/// Paging of a list without filters.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "the fields describe parameters that `Page` reads")]
pub(crate) struct PageParams {
    /// Items on a page; more than 500 counts as 500.
    #[param(minimum = 1, default = 50, example = 50)]
    limit: Option<u64>,
    /// Where the page lies: taken from `next` or `prev`, never made up.
    #[param(min_length = 12, max_length = 512, pattern = "^[0-9a-f]+$")]
    cursor: Option<String>,
}

/// The key under which a creating request may come again.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "the field describes a header that `Posted` reads")]
pub(crate) struct KeyParams {
    /// New for every new thing; 16 to 255 printable ASCII characters. The same request under the same
    /// key is answered as the first time, with `Idempotent-Replayed: true`.
    #[param(rename = "Idempotency-Key", min_length = 16, max_length = 255, pattern = "^[ -~]{16,255}$")]
    idempotency_key: Option<String>,
}

/// A query with nothing but paging.
#[derive(Debug)]
pub(crate) struct PageQuery(pub(crate) Page);

impl FromQuery for PageQuery {
    fn read(reader: &mut QueryReader) -> Self {
        Self(Page::read(reader, String::new()))
    }
}

/// A page of a public list, with its links.
fn list_response(
    request: &HeaderMap,
    list: &impl Serialize,
    links: HeaderMap,
    cache: &'static str,
) -> Result<Response<Body>, Problem> {
    let mut response = respond::cached_json(request, list, Tag::Weak, cache)?;
    response.headers_mut().extend(links);
    Ok(response)
}

/// A page of a public list as a table, with its links.
fn table_response(request: &HeaderMap, table: Vec<u8>, links: HeaderMap, cache: &'static str) -> Response<Body> {
    let mut response = respond::cached(request, table, Wanted::Csv.content_type(), Tag::Weak, cache);
    response.headers_mut().extend(links);
    response
}

/// What an address ends with that names its form: the pages that follow keep it.
fn ending(uri: &Uri) -> &str {
    uri.path().rfind('.').map_or("", |at| &uri.path()[at..])
}

/// The page of `sorted` (ascending by `key`) that is asked for; `address` is that of the list.
fn page_response<T: Clone, D: ToSchema + Serialize>(
    request: &HeaderMap,
    page: &Page,
    address: &str,
    sorted: &[T],
    key: impl Fn(&T) -> String,
    document: impl Fn(&T) -> D,
    cache: &'static str,
) -> Result<Response<Body>, Problem> {
    let (list, links) = page.list(page.slice(sorted, &key), address, &key, document);
    list_response(request, &list, links, cache)
}

/// Holds If-Match of `request` against a stored document, for use inside a transaction.
fn matching<D: Serialize>(request: &HeaderMap) -> impl FnOnce(&D) -> Result<(), AppError> {
    move |stored| {
        let bytes = serde_json::to_vec(stored).map_err(|error| AppError::Internal(error.to_string()))?;
        respond::require_match(request, &respond::entity_tag(&bytes, Tag::Strong))
    }
}

/// The same where If-Match may be left out.
fn matching_if_named<D: Serialize>(request: &HeaderMap) -> impl FnOnce(&D) -> Result<(), AppError> {
    move |stored| {
        if request.contains_key(axum::http::header::IF_MATCH) { matching(request)(stored) } else { Ok(()) }
    }
}
