//! What a caller asks for in Accept (RFC 9110 section 12.5.1, from memory).

use axum::body::Body;
use axum::extract::Request;
use axum::http::header::ACCEPT;
use axum::http::{HeaderMap, Response};
use axum::middleware::Next;
use axum::response::IntoResponse;

use super::problem::{Kind, PROBLEM_JSON, Problem};

const JSON: &str = "application/json";
const HTML: &str = "text/html";

/// Refuses a request for which JSON will not do, before anything is done for it.
pub(crate) async fn give_json(request: Request, next: Next) -> Response<Body> {
    if quality(request.headers(), JSON) > 0.0 {
        return next.run(request).await;
    }
    Problem::new(Kind::NotAcceptable, "This address gives application/json.").into_response()
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
