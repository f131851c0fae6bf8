//! The page of one insect on one water: where it stands on each reach, what the forecast rests on, how it
//! lives, and how good its forecasts have been.

use std::sync::Arc;

use maud::{Markup, html};

use super::called::{LANGUAGE, called};
use super::picture::season_picture;
use super::season::{Line, lines_by_reach};
use super::skill::by_lead;
use super::table::{percent, season_table};
use super::units::{Units, lengths};
use super::{PageView, layout, words};
use crate::app::document::{ForecastDocument, SkillDocument};
use crate::domain::season::Cycle;
use crate::domain::taxon::EmergenceMode;
use crate::domain::{Taxon, VernacularName};

/// Weight from which a clock is named.
const NAMED_FROM: f64 = 0.02;

/// The page of `taxon`; `doubts` are those of its fits, in words.
pub(crate) fn taxon(page: &PageView, taxon: &Arc<Taxon>, skill: &SkillDocument, doubts: &[String]) -> Markup {
    let view = &page.view;
    let slug = &view.watershed.slug;
    let lines = lines_by_reach(taxon, &view.reaches, &page.forecasts);
    let own: Vec<Arc<ForecastDocument>> = lines.iter().flat_map(|line| line.forecasts.iter().cloned()).collect();
    let body = html! {
        (layout::trail(&[("Waters", "/".to_owned()), (&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (called(taxon)) }
        p.quiet { (taxon.rank) @if let Some(order) = &taxon.order { ", " (order) } }
        (other_names(taxon))
        (words::as_of(&own))
        (words::stale(&own))
        (words::fitting(page))
        @if !lines.is_empty() {
            section aria-labelledby="season" {
                h2 id="season" { "Season " (Cycle::of(taxon).containing(page.today).label()) }
                (progress(&lines, page.units))
                (season_picture(&lines, page.today, "Reach by reach"))
                (season_table(&lines, page.today, false))
            }
            section aria-labelledby="footing" {
                h2 id="footing" { "What the forecast rests on" }
                @for line in &lines[..1] { p { (line.footing()) } }
                (clocks(&own))
                @if !doubts.is_empty() {
                    h3 { "Doubts" }
                    ul { @for doubt in doubts { li { (doubt) } } }
                }
            }
        }
        section aria-labelledby="good" {
            h2 id="good" { "How good it has been" }
            (by_lead(skill, taxon))
        }
        (life(taxon))
        (traits(taxon, page.units))
    };
    let title = called(taxon);
    let about = format!("When {title} is expected on {}.", view.watershed.name);
    layout::page(&format!("{title}, {} \u{b7} Subimago", view.watershed.name), &about, &body)
}

/// What it is called besides the name that stands above, and where the names come from.
fn other_names(taxon: &Taxon) -> Markup {
    let usual = taxon.usual_name(LANGUAGE);
    let others: Vec<&VernacularName> = taxon.names.iter().filter(|known| Some(known.name.as_str()) != usual).collect();
    let mut sources: Vec<&str> = taxon.names.iter().map(|known| known.provenance.as_str()).collect();
    sources.sort_unstable();
    sources.dedup();
    html! {
        @if !taxon.names.is_empty() {
            p.quiet {
                @if !others.is_empty() {
                    "Also called "
                    @for (index, known) in others.iter().enumerate() {
                        @if index > 0 { ", " }
                        span lang=(known.language) { (known.name) } " (" (known.language) ")"
                    }
                    ". "
                }
                span.source { "Everyday names: " (sources.join("; ")) "." }
            }
        }
    }
}

/// How far the season is, in heat, against the same date of a usual year.
fn progress(lines: &[Line], units: Units) -> Markup {
    let told = lines.iter().filter_map(|line| {
        let forecast = line.forecasts.first()?;
        let progress = &forecast.progress;
        (forecast.clock.chosen != "calendar" && progress.long_run_mean > 0.0).then_some((line, forecast, progress))
    });
    let told: Vec<_> = told.collect();
    html! {
        @if !told.is_empty() {
            p { "Heat that counts for this insect, so far this season:" }
            ul {
                @for (line, forecast, progress) in told {
                    @let ahead = progress.units_so_far - progress.long_run_mean;
                    li {
                        (line.label) ": " (units.degree_days(progress.units_so_far)) " degree-days (" (units.symbol()) ") by "
                        (forecast.data_as_of.format("%-d %B")) ", " (units.degree_days(ahead.abs()))
                        @if ahead >= 0.0 { " more" } @else { " fewer" }
                        " than by the same date of a usual year: " (standing(progress.thermal_lead_days)) "."
                    }
                }
            }
        }
    }
}

/// `about 5 days early`.
fn standing(lead_days: f64) -> String {
    match (lead_days.abs().round(), lead_days > 0.0) {
        (whole, _) if whole < 1.0 => "as usual".to_owned(),
        (whole, true) => format!("about {whole} day{} early", if whole > 1.0 { "s" } else { "" }),
        (whole, false) => format!("about {whole} day{} late", if whole > 1.0 { "s" } else { "" }),
    }
}

/// Which clock carries the forecast, in words.
fn clocks(own: &[Arc<ForecastDocument>]) -> Markup {
    let Some(forecast) = own.first() else { return html! {} };
    let weights = &forecast.clock.weights;
    let mut named = [
        (weights.thermal, "warmth of the water"),
        (weights.calendar, "the date"),
        (weights.photothermal, "warmth weighed by the length of the day"),
        (weights.gated, "warmth once the days are long enough"),
    ];
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    html! {
        p {
            "It goes by "
            @for (index, (weight, clock)) in named.iter().filter(|(weight, _)| *weight >= NAMED_FROM).enumerate() {
                @if index > 0 { ", and " }
                (clock) " (" (percent(*weight)) " in 100)"
            }
            "."
        }
    }
}

/// Its life at the water, for who stands there.
fn life(taxon: &Taxon) -> Markup {
    let Some(mode) = taxon.emergence_mode else { return html! {} };
    let stages: &[(&str, &str)] = match mode {
        EmergenceMode::Surface => &[
            ("nymph", "lives on the bottom and swims or drifts up when its time has come"),
            ("emerger", "hangs in the surface while the winged insect works free of the skin"),
            ("dun", "drifts on the surface until its wings are dry, then leaves for the bank"),
            ("spinner", "the full adult: it mates in the air and returns to the water to lay"),
        ],
        EmergenceMode::Bottom => &[
            ("nymph", "lives on the bottom and leaves its skin there or on the way up"),
            ("emerger", "rises through the water with its wings already free"),
            ("dun", "is on the surface only briefly"),
            ("spinner", "the full adult: it mates in the air and returns to the water to lay"),
        ],
        EmergenceMode::CrawlOut => &[
            ("nymph", "gathers near the edge and crawls out on stones, plants or the bank"),
            ("adult", "dries its wings on land; it is over water mainly to lay its eggs"),
        ],
        EmergenceMode::PupalAscent => &[
            ("larva", "lives on the bottom, many in a case or a net, and closes itself in to become a pupa"),
            ("pupa", "cuts itself free and swims to the surface or to the edge"),
            ("adult", "leaves the pupal skin, often within seconds, and returns later to lay"),
        ],
    };
    html! {
        section aria-labelledby="life" {
            h2 id="life" { "Its stages at the water" }
            dl { @for (stage, words) in stages { dt { (stage) } dd { (words) } } }
            (words::unsourced())
        }
    }
}

/// One known trait: what, the value, where it comes from.
type Row<'t> = (&'static str, String, &'t str);

fn traits(taxon: &Taxon, units: Units) -> Markup {
    let from = &taxon.provenance;
    let word = |text: &str| text.replace(['-', '_'], " ");
    let rows: Vec<Row<'_>> = [
        taxon.window.map(|(early, late)| ("Usual season (month-day)", format!("{early} to {late}"), &*from.window)),
        taxon.base_temp_c.map(|base| {
            let sd = taxon.base_temp_sd.map(|sd| format!(", give or take {}", units.difference(sd, 1)));
            let base = units.temperature(base, 1) + &sd.unwrap_or_default();
            ("Least warmth for growth", base, &*from.thermal)
        }),
        taxon.emergence_water_c.map(|(low, high)| {
            (
                "Water when it emerges",
                format!("{} to {}", units.number(low, 0), units.temperature(high, 0)),
                &*from.thermal,
            )
        }),
        taxon.peak_hour.map(|hour| ("Fullest hour, by the sun", solar_clock(hour), &*from.behaviour)),
        taxon.spinner_time.as_ref().map(|time| ("Egg-laying flights", word(time), &*from.behaviour)),
        taxon.emergence_mode.map(|mode| ("Leaves the water", word(mode.as_str()), &*from.behaviour)),
        taxon.oviposition_mode.as_ref().map(|mode| ("Lays its eggs", word(mode), &*from.behaviour)),
        taxon.nymph_habit.as_ref().map(|habit| ("Habit under water", word(habit), &*from.behaviour)),
        taxon.voltinism.as_ref().map(|text| ("Generations", text.clone(), &*from.window)),
        taxon.body_mm.map(|(small, large)| ("Body without tails", lengths(small, large), &*from.size)),
        taxon.hooks.map(|(large, small)| ("Hook sizes", format!("{large} to {small}"), &*from.size)),
        taxon.water_type.as_ref().map(|text| ("Likes", text.clone(), "")),
        taxon.region.as_ref().map(|text| ("Region these values speak of", text.clone(), "")),
    ]
    .into_iter()
    .flatten()
    .collect();
    html! {
        section aria-labelledby="traits" {
            h2 id="traits" { "What is known of it" }
            @if rows.is_empty() {
                p { "No traits are on file; its forecasts rest on records alone." }
            } @else {
                div.scroll tabindex="0" role="region" aria-label="Traits with their sources" {
                    table {
                        caption { "Traits, with where each value comes from" }
                        thead { tr { th scope="col" { "Trait" } th scope="col" { "Value" } th scope="col" { "Source" } } }
                        tbody {
                            @for (name, value, source) in &rows {
                                tr { th scope="row" { (name) } td { (value) } td.source { (source) } }
                            }
                        }
                    }
                }
            }
            @if let Some(note) = &taxon.note { p { (note) } }
        }
    }
}

/// Hours after midnight as a clock.
fn solar_clock(hour: f64) -> String {
    let minutes = (hour * 60.0).round() as u32 % (24 * 60);
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}
