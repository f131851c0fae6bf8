//! The form by which members file reports from the bank, with or without signal. The page is whole
//! markup; its script keeps what is filed, with an id and a key of its own, until the service has
//! answered for it, and `worker.js` keeps the page itself.

pub(crate) mod handlers;
mod script_words;

use std::sync::Arc;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::called::called;
use super::units::Units;
use super::{layout, words};
use crate::app::WatershedView;
use crate::domain::Slug;
use crate::domain::report::Stage;
use crate::words::Language;
use crate::{say, tell};

/// The script of the form, one file to whoever loads it, served under an address that changes with it.
const SCRIPT: &str = concat!(
    "'use strict';\n(() => {\n",
    include_str!("keep.js"),
    include_str!("refusal.js"),
    include_str!("photo.js"),
    include_str!("near.js"),
    include_str!("read.js"),
    include_str!("send.js"),
    include_str!("answers.js"),
    include_str!("join.js"),
    include_str!("form.js"),
    "})();\n"
);
/// The style of the form beside that of every page.
const STYLE: &str = include_str!("form.css");
/// The worker that opens the page without signal; its address must not change.
const WORKER: &str = include_str!("worker.js");

/// Address of the form's style, for other forms too.
pub(crate) fn style_path() -> String {
    layout::versioned("/assets/report.css", STYLE)
}

/// The stages to choose from.
const STAGES: [Stage; 7] =
    [Stage::Nymph, Stage::Pupa, Stage::Emerger, Stage::Dun, Stage::Adult, Stage::Spinner, Stage::Spent];

/// What the form starts with.
#[derive(Debug, Clone, Copy)]
struct Start<'a> {
    /// The water.
    view: &'a WatershedView,
    /// The reach chosen already.
    reach: Option<&'a Slug>,
    /// The date taken for today where it is not the clock's.
    today: Option<NaiveDate>,
    /// The scale in which the water is read.
    units: Units,
    /// The language of the form.
    language: Language,
}

/// The form for one water.
fn form(start: Start<'_>) -> Markup {
    let (water, language) = (&start.view.watershed, start.language);
    let reaches = &start.view.reaches;
    let chosen = |slug: &Slug| start.reach.map_or(reaches.len() == 1, |wanted| wanted == slug);
    let body = html! {
        (layout::trail(language, &[(&water.name, format!("/w/{}", water.slug))]))
        h1 { (say!(language, "report-title")) }
        p {
            (say!(language, "report-lead"))
            @if let Some(date) = start.today { " " (say!(language, "report-today", date = language.date(date))) }
        }
        (needs_script(language))
        p.banner #asked role="status" hidden { a href="#sent" {} }
        @if reaches.is_empty() {
            p.banner { (say!(language, "report-no-reaches")) }
        } @else {
            form #visit hidden novalidate data-water=(water.slug) data-name=(water.name) data-zone=(water.time_zone.name())
                data-today=[start.today] data-units=[(start.units == Units::Fahrenheit).then_some("f")] {
                div.field {
                    label for="reach" { (say!(language, "table-reach")) }
                    select #reach name="reach" aria-describedby="reach-error" {
                        option value="" { (say!(language, "report-choose-reach")) }
                        @for reach in reaches {
                            option value=(reach.slug) selected[chosen(&reach.slug)] { (reach.name) }
                        }
                    }
                    (error("reach"))
                }
                div #near-box hidden {
                    button #near type="button" aria-describedby="near-hint" { (say!(language, "report-near")) }
                    p.quiet #near-hint { (say!(language, "report-near-hint")) }
                    p #near-words role="status" {}
                }
                (when(language))
                fieldset #seen .tiles role="radiogroup" aria-describedby="seen-error" {
                    legend { (say!(language, "report-seen")) }
                    (tile("seen", "none", &say!(language, "report-nothing"), ""))
                    (tile("seen", "some", &say!(language, "report-some"), ""))
                    (error("seen"))
                }
                div #insects hidden {
                    div #list {}
                    button #add type="button" { (say!(language, "report-add")) }
                    label.check { input #only type="checkbox"; span { (say!(language, "report-only")) } }
                    p.quiet { (say!(language, "report-only-hint")) }
                    (error("only"))
                }
                (more(language, start.units))
                button.send type="submit" { (say!(language, "report-send")) }
                p.quiet {
                    (say!(language, "report-safety")) " "
                    a href="/about#cautions" { (say!(language, "cautions-all")) }
                }
            }
            template #insect { (insect(start)) }
        }
        (on_this_phone(language, start.units))
        @if !reaches.is_empty() { (token(language, &water.name)) }
    };
    framed(language, &say!(language, "report-page-title", water = &water.name), &body)
}

