//! What came of an import: counts, rows that were refused, readings and records that are doubted.

use maud::{Markup, html};

use crate::app::document::ImportDocument;

/// Rows of each kind that a page shows; the rest is in the document.
const SHOWN: usize = 200;

/// One sentence.
pub(super) fn in_words(document: &ImportDocument) -> String {
    let ImportDocument { total, created, updated, unchanged, rejected, .. } = document;
    if !document.accepted {
        return format!("Refused: {} faults in {total} rows, nothing was stored.", document.fault_count);
    }
    let done = if document.dry_run { "A trial, nothing was stored" } else { "Stored" };
    format!("{done}: of {total} rows {created} new, {updated} changed, {unchanged} as they were, {rejected} refused.")
}

/// The whole outcome.
pub(super) fn outcome(document: &ImportDocument) -> Markup {
    html! {
        p.lead { (in_words(document)) }
        @if document.accepted && document.dry_run {
            p { "Send the table again without the tick at \u{201c}Try first\u{201d} to store it." }
        }
        @if !document.unknown_columns.is_empty() {
            p { "Columns that mean nothing here and were left out: " (document.unknown_columns.join(", ")) "." }
        }
        @if !document.faults.is_empty() { (faults(document)) }
        @if !document.flagged.is_empty() { (flagged(document)) }
        @if !document.doubtful.is_empty() { (doubtful(document)) }
    }
}

fn shown_of(count: u64) -> Markup {
    html! { @if count > SHOWN as u64 { "The first " (SHOWN) " of " (count) ". " } @else { (count) " in all. " } }
}

fn faults(document: &ImportDocument) -> Markup {
    html! {
        h2 { "What is wrong with it" }
        div.scroll tabindex="0" role="region" aria-label="Faults" {
            table {
                caption { (shown_of(document.fault_count)) "Lines count from 1, the header." }
                thead { tr { th scope="col" { "Line" } th scope="col" { "Column" } th scope="col" { "Found" } th scope="col" { "What is wrong" } } }
                tbody {
                    @for fault in document.faults.iter().take(SHOWN) {
                        tr { th scope="row" { (fault.line) } td { (fault.column) } td { (fault.value) } td { (fault.reason) } }
                    }
                }
            }
        }
    }
}

fn flagged(document: &ImportDocument) -> Markup {
    html! {
        h2 { "Readings that are kept but not used" }
        div.scroll tabindex="0" role="region" aria-label="Flagged readings" {
            table {
                caption { (shown_of(document.flagged_count)) "A keeper may overrule them at the gauge." }
                thead { tr { th scope="col" { "Gauge" } th scope="col" { "Day" } th scope="col" { "Value" } th scope="col" { "Flag" } th scope="col" { "Why" } } }
                tbody {
                    @for one in document.flagged.iter().take(SHOWN) {
                        tr {
                            th scope="row" { (one.site) }
                            td { (one.date.format("%-d %B %Y")) }
                            td { (format!("{:.2}", one.value)) }
                            td { (one.quality) }
                            td { (one.reason) }
                        }
                    }
                }
            }
        }
    }
}

fn doubtful(document: &ImportDocument) -> Markup {
    html! {
        h2 { "Records with doubts" }
        div.scroll tabindex="0" role="region" aria-label="Doubtful records" {
            table {
                caption { (shown_of(document.doubtful_count)) }
                thead { tr { th scope="col" { "Reach" } th scope="col" { "Last day" } th scope="col" { "Taxon" } th scope="col" { "Why" } } }
                tbody {
                    @for one in document.doubtful.iter().take(SHOWN) {
                        tr { th scope="row" { (one.site) } td { (one.date_to.format("%-d %B %Y")) } td { (one.taxon) } td { (one.reason) } }
                    }
                }
            }
        }
    }
}
