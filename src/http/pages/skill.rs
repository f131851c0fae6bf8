//! How good the forecasts have been: words, picture, table.

use std::sync::Arc;

use maud::{Markup, html};

use super::called::{LANGUAGE, by_slug};
use super::{PageView, layout};
use crate::app::document::{SkillDocument, SkillRowDocument};
use crate::domain::Taxon;
use crate::domain::called::Called;

/// What is shown, among the clocks of the skill document.
const SHIPPED: &str = "shipped";
/// The clock that goes by the date alone.
const CALENDAR: &str = "calendar";
/// Days ahead that the first table tells.
const FOUR_WEEKS: usize = 28;
/// Height of a row of the picture, CSS pixels.
const ROW_PX: u32 = 30;

/// The page.
pub(crate) fn skill(page: &PageView, skill: &SkillDocument) -> Markup {
    let view = &page.view;
    let slug = &view.watershed.slug;
    let rows: Vec<Told<'_>> = view
        .taxa
        .iter()
        .flat_map(|taxon| rows_of(skill, taxon, FOUR_WEEKS).map(move |row| Told::new(skill, taxon, row)))
        .collect();
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        h1 { "How good the forecasts are" }
        p {
            "Every past year is left out in turn and forecast from the others, with the water known only up to the "
            "day of the forecast. Scored is the day by which a tenth of the season's insects had shown in the records."
        }
        @if rows.is_empty() {
            p.banner {
                strong { "No scores yet. " }
                "They need records from at least three years, and are computed after a fit, at most once a day."
            }
        } @else {
            (in_words(&rows))
            (picture(&rows))
            (table(&rows))
            (other_scores(skill, &view.taxa))
            p { "All scores, by days ahead: " a href=(format!("/v1/watersheds/{slug}/skill")) { "as JSON" } "." }
        }
    };
    let about = format!("How well past forecasts of insects on {} would have done.", view.watershed.name);
    layout::page(&format!("How good, {} \u{b7} Subimago", view.watershed.name), &about, &body)
}

fn rows_of<'s>(skill: &'s SkillDocument, taxon: &Taxon, lead: usize) -> impl Iterator<Item = &'s SkillRowDocument> {
    let slug = taxon.slug.to_string();
    skill.rows.iter().filter(move |row| {
        row.clock == SHIPPED && row.lead_days == lead && row.dates > 0 && row.taxon.eq_ignore_ascii_case(&slug)
    })
}

/// One insect four weeks ahead.
struct Told<'s> {
    name: Called,
    row: &'s SkillRowDocument,
    /// Error of going by the date alone, days.
    by_date: Option<f64>,
}

/// How a forecast compares with going by the date alone.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verdict {
    Better,
    NoDifference,
    Worse,
}

impl<'s> Told<'s> {
    fn new(skill: &SkillDocument, taxon: &Arc<Taxon>, row: &'s SkillRowDocument) -> Self {
        let name = Called::of_brood(taxon, row.brood, LANGUAGE);
        let same = |other: &&SkillRowDocument| {
            (other.clock == CALENDAR, &other.taxon, other.brood, other.lead_days)
                == (true, &row.taxon, row.brood, row.lead_days)
        };
        Self { name, row, by_date: skill.rows.iter().find(same).and_then(|other| other.mae_days) }
    }

    /// By one standard error over the years.
    fn verdict(&self) -> Option<Verdict> {
        let (gain, error) = (self.row.skill_crps?, self.row.skill_se?);
        Some(match gain {
            gain if gain > error => Verdict::Better,
            gain if gain < -error => Verdict::Worse,
            _ => Verdict::NoDifference,
        })
    }
}

