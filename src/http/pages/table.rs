//! Tables that say the same as the pictures.

use chrono::{Days, NaiveDate};
use maud::{Markup, html};

use super::season::{Label, Line, Phase, when};
use super::units::Units;
use crate::say;
use crate::words::Language;

/// The season of every line in words and numbers.
pub(crate) fn season_table(language: Language, lines: &[Line], today: NaiveDate, several_reaches: bool) -> Markup {
    let by_place = matches!(lines.first().map(|line| &line.label), Some(Label::Place(_)));
    let head = if by_place { say!(language, "table-reach") } else { say!(language, "table-insect") };
    html! {
        div.scroll tabindex="0" role="region" aria-label=(say!(language, "table-season")) {
            table.season-table {
                caption {
                    @if several_reaches { (say!(language, "table-caption-reaches")) } @else { (say!(language, "table-caption")) }
                }
                thead {
                    tr {
                        th scope="col" { (head) }
                        th scope="col" { (say!(language, "table-starts")) }
                        th scope="col" { (say!(language, "table-fullest")) }
                        th scope="col" { (say!(language, "table-ends")) }
                        th scope="col" { (say!(language, "table-today")) }
                        th scope="col" { (say!(language, "table-sure")) }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            th scope="row" { (line.label) }
                            td { (when(language, line.onset())) }
                            td { (when(language, line.peak())) }
                            td { (when(language, line.end())) }
                            td { (today_cell(language, line, today)) }
                            td { (line.footing(language)) }
                        }
                    }
                }
            }
        }
    }
}

fn today_cell(language: Language, line: &Line, today: NaiveDate) -> String {
    match (line.phase(today), line.chance_of_any(today)) {
        (Phase::Over, _) => say!(language, "table-over"),
        (_, Some(chance)) => say!(language, "chance-in-cell", chance = percent(language, chance)),
        (_, None) => "\u{2013}".to_owned(),
    }
}

/// A chance as a whole number of hundredths; never 0 or 100, which would promise.
pub(crate) fn percent(language: Language, chance: f64) -> String {
    match (chance * 100.0).round() {
        whole if whole < 1.0 => say!(language, "percent-under"),
        whole if whole > 99.0 => say!(language, "percent-over"),
        whole => format!("{whole:.0}"),
    }
}

/// Chances of moderate or heavy on each of the next days at one reach.
pub(crate) fn days_table(language: Language, lines: &[Line], from: NaiveDate, days: u64, units: Units) -> Markup {
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
            p { (say!(language, "days-nothing", days = days)) }
        } @else {
            div.scroll tabindex="0" role="region" aria-label=(say!(language, "days-table")) {
                table.days {
                    caption { (say!(language, "days-caption")) }
                    thead {
                        tr {
                            th scope="col" { (say!(language, "days-day")) }
                            th scope="col" { (say!(language, "days-water", unit = units.symbol())) }
                            @for line in &shown { th scope="col" { span.insect { (line.label) } } }
                        }
                    }
                    tbody {
                        @for date in &dates {
                            tr {
                                th scope="row" { (language.short_weekday_with_day(*date)) }
                                td { (water(language, &shown, *date, units)) }
                                @for line in &shown { (cell(language, line, *date)) }
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
fn cell(language: Language, line: &Line, date: NaiveDate) -> Markup {
    let Some((_, plenty)) = line.best_reach(date) else { return html! { td { "\u{2013}" } } };
    let any = line.chance_of_any(date).unwrap_or(0.0);
    let shade = match (any, plenty) {
        (_, plenty) if plenty >= 0.5 => "s3",
        (any, _) if any >= 0.5 => "s2",
        (any, _) if any >= 0.1 => "s1",
        _ => "s0",
    };
    html! { td class=(shade) { (percent(language, any)) span.small { " / " (percent(language, plenty)) } } }
}

fn water(language: Language, lines: &[&Line], date: NaiveDate, units: Units) -> String {
    lines
        .iter()
        .flat_map(|line| line.forecasts.iter())
        .find_map(|forecast| forecast.day(date).and_then(|day| day.water_c))
        .map_or_else(
            || "\u{2013}".to_owned(),
            |q| {
                let middle = language.decimals(&units.number(q.p50, 1));
                format!("{middle} ({}\u{2013}{})", units.number(q.p10, 0), units.number(q.p90, 0))
            },
        )
}
