//! The page of one insect on one water: where it stands on each reach, what the forecast rests on, how it
//! lives, and how good its forecasts have been.

use std::sync::Arc;

use chrono::NaiveDate;
use maud::{Markup, html};

use super::called::{called, called_brood};
use super::picture::season_picture;
use super::season::{Line, lines_by_reach};
use super::skill::by_lead;
use super::table::{percent, season_table};
use super::units::{Units, lengths};
use super::words::{foreign, plainly, source as where_from};
use super::{PageView, layout, words};
use crate::app::document::{ForecastDocument, SkillDocument};
use crate::domain::season::Cycle;
use crate::domain::taxon::{EmergenceMode, MonthDay};
use crate::domain::{Taxon, VernacularName};
use crate::words::Language;
use crate::{say, tell};

/// Weight from which a clock is named.
const NAMED_FROM: f64 = 0.02;

/// The page of `taxon`; `doubts` are those of its fits, by generation, in words.
pub(crate) fn taxon(page: &PageView, taxon: &Arc<Taxon>, skill: &SkillDocument, doubts: &[(u8, String)]) -> Markup {
    let (view, language) = (&page.view, page.language);
    let slug = &view.watershed.slug;
    let lines = lines_by_reach(page, taxon);
    let own: Vec<Arc<ForecastDocument>> = lines.iter().flat_map(|line| line.forecasts.iter().cloned()).collect();
    let body = html! {
        (layout::trail(language, &[(&view.watershed.name, format!("/w/{slug}"))]))
        h1 { (called(language, taxon)) }
        p.quiet { (language.word("rank", &taxon.rank)) @if let Some(order) = &taxon.order { ", " (language.of_table("order", order, order)) } }
        (other_names(language, taxon))
        (words::as_of(language, &own))
        (words::stale(language, &own))
        (words::fitting(page))
        @if !lines.is_empty() {
            section aria-labelledby="season" {
                h2 id="season" { (say!(language, "season-title", season = Cycle::of(taxon).containing(page.today).label())) }
                (progress(language, &lines, page.units))
                (season_picture(language, &lines, page.today, &say!(language, "taxon-by-reach")))
                (season_table(language, &lines, page.today, false))
            }
            section aria-labelledby="footing" {
                h2 id="footing" { (say!(language, "taxon-footing")) }
                // A fit is of one generation, alike on every reach.
                @for line in lines.chunk_by(|a, b| a.brood == b.brood).filter_map(<[Line]>::first) {
                    p {
                        (of_generation(language, taxon, line.brood))
                        (line.footing(language)) " " (clocks(language, &line.forecasts))
                    }
                }
                @if !doubts.is_empty() {
                    h3 { (say!(language, "taxon-doubts")) }
                    ul { @for (brood, doubt) in doubts { li { (of_generation(language, taxon, *brood)) (doubt_in(language, doubt)) } } }
                }
            }
        }
        section aria-labelledby="good" {
            h2 id="good" { (say!(language, "taxon-good")) }
            (by_lead(language, skill, taxon))
        }
        (life(language, taxon))
        (traits(language, taxon, page.units))
    };
    let name = called(language, taxon).to_string();
    let about = say!(language, "taxon-about", insect = &name, water = &view.watershed.name);
    let title = say!(language, "layout-title", what = format!("{name}, {}", view.watershed.name));
    layout::page(language, &title, &about, &body)
}

/// What it is called besides the name that stands above, and where the names come from.
fn other_names(language: Language, taxon: &Taxon) -> Markup {
    let usual = taxon.usual_name(language.of_names());
    let others: Vec<&VernacularName> = taxon.names.iter().filter(|known| Some(known.name.as_str()) != usual).collect();
    let sources: Vec<&str> = taxon.names.iter().map(|known| known.provenance.as_str()).collect();
    let sources: std::collections::BTreeSet<&str> = sources.into_iter().collect();
    html! {
        @if !taxon.names.is_empty() {
            p.quiet {
                @if !others.is_empty() {
                    (tell!(language, "taxon-also", names = html! {
                        @for (index, known) in others.iter().enumerate() {
                            @if index > 0 { ", " }
                            span lang=(known.language) { (known.name) } " (" (known.language) ")"
                        }
                    }))
                    " "
                }
                span.source {
                    (tell!(language, "taxon-names-source", sources = html! {
                        @for (index, source) in sources.iter().enumerate() {
                            @if index > 0 { "; " }
                            (where_from(language, source, str::to_owned))
                        }
                    }))
                }
            }
        }
    }
}

/// Before what holds for one generation of several.
fn of_generation(language: Language, taxon: &Taxon, brood: u8) -> Markup {
    html! { @if let Some(generation) = called_brood(language, taxon, brood).generation { strong { (generation) ":" } " " } }
}

/// What the clock that weighs most counts: the progress of a forecast is told on that one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counted {
    /// Days of the year.
    Days,
    /// Degree-days.
    DegreeDays,
    /// Degree-days weighed by the length of the day: units of their own.
    Photothermal,
    /// Degree-days behind a gate of day length: units of their own.
    Gated,
}

