//! What a caller asks for in Accept (RFC 9110 section 12.5.1, from memory).

use axum::body::Body;
use axum::extract::{FromRequestParts, MatchedPath, Request};
use axum::http::header::{ACCEPT, VARY};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, Response};
use axum::middleware::Next;
use axum::response::IntoResponse;

use super::problem::{Kind, PROBLEM_JSON, Problem};

const JSON: &str = "application/json";
const HTML: &str = "text/html";

/// A form in which a list is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// JSON, the form of everything.
    Json,
    /// Comma-separated values (RFC 4180).
    Csv,
    /// GeoJSON (RFC 7946).
    GeoJson,
}

impl Wanted {
    /// Its media type, without parameters.
    const fn media(self) -> &'static str {
        match self {
            Self::Json => JSON,
            Self::Csv => "text/csv",
            Self::GeoJson => "application/geo+json",
        }
    }

    /// Its `Content-Type`.
    pub(crate) const fn content_type(self) -> &'static str {
        match self {
            Self::Json => JSON,
            Self::Csv => "text/csv; charset=utf-8; header=present",
            Self::GeoJson => "application/geo+json",
        }
    }
}

/// Lists that have a second form, which is given to whoever asks for it. Under their address with the name of a form at
/// the end that form is given to everyone.
const SECOND_FORMS: [(&str, &str, Wanted); 8] = [
    ("/v1/watersheds/{w}/forecasts", ".csv", Wanted::Csv),
    ("/v1/watersheds/{w}/reports", ".csv", Wanted::Csv),
    ("/v1/watersheds/{w}/gauges/{g}/readings", ".csv", Wanted::Csv),
    ("/v1/watersheds/{w}/reaches", ".geojson", Wanted::GeoJson),
    ("/v1/watersheds/{w}/forecasts", ".json", Wanted::Json),
    ("/v1/watersheds/{w}/reports", ".json", Wanted::Json),
    ("/v1/watersheds/{w}/gauges/{g}/readings", ".json", Wanted::Json),
    ("/v1/watersheds/{w}/reaches", ".json", Wanted::Json),
];

impl<S: Send + Sync> FromRequestParts<S> for Wanted {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Self::Rejection> {
        Ok(parts.extensions.get().copied().unwrap_or(Self::Json))
    }
}

/// Chooses the form of the answer before anything is done for it, and refuses a request for which none will do.
pub(crate) async fn choose(mut request: Request, next: Next) -> Response<Body> {
    let (wanted, varies) = match wanted(&request) {
        Ok(chosen) => chosen,
        Err(problem) => return problem.into_response(),
    };
    request.extensions_mut().insert(wanted);
    let mut response = next.run(request).await;
    if varies {
        // Lists may also travel compressed, and a cache must tell all of them apart.
        response.headers_mut().insert(VARY, HeaderValue::from_static("accept, accept-encoding"));
    }
    response
}

/// The form for `request`, and whether another could have been given under the same address.
fn wanted(request: &Request) -> Result<(Wanted, bool), Problem> {
    let path = request.extensions().get::<MatchedPath>().map_or("", MatchedPath::as_str);
    if let Some((.., form)) = SECOND_FORMS.iter().find(|(list, end, _)| path.strip_prefix(list) == Some(*end)) {
        // The address says it all.
        return Ok((*form, false));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let other = |(list, _, form): &&(&str, &str, Wanted)| reads && *list == path && *form != Wanted::Json;
    let second = SECOND_FORMS.iter().find(other).map(|(.., form)| *form);
    let asked = |form: Wanted| quality(request.headers(), form.media());
    if let Some(form) = second.filter(|form| asked(*form) > asked(Wanted::Json)) {
        return Ok((form, true));
    }
    if asked(Wanted::Json) > 0.0 {
        return Ok((Wanted::Json, second.is_some()));
    }
    let other = second.map_or_else(String::new, |form| format!(" and {}", form.media()));
    Err(Problem::new(Kind::NotAcceptable, format!("This address gives {JSON}{other}.")))
}

/// True for callers that would rather read a page than a problem document, such as browsers.
pub(crate) fn prefers_page(headers: &HeaderMap) -> bool {
    quality(headers, HTML) > quality(headers, PROBLEM_JSON).max(quality(headers, JSON))
}

/// How much the caller wants `media`, 0 to 1: the weight of the range that names it most closely, 1
/// where nothing is asked for.
fn quality(headers: &HeaderMap, media: &str) -> f64 {
    let lines: Vec<&str> = headers.get_all(ACCEPT).iter().filter_map(|value| value.to_str().ok()).collect();
    let ranges: Vec<&str> =
        lines.iter().flat_map(|line| line.split(',')).map(str::trim).filter(|r| !r.is_empty()).collect();
    if ranges.is_empty() {
        return 1.0;
    }
    let kind = media.split('/').next().unwrap_or_default();
    let mut best = (0, 0.0);
    for range in ranges {
        let mut parts = range.split(';').map(str::trim);
        let name = parts.next().unwrap_or_default().to_ascii_lowercase();
        let closeness = match name.split_once('/') {
            Some(_) if name == media => 3,
            Some((whole, "*")) if whole == kind => 2,
            Some(("*", "*")) => 1,
            _ => continue,
        };
        let weight = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
        // A weight that is no number is a slip of the client, not a refusal.
        let weight = weight.map_or(1.0, |text| text.parse().unwrap_or(1.0));
        if closeness > best.0 {
            best = (closeness, weight);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn accepting(text: &str) -> HeaderMap {
        HeaderMap::from_iter([(ACCEPT, text.parse().expect("a header"))])
    }

    #[test]
    fn the_closest_range_decides() {
        for (asked, wanted) in [
            ("", 1.0),
            ("*/*", 1.0),
            ("application/*;q=0.5", 0.5),
            ("APPLICATION/JSON", 1.0),
            ("*/*, application/json;q=0", 0.0),
            ("text/csv", 0.0),
            ("text/html, */*;q=0.1", 0.1),
            ("application/json;q=much", 1.0),
            ("json", 0.0),
        ] {
            assert_eq!(quality(&accepting(asked), JSON), wanted, "{asked}");
        }
    }

    #[test]
    fn only_who_names_html_gets_a_page() {
        let browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
        assert!(prefers_page(&accepting(browser)));
        for other in ["", "*/*", "application/json", "application/json, text/html;q=0.5", "text/html, application/json"]
        {
            assert!(!prefers_page(&accepting(other)), "{other}");
        }
    }
}