/// The waters to choose from. What waits on the phone is sent from here too.
fn choose(language: Language, units: Units, waters: &[Arc<WatershedView>]) -> Markup {
    let body = html! {
        h1 { (say!(language, "report-title")) }
        @if waters.is_empty() {
            p.banner { (say!(language, "report-no-water")) }
        } @else {
            p { (say!(language, "report-which-water")) }
        }
        ul.cards {
            @for view in waters {
                li { a href=(format!("/report?w={}", view.watershed.slug)) { (view.watershed.name) } }
            }
        }
        (needs_script(language))
        (on_this_phone(language, units))
    };
    framed(language, &say!(language, "report-title"), &body)
}

fn framed(language: Language, title: &str, body: &Markup) -> Markup {
    let extras = layout::Extras {
        style: Some(style_path()),
        script: Some(layout::versioned("/assets/report.js", SCRIPT)),
        news: None,
    };
    let about = say!(language, "report-about");
    layout::page_with(language, &say!(language, "layout-title", what = title), &about, body, &extras)
}

/// Taken away by the script.
fn needs_script(language: Language) -> Markup {
    html! {
        p.banner #needs-script {
            (tell!(
                language,
                "report-needs-script",
                interface = html! { a href="/reference" { (say!(language, "report-interface")) } },
            ))
        }
    }
}

fn when(language: Language) -> Markup {
    html! {
        details #when {
            summary { span #when-words { (say!(language, "report-last-two-hours")) } " " (say!(language, "report-change")) }
            div.field {
                label for="date" { (say!(language, "seen-date")) }
                input #date type="date" aria-describedby="date-error";
                (error("date"))
            }
            div.pair {
                div.field { label for="from" { (say!(language, "report-from")) } input #from type="time" aria-describedby="from-error"; (error("from")) }
                div.field { label for="to" { (say!(language, "report-to")) } input #to type="time" aria-describedby="to-error"; (error("to")) }
            }
            p.quiet { (say!(language, "report-clock")) }
        }
    }
}

fn more(language: Language, units: Units) -> Markup {
    html! {
        details #more {
            summary { (say!(language, "report-more")) }
            div.pair {
                div.field {
                    label for="people" { (say!(language, "report-people")) }
                    input #people type="number" inputmode="numeric" min="1" max="100" value="1" aria-describedby="people-error";
                    (error("people"))
                }
                div.field {
                    label for="water" { (say!(language, "days-water", unit = units.symbol())) }
                    input #water type="text" inputmode="decimal" maxlength="6" autocomplete="off" aria-describedby="water-error";
                    (error("water"))
                }
            }
            div.field {
                label for="photo" { (say!(language, "report-photo")) }
                input #photo type="file" accept="image/*" aria-describedby="photo-hint photo-error";
                p.quiet #photo-hint { (say!(language, "report-photo-hint")) }
                p #photo-words role="status" {}
                (error("photo"))
            }
            div.field {
                label for="note" { (say!(language, "report-note")) }
                textarea #note rows="3" maxlength="4000" aria-describedby="note-hint note-error" {}
                p.quiet #note-hint { (say!(language, "report-note-hint")) }
                (error("note"))
            }
        }
    }
}

/// One insect; the script puts a number for each `N`.
fn insect(start: Start<'_>) -> Markup {
    let language = start.language;
    let water = format!("/w/{}", start.view.watershed.slug);
    let seen = start.reach.map_or_else(|| format!("{water}/seen"), |reach| format!("{water}/reaches/{reach}/seen"));
    html! {
        fieldset.insect {
            legend { (say!(language, "table-insect")) }
            div.field {
                label for="taxon-N" { (say!(language, "report-which")) }
                select id="taxon-N" aria-describedby="taxon-N-error" {
                    option value="" { (say!(language, "report-choose-insect")) }
                    option value="?" { (say!(language, "report-unnamed")) }
                    @for taxon in &start.view.taxa { option value=(taxon.slug) { (called(language, taxon).to_string()) } }
                }
                (error("taxon-N"))
            }
            div.pair id="described-N" hidden {
                div.field {
                    label for="length-N" { (say!(language, "seen-length")) }
                    input id="length-N" type="text" inputmode="decimal" maxlength="5" autocomplete="off" aria-describedby="length-N-error";
                    (error("length-N"))
                }
                div.field {
                    label for="colour-N" { (say!(language, "report-colour")) }
                    input id="colour-N" type="text" maxlength="100" autocomplete="off" aria-describedby="colour-N-error";
                    (error("colour-N"))
                }
                p.quiet { a href=(seen) { (say!(language, "report-what")) } " " (say!(language, "report-what-lost")) }
            }
            div.field {
                label for="stage-N" { (say!(language, "guidance-stage-head")) }
                select id="stage-N" aria-describedby="stage-N-error" {
                    option value="" { (say!(language, "report-choose-stage")) }
                    @for stage in STAGES.map(Stage::as_str) {
                        option value=(stage) { (language.word("stage", stage)) ": " (language.word("stage-meaning", stage)) }
                    }
                }
                (error("stage-N"))
            }
            fieldset.tiles id="pads-N" role="radiogroup" hidden {
                legend { (say!(language, "report-pads")) }
                (tile("pads-N", "", &say!(language, "seen-not-looked"), ""))
                (tile("pads-N", "light", &say!(language, "report-pads-pale"), ""))
                (tile("pads-N", "dark", &say!(language, "report-pads-dark"), ""))
            }
            fieldset.tiles id="class-N" role="radiogroup" aria-describedby="class-N-error" {
                legend { (say!(language, "report-how-many")) }
                @for class in words::CLASSES {
                    @let (word, meaning) = words::class(language, class);
                    (tile("class-N", class, &word, &meaning))
                }
                (error("class-N"))
            }
            details id="further-N" {
                summary { (say!(language, "report-further")) }
                div.pair {
                    div.field {
                        label for="count-N" { (say!(language, "report-count")) }
                        input id="count-N" type="text" inputmode="numeric" maxlength="7" autocomplete="off" aria-describedby="count-N-error";
                        (error("count-N"))
                    }
                    div.field {
                        label for="did-N" { (say!(language, "report-did")) }
                        input id="did-N" type="text" maxlength="500" autocomplete="off" aria-describedby="did-N-error";
                        (error("did-N"))
                    }
                }
            }
            button.remove type="button" hidden { (say!(language, "report-remove")) }
        }
    }
}

fn on_this_phone(language: Language, units: Units) -> Markup {
    html! {
        section #phone hidden data-words=(script_words::of(language, units)) data-language=(language.document_tag()) aria-labelledby="phone-title" {
            h2 #phone-title tabindex="-1" { (say!(language, "report-phone")) }
            p #state role="status" {}
            ul #waiting {}
            p.buttons {
                button #try type="button" hidden { (say!(language, "report-try")) }
                button #copy type="button" hidden { (say!(language, "report-copy")) }
            }
            label #copied-label for="copied" hidden { (say!(language, "report-waits-as-text")) }
            textarea #copied rows="6" readonly hidden {}
        }
        section #sent hidden aria-labelledby="sent-title" {
            h2 #sent-title { (say!(language, "report-sent")) }
            ul #sent-list {}
        }
    }
}

