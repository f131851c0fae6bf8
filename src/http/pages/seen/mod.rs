//! "What did I just see?": a form that works without scripts, and the answer in words first, then insect by
//! insect with what tells for and against.

pub(crate) mod handlers;

use chrono::DateTime;
use chrono_tz::Tz;
use maud::{Markup, html};

use super::table::percent;
use super::{layout, report};
use crate::app::WatershedView;
use crate::app::document::{Fault, SeenDocument, SeenReasonDocument, SeenTaxonDocument};
use crate::domain::{Colour, Reach, WingsHeld};

/// Rows shown; the others are in the interface for programs.
const ROWS: usize = 6;
/// Odds from which an insect is named in the words.
const NAMED_FROM: f64 = 0.1;

/// What was sent, as it was sent.
#[derive(Debug)]
struct Given {
    /// Fields with something in them.
    pairs: Vec<(String, String)>,
    /// Now at the water.
    now: DateTime<Tz>,
    /// What is wrong with it.
    faults: Vec<Fault>,
}

impl Given {
    fn value(&self, name: &str) -> Option<&str> {
        self.pairs.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    fn is(&self, name: &str, value: &str) -> bool {
        self.value(name).is_some_and(|given| given == value)
    }

    fn fault(&self, name: &str) -> Option<&str> {
        let here = |fault: &&Fault| fault.parameter.as_deref() == Some(name);
        self.faults.iter().find(here).map(|fault| fault.detail.as_str())
    }
}

/// The reaches to choose from.
fn choose(view: &WatershedView) -> Markup {
    let slug = &view.watershed.slug;
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        h1 { "What did I just see?" }
        @if view.reaches.is_empty() { p.banner { "This water has no reaches yet." } } @else { p { "On which reach?" } }
        ul.cards {
            @for reach in &view.reaches { li { a href=(format!("/w/{slug}/reaches/{}/seen", reach.slug)) { (reach.name) } } }
        }
    };
    framed(&format!("What did I just see? {}", view.watershed.name), &body)
}

fn framed(title: &str, body: &Markup) -> Markup {
    let extras = layout::Extras { style: Some(report::style_path()), ..layout::Extras::default() };
    let about = "Tell what you saw of an insect and see what it may have been.";
    layout::page_with(&format!("{title} \u{b7} Subimago"), about, body, &extras)
}

/// The form for `reach`, with `answer` where what was given can be read.
fn page(view: &WatershedView, reach: &Reach, given: &Given, answer: Option<&SeenDocument>) -> Markup {
    let slug = &view.watershed.slug;
    let path = format!("/w/{slug}/reaches/{}", reach.slug);
    let body = html! {
        (layout::trail(&[
            ("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}")), (&reach.name, path.clone()),
        ]))
        h1 { "What did I just see?" }
        p {
            "At " (reach.name) ". Tell what you looked at and leave the rest; every answer helps. "
            "Put the insect back: some are protected."
        }
        form.asked method="get" action=(format!("{path}/seen")) {
            div.pair {
                (typed(given, "length_mm", "Body length without tails, mm", "decimal", given.value("length_mm")))
                (chosen(given, "tails", "Tails", &[("0", "none"), ("2", "two"), ("3", "three")]))
            }
            div.pair {
                (chosen(given, "wings", "Wings at rest", &WingsHeld::WORDS.map(|(held, word)| (word, match held {
                    WingsHeld::Upright => "upright, like a sail",
                    WingsHeld::Roof => "like a roof along the body",
                    WingsHeld::Flat => "flat on the back, or rolled round it",
                    WingsHeld::Spread => "spread on the water",
                }))))
                (chosen(given, "body", "Colour of the body", &Colour::WORDS.map(|(_, word)| (word, word))))
                (chosen(given, "wing_colour", "Colour of the wings", &Colour::WORDS.map(|(_, word)| (word, word))))
            }
            div.pair {
                (dated(given, "date", "Date", &given.now.format("%Y-%m-%d").to_string()))
                (dated(given, "time", "Time at the water", &given.now.format("%H:%M").to_string()))
            }
            @for fault in given.faults.iter().filter(|fault| !fault.parameter.as_deref().is_some_and(is_field)) {
                p.error { (fault.parameter.as_deref().unwrap_or_default()) " " (fault.detail) }
            }
            @if let Some(units) = given.value("units") { input type="hidden" name="units" value=(units); }
            button.send type="submit" { "What was it?" }
        }
        @if let Some(answer) = answer { (answered(answer, given, &path)) }
        p.links {
            a href=(format!("/report?w={slug}&r={}", reach.slug)) { "Report this visit" }
            a href=(path) { "Back to " (reach.name) }
        }
    };
    framed(&format!("What did I just see? {}, {}", reach.name, view.watershed.name), &body)
}

fn is_field(name: &str) -> bool {
    ["length_mm", "tails", "wings", "body", "wing_colour", "date", "time"].contains(&name)
}

/// What is wrong with field `name`, at it.
fn wrong(given: &Given, name: &str) -> Markup {
    html! { @if let Some(detail) = given.fault(name) { p.error id=(format!("{name}-error")) { (detail) } } }
}

