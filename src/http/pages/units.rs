//! Degrees Celsius or Fahrenheit, as the reader asks: the one place where pages write temperatures and
//! lengths. Documents for programs keep Celsius and millimetres; hooks have their own numbers.

use axum::extract::FromRequestParts;
use axum::http::Uri;
use axum::http::request::Parts;
use maud::{Markup, PreEscaped, html};

use crate::app::document::Faults;
use crate::domain::Slug;
pub(crate) use crate::domain::Units;
use crate::http::problem::{Kind, Problem};
use crate::http::state::AppState;

/// Said of any other word.
const RULE: &str = "must be c or f";
/// Where [`Shown::finish`] puts the choice of units.
const PLACE: &str = "<!--units-->";
/// Addresses that are no pages: nothing is added to links that lead there.
const NO_PAGES: [&str; 8] =
    ["/assets/", "/v1/", "/ogc", "/calendars/", "/feeds/", "/openapi.json", "/reference", "/report-worker.js"];

impl Units {
    /// What stands behind a number.
    pub(crate) fn symbol(self) -> &'static str {
        match self {
            Self::Celsius => "\u{b0}C",
            Self::Fahrenheit => "\u{b0}F",
        }
    }

    /// A temperature in this scale (0 C is 32 F and 100 C is 212 F, by definition).
    fn of_c(self, c: f64) -> f64 {
        match self {
            Self::Celsius => c,
            Self::Fahrenheit => self.of_span_c(c) + 32.0,
        }
    }

    /// A difference of temperatures, or a sum of degree-days, in this scale.
    fn of_span_c(self, c: f64) -> f64 {
        match self {
            Self::Celsius => c,
            Self::Fahrenheit => 1.8 * c,
        }
    }

    /// A temperature as a number alone.
    pub(crate) fn number(self, c: f64, decimals: usize) -> String {
        format!("{:.decimals$}", self.of_c(c))
    }

    /// A temperature with its unit.
    pub(crate) fn temperature(self, c: f64, decimals: usize) -> String {
        format!("{} {}", self.number(c, decimals), self.symbol())
    }

    /// A difference of temperatures with its unit.
    pub(crate) fn difference(self, c: f64, decimals: usize) -> String {
        format!("{:.decimals$} {}", self.of_span_c(c), self.symbol())
    }

    /// Degree-days, to the whole one.
    pub(crate) fn degree_days(self, c: f64) -> String {
        format!("{:.0}", self.of_span_c(c))
    }

    /// A text of ours that tells temperatures in whole or broken degrees Celsius, in this scale to the whole
    /// degree. Not for differences.
    pub(crate) fn words(self, text: &str) -> String {
        const MARK: &str = " \u{b0}C";
        if self == Self::Celsius {
            return text.to_owned();
        }
        let mut told = String::new();
        let mut rest = text;
        while let Some(at) = rest.find(MARK) {
            let (before, after) = rest.split_at(at);
            let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-');
            let number = before.len() - before.chars().rev().take_while(|c| is_number(*c)).count();
            match before[number..].parse::<f64>() {
                Ok(c) => {
                    told.push_str(&before[..number]);
                    told.push_str(&self.temperature(c, 0));
                }
                Err(_) => told.push_str(&rest[..at + MARK.len()]),
            }
            rest = &after[MARK.len()..];
        }
        told + rest
    }
}

/// A range of body lengths in words.
pub(crate) fn lengths(from: f64, to: f64) -> String {
    format!("{from} to {to} mm")
}

/// How a page is to be shown, and at which address.
#[derive(Debug, Clone)]
pub(crate) struct Shown {
    /// The scale.
    pub(crate) units: Units,
    /// The scale of whoever does not choose.
    unchosen: Units,
    /// Path and query without the choice of units.
    address: String,
}

impl FromRequestParts<AppState> for Shown {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let water = water_of(&parts.uri).and_then(|slug| state.service.snapshot().watershed(&slug));
        Self::of(&parts.uri, water.map_or_else(Units::default, |view| view.watershed.units))
    }
}

