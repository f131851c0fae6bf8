//! The season picture: a ridge of expected intensity per taxon along one date axis.
//!
//! Each row is its own drawing, as wide as the page; positions are percentages and letters keep
//! their size, so the chart is as readable on a phone as on a wall. Only attributes and classes
//! are used, which the content policy allows.

use chrono::{Datelike, Days, NaiveDate};
use maud::{Markup, html};

use super::season::{Line, picture_range, when};
use crate::say;
use crate::words::Language;

/// Height of a ridge, CSS pixels.
const ROW_PX: u32 = 44;
/// Width of the ridge's own coordinates.
const SCALE: f64 = 1000.0;

/// Maps dates to percentages of the width.
#[derive(Debug, Clone, Copy)]
struct Axis {
    first: NaiveDate,
    days: f64,
}

impl Axis {
    fn new(first: NaiveDate, last: NaiveDate) -> Self {
        Self { first, days: (last - first).num_days() as f64 + 1.0 }
    }

    /// Start of `date` in percent, clamped to the picture.
    fn percent(self, date: NaiveDate) -> f64 {
        ((date - self.first).num_days() as f64 / self.days * 100.0).clamp(0.0, 100.0)
    }

    fn months(self) -> Vec<NaiveDate> {
        let mut months = Vec::new();
        let mut month = self.first;
        while self.percent(month) < 100.0 {
            months.push(month);
            let Some(next) = (month + Days::new(32)).with_day(1) else { break };
            month = next;
        }
        months
    }
}

/// The picture of `lines`; nothing without any.
pub(crate) fn season_picture(language: Language, lines: &[Line], today: NaiveDate, title: &str) -> Markup {
    let Some((first, last)) = picture_range(lines, today) else { return html! {} };
    let axis = Axis::new(first, last);
    let tallest = tallest(lines);
    let shown_today = (first..=last).contains(&today).then_some(today);
    html! {
        figure.season aria-labelledby="season-title" {
            figcaption id="season-title" { (title) }
            p.key {
                (say!(language, "picture-height")) " "
                span.swatch-hatch aria-hidden="true" {} " " (say!(language, "picture-hatched"))
            }
            (hatch())
            (axis_row(language, axis, shown_today))
            @for (index, line) in lines.iter().enumerate() {
                (row(language, index, line, axis, tallest, shown_today))
            }
            (heights(language, lines, axis))
        }
    }
}