impl Counted {
    fn by(forecast: &ForecastDocument) -> Self {
        let weights = &forecast.clock.weights;
        let clocks = [
            (Self::Gated, weights.gated),
            (Self::Photothermal, weights.photothermal),
            (Self::DegreeDays, weights.thermal),
            (Self::Days, weights.calendar),
        ];
        // Of equal weights the plainer clock, which comes later, stands.
        clocks.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(Self::Days, |(counted, _)| counted)
    }
}

/// How far the season is, in heat, against the same date of a usual year.
fn progress(language: Language, lines: &[Line], units: Units) -> Markup {
    let told = lines.iter().filter_map(|line| {
        let forecast = line.forecasts.first()?;
        let progress = &forecast.progress;
        (Counted::by(forecast) != Counted::Days && progress.long_run_mean > 0.0).then_some((line, forecast, progress))
    });
    let told: Vec<_> = told.collect();
    html! {
        @if !told.is_empty() {
            p { (say!(language, "taxon-heat")) }
            ul {
                @for (line, forecast, progress) in told {
                    @let ahead = progress.units_so_far - progress.long_run_mean;
                    li {
                        (line.label) ": "
                        @let (sum, unit) = (units.degree_days(progress.units_so_far), units.symbol());
                        @let (by, apart) = (language.day(forecast.data_as_of), units.degree_days(ahead.abs()));
                        @let standing = standing(language, progress.thermal_lead_days);
                        @match Counted::by(forecast) {
                            Counted::Photothermal => (say!(language, "taxon-heat-other", clock = say!(language, "clock-photothermal"), date = by, standing = standing)),
                            Counted::Gated => (say!(language, "taxon-heat-other", clock = say!(language, "clock-gated"), date = by, standing = standing)),
                            _ if ahead >= 0.0 => (say!(language, "taxon-heat-more", sum = sum, unit = unit, date = by, apart = apart, standing = standing)),
                            _ => (say!(language, "taxon-heat-fewer", sum = sum, unit = unit, date = by, apart = apart, standing = standing)),
                        }
                    }
                }
            }
        }
    }
}

/// `about 5 days early`.
fn standing(language: Language, lead_days: f64) -> String {
    match (lead_days.abs().round() as i64, lead_days > 0.0) {
        (0, _) => say!(language, "taxon-as-usual"),
        (days, true) => say!(language, "taxon-early", days = days),
        (days, false) => say!(language, "taxon-late", days = days),
    }
}

/// Which clock carries the forecast, in words.
fn clocks(language: Language, own: &[Arc<ForecastDocument>]) -> Markup {
    let Some(forecast) = own.first() else { return html! {} };
    let weights = &forecast.clock.weights;
    let mut named = [
        (weights.thermal, say!(language, "clock-thermal")),
        (weights.calendar, say!(language, "clock-calendar")),
        (weights.photothermal, say!(language, "clock-photothermal")),
        (weights.gated, say!(language, "clock-gated")),
    ];
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    html! {
        (tell!(language, "taxon-clocks", clocks = html! {
            @for (index, (weight, clock)) in named.iter().filter(|(weight, _)| *weight >= NAMED_FROM).enumerate() {
                @if index > 0 { (say!(language, "taxon-and")) }
                (clock) " (" (say!(language, "in-100", chance = percent(language, *weight))) ")"
            }
        }))
    }
}

/// Its life at the water, for who stands there.
fn life(language: Language, taxon: &Taxon) -> Markup {
    let Some(mode) = taxon.emergence_mode else { return html! {} };
    let stages: &[&str] = match mode {
        EmergenceMode::Surface | EmergenceMode::Bottom => &["nymph", "emerger", "dun", "spinner"],
        EmergenceMode::CrawlOut => &["nymph", "adult"],
        EmergenceMode::PupalAscent => &["larva", "pupa", "adult"],
    };
    html! {
        section aria-labelledby="life" {
            h2 id="life" { (say!(language, "taxon-life")) }
            dl {
                @for stage in stages {
                    dt { (language.word("stage", stage)) }
                    dd { (language.word("life", &format!("{}-{stage}", mode.as_str()))) }
                }
            }
            (words::unsourced(language))
        }
    }
}

/// One known trait: what, the value, where it comes from.
type Row<'t> = (String, Value, &'t str);

/// A value in the reader's language, or as the table has it in English.
enum Value {
    Told(String),
    English(String),
}

