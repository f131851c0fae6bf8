//! The form by which members file reports from the bank, with or without signal. The page is whole
//! markup; its script keeps what is filed, with an id and a key of its own, until the service has
//! answered for it, and `worker.js` keeps the page itself.

pub(crate) mod handlers;

use std::sync::Arc;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::called::called;
use super::units::Units;
use super::{layout, words};
use crate::app::WatershedView;
use crate::domain::Slug;
use crate::domain::report::Stage;

/// The script of the form, one file to whoever loads it, served under an address that changes with it.
const SCRIPT: &str = concat!(
    "'use strict';\n(() => {\n",
    include_str!("keep.js"),
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

/// What the stages mean on the bank.
const STAGES: [(Stage, &str); 7] = [
    (Stage::Nymph, "under water, or a larva"),
    (Stage::Pupa, "of caddis or midge"),
    (Stage::Emerger, "at the surface"),
    (Stage::Dun, "mayfly, dull wings"),
    (Stage::Adult, "winged, no mayfly"),
    (Stage::Spinner, "mayfly, clear wings"),
    (Stage::Spent, "dying on the water"),
];

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
}

/// The form for one water.
fn form(start: Start<'_>) -> Markup {
    let water = &start.view.watershed;
    let reaches = &start.view.reaches;
    let chosen = |slug: &Slug| start.reach.map_or(reaches.len() == 1, |wanted| wanted == slug);
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&water.name, format!("/w/{}", water.slug))]))
        h1 { "Report a visit" }
        p {
            "A visit with nothing seen counts as much as a full one."
            @if let Some(date) = start.today { " Today is " (date.format("%-d %B %Y")) " on this water." }
        }
        (needs_script())
        p.banner #asked role="status" hidden { a href="#sent" {} }
        @if reaches.is_empty() {
            p.banner { "This water has no reaches yet. A keeper has to declare one before visits can be reported." }
        } @else {
            form #visit hidden novalidate data-water=(water.slug) data-name=(water.name) data-zone=(water.time_zone.name())
                data-today=[start.today] data-units=[(start.units == Units::Fahrenheit).then_some("f")] {
                div.field {
                    label for="reach" { "Reach" }
                    select #reach name="reach" aria-describedby="reach-error" {
                        option value="" { "Choose a reach" }
                        @for reach in reaches {
                            option value=(reach.slug) selected[chosen(&reach.slug)] { (reach.name) }
                        }
                    }
                    (error("reach"))
                }
                div #near-box hidden {
                    button #near type="button" aria-describedby="near-hint" { "Find my reach" }
                    p.quiet #near-hint { "Your position stays on this phone." }
                    p #near-words role="status" {}
                }
                (when())
                fieldset #seen .tiles role="radiogroup" aria-describedby="seen-error" {
                    legend { "What did you see?" }
                    (tile("seen", "none", "Nothing seen", ""))
                    (tile("seen", "some", "Insects seen", ""))
                    (error("seen"))
                }
                div #insects hidden {
                    div #list {}
                    button #add type="button" { "Add another insect" }
                    label.check { input #only type="checkbox"; span { "I looked for these insects only" } }
                    p.quiet { "Otherwise every insect of this water that is not listed counts as looked for and not seen." }
                    (error("only"))
                }
                (more(start.units))
                button.send type="submit" { "Send report" }
                p.quiet {
                    "Look at the water before you wade, leave it at the first thunder, put insects back. "
                    a href="/about#cautions" { "All cautions" }
                }
            }
            template #insect { (insect(start)) }
        }
        (on_this_phone())
        @if !reaches.is_empty() { (token(&water.name)) }
    };
    framed(&format!("Report a visit to {}", water.name), &body)
}

/// The waters to choose from. What waits on the phone is sent from here too.
fn choose(waters: &[Arc<WatershedView>]) -> Markup {
    let body = html! {
        h1 { "Report a visit" }
        @if waters.is_empty() {
            p.banner { "No water is set up yet." }
        } @else {
            p { "Which water did you visit?" }
        }
        ul.cards {
            @for view in waters {
                li { a href=(format!("/report?w={}", view.watershed.slug)) { (view.watershed.name) } }
            }
        }
        (needs_script())
        (on_this_phone())
    };
    framed("Report a visit", &body)
}

fn framed(title: &str, body: &Markup) -> Markup {
    let extras = layout::Extras {
        style: Some(style_path()),
        script: Some(layout::versioned("/assets/report.js", SCRIPT)),
        news: None,
    };
    let about = "Report what you saw, or that you saw nothing, also without signal.";
    layout::page_with(&format!("{title} \u{b7} Subimago"), about, body, &extras)
}

/// Taken away by the script.
fn needs_script() -> Markup {
    html! {
        p.banner #needs-script {
            "This form needs JavaScript: it keeps reports on your phone until there is signal. Without it, write the visit "
            "down for your keeper, or send it by " a href="/reference" { "the interface for programs" }
            " (POST /v1/reports with a member token)."
        }
    }
}

