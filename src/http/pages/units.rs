//! Degrees Celsius or Fahrenheit and the language, as the reader asks: the one place where pages write temperatures
//! and lengths. Documents for programs keep Celsius and millimetres; hooks have their own numbers.

use axum::extract::FromRequestParts;
use axum::http::header::ACCEPT_LANGUAGE;
use axum::http::request::Parts;
use axum::http::{HeaderMap, Uri};
use maud::{Markup, PreEscaped, html};

use crate::app::document::{Faults, Rule};
use crate::domain::Slug;
pub(crate) use crate::domain::Units;
use crate::http::problem::{Kind, Problem};
use crate::http::state::AppState;
use crate::words::{Language, preferred};
use crate::{say, tell};

/// Said of any other word.
pub(crate) const UNITS_RULE: Rule = Rule::Either("c", "f");
/// The same of languages.
pub(crate) const LANGUAGE_RULE: Rule = Rule::Either("de", "en");
/// The desk is in English.
const DESK: &str = "/desk";
/// Embeds stand on sites that have a language of their own: there the address alone decides.
const BY_ADDRESS_ALONE: &str = "/embed/";
/// Where [`Shown::finish`] puts the choice of units and language.
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
pub(crate) fn lengths(language: Language, from: f64, to: f64) -> String {
    say!(language, "units-lengths", from = language.plain_number(from), to = language.plain_number(to))
}

/// How a page is to be shown, and at which address.
#[derive(Debug, Clone)]
pub(crate) struct Shown {
    /// The scale.
    pub(crate) units: Units,
    /// The scale of whoever does not choose.
    unchosen: Units,
    /// The language.
    pub(crate) language: Language,
    /// True where the address names the language, so that links carry it on.
    language_chosen: bool,
    /// True where another reader may get another language under the same address.
    pub(crate) varies: bool,
    /// True of pages that are in English alone, which offer no other language.
    only_english: bool,
    /// Path and query without these choices.
    address: String,
}

impl FromRequestParts<AppState> for Shown {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let water = water_of(&parts.uri).and_then(|slug| state.service.snapshot().watershed(&slug));
        let unchosen = water.map_or_else(Units::default, |view| view.watershed.units);
        Self::of(&parts.uri, &parts.headers, unchosen)
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
    fn of(uri: &Uri, headers: &HeaderMap, unchosen: Units) -> Result<Self, Problem> {
        let (mut units, mut language) = (None, None);
        let refused = |name: &'static str, rule: Rule| {
            let mut faults = Faults::default();
            faults.add_broken(name, rule);
            Problem::with_faults(Kind::BadQuery, faults)
        };
        for pair in uri.query().unwrap_or_default().split('&').filter(|pair| !pair.is_empty()) {
            match pair.split_once('=') {
                Some(("units", word)) => {
                    let known = Units::of_word(word).filter(|_| units.is_none());
                    units = Some(known.ok_or_else(|| refused("units", UNITS_RULE))?);
                }
                Some(("lang", tag)) => {
                    let known = Language::parse(tag).filter(|_| language.is_none());
                    language = Some(known.ok_or_else(|| refused("lang", LANGUAGE_RULE))?);
                }
                _ => {}
            }
        }
        let varies = !uri.path().starts_with(BY_ADDRESS_ALONE);
        let asked = || by_browser(headers).filter(|_| varies);
        Ok(Self {
            units: units.unwrap_or(unchosen),
            unchosen,
            language: language.or_else(asked).unwrap_or_default(),
            language_chosen: language.is_some(),
            varies,
            only_english: false,
            address: without_choices(uri),
        })
    }

    /// For the page that stands in place of the one asked for: choices that cannot be read are none.
    pub(crate) fn of_refused(uri: &Uri, headers: &HeaderMap) -> Self {
        let only_english = uri.path().starts_with(DESK);
        let varies = !only_english && !uri.path().starts_with(BY_ADDRESS_ALONE);
        let chosen = |name: &str| {
            let mut pairs = uri.query().unwrap_or_default().split('&').filter_map(|pair| pair.split_once('='));
            pairs.find(|(known, _)| *known == name).map(|(_, word)| word)
        };
        let language = chosen("lang").and_then(Language::parse);
        Self {
            units: chosen("units").and_then(Units::of_word).unwrap_or_default(),
            unchosen: Units::default(),
            language: language.or_else(|| by_browser(headers).filter(|_| varies)).unwrap_or_default(),
            language_chosen: language.is_some(),
            varies,
            only_english,
            address: without_choices(uri),
        }
    }

    /// The language of the page.
    pub(crate) fn written_in(&self) -> Language {
        if self.only_english { Language::English } else { self.language }
    }

    /// `page` with the choice of units and language in its place, and every link to a page of ours carrying it on.
    pub(crate) fn finish(&self, page: &str) -> String {
        let page = page.replacen(PLACE, &self.choice().into_string(), 1);
        if self.units == self.unchosen && !self.language_chosen {
            return page;
        }
        // The markup is our own: text of others cannot hold the quotes of an attribute.
        let mut told = String::with_capacity(page.len() + 1024);
        let mut parts = page.split("href=\"/");
        told.push_str(parts.next().unwrap_or_default());
        for part in parts {
            let (path, after) = part.split_once('"').unwrap_or((part, ""));
            told.push_str("href=\"");
            told.push_str(&self.carried(&format!("/{path}")));
            told.push('"');
            told.push_str(after);
        }
        told
    }

    /// The two scales and the languages, of which the shown ones are no links.
    fn choice(&self) -> Markup {
        // Each link names its scale: it must not be given the other one by `finish`.
        let scale = |units: Units| {
            let symbol = units.symbol();
            if self.units == units {
                html! { strong { (symbol) } }
            } else {
                html! { a href=(with(&self.address, "units", units.as_str())) { (symbol) } }
            }
        };
        let (celsius, fahrenheit) = (scale(Units::Celsius), scale(Units::Fahrenheit));
        html! {
            p.units { (tell!(self.written_in(), "units-choice", celsius = celsius, fahrenheit = fahrenheit)) }
            @if !self.only_english { p.languages {
                @for (index, language) in Language::ALL.into_iter().enumerate() {
                    @let tag = language.tag();
                    @if index > 0 { " / " }
                    @if language == self.language { strong lang=(tag) { (language.own_name()) } }
                    @else { a href=(with(&self.address, "lang", tag)) lang=(tag) hreflang=(tag) { (language.own_name()) } }
                }
            } }
        }
    }

    /// An address as it stands in markup, with the choices carried on where it leads to a page of ours.
    fn carried(&self, address: &str) -> String {
        if NO_PAGES.iter().any(|head| address.starts_with(head)) {
            return address.to_owned();
        }
        let (path, place) = address.split_once('#').map_or((address, None), |(path, place)| (path, Some(place)));
        let mut path = path.to_owned();
        let choices = [
            ("units", (self.units != self.unchosen).then_some(self.units.as_str())),
            ("lang", self.language_chosen.then(|| self.language.tag())),
        ];
        for (name, word) in choices {
            let named = [format!("?{name}="), format!("&amp;{name}=")].iter().any(|mark| path.contains(mark));
            if let Some(word) = word.filter(|_| !named) {
                let join = if path.contains('?') { "&amp;" } else { "?" };
                path = format!("{path}{join}{name}={word}");
            }
        }
        path + &place.map(|place| format!("#{place}")).unwrap_or_default()
    }
}

