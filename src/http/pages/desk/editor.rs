//! Editing what the interface for programs edits: each kind of thing as a list of fields, which become a document or a
//! merge patch of it, read and judged as there.

use maud::{Markup, html};
use serde::Serialize;
use serde_json::{Map, Value};

use super::form::{Fields, Form, number};
use crate::app::AppError;
use crate::http::respond::{Tag, entity_tag};

/// How a field is typed and read.
#[derive(Debug, Clone, Copy)]
pub(super) enum Typed {
    /// A line of text.
    Line,
    /// Some lines of text.
    Lines,
    /// A number.
    Number,
    /// One of some words, or none.
    Word(&'static [&'static str]),
    /// Short names with commas between.
    Names,
    /// Generations, one a line: `median day of the year; standard deviation; where from`.
    Broods,
}

/// A field of a thing: its name in the document, how it is typed, its label and a hint.
pub(super) type Field = (&'static str, Typed, &'static str, &'static str);

/// Short name, unlike the others fixed once it is there.
const SLUG: Field =
    ("slug", Typed::Line, "Short name", "Letters, digits, - and _; it stands in addresses and never changes.");

/// Fields of a water.
pub(super) const WATER: &[Field] = &[
    ("name", Typed::Line, "Name", ""),
    ("time_zone", Typed::Line, "Time zone", "By its IANA name, such as Europe/London: when days begin and end."),
    (
        "units",
        Typed::Word(&["c", "f"]),
        "Temperatures on its pages",
        "c for Celsius, f for Fahrenheit; c where not said. Every reader can choose the other.",
    ),
];

/// Fields of a reach.
pub(super) const REACH: &[Field] = &[
    SLUG,
    ("name", Typed::Line, "Name", ""),
    ("latitude", Typed::Number, "Degrees north", "Of the stretch, never of anybody's spot."),
    ("longitude", Typed::Number, "Degrees east", ""),
    ("elevation_m", Typed::Number, "Metres above the sea", ""),
    ("water_type", Typed::Word(&["riffle", "run", "pool", "slow-margin", "still-water"]), "Kind of water", ""),
    ("gauges", Typed::Names, "Gauges", "Short names with commas between, the preferred first."),
];

/// Fields of a gauge.
pub(super) const GAUGE: &[Field] = &[
    SLUG,
    ("name", Typed::Line, "Name", ""),
    ("latitude", Typed::Number, "Degrees north", ""),
    ("longitude", Typed::Number, "Degrees east", ""),
    ("source", Typed::Line, "Source", "Words, or a service and station that are asked, such as usgs:USGS-01420500."),
    ("licence", Typed::Line, "Licence of its readings", ""),
    ("citation", Typed::Lines, "How to cite them", ""),
];

/// Fields of a taxon.
pub(super) const TAXON: &[Field] = &[
    SLUG,
    ("scientific_name", Typed::Line, "Scientific name", "Of the lowest rank determined, or of the group."),
    ("rank", Typed::Word(&["species", "genus", "family", "order", "group"]), "Rank", ""),
    ("order", Typed::Line, "Order", ""),
    ("window_early", Typed::Line, "First usual day of the season", "As 05-10 for 10 May."),
    ("window_late", Typed::Line, "Last usual day of the season", "As 06-15."),
    (
        "window_reference",
        Typed::Word(&["mid-latitudes-41-45-n", "northern-europe-50-54-n", "southeastern-plain-30-34-n"]),
        "Waters that the season speaks of",
        "By region and degrees north. Empty where it speaks of your own: its days are then not moved.",
    ),
    ("base_temp_c", Typed::Number, "Lower developmental threshold, \u{b0}C", ""),
    ("base_temp_sd", Typed::Number, "Its standard deviation, \u{b0}C", ""),
    ("peak_hour", Typed::Number, "Hour of peak emergence", "Local solar time, 0 to 24."),
    ("emergence_mode", Typed::Word(&["surface", "bottom", "crawl-out", "pupal-ascent"]), "How it leaves the water", ""),
    ("oviposition_mode", Typed::Line, "How eggs are laid", ""),
    ("nymph_habit", Typed::Line, "Habit of the nymph", ""),
    ("body_mm_min", Typed::Number, "Smallest body length without tails, mm", ""),
    ("body_mm_max", Typed::Number, "Largest body length, mm", ""),
    ("hook_large", Typed::Number, "Larger hook (smaller number)", ""),
    ("hook_small", Typed::Number, "Smaller hook (larger number)", ""),
    (
        "broods",
        Typed::Broods,
        "Generations of a year",
        "One a line: median day of the year; standard deviation in days; where that comes from.",
    ),
    ("note", Typed::Lines, "Note", ""),
];

/// `fields` drawn with what stands in `document`; null draws empty ones. A thing that is there keeps its short name.
pub(super) fn drawn(fields: &[Field], form: Fields<'_>, document: &Value) -> Markup {
    html! {
        @for (name, typed, label, hint) in fields.iter().filter(|field| document.is_null() || field.0 != SLUG.0) {
            @let text = text_of(&document[*name], *typed);
            @match typed {
                Typed::Line | Typed::Names => (form.line("text", name, label, &text, hint)),
                Typed::Number => (form.line("decimal", name, label, &text, hint)),
                Typed::Lines | Typed::Broods => (form.lines(name, label, &text, hint)),
                Typed::Word(words) => (form.choice(name, label, &text, hint, &choices(words))),
            }
        }
    }
}

/// Names of `fields`.
pub(super) fn names(fields: &[Field]) -> Vec<&'static str> {
    fields.iter().map(|field| field.0).collect()
}

