//! "What did I just see?": a form that works without scripts, and the answer in words first, then insect by
//! insect with what tells for and against.

pub(crate) mod handlers;

use maud::{Markup, html};

use super::given::{Given, carried, dated, tied, typed, wrong, wrong_elsewhere};
use super::table::percent;
use super::words::{plainly, source as where_from};
use super::{layout, report};
use crate::app::WatershedView;
use crate::app::called::scientific;
use crate::app::document::{SeenDocument, SeenReasonDocument, SeenTaxonDocument};
use crate::domain::{Colour, Reach, WingsHeld};
use crate::say;
use crate::words::Language;

/// Fields that tell what is wrong with them.
const FIELDS: [&str; 7] = ["length_mm", "tails", "wings", "body", "wing_colour", "date", "time"];
/// Rows shown; the others are in the interface for programs.
const ROWS: usize = 6;
/// Odds from which an insect is named in the words.
const NAMED_FROM: f64 = 0.1;

/// The reaches to choose from.
fn choose(language: Language, view: &WatershedView) -> Markup {
    let slug = &view.watershed.slug;
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (say!(language, "seen-title")) }
        @if view.reaches.is_empty() { p.banner { (say!(language, "seen-no-reaches")) } } @else { p { (say!(language, "seen-which-reach")) } }
        ul.cards {
            @for reach in &view.reaches { li { a href=(format!("/w/{slug}/reaches/{}/seen", reach.slug)) { (reach.name) } } }
        }
    };
    framed(language, &format!("{} {}", say!(language, "seen-title"), view.watershed.name), &body)
}

fn framed(language: Language, title: &str, body: &Markup) -> Markup {
    let extras = layout::Extras { style: Some(report::style_path()), ..layout::Extras::default() };
    let about = say!(language, "seen-about");
    layout::page_with(language, &say!(language, "layout-title", what = title), &about, body, &extras)
}

/// The form for `reach`, with `answer` where what was given can be read.
fn page(
    language: Language,
    view: &WatershedView,
    reach: &Reach,
    given: &Given,
    answer: Option<&SeenDocument>,
) -> Markup {
    let slug = &view.watershed.slug;
    let path = format!("/w/{slug}/reaches/{}", reach.slug);
    let body = html! {
        (layout::trail(language, &[
            (&view.watershed.name, format!("/w/{slug}")), (&reach.name, path.clone()),
        ]))
        h1 { (say!(language, "seen-title")) }
        p { (say!(language, "seen-how", reach = &reach.name)) }
        form.asked method="get" action=(format!("{path}/seen")) {
            div.pair {
                (typed(given, "length_mm", &say!(language, "seen-length"), "decimal", given.value("length_mm")))
                (chosen(language, given, "tails", &say!(language, "seen-tails-label"), "tails", &["0", "2", "3"]))
            }
            div.pair {
                (chosen(language, given, "wings", &say!(language, "seen-wings-label"), "rest", &WingsHeld::WORDS.map(|(_, word)| word)))
                (chosen(language, given, "body", &say!(language, "seen-body-label"), "colour", &Colour::WORDS.map(|(_, word)| word)))
                (chosen(language, given, "wing_colour", &say!(language, "seen-wing-label"), "colour", &Colour::WORDS.map(|(_, word)| word)))
            }
            div.pair {
                (dated(given, "date", &say!(language, "seen-date"), &given.now.format("%Y-%m-%d").to_string()))
                (dated(given, "time", &say!(language, "seen-time"), &given.now.format("%H:%M").to_string()))
            }
            (wrong_elsewhere(given, &FIELDS))
            (carried(given))
            button.send type="submit" { (say!(language, "seen-send")) }
        }
        @if let Some(answer) = answer { (answered(language, answer, given, &path)) }
        p.links {
            a href=(format!("/report?w={slug}&r={}", reach.slug)) { (say!(language, "seen-report")) }
            a href=(path) { (say!(language, "seen-back", reach = &reach.name)) }
        }
    };
    framed(language, &format!("{} {}, {}", say!(language, "seen-title"), reach.name, view.watershed.name), &body)
}

