//! How good the forecasts have been: words, picture, table.

use std::sync::Arc;

use maud::{Markup, html};

use super::called::{by_slug, called_brood};
use super::{PageView, layout};
use crate::app::document::skill::{RangeDocument, SHIPPED, Verdict};
use crate::app::document::{SkillDocument, SkillRowDocument};
use crate::domain::Taxon;
use crate::domain::called::Called;
use crate::words::Language;
use crate::{say, tell};

/// The clock that goes by the date alone.
const CALENDAR: &str = "calendar";
/// Smallest factor on ranges that is told: less is 1.0 in print.
const LEAST_WIDENING: f64 = 1.05;
/// Height of a row of the picture, CSS pixels.
const ROW_PX: u32 = 30;

/// The page.
pub(crate) fn skill(page: &PageView, skill: &SkillDocument) -> Markup {
    let (view, language) = (&page.view, page.language);
    let slug = &view.watershed.slug;
    let rows: Vec<Told<'_>> = view
        .taxa
        .iter()
        .flat_map(|taxon| rows_of(skill, taxon).map(move |row| Told::new(language, skill, taxon, row)))
        .collect();
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (say!(language, "skill-title")) }
        p { (say!(language, "skill-how")) }
        @if rows.is_empty() {
            p.banner {
                strong { (say!(language, "skill-none")) " " }
                (say!(language, "skill-none-words"))
            }
        } @else {
            (in_words(language, &rows))
            (widened(language, skill, &rows))
            (picture(language, &rows))
            (table(language, &rows))
            (other_scores(language, skill, &view.taxa))
            p { (tell!(language, "skill-all", link = html! { a href=(format!("/v1/watersheds/{slug}/skill")) { (say!(language, "skill-all-link")) } })) }
        }
    };
    let about = say!(language, "skill-about", water = &view.watershed.name);
    let title = say!(language, "skill-page-title", water = &view.watershed.name);
    layout::page(language, &say!(language, "layout-title", what = title), &about, &body)
}

fn rows_of<'s>(skill: &'s SkillDocument, taxon: &Taxon) -> impl Iterator<Item = &'s SkillRowDocument> {
    let slug = taxon.slug.to_string();
    skill.rows.iter().filter(move |row| row.is_judged() && row.taxon.eq_ignore_ascii_case(&slug))
}

/// One insect four weeks ahead.
struct Told<'s> {
    name: Called,
    row: &'s SkillRowDocument,
    /// Error of going by the date alone, days.
    by_date: Option<f64>,
}

impl<'s> Told<'s> {
    fn new(language: Language, skill: &SkillDocument, taxon: &Arc<Taxon>, row: &'s SkillRowDocument) -> Self {
        let name = called_brood(language, taxon, row.brood);
        let same = |other: &&SkillRowDocument| {
            (other.clock == CALENDAR, &other.taxon, other.brood, other.lead_days)
                == (true, &row.taxon, row.brood, row.lead_days)
        };
        Self { name, row, by_date: skill.rows.iter().find(same).and_then(|other| other.mae_days) }
    }
}

fn in_words(language: Language, rows: &[Told<'_>]) -> Markup {
    let named = |wanted: Verdict| -> Vec<&Called> {
        rows.iter().filter(|told| told.row.verdict() == Some(wanted)).map(|told| &told.name).collect()
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
                (say!(language, "skill-lead", days = error.round_ties_even() as i64, cover = format!("{:.0}", 100.0 * cover)))
            }
        }
        ul {
            (kind(&say!(language, "skill-better"), &named(Verdict::Better)))
            (kind(&say!(language, "skill-no-difference"), &named(Verdict::NoDifference)))
            (kind(&say!(language, "skill-worse"), &named(Verdict::Worse)))
        }
        p.quiet { (say!(language, "skill-clear")) }
    }
}

fn kind(words: &str, names: &[&Called]) -> Markup {
    html! {
        @if !names.is_empty() {
            li { (words) " " @for (index, name) in names.iter().enumerate() { @if index > 0 { "; " } (name) } "." }
        }
    }
}