fn token(language: Language, water: &str) -> Markup {
    html! {
        details #token-box hidden {
            summary { (say!(language, "token-title")) }
            p { (say!(language, "token-words", water = water)) }
            details #code-box {
                summary { (say!(language, "token-have-code")) }
                div.field {
                    label for="code" { (say!(language, "token-code")) }
                    input #code type="text" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="100"
                        aria-describedby="code-hint code-error";
                    p.quiet #code-hint { (say!(language, "token-code-hint")) }
                    (error("code"))
                }
                div.field {
                    label for="name" { (say!(language, "token-name")) }
                    input #name type="text" autocomplete="nickname" maxlength="100" aria-describedby="name-hint name-error";
                    p.quiet #name-hint { (say!(language, "token-name-hint")) }
                    (error("name"))
                }
                button #join type="button" { (say!(language, "token-get")) }
            }
            div.field {
                label for="token" { (say!(language, "token-member")) }
                input #token type="text" autocomplete="off" autocapitalize="none" spellcheck="false" aria-describedby="token-error";
                (error("token"))
            }
            p.quiet { (say!(language, "token-forget")) }
            button #save-token type="button" { (say!(language, "token-save")) }
        }
    }
}

fn tile(group: &str, value: &str, words: &str, meaning: &str) -> Markup {
    html! {
        label.tile {
            input type="radio" name=(group) value=(value);
            span { (words) @if !meaning.is_empty() { small { (meaning) } } }
        }
    }
}

/// Where what is wrong with `field` is told.
fn error(field: &str) -> Markup {
    html! { p.error id=(format!("{field}-error")) hidden {} }
}