/// A choice among `options`, each in the words of `family`.
fn chosen(language: Language, given: &Given, name: &str, label: &str, family: &str, options: &[&str]) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            select id=(name) name=(name) aria-invalid=[given.fault(name).map(|_| "true")]
                aria-describedby=[tied(given, name)] {
                option value="" { (say!(language, "seen-not-looked")) }
                @for value in options {
                    option value=(value) selected[given.is(name, value)] { (language.word(family, value)) }
                }
            }
            (wrong(given, name))
        }
    }
}

/// The answer: words, what to look at, one by one.
fn answered(language: Language, answer: &SeenDocument, given: &Given, path: &str) -> Markup {
    let zone = given.now.timezone();
    let in_100 = |odds: f64| say!(language, "in-100", chance = percent(language, odds));
    let likely: Vec<&SeenTaxonDocument> = answer.taxa.iter().filter(|one| one.odds >= NAMED_FROM).collect();
    html! {
        section aria-labelledby="answer" {
            h2 id="answer" { (say!(language, "seen-answer")) }
            p.lead {
                @if likely.is_empty() || answer.none_of_these > likely[0].odds {
                    (say!(language, "seen-none", chance = percent(language, answer.none_of_these)))
                    @for one in &likely { "; " (called(language, one)) ", " (in_100(one.odds)) }
                } @else {
                    @for (k, one) in likely.iter().enumerate() {
                        @if k > 0 { "; " }
                        (called(language, one)) ", " (in_100(one.odds))
                    }
                    "; " (say!(language, "seen-or-none", chance = percent(language, answer.none_of_these)))
                }
                "."
            }
            p.quiet { (say!(language, "seen-when", at = language.date_and_time(answer.at.with_timezone(&zone).naive_local()))) }
            h3 { (say!(language, "seen-look")) }
            ul { @for hint in &answer.look_next { li { (hint) } } }
            h3 { (say!(language, "seen-one-by-one")) }
            ol.ranked {
                @for one in answer.taxa.iter().take(ROWS) {
                    li {
                        a href=(taxon_path(path, &one.taxon)) { (called(language, one)) } ": "
                        strong { (in_100(one.odds)) }
                        (reasons(&say!(language, "seen-for"), &one.speaks_for))
                        (reasons(&say!(language, "seen-against"), &one.speaks_against))
                        (sources(language, one))
                    }
                }
                li {
                    (say!(language, "seen-none-title")) " " strong { (in_100(answer.none_of_these)) }
                    p { (say!(language, "seen-none-words")) }
                }
            }
            p.source { (say!(language, "seen-weighed")) }
        }
    }
}

/// `/w/ostrey/reaches/mill-meadow` and a slug: the page of the insect.
fn taxon_path(reach_path: &str, taxon: &str) -> String {
    let water = reach_path.split("/reaches/").next().unwrap_or_default();
    format!("{water}/taxa/{taxon}")
}

/// The usual name with the scientific one.
fn called(language: Language, one: &SeenTaxonDocument) -> Markup {
    let scientific = scientific(language, &one.scientific_name);
    html! {
        @match &one.name {
            Some(name) => { (name) " (" i { (scientific) } ")" },
            None => i { (scientific) },
        }
    }
}

fn reasons(words: &str, reasons: &[SeenReasonDocument]) -> Markup {
    let told: Vec<&str> = reasons.iter().map(|reason| reason.because.as_str()).collect();
    html! { @if !told.is_empty() { p { (words) " " (told.join("; ")) "." } } }
}

/// How much each reason weighs and where it comes from, shut.
fn sources(language: Language, one: &SeenTaxonDocument) -> Markup {
    html! {
        details {
            summary { (say!(language, "seen-sources")) }
            ul {
                @for reason in one.speaks_for.iter().chain(&one.speaks_against) {
                    li {
                        (reason.because)
                        @if let Some(factor) = reason.factor { ": \u{d7} " (factor_in_words(language, factor)) }
                        @if !reason.provenance.is_empty() { " " span.source { "(" (where_from(language, &reason.provenance, plainly)) ")" } }
                    }
                }
            }
        }
    }
}

/// Two figures are as fine as anyone knows it.
fn factor_in_words(language: Language, factor: f64) -> String {
    match factor {
        f if f >= 10.0 => language.number(f, 0),
        f if f >= 1.0 => language.number(f, 1),
        f => language.number(f, 2),
    }
}
