//! What the records teach: where a visit would tell most, and how early or late each season came.

use std::collections::BTreeMap;

use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use chrono::NaiveDate;
use maud::{Markup, html};

use super::called::by_slug;
use super::frame::{Said, page_at, sent};
use super::session::AtWater;
use crate::app::document::season_review::ReviewRowDocument;
use crate::app::document::visit_plan::PlannedVisitDocument;
use crate::app::{AppError, kept};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::state::AppState;

/// `/desk/{w}/visits`
pub(crate) async fn visits_page(
    State(state): State<AppState>,
    who: AtWater,
    _: Query<NoQuery>,
) -> Result<Response<Body>, Problem> {
    let plan = match kept::kept_plan(&state.service, &who.view.watershed.slug).await {
        Ok(plan) => Ok(plan),
        Err(AppError::Unavailable { detail, .. }) => Err(detail),
        Err(other) => return Err(other.into()),
    };
    let body = html! {
        p {
            "Days of the coming fortnight, with the reaches of each, the most useful first: what one person, watching the two hours around "
            "each peak, is expected to tell about the dates of all insects together."
        }
        p.quiet { "It says where looking helps, not whether it is safe: look at the water and the sky before you wade." }
        @match &plan {
            Err(detail) => p.banner { (detail) },
            Ok(plan) if plan.rows.is_empty() => p { "Nothing to plan: no insect is fitted, or none is still to come this season." },
            Ok(plan) => (plan_table(&who, &plan.rows)),
        }
    };
    Ok(sent(page_at(&who, "/visits", "Visit plan", Said(None), &body)))
}

fn reach(who: &AtWater, slug: &str) -> String {
    let known = who.view.reaches.iter().find(|reach| reach.slug.key() == slug.to_ascii_lowercase());
    known.map_or_else(|| slug.to_owned(), |reach| reach.name.clone())
}

/// Which generation, where there are several.
fn generation(brood: u8) -> String {
    if brood > 1 { format!(", generation {brood}") } else { String::new() }
}

/// The rows of each day, in the order of the days; of each day the most useful first.
fn by_day(rows: &[PlannedVisitDocument]) -> BTreeMap<NaiveDate, Vec<&PlannedVisitDocument>> {
    let mut days: BTreeMap<NaiveDate, Vec<&PlannedVisitDocument>> = BTreeMap::new();
    // The plan is in the order of use already.
    for row in rows {
        days.entry(row.date).or_default().push(row);
    }
    days
}

fn plan_table(who: &AtWater, rows: &[PlannedVisitDocument]) -> Markup {
    let told = |row: &PlannedVisitDocument| format!("{} ({:.2})", reach(who, &row.reach), row.narrowing_days);
    html! {
        @if let Some(best) = rows.first() {
            p { "The most useful of all: " strong { (best.date.format("%A %-d %B")) " at " (reach(who, &best.reach)) } "." }
        }
        div.scroll tabindex="0" role="region" aria-label="Visit plan" {
            table {
                caption {
                    "A row for each day. In brackets the days by which dates are expected to become narrower: falls of standard "
                    "deviations, added up."
                }
                thead { tr { th scope="col" { "Day" } th scope="col" { "Go first to" } th scope="col" { "Most about" } th scope="col" { "Or to" } } }
                tbody {
                    @for (day, visits) in by_day(rows) {
                        tr {
                            th scope="row" { (day.format("%a %-d %B")) }
                            @if let Some((first, others)) = visits.split_first() {
                                td { (told(first)) }
                                td {
                                    @for (index, one) in first.taxa.iter().take(3).enumerate() {
                                        @if index > 0 { ", " }
                                        (by_slug(&who.view, &one.taxon)) (generation(one.brood))
                                    }
                                }
                                td { (others.iter().map(|row| told(row)).collect::<Vec<_>>().join(", ")) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// `/desk/{w}/review`
pub(crate) async fn review_page(
    State(state): State<AppState>,
    who: AtWater,
    _: Query<NoQuery>,
) -> Result<Response<Body>, Problem> {
    let review = kept::kept_review(&state.service, &who.view.watershed.slug).await?;
    let body = html! {
        p {
            "How early or late each season came, by the fits in use. On the calendar: days later than the usual date. On the "
            "other clocks: days later than the warmth of that season said."
        }
        @if review.rows.is_empty() { p { "Nothing is fitted yet, or the fits are to be made anew." } }
        @for row in &review.rows { (season_table(&who, row)) }
    };
    Ok(sent(page_at(&who, "/review", "Season review", Said(None), &body)))
}

/// How a season came that was `days` late with the standard deviation `sd`.
fn how_it_came(days: f64, sd: f64) -> String {
    // A season of which little was seen yet stands at zero with the spread of any season: that is no knowledge.
    if days.abs() < sd {
        return "not to be told from usual".to_owned();
    }
    if days.abs() < 0.5 {
        return "as usual".to_owned();
    }
    let unit = if days.abs() < 1.5 { "day" } else { "days" };
    format!("{:.0} {unit} {}", days.abs(), if days > 0.0 { "late" } else { "early" })
}

fn season_table(who: &AtWater, row: &ReviewRowDocument) -> Markup {
    let title = format!("{}{}, {} clock", by_slug(&who.view, &row.taxon), generation(row.brood), row.clock);
    html! {
        div.scroll tabindex="0" role="region" aria-label=(title) {
            table {
                caption {
                    strong { (title) } ". "
                    @match (row.trend_days_per_decade, row.trend_se) {
                        (Some(trend), Some(se)) => { "Trend: " (format!("{trend:+.1}")) " days in ten years (standard error " (format!("{se:.1}")) ")." }
                        _ => "No trend: fewer than five seasons.",
                    }
                }
                thead { tr { th scope="col" { "Season" } th scope="col" { "How it came" } th scope="col" { "Days late" } th scope="col" { "Standard deviation" } } }
                tbody {
                    @for season in &row.seasons {
                        tr {
                            th scope="row" { (season.season) }
                            td { (how_it_came(season.days_late, season.sd_days)) }
                            td { (format!("{:+.1}", season.days_late)) }
                            td { (format!("{:.1}", season.sd_days)) }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_season_is_called_late_or_early_only_beyond_its_standard_deviation() {
        assert_eq!(how_it_came(4.4, 4.5), "not to be told from usual");
        assert_eq!(how_it_came(0.0, 6.0), "not to be told from usual");
        assert_eq!(how_it_came(4.6, 4.5), "5 days late");
        assert_eq!(how_it_came(-1.2, 0.8), "1 day early");
        assert_eq!(how_it_came(0.3, 0.2), "as usual");
    }

    #[test]
    fn visits_stand_by_day_with_the_most_useful_of_each_first_and_none_is_lost() {
        let day = |day| NaiveDate::from_ymd_opt(2026, 5, day).expect("a day");
        let visit = |reach: &str, date, narrowing_days| PlannedVisitDocument {
            reach: reach.to_owned(),
            date,
            narrowing_days,
            taxa: Vec::new(),
        };
        // In the order of use, as the plan gives them.
        let rows = [
            visit("b", day(21), 0.9),
            visit("a", day(20), 0.8),
            visit("c", day(20), 0.5),
            visit("a", day(21), 0.4),
            visit("b", day(20), 0.1),
        ];
        let grouped: Vec<(NaiveDate, Vec<&str>)> = by_day(&rows)
            .into_iter()
            .map(|(day, visits)| (day, visits.iter().map(|row| row.reach.as_str()).collect()))
            .collect();
        assert_eq!(grouped, [(day(20), vec!["a", "c", "b"]), (day(21), vec!["b", "a"])]);
    }
}
