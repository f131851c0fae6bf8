//! Forecasts.

use axum::body::Body as Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, Response};
use chrono::NaiveDate;
use sha2::{Digest as _, Sha256};
use utoipa::IntoParams;

use crate::app::document::{ForecastDocument, List};
use crate::app::export::lists;
use crate::app::forecasts::{self, ForecastQuery, MAX_DAYS};
use crate::http::docs::PublicErrors;
use crate::http::extract::Water;
use crate::http::negotiate::Wanted;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::respond::{self, FORECAST_CACHE, Tag};
use crate::http::state::AppState;

/// Which forecasts, and which of their days.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "the fields describe parameters that `ForecastQuery` holds")]
pub(crate) struct ForecastParams {
    /// Only these reaches, repeated or separated by commas; default all.
    #[param(pattern = "^[A-Za-z0-9_-]{1,64}(,[A-Za-z0-9_-]{1,64})*$")]
    reach: Option<String>,
    /// Only these taxa, repeated or separated by commas; default all.
    #[param(pattern = "^[A-Za-z0-9_-]{1,64}(,[A-Za-z0-9_-]{1,64})*$")]
    taxon: Option<String>,
    /// First day; default today, or the first day of a `season` that is not this one.
    from: Option<NaiveDate>,
    /// Number of days.
    #[param(minimum = 1, maximum = 370, default = 16)]
    days: Option<u32>,
    /// Season; default that of the first day.
    #[param(minimum = 1900, maximum = 2200)]
    season: Option<i32>,
    /// Use only temperatures known up to the end of this local day.
    as_of: Option<NaiveDate>,
}

impl FromQuery for ForecastQuery {
    fn read(reader: &mut QueryReader) -> Self {
        Self {
            reaches: reader.slugs("reach"),
            taxa: reader.slugs("taxon"),
            from: reader.date("from"),
            days: reader.whole("days", 1, MAX_DAYS),
            season: reader.whole("season", 1900, 2200),
            as_of: reader.date("as_of"),
        }
    }
}

/// Forecasts of a watershed: one per reach, taxon, brood and season. Not paged. As CSV a row per day.
#[utoipa::path(get, path = "/v1/watersheds/{w}/forecasts", operation_id = "listForecasts", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), ForecastParams),
    responses((status = 200, description = "The forecasts.",
        content((List<ForecastDocument> = "application/json"), (String = "text/csv"))), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Water(view): Water,
    Query(query): Query<ForecastQuery>,
    form: Wanted,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let list = List::whole(forecasts::answer(&state.service, &view, &query).await?);
    if form == Wanted::Csv {
        let bytes = lists::forecasts(&list.items)?;
        return Ok(respond::cached(&headers, bytes, form.content_type(), Tag::Weak, FORECAST_CACHE));
    }
    let bytes = respond::json_bytes(&list)?;
    let etag = tag_of(&String::from_utf8_lossy(&bytes));
    Ok(respond::cached_under(&headers, bytes.into(), "application/json", &etag, FORECAST_CACHE))
}

/// The tag of a list of forecasts. When the sums were done is no part of what they say: equal forecasts go under one.
fn tag_of(list: &str) -> String {
    // No text of JSON holds this: its quotes would be escaped.
    const ISSUED: &str = r#""issued_at":""#;
    let (mut digest, mut rest) = (Sha256::new(), list);
    while let Some((before, after)) = rest.split_once(ISSUED) {
        digest.update(before);
        digest.update(ISSUED);
        rest = after.find('"').map_or("", |end| &after[end..]);
    }
    digest.update(rest);
    respond::tag_of_digest(&digest.finalize(), Tag::Weak)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn when_forecasts_were_made_is_no_part_of_their_tag_and_all_else_is() {
        let list = |first: &str, second: &str, note: &str| {
            let one = |issued: &str| serde_json::json!({ "a": 1, "issued_at": issued, "note": note });
            tag_of(&serde_json::json!({ "items": [one(first), one(second)] }).to_string())
        };
        let (noon, later) = ("2026-05-19T12:00:00Z", "2026-05-19T13:30:00.5Z");
        assert_eq!(list(noon, noon, "x"), list(later, noon, "x"));
        assert_eq!(list(noon, noon, "x"), list(noon, later, "x"));
        assert_ne!(list(noon, noon, "x"), list(noon, noon, "y"));
        // Words that look like it are words.
        let words = |at: &str| format!(r#"" "issued_at":"{at}" "#);
        assert_ne!(list(noon, noon, &words(noon)), list(noon, noon, &words(later)));
        assert_ne!(tag_of("[]"), tag_of("[ ]"));
    }
}
