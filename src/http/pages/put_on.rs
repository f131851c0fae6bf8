//! What to put on: words first, then the stages with their odds, then why.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::called::by_slug;
use super::table::percent;
use super::units::lengths;
use super::words::source as where_from;
use crate::app::document::GuidanceDocument;
use crate::domain::Taxon;
use crate::words::Language;
use crate::{say, tell};

/// Imitations named in the words.
const IMITATIONS: usize = 3;
/// Odds from which a stage has a row.
const ROW_FROM: f64 = 0.03;
/// Odds from which an insect is named.
const NAMED_FROM: f64 = 0.1;
/// Provenance that the page tells once for all.
const PRACTICE: &str = "common practice";

/// The section for the moment of `guidance`; nothing where no insect is known to be about. `ask` is where to say what is
/// seen on the bank, for the section of the day's fullest hour; without it the moment is the one asked about.
pub(crate) fn put_on<'t>(
    language: Language,
    guidance: &GuidanceDocument,
    zone: Tz,
    ask: Option<&str>,
    taxa: impl Fn(&str) -> Option<&'t Taxon>,
) -> Markup {
    let name = |slug: &str| by_slug(language, slug, taxa(slug).into_iter());
    html! {
        @if !guidance.taxa.is_empty() {
            section aria-labelledby="put-on" {
                h2 id="put-on" { (say!(language, "guidance-title")) }
                p.lead {
                    @let (time, imitations) = (clock(guidance.at, zone), first(language, guidance));
                    @if ask.is_some() {
                        (say!(language, "guidance-lead", time = time, imitations = imitations))
                    } @else {
                        (say!(language, "guidance-lead-asked", time = time, imitations = imitations))
                    }
                    @if let Some(row) = guidance.stages.first() {
                        " " (say!(language, "guidance-stage", stage = stage(language, &row.stage), chance = percent(language, row.weight)))
                    }
                }
                p {
                    (tell!(language, "guidance-taken", insects = html! {
                        @for (k, row) in guidance.taxa.iter().filter(|row| row.weight >= NAMED_FROM).enumerate() {
                            @if k > 0 { ", " }
                            (name(&row.taxon)) " (" (say!(language, "chance-in-list", chance = percent(language, row.weight))) ")"
                        }
                    }))
                    " " (size(language, guidance))
                    @if let Some(water) = &guidance.water_type {
                        " " (say!(language, "guidance-stand", water = language.word("water-type", water)))
                    }
                }
                table {
                    caption { (say!(language, "guidance-stages")) }
                    thead { tr { th scope="col" { (say!(language, "guidance-stage-head")) } th scope="col" { (say!(language, "guidance-odds-head")) } } }
                    tbody {
                        @for row in guidance.stages.iter().filter(|row| row.weight >= ROW_FROM) {
                            tr { th.stage scope="row" { (stage(language, &row.stage)) } td { (percent(language, row.weight)) } }
                        }
                    }
                }
                h3 { (say!(language, "guidance-look")) }
                ul { @for hint in &guidance.check_next { li { (hint) } } }
                @if let Some(address) = ask { p { a href=(address) { (say!(language, "bank-ask")) } } }
                details {
                    summary { (say!(language, "guidance-why")) }
                    ul {
                        @for rule in &guidance.rules {
                            li {
                                (rule.because)
                                @if let Some(told) = source(&rule.provenance) {
                                    " " span.source { "(" (where_from(language, told, str::to_owned)) ")" }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The source of a rule, without what the page's note on unsourced advice says.
fn source(provenance: &str) -> Option<&str> {
    provenance.split(';').map(str::trim).find(|part| !part.contains(PRACTICE))
}

fn clock(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone).format("%H:%M").to_string()
}

/// A stage of life.
pub(super) fn stage(language: Language, stage: &str) -> String {
    language.word("stage", stage)
}

/// The imitations in order of odds, in words.
pub(super) fn first(language: Language, guidance: &GuidanceDocument) -> String {
    let likeliest = guidance.imitations.iter().take(IMITATIONS);
    let names = likeliest.map(|row| {
        let chance = say!(language, "chance-in-list", chance = percent(language, row.weight));
        format!("{} ({chance})", row.name)
    });
    let names: Vec<String> = names.collect();
    names.join(&say!(language, "guidance-then"))
}

/// Its size in words.
pub(super) fn size(language: Language, guidance: &GuidanceDocument) -> String {
    match (guidance.length_mm, guidance.hooks) {
        (Some(mm), Some(hooks)) => {
            let length = lengths(language, mm.from, mm.to);
            say!(language, "size-both", length = length, from = hooks.from, to = hooks.to)
        }
        (Some(mm), None) => say!(language, "size-body", length = lengths(language, mm.from, mm.to)),
        (None, Some(hooks)) => say!(language, "size-hooks", from = hooks.from, to = hooks.to),
        (None, None) => say!(language, "size-unknown"),
    }
}
