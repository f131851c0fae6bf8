//! Which language a reader's browser asks for (Accept-Language, RFC 9110 section 12.5.4; from memory).

use super::Language;

/// The language that weighs most among those offered; `None` where none of them is asked for.
#[must_use]
pub fn preferred(header: &str) -> Option<Language> {
    let mut best: Option<(f64, Language)> = None;
    for range in header.split(',') {
        let mut parts = range.split(';').map(str::trim);
        let tag = parts.next().unwrap_or_default().to_ascii_lowercase();
        let primary = tag.split('-').next().unwrap_or_default();
        let language = Language::ALL.into_iter().find(|language| language.tag() == primary);
        // Whoever takes any language gets the one that all was written in.
        let Some(language) = language.or((tag == "*").then_some(Language::English)) else { continue };
        let weight = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
        // A weight that is no number is a slip of the client, not a refusal.
        let weight =
            weight.map_or(1.0, |text| text.trim().parse::<f64>().ok().filter(|w| w.is_finite()).unwrap_or(1.0));
        if weight > 0.0 && best.is_none_or(|(most, _)| weight > most) {
            best = Some((weight, language));
        }
    }
    best.map(|(_, language)| language)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_heaviest_language_on_offer_is_taken() {
        let (german, english) = (Some(Language::German), Some(Language::English));
        for (header, wanted) in [
            ("de", german),
            ("DE-at", german),
            ("de-CH-1996, en;q=0.9", german),
            ("en-GB,en;q=0.9,de;q=0.8", english),
            ("fr, de;q=0.4, en;q=0.3", german),
            ("en;q=0.3, de;q=0.4", german),
            ("de;q=0, en;q=0.1", english),
            ("de, en", german),
            ("en, de", english),
            ("*", english),
            ("*;q=0.5, de;q=0.6", german),
            ("fr", None),
            ("", None),
            ("de;q=0", None),
            ("den", None),
            ("de;q=much", german),
            ("x-marked", None),
        ] {
            assert_eq!(preferred(header), wanted, "{header}");
        }
    }
}