/// The language that a browser asks for.
fn by_browser(headers: &HeaderMap) -> Option<Language> {
    preferred(headers.get(ACCEPT_LANGUAGE)?.to_str().ok()?)
}

/// Path and query without the choices of units and language; two slashes at the beginning would name another host.
fn without_choices(uri: &Uri) -> String {
    let path = format!("/{}", uri.path().trim_start_matches(['/', '\\']));
    let is_choice = |pair: &&str| ["units", "lang"].contains(&pair.split_once('=').map_or("", |(name, _)| name));
    let pairs = uri.query().unwrap_or_default().split('&');
    let others: Vec<&str> = pairs.filter(|pair| !pair.is_empty() && !is_choice(pair)).collect();
    if others.is_empty() { path } else { format!("{path}?{}", others.join("&")) }
}

/// `address` with the choice `word` of `name`.
fn with(address: &str, name: &str, word: &str) -> String {
    format!("{address}{}{name}={word}", if address.contains('?') { '&' } else { '?' })
}

/// The place in a page for the choice of units and language.
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
        Shown::of(&Uri::from_static(uri), &HeaderMap::new(), Units::Celsius).expect("a choice")
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
        for wrong in ["/w/x?units=k", "/w/x?units=f&units=f", "/w/x?lang=fr", "/w/x?lang=de&lang=de"] {
            assert!(Shown::of(&Uri::from_static(wrong), &HeaderMap::new(), Units::Celsius).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_water_of_its_own_scale_needs_no_choice_and_can_be_overruled() {
        let of = |uri| Shown::of(&Uri::from_static(uri), &HeaderMap::new(), Units::Fahrenheit).expect("a choice");
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

    fn read_by(uri: &'static str, asked: &str) -> Shown {
        let headers = HeaderMap::from_iter([(ACCEPT_LANGUAGE, asked.parse().expect("a header"))]);
        Shown::of(&Uri::from_static(uri), &headers, Units::Celsius).expect("a choice")
    }

    #[test]
    fn the_address_beats_the_browser_and_only_it_is_carried_on() {
        let page = "<a href=\"/w/x\"><!--units-->";
        let by_browser = read_by("/w/x", "de-AT,en;q=0.5");
        assert!(by_browser.language == Language::German && by_browser.varies);
        assert!(by_browser.finish(page).contains("\"/w/x\""));
        let chosen = read_by("/w/x?lang=en", "de");
        assert_eq!(chosen.language, Language::English);
        let told = chosen.finish(page);
        for link in ["\"/w/x?lang=en\"", "\"/w/x?units=f&amp;lang=en\"", "\"/w/x?lang=de\""] {
            assert!(told.contains(link), "{link} in {told}");
        }
        let both = read_by("/w/x?lang=de&units=f", "en").finish(page);
        for link in ["\"/w/x?units=f&amp;lang=de\"", "\"/w/x?units=c&amp;lang=de\"", "\"/w/x?lang=en&amp;units=f\""] {
            assert!(both.contains(link), "{link} in {both}");
        }
        let embed = read_by("/embed/x", "de");
        assert!(embed.language == Language::English && !embed.varies, "the site around it decides");
        assert_eq!(read_by("/embed/x?lang=de", "en").language, Language::German);
        assert_eq!(read_by("/w/x", "fr").language, Language::English);
    }
}