/// The heights of the ridges as a table, shut: on three days of each month.
fn heights(language: Language, lines: &[Line], axis: Axis) -> Markup {
    let days = axis.first.iter_days().take(axis.days as usize).filter(|day| matches!(day.day(), 1 | 11 | 21));
    let days: Vec<NaiveDate> = days.collect();
    html! {
        details {
            summary { (say!(language, "picture-heights")) }
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "picture-heights")) {
                table.heights {
                    caption { (say!(language, "picture-heights-caption")) }
                    thead {
                        tr {
                            td {}
                            @for day in &days { th scope="col" { (language.short_day(*day)) } }
                        }
                    }
                    tbody {
                        @for line in lines {
                            @let intensity = line.intensity();
                            tr {
                                th scope="row" { (line.label) }
                                @for day in &days {
                                    td {
                                        @match intensity.iter().find(|(date, _)| date == day) {
                                            Some((_, height)) => (language.number(*height, 1)),
                                            None => "\u{2013}",
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The ridges of `lines` one by one, with the axis above them, for a table that has its own words.
pub(crate) fn ridges(language: Language, lines: &[Line], today: NaiveDate) -> Option<(Markup, Vec<Markup>)> {
    let (first, last) = picture_range(lines, today)?;
    let axis = Axis::new(first, last);
    let shown_today = (first..=last).contains(&today).then_some(today);
    let tallest = tallest(lines);
    let drawn = lines.iter().enumerate().map(|(index, line)| ridge(language, index, line, axis, tallest, shown_today));
    Some((html! { (hatch()) (axis_row(language, axis, shown_today)) }, drawn.collect()))
}

/// The largest intensity of all lines, which fills a row.
fn tallest(lines: &[Line]) -> f64 {
    lines.iter().flat_map(Line::intensity).map(|(_, intensity)| intensity).fold(0.5_f64, f64::max)
}

/// The hatch that all rows share.
fn hatch() -> Markup {
    html! {
        svg.defs width="0" height="0" aria-hidden="true" {
            defs {
                pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    line.hatch x1="0" y1="0" x2="0" y2="6" stroke-width="3" {}
                }
            }
        }
    }
}

fn axis_row(language: Language, axis: Axis, today: Option<NaiveDate>) -> Markup {
    let months = axis.months();
    // Twelve three-letter names do not fit on a phone; every other one does.
    let step = if months.len() > 8 { 2 } else { 1 };
    html! {
        svg.axis width="100%" height="36" aria-hidden="true" {
            @for (index, month) in months.iter().enumerate() {
                @let x = format!("{:.2}%", axis.percent(*month));
                line.tick x1=(x) x2=(x) y1="20" y2="36" {}
                @if index % step == 0 {
                    text.label x=(x) y="32" dx="3" font-size="12" { (language.axis_month(*month)) }
                }
            }
            @if let Some(today) = today {
                @let percent = axis.percent(today);
                @let anchor = if percent < 12.0 { "start" } else if percent > 88.0 { "end" } else { "middle" };
                text.today-label x=(format!("{percent:.2}%")) y="13" font-size="13" text-anchor=(anchor) {
                    (say!(language, "picture-today", day = language.short_day(today)))
                }
            }
        }
    }
}

fn row(language: Language, index: usize, line: &Line, axis: Axis, tallest: f64, today: Option<NaiveDate>) -> Markup {
    html! {
        div.row {
            p.who { (line.label) " " span.when { (say!(language, "picture-starts", when = when(language, line.onset()))) } }
            (ridge(language, index, line, axis, tallest, today))
        }
    }
}

/// The ridge of `line` alone, as wide as what holds it.
fn ridge(language: Language, index: usize, line: &Line, axis: Axis, tallest: f64, today: Option<NaiveDate>) -> Markup {
    let onset = line.onset();
    let (starts, fullest, ends) = (when(language, onset), when(language, line.peak()), when(language, line.end()));
    let described = say!(language, "picture-described", starts = starts, fullest = fullest, ends = ends);
    let (title_id, text_id) = (format!("ridge-{index}-t"), format!("ridge-{index}-d"));
    html! {
        svg.ridge width="100%" height=(ROW_PX) role="img" aria-labelledby=(format!("{title_id} {text_id}")) {
            title id=(title_id) { (line.name()) }
            desc id=(text_id) { (described) }
            @for month in axis.months() {
                @let x = format!("{:.2}%", axis.percent(month));
                line.grid x1=(x) x2=(x) y1="0" y2=(ROW_PX) {}
            }
            @if let Some(low) = onset.p10 {
                @let from = axis.percent(low);
                @let to = onset.p90.map_or(100.0, |high| axis.percent(high + Days::new(1)));
                rect.start x=(format!("{from:.2}%")) width=(format!("{:.2}%", (to - from).max(0.4)))
                    y="4" height=(ROW_PX - 6) fill="url(#hatch)" {}
            }
            svg width="100%" height=(ROW_PX) viewBox=(format!("0 0 {SCALE} {ROW_PX}")) preserveAspectRatio="none" {
                path.ridge-fill d=(path(line, axis, tallest)) {}
            }
            @if let Some(middle) = onset.p50 {
                @let x = format!("{:.2}%", axis.percent(middle));
                line.median x1=(x) x2=(x) y1="4" y2=(ROW_PX - 2) stroke-width="3" {}
            }
            line.ground x1="0" x2="100%" y1=(ROW_PX - 1) y2=(ROW_PX - 1) {}
            @if let Some(today) = today {
                @let x = format!("{:.2}%", axis.percent(today));
                line.today x1=(x) x2=(x) y1="0" y2=(ROW_PX) stroke-width="2" stroke-dasharray="4 3" {}
            }
        }
    }
}

/// The ridge as a closed outline.
fn path(line: &Line, axis: Axis, tallest: f64) -> String {
    use std::fmt::Write as _;
    let ground = f64::from(ROW_PX) - 1.0;
    let room = ground - 4.0;
    let last = axis.first + Days::new(axis.days as u64);
    let mut outline = format!("M0 {ground:.1}");
    let mut right = 0.0;
    for (date, intensity) in line.intensity().into_iter().filter(|(date, _)| *date >= axis.first && *date < last) {
        // The middle of the day.
        let x = ((date - axis.first).num_days() as f64 + 0.5) / axis.days * SCALE;
        let y = ground - intensity / tallest * room;
        // Writing to a String cannot fail.
        let _ = write!(outline, "L{x:.1} {y:.1}");
        right = x;
    }
    let _ = write!(outline, "L{right:.1} {ground:.1}Z");
    outline
}
