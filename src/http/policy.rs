//! Security headers, by address: what a page may load, and who may show it in a frame.

use axum::http::header::{
    CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};

use super::state::Settings;

/// Pages: our own style sheet and images, nothing else, framed nowhere.
const PAGE: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; \
    object-src 'none'; frame-ancestors 'none'";

/// The report form and its worker: also our own scripts, which speak to this service alone.
const REPORT: &str = "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; worker-src 'self'; \
    connect-src 'self'; form-action 'none'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'";

/// What other sites show, without who may frame it.
const EMBED: &str = "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; form-action 'none'; \
    base-uri 'none'; object-src 'none'; frame-ancestors";

const CROSS_ORIGIN_RESOURCE: HeaderName = HeaderName::from_static("cross-origin-resource-policy");

/// Files that pages of other sites load: the embed itself, and what it is made of. A sandboxed frame
/// has an origin of its own, so its own style sheet comes from elsewhere too.
const LOADED_ELSEWHERE: [&str; 3] = ["/embed/", "/assets/embed", "/assets/frame"];

/// Sets the security headers of the answer at `path`.
pub(crate) fn secure(headers: &mut HeaderMap, settings: &Settings, path: &str) {
    let elsewhere = LOADED_ELSEWHERE.iter().any(|head| path.starts_with(head));
    let fixed = [
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, if at_desk(path) { "same-origin" } else { "no-referrer" }),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (CROSS_ORIGIN_RESOURCE, if elsewhere { "cross-origin" } else { "same-origin" }),
        (
            HeaderName::from_static("permissions-policy"),
            // The report form finds the nearest reach on the phone.
            if path == "/report" {
                "camera=(), microphone=(), geolocation=(self)"
            } else {
                "camera=(), microphone=(), geolocation=()"
            },
        ),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert(CONTENT_SECURITY_POLICY, content_policy(settings, path));
    if settings.public_url.starts_with("https://") {
        headers.insert(STRICT_TRANSPORT_SECURITY, HeaderValue::from_static("max-age=31536000"));
    }
}

/// Pages of the desk: their forms must say where they stand, and a browser that tells no referrer does not.
fn at_desk(path: &str) -> bool {
    path == "/desk" || path.starts_with("/desk/")
}

fn content_policy(settings: &Settings, path: &str) -> HeaderValue {
    if path == "/report" || path == "/report-worker.js" {
        return HeaderValue::from_static(REPORT);
    }
    if path.starts_with("/embed/") {
        let hosts = settings.embed_hosts.join(" ");
        // The settings are checked where they are read; a word that no header can hold opens nothing.
        if let Ok(value) = HeaderValue::from_str(format!("{EMBED} 'self' {hosts}").trim_end()) {
            return value;
        }
    }
    HeaderValue::from_static(PAGE)
}