fn traits(language: Language, taxon: &Taxon, units: Units) -> Markup {
    let from = &taxon.provenance;
    // Closed lists of the table have their words; what is free text there stands as it was written.
    let word = |family: &str, text: &str| {
        let english = spaced(text);
        if language.has_table_row(family, text) {
            Value::Told(language.of_table(family, text, &english))
        } else {
            Value::English(english)
        }
    };
    let rows: Vec<Row<'_>> = [
        taxon.window.map(|window| (say!(language, "trait-season"), Value::Told(days(language, window)), &*from.window)),
        taxon.base_temp_c.map(|base| {
            let sd = taxon.base_temp_sd.map(|sd| {
                say!(language, "water-today-error", difference = language.decimals(&units.difference(sd, 1)))
            });
            let base = language.decimals(&units.temperature(base, 1)) + &sd.unwrap_or_default();
            (say!(language, "trait-base"), Value::Told(base), &*from.thermal)
        }),
        taxon.emergence_water_c.map(|(low, high)| {
            (
                say!(language, "trait-water"),
                Value::Told(say!(
                    language,
                    "trait-range",
                    from = units.number(low, 0),
                    to = units.temperature(high, 0)
                )),
                &*from.thermal,
            )
        }),
        taxon.peak_hour.map(|hour| (say!(language, "trait-hour"), Value::Told(solar_clock(hour)), &*from.behaviour)),
        taxon
            .spinner_time
            .as_ref()
            .map(|time| (say!(language, "trait-flights"), word("flights", time), &*from.behaviour)),
        taxon.emergence_mode.map(|mode| {
            (say!(language, "trait-leaves"), Value::Told(language.word("mode", mode.as_str())), &*from.behaviour)
        }),
        taxon
            .oviposition_mode
            .as_ref()
            .map(|mode| (say!(language, "trait-lays"), word("laying", mode), &*from.behaviour)),
        taxon.nymph_habit.as_ref().map(|habit| (say!(language, "trait-habit"), word("habit", habit), &*from.behaviour)),
        taxon
            .voltinism
            .as_ref()
            .map(|text| (say!(language, "trait-generations"), Value::English(text.clone()), &*from.window)),
        taxon.body_mm.map(|(small, large)| {
            (say!(language, "trait-body"), Value::Told(lengths(language, small, large)), &*from.size)
        }),
        taxon.hooks.map(|(large, small)| {
            (
                say!(language, "trait-hooks"),
                Value::Told(say!(language, "trait-range", from = large.to_string(), to = small.to_string())),
                &*from.size,
            )
        }),
        taxon.water_type.as_ref().map(|text| (say!(language, "trait-likes"), Value::English(text.clone()), "")),
        taxon.region.as_ref().map(|text| (say!(language, "trait-region"), Value::English(text.clone()), "")),
    ]
    .into_iter()
    .flatten()
    .collect();
    html! {
        section aria-labelledby="traits" {
            h2 id="traits" { (say!(language, "traits-title")) }
            @if rows.is_empty() {
                p { (say!(language, "traits-none")) }
            } @else {
                div.scroll tabindex="0" role="region" aria-label=(say!(language, "traits-table")) {
                    table {
                        caption { (say!(language, "traits-caption")) }
                        thead { tr { th scope="col" { (say!(language, "traits-trait")) } th scope="col" { (say!(language, "traits-value")) } th scope="col" { (say!(language, "traits-source")) } } }
                        tbody {
                            @for (name, value, source) in &rows {
                                tr {
                                    th scope="row" { (name) }
                                    @match value {
                                        Value::Told(words) => { td { (words) } }
                                        Value::English(words) => { td lang=[foreign(language)] { (words) } }
                                    }
                                    td.source { @if !source.is_empty() { (where_from(language, source, plainly)) } }
                                }
                            }
                        }
                    }
                }
            }
            @if let Some(note) = &taxon.note { p lang=[foreign(language)] { (note) } }
        }
    }
}

/// From one day of an ordinary year to another.
fn days(language: Language, (early, late): (MonthDay, MonthDay)) -> String {
    let told = |day: MonthDay| {
        let ordinary = NaiveDate::from_ymd_opt(2023, u32::from(day.month), u32::from(day.day));
        ordinary.map_or_else(|| day.to_string(), |date| language.day(date))
    };
    say!(language, "trait-range", from = told(early), to = told(late))
}

/// `net-spinner` as `net spinner`; ranges of numbers keep their stroke.
fn spaced(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let of_numbers = |at: usize| {
        let is_digit = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(char::is_ascii_digit);
        is_digit(at.checked_sub(1)) && is_digit(Some(at + 1))
    };
    let told = letters.iter().enumerate().map(|(at, letter)| match letter {
        '-' if of_numbers(at) => '\u{2013}',
        '-' | '_' => ' ',
        other => *other,
    });
    told.collect()
}

/// Hours after midnight as a clock.
fn solar_clock(hour: f64) -> String {
    let minutes = (hour * 60.0).round() as u32 % (24 * 60);
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

/// A doubt about a fit. Fits are stored with their doubts in English, from which the sentence is known again; one that
/// is not known stands as it is.
fn doubt_in(language: Language, doubt: &str) -> Markup {
    match super::doubts::told(language, doubt) {
        Some(words) => html! { (words) },
        None => words::in_english(language, doubt),
    }
}

#[cfg(test)]
mod tests {
    use super::spaced;

    #[test]
    fn ranges_of_numbers_keep_their_stroke() {
        assert_eq!(
            spaced("26-44 min after sunset, for 19-30 min"),
            "26\u{2013}44 min after sunset, for 19\u{2013}30 min"
        );
        assert_eq!(spaced("net-spinner"), "net spinner");
        assert_eq!(spaced("surface_or_dive"), "surface or dive");
        assert_eq!(spaced("-1"), " 1");
    }
}