/// The water that an address speaks of: `/w/{w}`, `/embed/{w}`, `/report?w={w}`.
fn water_of(uri: &Uri) -> Option<Slug> {
    let mut parts = uri.path().trim_start_matches('/').split('/');
    let name = match parts.next() {
        Some("w") => parts.next()?,
        Some("embed") => parts.next()?.trim_end_matches(".svg"),
        Some("report") => uri.query()?.split('&').find_map(|pair| pair.strip_prefix("w="))?,
        _ => return None,
    };
    Slug::new(name).ok()
}

impl Shown {
    fn of(uri: &Uri, unchosen: Units) -> Result<Self, Problem> {
        let mut units = None;
        let mut others = Vec::new();
        for pair in uri.query().unwrap_or_default().split('&').filter(|pair| !pair.is_empty()) {
            match pair.strip_prefix("units=") {
                None => others.push(pair),
                Some(word) => {
                    let known = Units::of_word(word).filter(|_| units.is_none());
                    let refused = || {
                        let mut faults = Faults::default();
                        faults.add_parameter("units", "invalid_value", RULE);
                        Problem::with_faults(Kind::BadQuery, faults)
                    };
                    units = Some(known.ok_or_else(refused)?);
                }
            }
        }
        let query = if others.is_empty() { String::new() } else { format!("?{}", others.join("&")) };
        Ok(Self { units: units.unwrap_or(unchosen), unchosen, address: format!("{}{query}", uri.path()) })
    }

    /// `page` with the choice of units in its place, and every link to a page of ours carrying it on.
    pub(crate) fn finish(&self, page: &str) -> String {
        let page = page.replacen(PLACE, &self.choice().into_string(), 1);
        if self.units == self.unchosen {
            return page;
        }
        // The markup is our own: text of others cannot hold the quotes of an attribute.
        let mut told = String::with_capacity(page.len() + 1024);
        let mut parts = page.split("href=\"/");
        told.push_str(parts.next().unwrap_or_default());
        for part in parts {
            let (path, after) = part.split_once('"').unwrap_or((part, ""));
            told.push_str("href=\"");
            told.push_str(&carried(&format!("/{path}"), self.units));
            told.push('"');
            told.push_str(after);
        }
        told
    }

    /// The two scales, of which the shown one is no link.
    fn choice(&self) -> Markup {
        // Both name their scale: a link must not be given the other one by `finish`.
        let celsius = with_units(&self.address, "c");
        html! {
            p.units {
                "Temperatures in "
                @match self.units {
                    Units::Celsius => { strong { "\u{b0}C" } " or " a href=(with_units(&self.address, "f")) { "\u{b0}F" } }
                    Units::Fahrenheit => { a href=(celsius) { "\u{b0}C" } " or " strong { "\u{b0}F" } }
                }
                "."
            }
        }
    }
}

/// `address` with the choice `word`.
fn with_units(address: &str, word: &str) -> String {
    format!("{address}{}units={word}", if address.contains('?') { '&' } else { '?' })
}

/// An address as it stands in markup, with the chosen scale carried on where it leads to a page of ours.
fn carried(address: &str, units: Units) -> String {
    let chosen = ["?units=", "&amp;units="].iter().any(|mark| address.contains(mark));
    if chosen || NO_PAGES.iter().any(|head| address.starts_with(head)) {
        return address.to_owned();
    }
    let (path, place) = address.split_once('#').map_or((address, None), |(path, place)| (path, Some(place)));
    let join = if path.contains('?') { "&amp;" } else { "?" };
    let place = place.map(|place| format!("#{place}")).unwrap_or_default();
    format!("{path}{join}units={}{place}", units.as_str())
}