fn when() -> Markup {
    html! {
        details #when {
            summary { span #when-words { "The last two hours" } " (change)" }
            div.field {
                label for="date" { "Date" }
                input #date type="date" aria-describedby="date-error";
                (error("date"))
            }
            div.pair {
                div.field { label for="from" { "From" } input #from type="time" aria-describedby="from-error"; (error("from")) }
                div.field { label for="to" { "To" } input #to type="time" aria-describedby="to-error"; (error("to")) }
            }
            p.quiet { "Clock time at the water. An end before the start is past midnight." }
        }
    }
}

fn more(units: Units) -> Markup {
    html! {
        details #more {
            summary { "Add people, temperature, photo, note" }
            div.pair {
                div.field {
                    label for="people" { "People watching" }
                    input #people type="number" inputmode="numeric" min="1" max="100" value="1" aria-describedby="people-error";
                    (error("people"))
                }
                div.field {
                    label for="water" { "Water, " (units.symbol()) }
                    input #water type="text" inputmode="decimal" maxlength="6" autocomplete="off" aria-describedby="water-error";
                    (error("water"))
                }
            }
            div.field {
                label for="photo" { "Photo for the keepers" }
                input #photo type="file" accept="image/*" aria-describedby="photo-hint photo-error";
                p.quiet #photo-hint { "Made small on this phone, without the place and device that its file tells of. Nobody else sees it." }
                p #photo-words role="status" {}
                (error("photo"))
            }
            div.field {
                label for="note" { "Note for the keeper" }
                textarea #note rows="3" maxlength="4000" aria-describedby="note-hint note-error" {}
                p.quiet #note-hint { "No exact spots, please: they are nobody's but yours." }
                (error("note"))
            }
        }
    }
}

/// One insect; the script puts a number for each `N`.
fn insect(start: Start<'_>) -> Markup {
    let water = format!("/w/{}", start.view.watershed.slug);
    let seen = start.reach.map_or_else(|| format!("{water}/seen"), |reach| format!("{water}/reaches/{reach}/seen"));
    html! {
        fieldset.insect {
            legend { "Insect" }
            div.field {
                label for="taxon-N" { "Which" }
                select id="taxon-N" aria-describedby="taxon-N-error" {
                    option value="" { "Choose an insect" }
                    option value="?" { "I cannot name it" }
                    @for taxon in &start.view.taxa { option value=(taxon.slug) { (called(taxon).to_string()) } }
                }
                (error("taxon-N"))
            }
            div.pair id="described-N" hidden {
                div.field {
                    label for="length-N" { "Body length without tails, mm" }
                    input id="length-N" type="text" inputmode="decimal" maxlength="5" autocomplete="off" aria-describedby="length-N-error";
                    (error("length-N"))
                }
                div.field {
                    label for="colour-N" { "Colour" }
                    input id="colour-N" type="text" maxlength="100" autocomplete="off" aria-describedby="colour-N-error";
                    (error("colour-N"))
                }
                p.quiet { a href=(seen) { "What may it be?" } " (needs signal; what you have entered here is lost)" }
            }
            div.field {
                label for="stage-N" { "Stage" }
                select id="stage-N" aria-describedby="stage-N-error" {
                    option value="" { "Choose a stage" }
                    @for (stage, meaning) in STAGES { option value=(stage.as_str()) { (stage.as_str()) ": " (meaning) } }
                }
                (error("stage-N"))
            }
            fieldset.tiles id="pads-N" role="radiogroup" hidden {
                legend { "Wing pads" }
                (tile("pads-N", "", "not looked", ""))
                (tile("pads-N", "light", "pale", ""))
                (tile("pads-N", "dark", "dark", ""))
            }
            fieldset.tiles id="class-N" role="radiogroup" aria-describedby="class-N-error" {
                legend { "How many" }
                @for (class, meaning) in words::CLASSES { (tile("class-N", class, class, meaning)) }
                (error("class-N"))
            }
            details id="further-N" {
                summary { "Add a count, what they did" }
                div.pair {
                    div.field {
                        label for="count-N" { "Counted" }
                        input id="count-N" type="text" inputmode="numeric" maxlength="7" autocomplete="off" aria-describedby="count-N-error";
                        (error("count-N"))
                    }
                    div.field {
                        label for="did-N" { "What they did" }
                        input id="did-N" type="text" maxlength="500" autocomplete="off" aria-describedby="did-N-error";
                        (error("did-N"))
                    }
                }
            }
            button.remove type="button" hidden { "Remove this insect" }
        }
    }
}

fn on_this_phone() -> Markup {
    html! {
        section #phone hidden aria-labelledby="phone-title" {
            h2 #phone-title tabindex="-1" { "On this phone" }
            p #state role="status" {}
            ul #waiting {}
            p.buttons {
                button #try type="button" hidden { "Try to send now" }
                button #copy type="button" hidden { "Copy as text" }
            }
            label #copied-label for="copied" hidden { "What waits, as text" }
            textarea #copied rows="6" readonly hidden {}
        }
        section #sent hidden aria-labelledby="sent-title" {
            h2 #sent-title { "What you sent" }
            ul #sent-list {}
        }
    }
}

fn token(water: &str) -> Markup {
    html! {
        details #token-box hidden {
            summary { "Your token" }
            p {
                "Reports are sent with a token of your own: a keeper of " (water) " gives you one, or a code to get one with. "
                "It stays on this phone, as do reports until they are sent. "
                "Clearing this site's data in the browser removes both."
            }
            details #code-box {
                summary { "I have a code" }
                div.field {
                    label for="code" { "Code" }
                    input #code type="text" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="100"
                        aria-describedby="code-hint code-error";
                    p.quiet #code-hint { "Sixteen letters and digits; hyphens and capitals do not matter." }
                    (error("code"))
                }
                div.field {
                    label for="name" { "Your name or nickname" }
                    input #name type="text" autocomplete="nickname" maxlength="100" aria-describedby="name-hint name-error";
                    p.quiet #name-hint { "Only the keepers see it." }
                    (error("name"))
                }
                button #join type="button" { "Get my token" }
            }
            div.field {
                label for="token" { "Member token" }
                input #token type="text" autocomplete="off" autocapitalize="none" spellcheck="false" aria-describedby="token-error";
                (error("token"))
            }
            p.quiet { "Save an empty field to forget the token." }
            button #save-token type="button" { "Save token" }
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
