//! Which sites may show the embed in a frame.

/// What an entry must be.
pub(super) const RULE: &str =
    "must be sites such as https://club.example or https://*.club.example, without a path, or * alone for every site";

/// True for a site as `frame-ancestors` of a content security policy (CSP level 3, section 2.3.1) takes
/// it: `*`, or a scheme, a host with perhaps a leading `*.`, and perhaps a port. Anything else could
/// add words of its own to the header.
pub(super) fn may_frame(site: &str) -> bool {
    if site == "*" {
        return true;
    }
    let Some(rest) = site.strip_prefix("https://").or_else(|| site.strip_prefix("http://")) else { return false };
    let (host, port) = rest.split_once(':').map_or((rest, None), |(host, port)| (host, Some(port)));
    let host = host.strip_prefix("*.").unwrap_or(host);
    let label = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    host.split('.').all(label) && port.is_none_or(|port| port.parse::<u16>().is_ok_and(|number| number > 0))
}

#[cfg(test)]
mod tests {
    use super::may_frame;

    #[test]
    fn sites_are_taken_and_nothing_that_could_add_to_the_header() {
        for good in ["*", "https://club.example", "https://*.club.example", "http://127.0.0.1:8090", "http://localhost"]
        {
            assert!(may_frame(good), "{good}");
        }
        for bad in [
            "",
            "club.example",
            "https://",
            "https://club.example/",
            "https://club.example/page",
            "https://a.example; script-src *",
            "https://a.example https://b.example",
            "https://a..example",
            "https://*",
            "https://a.example:",
            "https://a.example:0",
            "https://a.example:99999",
            "https://b\u{fc}cher.example",
            "'none'",
            "javascript://club.example",
            "https://a.example,https://b.example",
        ] {
            assert!(!may_frame(bad), "{bad}");
        }
    }
}