fn choices(words: &[&str]) -> Vec<(String, String)> {
    let unsaid = (String::new(), "Not said".to_owned());
    std::iter::once(unsaid).chain(words.iter().map(|word| ((*word).to_owned(), word.replace('-', " ")))).collect()
}

fn text_of(value: &Value, typed: Typed) -> String {
    match (value, typed) {
        (Value::Null, _) => String::new(),
        (Value::String(text), _) => text.clone(),
        (Value::Array(broods), Typed::Broods) => {
            let line = |one: &Value| {
                let provenance = one["provenance"].as_str().unwrap_or_default();
                format!("{}; {}; {provenance}", one["median_day_of_year"], one["sd_days"])
            };
            broods.iter().map(line).collect::<Vec<_>>().join("\n")
        }
        (Value::Array(names), _) => names.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(", "),
        (other, _) => other.to_string(),
    }
}

/// What the form says as members of a document; with `fixed`, as a change of one whose short name stays.
pub(super) fn document_of(fields: &[Field], form: &Form, fixed: bool) -> Value {
    let mut members = Map::new();
    for (name, typed, _, _) in fields.iter().filter(|field| !(fixed && field.0 == SLUG.0)) {
        let text = form.text(name);
        let value = match typed {
            Typed::Number => number(text),
            Typed::Names => text.split([',', '\n']).map(str::trim).filter(|name| !name.is_empty()).collect(),
            Typed::Broods => broods(text),
            Typed::Line | Typed::Lines | Typed::Word(_) if text.is_empty() => Value::Null,
            Typed::Line | Typed::Lines | Typed::Word(_) => Value::from(text),
        };
        members.insert((*name).to_owned(), value);
    }
    members.into()
}

/// Generations; without any the document says nothing of them, and one is placed by the season.
fn broods(text: &str) -> Value {
    let line = |line: &str| {
        let mut parts = line.splitn(3, ';').map(str::trim);
        let mut next = || parts.next().unwrap_or_default();
        let (median, sd, from) = (number(next()), number(next()), next());
        let provenance = if from.is_empty() { Value::Null } else { Value::from(from) };
        serde_json::json!({ "median_day_of_year": median, "sd_days": sd, "provenance": provenance })
    };
    let all: Vec<Value> = text.lines().map(str::trim).filter(|one| !one.is_empty()).map(line).collect();
    if all.is_empty() { Value::Null } else { all.into() }
}

/// The version of a document that a form was made for.
pub(super) fn version_of(document: &impl Serialize) -> Result<String, AppError> {
    let bytes = serde_json::to_vec(document).map_err(|error| AppError::Internal(error.to_string()))?;
    Ok(entity_tag(&bytes, Tag::Strong).trim_matches('"').to_owned())
}

/// Holds a stored document to the version that a form was made for, as If-Match does.
pub(super) fn held<D: Serialize>(version: String) -> impl FnOnce(&D) -> Result<(), AppError> {
    move |stored| if version_of(stored)? == version { Ok(()) } else { Err(AppError::PreconditionFailed) }
}
