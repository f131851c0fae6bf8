//! Tables that say the same as the pictures.

use chrono::{Days, NaiveDate};
use maud::{Markup, html};

use super::season::{Label, Line, Phase, when};
use super::units::Units;

/// The season of every line in words and numbers.
pub(crate) fn season_table(lines: &[Line], today: NaiveDate, several_reaches: bool) -> Markup {
    let head = if matches!(lines.first().map(|line| &line.label), Some(Label::Place(_))) { "Reach" } else { "Insect" };
    html! {
        div.scroll tabindex="0" role="region" aria-label="Season in numbers" {
            table.season-table {
                caption {
                    "Season in numbers. Ranges hold four chances in five"
                    @if several_reaches { ", from the earliest reach to the latest" }
                    "."
                }
                thead {
                    tr {
                        th scope="col" { (head) }
                        th scope="col" { "Starts" }
                        th scope="col" { "Fullest" }
                        th scope="col" { "Ends" }
                        th scope="col" { "Chance today" }
                        th scope="col" { "How sure" }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            th scope="row" { (line.label) }
                            td { (when(line.onset())) }
                            td { (when(line.peak())) }
                            td { (when(line.end())) }
                            td { (today_cell(line, today)) }
                            td { (line.footing()) }
                        }
                    }
                }
            }
        }
    }
}

fn today_cell(line: &Line, today: NaiveDate) -> String {
    match (line.phase(today), line.chance_of_any(today)) {
        (Phase::Over, _) => "over for the year".to_owned(),
        (_, Some(chance)) => format!("{} in 100", percent(chance)),
        (_, None) => "\u{2013}".to_owned(),
    }
}

/// A chance as a whole number of hundredths; never 0 or 100, which would promise.
pub(crate) fn percent(chance: f64) -> String {
    match (chance * 100.0).round() {
        whole if whole < 1.0 => "under 1".to_owned(),
        whole if whole > 99.0 => "over 99".to_owned(),
        whole => format!("{whole:.0}"),
    }
}

/// Chances of moderate or heavy on each of the next days at one reach.
pub(crate) fn days_table(lines: &[Line], from: NaiveDate, days: u64, units: Units) -> Markup {
    let dates: Vec<NaiveDate> = (0..days).map(|ahead| from + Days::new(ahead)).collect();
    let mut shown: Vec<&Line> = lines
        .iter()
        .filter(|line| dates.iter().any(|date| line.chance_of_any(*date).is_some_and(|chance| chance >= 0.05)))
        .collect();
    // What is most likely today stands first, next to the day.
    let today = |line: &Line| line.chance_of_any(from).unwrap_or(0.0);
    shown.sort_by(|a, b| today(b).total_cmp(&today(a)));
    html! {
        @if shown.is_empty() {
            p { "Nothing worth a row is expected in the coming " (days) " days." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Coming days in numbers" {
                table.days {
                    caption {
                        "Chances in 100, for one person watching the two hours around the likeliest hour: "
                        "of seeing any, and of moderate or heavy numbers."
                    }
                    thead {
                        tr {
                            th scope="col" { "Day" }
                            th scope="col" { "Water, " (units.symbol()) }
                            @for line in &shown { th scope="col" { span.insect { (line.label) } } }
                        }
                    }
                    tbody {
                        @for date in &dates {
                            tr {
                                th scope="row" { (date.format("%a %-d %b")) }
                                td { (water(&shown, *date, units)) }
                                @for line in &shown { (cell(line, *date)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Shaded where any, and darker where plenty, is as likely as not; with the numbers written in, for
/// the shade is never the only sign.
fn cell(line: &Line, date: NaiveDate) -> Markup {
    let Some((_, plenty)) = line.best_reach(date) else { return html! { td { "\u{2013}" } } };
    let any = line.chance_of_any(date).unwrap_or(0.0);
    let shade = match (any, plenty) {
        (_, plenty) if plenty >= 0.5 => "s3",
        (any, _) if any >= 0.5 => "s2",
        (any, _) if any >= 0.1 => "s1",
        _ => "s0",
    };
    html! { td class=(shade) { (percent(any)) span.small { " / " (percent(plenty)) } } }
}

fn water(lines: &[&Line], date: NaiveDate, units: Units) -> String {
    lines
        .iter()
        .flat_map(|line| line.forecasts.iter())
        .find_map(|forecast| forecast.day(date).and_then(|day| day.water_c))
        .map_or_else(
            || "\u{2013}".to_owned(),
            |q| format!("{} ({}\u{2013}{})", units.number(q.p50, 1), units.number(q.p10, 0), units.number(q.p90, 0)),
        )
}