/// Whose ranges are drawn wider than the model has them; nothing where no fit tells.
fn widened(language: Language, skill: &SkillDocument, rows: &[Told<'_>]) -> Markup {
    let factors: Vec<(&Called, f64)> = rows
        .iter()
        .filter_map(|told| {
            let own = |range: &&RangeDocument| (&range.taxon, range.brood) == (&told.row.taxon, told.row.brood);
            Some((&told.name, skill.ranges.iter().find(own)?.widening))
        })
        .collect();
    let wider: Vec<&(&Called, f64)> = factors.iter().filter(|(_, factor)| *factor >= LEAST_WIDENING).collect();
    html! {
        @if !wider.is_empty() {
            p {
                (say!(language, "skill-wider")) " "
                @for (index, (name, factor)) in wider.into_iter().enumerate() {
                    @if index > 0 { "; " } (name) " " (language.number(*factor, 1))
                }
                "."
            }
        } @else if !factors.is_empty() {
            p { (say!(language, "skill-not-wider")) }
        }
    }
}

/// A mark per insect on a scale from twice the error of the date alone to none.
fn picture(language: Language, rows: &[Told<'_>]) -> Markup {
    let x = |gain: f64| format!("{:.2}%", (gain.clamp(-1.0, 1.0) + 1.0) * 50.0);
    html! {
        figure aria-labelledby="gains" {
            figcaption id="gains" { (say!(language, "skill-picture")) }
            p.key { (say!(language, "skill-picture-key")) }
            svg.axis width="100%" height="18" aria-hidden="true" {
                text.label x="0" y="13" font-size="12" { (say!(language, "skill-much-worse")) }
                text.label x="50%" y="13" font-size="12" text-anchor="middle" { (say!(language, "skill-same")) }
                text.label x="100%" y="13" font-size="12" text-anchor="end" { (say!(language, "skill-never-wrong")) }
            }
            @for told in rows {
                @if let (Some(gain), Some(error)) = (told.row.skill_crps, told.row.skill_se) {
                    div.row {
                        p.who { (told.name) }
                        svg width="100%" height=(ROW_PX) role="img" aria-label=(say!(
                            language,
                            "skill-gain-described",
                            insect = told.name.to_string(),
                            gain = language.number(gain, 2),
                            error = language.number(error, 2),
                        )) {
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

fn table(language: Language, rows: &[Told<'_>]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(say!(language, "skill-table")) {
            table {
                caption { (say!(language, "skill-table-caption")) }
                thead {
                    tr {
                        th scope="col" { (say!(language, "table-insect")) }
                        th scope="col" { (say!(language, "skill-error-days")) }
                        th scope="col" { (say!(language, "skill-by-date")) }
                        th scope="col" { (say!(language, "skill-gain")) }
                        th scope="col" { (say!(language, "skill-held")) }
                        th scope="col" { (say!(language, "skill-years")) }
                    }
                }
                tbody {
                    @for told in rows {
                        tr {
                            th scope="row" { (told.name) }
                            td { (days(language, told.row.mae_days)) }
                            td { (days(language, told.by_date)) }
                            td { (gain(language, told.row)) }
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
fn other_scores(language: Language, skill: &SkillDocument, taxa: &[Arc<Taxon>]) -> Markup {
    let name = |slug: &str, brood: u8| {
        let known = taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(slug));
        known.map_or_else(|| by_slug(language, slug, std::iter::empty()), |taxon| called_brood(language, taxon, brood))
    };
    html! {
        @if !skill.flights.is_empty() {
            h2 { (say!(language, "skill-flights")) }
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "skill-flights-table")) {
                table {
                    caption { (say!(language, "skill-flights-caption")) }
                    thead {
                        tr {
                            th scope="col" { (say!(language, "table-insect")) } th scope="col" { (say!(language, "skill-error")) }
                            th scope="col" { (say!(language, "skill-by-frequencies")) } th scope="col" { (say!(language, "skill-watches")) }
                        }
                    }
                    tbody {
                        @for row in &skill.flights {
                            tr {
                                th scope="row" { (name(&row.taxon, row.brood)) }
                                td { (language.number(row.rps, 2)) }
                                td { (language.number(row.rps_of_frequencies, 2)) }
                                td { (row.watches) }
                            }
                        }
                    }
                }
            }
        }
        @if !skill.hours.is_empty() {
            h2 { (say!(language, "skill-hours")) }
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "skill-hours-table")) {
                table {
                    caption { (say!(language, "skill-hours-caption")) }
                    thead {
                        tr {
                            th scope="col" { (say!(language, "table-insect")) } th scope="col" { (say!(language, "skill-error")) }
                            th scope="col" { (say!(language, "skill-by-knowledge")) } th scope="col" { (say!(language, "skill-visits")) }
                        }
                    }
                    tbody {
                        @for row in &skill.hours {
                            tr {
                                th scope="row" { (name(&row.taxon, row.brood)) }
                                td { (language.number(row.error_hours, 1)) }
                                td { (language.number(row.error_by_traits_hours, 1)) }
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
pub(crate) fn by_lead(language: Language, skill: &SkillDocument, taxon: &Taxon) -> Markup {
    let own = |row: &&SkillRowDocument| {
        row.clock == SHIPPED && row.dates > 0 && row.taxon.eq_ignore_ascii_case(taxon.slug.as_str())
    };
    let rows: Vec<&SkillRowDocument> = skill.rows.iter().filter(own).collect();
    html! {
        @if rows.is_empty() {
            p { (say!(language, "skill-none-of-insect")) }
        } @else {
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "skill-by-lead")) {
                table {
                    caption { (say!(language, "skill-by-lead-caption")) }
                    thead {
                        tr {
                            th scope="col" { (say!(language, "skill-days-ahead")) }
                            @if taxon.broods.len() > 1 { th scope="col" { (say!(language, "skill-brood")) } }
                            th scope="col" { (say!(language, "skill-error-days")) }
                            th scope="col" { (say!(language, "skill-held")) }
                            th scope="col" { (say!(language, "skill-gain")) }
                        }
                    }
                    tbody {
                        @for row in rows {
                            tr {
                                th scope="row" { (row.lead_days) }
                                @if taxon.broods.len() > 1 { td { (row.brood) } }
                                td { (days(language, row.mae_days)) }
                                td { (hundredths(row.cover80)) }
                                td { (gain(language, row)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn days(language: Language, value: Option<f64>) -> String {
    value.map_or_else(|| "\u{2013}".to_owned(), |days| language.number(days, 1))
}

fn hundredths(value: Option<f64>) -> String {
    value.map_or_else(|| "\u{2013}".to_owned(), |share| format!("{:.0}", 100.0 * share))
}

fn gain(language: Language, row: &SkillRowDocument) -> String {
    match (row.skill_crps, row.skill_se) {
        (Some(gain), Some(error)) => language.decimals(&format!("{gain:.2} \u{b1} {error:.2}")),
        _ => "\u{2013}".to_owned(),
    }
}