/// The place in a page for the choice of units.
pub(crate) fn place() -> PreEscaped<&'static str> {
    PreEscaped(PLACE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_points_of_the_scales_agree() {
        // Freezing and boiling water, and the two scales' meeting point: by definition of the scales.
        for (c, f) in [(0.0, "32"), (100.0, "212"), (-40.0, "-40"), (20.0, "68"), (18.0, "64")] {
            assert_eq!(Units::Fahrenheit.number(c, 0), f);
            assert_eq!(Units::Celsius.number(c, 0), format!("{c:.0}"));
        }
        assert_eq!(Units::Fahrenheit.difference(1.5, 1), "2.7 \u{b0}F", "a difference has no zero point");
        assert_eq!(Units::Fahrenheit.degree_days(100.0), "180");
        assert_eq!(Units::Celsius.temperature(12.25, 1), "12.2 \u{b0}C");
    }

    #[test]
    fn words_of_ours_are_told_in_either_scale() {
        let text = "from 18 \u{b0}C handle with care, from 20.5 \u{b0}C stop, no \u{b0}C here";
        assert_eq!(Units::Celsius.words(text), text);
        let told = Units::Fahrenheit.words(text);
        assert_eq!(told, "from 64 \u{b0}F handle with care, from 69 \u{b0}F stop, no \u{b0}C here");
        assert_eq!(Units::Fahrenheit.words("-2 \u{b0}C"), "28 \u{b0}F");
    }

    fn shown(uri: &'static str) -> Shown {
        Shown::of(&Uri::from_static(uri), Units::Celsius).expect("a choice")
    }

    #[test]
    fn links_to_pages_carry_the_choice_and_no_others() {
        let page = "<a href=\"/w/x\"><a href=\"/report?w=x&amp;r=y\"><a href=\"/about#cautions\"><a href=\"#main\">\
            <link href=\"/assets/style.css?v=1\"><a href=\"/calendars/x.ics\"><a href=\"https://else.test/w/x\"><!--units-->";
        let told = shown("/w/x?units=f&r=1").finish(page);
        for link in [
            "\"/w/x?units=f\"",
            "\"/report?w=x&amp;r=y&amp;units=f\"",
            "\"/about?units=f#cautions\"",
            "\"#main\"",
            "\"/assets/style.css?v=1\"",
            "\"/calendars/x.ics\"",
            "\"https://else.test/w/x\"",
            "\"/w/x?r=1&amp;units=c\"",
        ] {
            assert!(told.contains(link), "{link} in {told}");
        }
        let plain = shown("/w/x").finish(page);
        assert!(plain.contains("\"/w/x\"") && plain.contains("\"/w/x?units=f\""), "{plain}");
        assert!(Shown::of(&Uri::from_static("/w/x?units=k"), Units::Celsius).is_err());
        assert!(Shown::of(&Uri::from_static("/w/x?units=f&units=f"), Units::Celsius).is_err());
    }

    #[test]
    fn a_water_of_its_own_scale_needs_no_choice_and_can_be_overruled() {
        let of = |uri| Shown::of(&Uri::from_static(uri), Units::Fahrenheit).expect("a choice");
        let (plain, chosen) = (of("/w/x"), of("/w/x?units=c"));
        assert_eq!((plain.units, chosen.units), (Units::Fahrenheit, Units::Celsius));
        let page = "<a href=\"/w/x\"><!--units-->";
        assert!(plain.finish(page).starts_with("<a href=\"/w/x\">"));
        assert!(chosen.finish(page).starts_with("<a href=\"/w/x?units=c\">"));
    }

    #[test]
    fn the_water_of_an_address_is_found() {
        let of = |uri| water_of(&Uri::from_static(uri)).map(|slug| slug.to_string());
        for uri in ["/w/x", "/w/x/reaches/r?units=f", "/embed/x", "/embed/x.svg?theme=dark", "/report?r=a&w=x"] {
            assert_eq!(of(uri).as_deref(), Some("x"), "{uri}");
        }
        for uri in ["/", "/about", "/report", "/report?r=x", "/w", "/desk/x"] {
            assert_eq!(of(uri), None, "{uri}");
        }
    }
}
