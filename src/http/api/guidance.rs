//! Guidance: which insects, which stage, what size, and why.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};
use chrono::{DateTime, Datelike, Utc};
use utoipa::IntoParams;

use crate::app::document::{GuidanceDocument, Rule, time};
use crate::app::guidance::{self, GuidanceQuery};
use crate::domain::{Condition, Sign};
use crate::http::docs::PublicErrors;
use crate::http::extract::{Water, path_slug};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::respond::{self, FORECAST_CACHE, Tag};
use crate::http::state::AppState;
use crate::words::Language;

/// Of which moment, which insects, and what was seen.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "the fields describe parameters that `GuidanceQuery` holds")]
pub(crate) struct GuidanceParams {
    /// The moment, an RFC 3339 instant with its offset; default now.
    at: Option<DateTime<Utc>>,
    /// Only these taxa, repeated or separated by commas; default all.
    #[param(pattern = "^[A-Za-z0-9_-]{1,64}(,[A-Za-z0-9_-]{1,64})*$")]
    taxon: Option<String>,
    /// Signs from the bank, repeated or separated by commas: `dark-wing-pads`, `quiet-rises-empty-air`,
    /// `bubble-after-rise`, `deep-flashes`, `duns-ignored`, `late-refusals`.
    #[param(
        example = "duns-ignored",
        pattern = "^(dark-wing-pads|quiet-rises-empty-air|bubble-after-rise|deep-flashes|duns-ignored|late-refusals)(,(dark-wing-pads|quiet-rises-empty-air|bubble-after-rise|deep-flashes|duns-ignored|late-refusals))*$"
    )]
    signs: Option<String>,
    /// What weather and water are like on the bank, repeated or separated by commas: `windy`, `rain`, `cold-damp`,
    /// `hot-dry`, `bright-sun`, `rising-water`, `falling-water`. Where a service forecasts the weather at sunset, that
    /// speaks too in the hours around it.
    #[param(
        example = "windy",
        pattern = "^(windy|rain|cold-damp|hot-dry|bright-sun|rising-water|falling-water)(,(windy|rain|cold-damp|hot-dry|bright-sun|rising-water|falling-water))*$"
    )]
    conditions: Option<String>,
}

impl FromQuery for GuidanceQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let at = reader.parsed("at", "must be an RFC 3339 instant with an offset, between 1800 and 2999", |text| {
            time::instant(text).filter(|at| (1800..=2999).contains(&at.year()))
        });
        let (signs, conditions) = read_bank(reader);
        Self { at, taxa: reader.slugs("taxon"), signs, conditions, language: Language::English }
    }
}

/// What is seen on the bank, each sign and each condition once.
pub(crate) fn read_bank(reader: &mut QueryReader) -> (Vec<Sign>, Vec<Condition>) {
    let mut signs = reader.words("signs", &Rule::one_of(&Sign::WORDS), Sign::parse);
    signs.sort_unstable();
    signs.dedup();
    let mut conditions = reader.words("conditions", &Rule::one_of(&Condition::WORDS), Condition::parse);
    conditions.sort_unstable();
    conditions.dedup();
    (signs, conditions)
}

/// What to put on at one hour on one reach: insects and life stages with their odds, size, and the rules
/// that say so.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches/{r}/guidance", operation_id = "getGuidance", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), ("r" = String, Path, description = "Reach slug"),
        GuidanceParams),
    responses((status = 200, description = "The guidance.", body = GuidanceDocument), PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Water(view): Water,
    Path(path): Path<(String, String)>,
    Query(query): Query<GuidanceQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let reach = view.reach(&path_slug("reach", &path.1)?)?;
    let document = guidance::guidance(&state.service, &view, &reach, &query).await?;
    respond::cached_json(&headers, &document, Tag::Weak, FORECAST_CACHE)
}
