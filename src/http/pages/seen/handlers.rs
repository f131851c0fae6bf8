//! From address to answer.

use axum::body::Body;
use axum::extract::{Path, RawQuery, State};
use axum::http::{HeaderMap, Response};

use super::{choose, page};
use crate::app::seen::{self, SeenQuery};
use crate::domain::Seen;
use crate::http::api::seen::read_signs;
use crate::http::extract::path_slug;
use crate::http::pages::given::{Given, Moment, refused};
use crate::http::pages::handlers::{PAGE_CACHE, sent};
use crate::http::pages::units::{LANGUAGE_RULE, Shown, UNITS_RULE, Units};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, QueryReader, parse_form};
use crate::http::state::AppState;
use crate::words::Language;

/// The form as it is sent.
#[derive(Debug)]
struct Form {
    moment: Moment,
    seen: Seen,
}

impl FromQuery for Form {
    fn read(reader: &mut QueryReader) -> Self {
        // Read with the page (see `Shown`), which carries it on.
        reader.parsed("units", UNITS_RULE, Units::of_word);
        reader.parsed("lang", LANGUAGE_RULE, Language::parse);
        Self { moment: Moment::read(reader), seen: read_signs(reader) }
    }
}

/// `/w/{w}/seen`: on which reach?
pub(crate) async fn choose_reach(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    Ok(sent(&headers, &shown, choose(shown.language, &view), PAGE_CACHE))
}

/// `/w/{w}/reaches/{r}/seen`: the form, and the answer below it once something is sent.
pub(crate) async fn seen_page(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    RawQuery(query): RawQuery,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let reach = view.reach(&path_slug("reach", &r)?)?;
    let zone = view.watershed.time_zone;
    let now = seen::now(&state.service, &view);
    let (pairs, form) = parse_form::<Form>(query.as_deref().unwrap_or_default())?;
    let mut given = Given { pairs, now: now.with_timezone(&zone), language: shown.language, faults: Vec::new() };
    match form {
        Ok(form) => {
            let question = SeenQuery { at: form.moment.at(now, zone), seen: form.seen, language: shown.language };
            let answer = seen::seen(&state.service, &view, &reach, &question).await?;
            Ok(sent(&headers, &shown, page(shown.language, &view, &reach, &given, Some(&answer)), PAGE_CACHE))
        }
        Err(problem) => {
            given.faults = problem.faults().to_vec();
            Ok(refused(sent(&headers, &shown, page(shown.language, &view, &reach, &given, None), "no-store")))
        }
    }
}