/// The attribute that ties a field to its fault.
fn tied(given: &Given, name: &str) -> Option<String> {
    given.fault(name).map(|_| format!("{name}-error"))
}

fn typed(given: &Given, name: &str, label: &str, mode: &str, value: Option<&str>) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            input id=(name) name=(name) type="text" inputmode=(mode) maxlength="6" autocomplete="off" value=[value]
                aria-invalid=[given.fault(name).map(|_| "true")] aria-describedby=[tied(given, name)];
            (wrong(given, name))
        }
    }
}

fn dated(given: &Given, name: &str, label: &str, default: &str) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            input id=(name) name=(name) type=(name) value=(given.value(name).unwrap_or(default))
                aria-invalid=[given.fault(name).map(|_| "true")] aria-describedby=[tied(given, name)];
            (wrong(given, name))
        }
    }
}

fn chosen(given: &Given, name: &str, label: &str, options: &[(&str, &str)]) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            select id=(name) name=(name) aria-invalid=[given.fault(name).map(|_| "true")]
                aria-describedby=[tied(given, name)] {
                option value="" { "not looked" }
                @for (value, words) in options {
                    option value=(value) selected[given.is(name, value)] { (words) }
                }
            }
            (wrong(given, name))
        }
    }
}

/// The answer: words, what to look at, one by one.
fn answered(answer: &SeenDocument, given: &Given, path: &str) -> Markup {
    let zone = given.now.timezone();
    let likely: Vec<&SeenTaxonDocument> = answer.taxa.iter().filter(|one| one.odds >= NAMED_FROM).collect();
    html! {
        section aria-labelledby="answer" {
            h2 id="answer" { "It may have been" }
            p.lead {
                @if likely.is_empty() || answer.none_of_these > likely[0].odds {
                    "Probably none of the insects on this water's list (" (percent(answer.none_of_these)) " in 100)"
                    @for one in &likely { "; " (called(one)) ", " (percent(one.odds)) " in 100" }
                } @else {
                    @for (k, one) in likely.iter().enumerate() {
                        @if k > 0 { "; " }
                        (called(one)) ", " (percent(one.odds)) " in 100"
                    }
                    "; none of these, " (percent(answer.none_of_these))
                }
                "."
            }
            p.quiet { "On " (answer.at.with_timezone(&zone).format("%-d %B %Y, %H:%M")) ", local time. "
                "Odds begin with the forecast of that day and hour; each thing you saw multiplies them." }
            h3 { "Look next" }
            ul { @for hint in &answer.look_next { li { (hint) } } }
            h3 { "One by one" }
            ol.ranked {
                @for one in answer.taxa.iter().take(ROWS) {
                    li {
                        a href=(taxon_path(path, &one.taxon)) { (called(one)) } ": "
                        strong { (percent(one.odds)) " in 100" }
                        (reasons("For it: ", &one.speaks_for))
                        (reasons("Against it: ", &one.speaks_against))
                        (sources(one))
                    }
                }
                li {
                    "None of these: " strong { (percent(answer.none_of_these)) " in 100" }
                    p { "Whatever you saw fits an insect that nobody has listed; but the list holds what is usual on this water." }
                }
            }
            (how_weighed())
        }
    }
}

/// What stands behind the weights.
fn how_weighed() -> Markup {
    html! {
        p.source {
            "A factor of 3 makes an insect three times as likely as before, one of 0.1 a tenth as likely. How far eyes "
            "err about length, colour and tails: common practice, no source."
        }
    }
}

/// `/w/ostrey/reaches/mill-meadow` and a slug: the page of the insect.
fn taxon_path(reach_path: &str, taxon: &str) -> String {
    let water = reach_path.split("/reaches/").next().unwrap_or_default();
    format!("{water}/taxa/{taxon}")
}

/// The usual name with the scientific one.
fn called(one: &SeenTaxonDocument) -> Markup {
    html! {
        @match &one.name {
            Some(name) => { (name) " (" i { (one.scientific_name) } ")" },
            None => i { (one.scientific_name) },
        }
    }
}

fn reasons(words: &str, reasons: &[SeenReasonDocument]) -> Markup {
    let told: Vec<&str> = reasons.iter().map(|reason| reason.because.as_str()).collect();
    html! { @if !told.is_empty() { p { (words) (told.join("; ")) "." } } }
}

/// How much each reason weighs and where it comes from, shut.
fn sources(one: &SeenTaxonDocument) -> Markup {
    html! {
        details {
            summary { "Weights and sources" }
            ul {
                @for reason in one.speaks_for.iter().chain(&one.speaks_against) {
                    li {
                        (reason.because)
                        @if let Some(factor) = reason.factor { ": \u{d7} " (factor_in_words(factor)) }
                        @if !reason.provenance.is_empty() { " " span.source { "(" (reason.provenance) ")" } }
                    }
                }
            }
        }
    }
}

/// Two figures are as fine as anyone knows it.
fn factor_in_words(factor: f64) -> String {
    match factor {
        f if f >= 10.0 => format!("{f:.0}"),
        f if f >= 1.0 => format!("{f:.1}"),
        f => format!("{f:.2}"),
    }
}
