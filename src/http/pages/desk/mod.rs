//! The keeper's desk: pages over the same use cases as the interface for programs, working without scripts.

pub(crate) mod access;
mod called;
mod chart;
mod editor;
pub(crate) mod feeds;
pub(crate) mod fits;
mod form;
mod frame;
pub(crate) mod gauges;
pub(crate) mod imports;
pub(crate) mod lessons;
mod naming;
pub(crate) mod notices;
mod outcome;
mod overrule;
pub(crate) mod places;
pub(crate) mod reports;
mod session;
mod shown_once;
pub(crate) mod sign_in;
mod table_form;

use axum::body::Body;
use axum::http::{HeaderMap, Response};

use crate::http::respond::{self, ASSET_CACHE, Tag};

/// The style of the desk.
pub(crate) async fn style(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, frame::STYLE, "text/css; charset=utf-8", Tag::Weak, ASSET_CACHE)
}
