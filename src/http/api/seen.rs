//! "What did I just see?"

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};
use chrono::{DateTime, Datelike, Utc};
use utoipa::IntoParams;

use crate::app::document::{Rule, SeenDocument, time};
use crate::app::seen::{self, SeenQuery};
use crate::domain::looks::check_tails;
use crate::domain::{Colour, Seen, WingsHeld};
use crate::http::docs::PublicErrors;
use crate::http::extract::{Water, path_slug};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::respond::{self, FORECAST_CACHE, Tag};
use crate::http::state::AppState;
use crate::words::Language;

/// Lengths of bodies that are read, mm.
const LENGTHS_MM: std::ops::RangeInclusive<f64> = 0.5..=100.0;

/// When an insect was seen, and what of it.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "the fields describe parameters that `SeenQuery` holds")]
pub(crate) struct SeenParams {
    /// The moment, an RFC 3339 instant with its offset; default now.
    at: Option<DateTime<Utc>>,
    /// Body length without tails, mm, from 0.5 to 100.
    #[param(minimum = 0.5, maximum = 100, example = 8)]
    length_mm: Option<f64>,
    /// Number of tails: 0, 2 or 3.
    #[param(pattern = "^[023]$", example = "2")]
    tails: Option<String>,
    /// How the wings were held at rest: `upright` like a sail, like a `roof` along the body, `flat` on the back or
    /// rolled round it, `spread` on the water.
    #[param(pattern = "^(upright|roof|flat|spread)$", example = "upright")]
    wings: Option<String>,
    /// Colours of the body, repeated or separated by commas.
    #[param(
        pattern = "^(black|grey|brown|rust|olive|green|yellow|cream|orange|clear)(,(black|grey|brown|rust|olive|green|yellow|cream|orange|clear))*$",
        example = "olive"
    )]
    body: Option<String>,
    /// Colours of the wings, repeated or separated by commas.
    #[param(
        pattern = "^(black|grey|brown|rust|olive|green|yellow|cream|orange|clear)(,(black|grey|brown|rust|olive|green|yellow|cream|orange|clear))*$",
        example = "grey"
    )]
    wing_colour: Option<String>,
}

impl FromQuery for SeenQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let at = reader.parsed("at", "must be an RFC 3339 instant with an offset, between 1800 and 2999", |text| {
            time::instant(text).filter(|at| (1800..=2999).contains(&at.year()))
        });
        Self { at, seen: read_signs(reader), language: Language::English }
    }
}

/// What was seen of the insect.
pub(crate) fn read_signs(reader: &mut QueryReader) -> Seen {
    let length_mm =
        reader.parsed("length_mm", Rule::Length, |text| text.parse().ok().filter(|mm| LENGTHS_MM.contains(mm)));
    let tails = reader.parsed("tails", Rule::Tails, |text| text.parse().ok().and_then(|count| check_tails(count).ok()));
    let wings = reader.parsed("wings", Rule::one_of(&WingsHeld::WORDS), |text| WingsHeld::parse(text).ok());
    let mut colours = |name: &str| {
        let mut colours = reader.words(name, &Rule::one_of(&Colour::WORDS), Colour::parse);
        colours.sort_unstable();
        colours.dedup();
        colours
    };
    let body = colours("body");
    let wing_colours = colours("wing_colour");
    Seen { length_mm, tails, wings, body, wing_colours }
}

/// What an insect may have been: the taxa of the watershed ranked by what was seen of it, with what tells for and
/// against each, and what to look at next.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches/{r}/seen", operation_id = "whatWasSeen", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), ("r" = String, Path, description = "Reach slug"),
        SeenParams),
    responses((status = 200, description = "The ranking.", body = SeenDocument), PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Water(view): Water,
    Path(path): Path<(String, String)>,
    Query(query): Query<SeenQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let reach = view.reach(&path_slug("reach", &path.1)?)?;
    let document = seen::seen(&state.service, &view, &reach, &query).await?;
    respond::cached_json(&headers, &document, Tag::Weak, FORECAST_CACHE)
}
