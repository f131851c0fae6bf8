//! What to put on: words first, then the stages with their odds, then why.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::called::by_slug;
use super::table::percent;
use super::units::lengths;
use crate::app::document::GuidanceDocument;
use crate::domain::Taxon;

/// Imitations, hints and reasons shown.
const IMITATIONS: usize = 3;
const HINTS: usize = 3;
const REASONS: usize = 6;
/// Odds from which a stage has a row.
const ROW_FROM: f64 = 0.03;
/// Odds from which an insect is named.
const NAMED_FROM: f64 = 0.1;
/// Provenance that the page tells once for all.
const PRACTICE: &str = "common practice";

/// The section for the moment of `guidance`; nothing where no insect is known to be about.
pub(crate) fn put_on<'t>(guidance: &GuidanceDocument, zone: Tz, taxa: impl Fn(&str) -> Option<&'t Taxon>) -> Markup {
    let name = |slug: &str| by_slug(slug, taxa(slug).into_iter());
    html! {
        @if !guidance.taxa.is_empty() {
            section aria-labelledby="put-on" {
                h2 id="put-on" { "What to put on" }
                p.lead {
                    "For " (clock(guidance.at, zone)) ", when most is expected today: " (first(guidance)) "."
                    @if let Some(stage) = guidance.stages.first() {
                        " Fish are likeliest at the " (stage.stage) " (" (percent(stage.weight))
                        " in 100); a stage that has several imitations shares its odds among them."
                    }
                }
                p {
                    "Most likely taken: "
                    @for (k, row) in guidance.taxa.iter().filter(|row| row.weight >= NAMED_FROM).enumerate() {
                        @if k > 0 { ", " }
                        (name(&row.taxon)) " (" (percent(row.weight)) " in 100)"
                    }
                    ". " (size(guidance))
                    @if let Some(water) = &guidance.water_type { " Stand by: " (water.replace('-', " ")) "." }
                }
                table {
                    caption { "Life stages by the odds that fish are at them" }
                    thead { tr { th scope="col" { "Stage" } th scope="col" { "Odds in 100" } } }
                    tbody {
                        @for row in guidance.stages.iter().filter(|row| row.weight >= ROW_FROM) {
                            tr { th.stage scope="row" { (row.stage) } td { (percent(row.weight)) } }
                        }
                    }
                }
                h3 { "Look first" }
                ul { @for hint in guidance.check_next.iter().take(HINTS) { li { (hint) } } }
                details {
                    summary { "Why" }
                    ul {
                        @for rule in guidance.rules.iter().take(REASONS) {
                            li {
                                (rule.because)
                                @if let Some(source) = source(&rule.provenance) { " " span.source { "(" (source) ")" } }
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

/// The imitations in order of odds, in words.
pub(super) fn first(guidance: &GuidanceDocument) -> String {
    let likeliest = guidance.imitations.iter().take(IMITATIONS);
    let names: Vec<String> = likeliest.map(|row| format!("{} ({} in 100)", row.name, percent(row.weight))).collect();
    names.join("; then ")
}

/// Its size in words.
pub(super) fn size(guidance: &GuidanceDocument) -> String {
    match (guidance.length_mm, guidance.hooks) {
        (Some(mm), Some(hooks)) => {
            format!("Size: body {}, hooks {} to {}.", lengths(mm.from, mm.to), hooks.from, hooks.to)
        }
        (Some(mm), None) => format!("Size: body {}.", lengths(mm.from, mm.to)),
        (None, Some(hooks)) => format!("Size: hooks {} to {}.", hooks.from, hooks.to),
        (None, None) => "Its size is not in the table: measure one.".to_owned(),
    }
}