fn in_words(rows: &[Told<'_>]) -> Markup {
    let named = |wanted: Verdict| -> Vec<&Called> {
        rows.iter().filter(|told| told.verdict() == Some(wanted)).map(|told| &told.name).collect()
    };
    let sum = |value: fn(&SkillRowDocument) -> Option<f64>| -> Option<f64> {
        let known: Vec<(f64, f64)> =
            rows.iter().filter_map(|told| Some((value(told.row)?, told.row.dates as f64))).collect();
        let weight: f64 = known.iter().map(|(_, dates)| dates).sum();
        (weight > 0.0).then(|| known.iter().map(|(value, dates)| value * dates).sum::<f64>() / weight)
    };
    html! {
        @if let (Some(error), Some(cover)) = (sum(|row| row.mae_days), sum(|row| row.cover80)) {
            p.lead {
                "Four weeks ahead, forecasts missed that day by " (format!("{error:.0}")) " days on average. "
                "Of their ranges, meant to hold four times in five, " (format!("{:.0}", 100.0 * cover)) " in 100 held."
            }
        }
        ul {
            (kind("Better than going by the date alone: ", &named(Verdict::Better)))
            (kind("No clear difference from going by the date: ", &named(Verdict::NoDifference)))
            (kind("Worse than going by the date: ", &named(Verdict::Worse)))
        }
        p.quiet { "Clear means by more than one standard error over the years; few years tell little." }
    }
}

fn kind(words: &str, names: &[&Called]) -> Markup {
    html! {
        @if !names.is_empty() {
            li { (words) @for (index, name) in names.iter().enumerate() { @if index > 0 { "; " } (name) } "." }
        }
    }
}

/// A mark per insect on a scale from twice the error of the date alone to none.
fn picture(rows: &[Told<'_>]) -> Markup {
    let x = |gain: f64| format!("{:.2}%", (gain.clamp(-1.0, 1.0) + 1.0) * 50.0);
    html! {
        figure aria-labelledby="gains" {
            figcaption id="gains" { "Against going by the date alone, four weeks ahead" }
            p.key { "Right of the middle line: better. The bar: one standard error over the years to either side." }
            svg.axis width="100%" height="18" aria-hidden="true" {
                text.label x="0" y="13" font-size="12" { "much worse" }
                text.label x="50%" y="13" font-size="12" text-anchor="middle" { "the same" }
                text.label x="100%" y="13" font-size="12" text-anchor="end" { "never wrong" }
            }
            @for told in rows {
                @if let (Some(gain), Some(error)) = (told.row.skill_crps, told.row.skill_se) {
                    div.row {
                        p.who { (told.name) }
                        svg width="100%" height=(ROW_PX) role="img" aria-label=(format!(
                            "{}: {:.2}, give or take {:.2}, where 0 is the same and 1 never wrong", told.name, gain, error)) {
                            line.ground x1="0" x2="100%" y1=(ROW_PX / 2) y2=(ROW_PX / 2) {}
                            line.today x1="50%" x2="50%" y1="0" y2=(ROW_PX) stroke-width="2" {}
                            line.median x1=(x(gain - error)) x2=(x(gain + error)) y1=(ROW_PX / 2) y2=(ROW_PX / 2)
                                stroke-width="5" {}
                            circle.band cx=(x(gain)) cy=(ROW_PX / 2) r="8" {}
                        }
                    }
                }
            }
        }
    }
}

fn table(rows: &[Told<'_>]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Scores four weeks ahead" {
            table {
                caption { "Four weeks ahead, every past year left out in turn" }
                thead {
                    tr {
                        th scope="col" { "Insect" }
                        th scope="col" { "Error, days" }
                        th scope="col" { "By the date alone" }
                        th scope="col" { "Ranges that held, in 100" }
                        th scope="col" { "Years" }
                    }
                }
                tbody {
                    @for told in rows {
                        tr {
                            th scope="row" { (told.name) }
                            td { (days(told.row.mae_days)) }
                            td { (days(told.by_date)) }
                            td { (hundredths(told.row.cover80)) }
                            td { (told.row.years) }
                        }
                    }
                }
            }
        }
    }
}

/// Hours and egg-laying flights, where they could be scored.
fn other_scores(skill: &SkillDocument, taxa: &[Arc<Taxon>]) -> Markup {
    let name = |slug: &str| by_slug(slug, taxa.iter().map(|taxon| &**taxon));
    html! {
        @if !skill.hours.is_empty() {
            h2 { "Hours of the day" }
            div.scroll tabindex="0" role="region" aria-label="Scores of hours" {
                table {
                    caption { "Error of the fullest hour on visits of left-out years, hours" }
                    thead {
                        tr {
                            th scope="col" { "Insect" } th scope="col" { "Error" }
                            th scope="col" { "By general knowledge" } th scope="col" { "Visits" }
                        }
                    }
                    tbody {
                        @for row in &skill.hours {
                            tr {
                                th scope="row" { i { (name(&row.taxon)) } @if row.brood > 1 { ", brood " (row.brood) } }
                                td { (format!("{:.1}", row.error_hours)) }
                                td { (format!("{:.1}", row.error_by_traits_hours)) }
                                td { (row.visits) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The scores of one insect by days ahead.
pub(crate) fn by_lead(skill: &SkillDocument, taxon: &Taxon) -> Markup {
    let own = |row: &&SkillRowDocument| {
        row.clock == SHIPPED && row.dates > 0 && row.taxon.eq_ignore_ascii_case(taxon.slug.as_str())
    };
    let rows: Vec<&SkillRowDocument> = skill.rows.iter().filter(own).collect();
    html! {
        @if rows.is_empty() {
            p { "No scores yet: they need records from at least three years, and are computed after a fit." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Scores by days ahead" {
                table {
                    caption {
                        "The day by which a tenth had shown, every past year left out in turn. "
                        "Gain: 0 is no better than going by the date alone, 1 never wrong."
                    }
                    thead {
                        tr {
                            th scope="col" { "Days ahead" }
                            @if taxon.broods.len() > 1 { th scope="col" { "Brood" } }
                            th scope="col" { "Error, days" }
                            th scope="col" { "Ranges that held, in 100" }
                            th scope="col" { "Gain" }
                        }
                    }
                    tbody {
                        @for row in rows {
                            tr {
                                th scope="row" { (row.lead_days) }
                                @if taxon.broods.len() > 1 { td { (row.brood) } }
                                td { (days(row.mae_days)) }
                                td { (hundredths(row.cover80)) }
                                td { (gain(row)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn days(value: Option<f64>) -> String {
    value.map_or_else(|| "\u{2013}".to_owned(), |days| format!("{days:.1}"))
}

fn hundredths(value: Option<f64>) -> String {
    value.map_or_else(|| "\u{2013}".to_owned(), |share| format!("{:.0}", 100.0 * share))
}

fn gain(row: &SkillRowDocument) -> String {
    match (row.skill_crps, row.skill_se) {
        (Some(gain), Some(error)) => format!("{gain:.2} \u{b1} {error:.2}"),
        _ => "\u{2013}".to_owned(),
    }
}
