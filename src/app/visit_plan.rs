//! Ranks the reaches and days of the coming fortnight by what a visit would teach.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use super::document::visit_plan::{PlannedTaxonDocument, PlannedVisitDocument, VisitPlanDocument};
use super::forecast::{ForecastError, ForecastRequest, Made, make};
use super::publish_season::{Residents, fitted_residents, of_today};
use super::{AppError, Service};
use crate::domain::Slug;

/// Rows told.
const ROWS: usize = 40;
/// Insects named in a row.
const NAMED: usize = 5;

/// The plan of `watershed` from today on: draws the season of every insect on every reach, so that
/// [`super::kept`] makes one at a time.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Unavailable`] while nothing is fitted.
pub async fn visit_plan(service: &Service, watershed: &Slug) -> Result<VisitPlanDocument, AppError> {
    let view = service.watershed(watershed)?;
    let busy = |detail| AppError::Unavailable { detail, retry_after_s: 5 };
    let today = service.today(view.watershed.time_zone);
    let slug = &view.watershed.slug;
    let Residents { ready, outdated } = fitted_residents(service.db(), slug, &[]).await?;
    if ready.is_empty() {
        if !outdated.is_empty() {
            return Err(busy("The fits are of another version of the program and are to be made again."));
        }
        return Ok(VisitPlanDocument { watershed: slug.to_string(), rows: Vec::new() });
    }
    let request = ForecastRequest { weigh_visits: true, ..of_today(slug, &ready, today) };
    let made = make(service.db(), service.clock(), &request).await.map_err(|error| match error {
        ForecastError::NoFit { .. } | ForecastError::OldFit(_) => busy("Some taxa are still to be fitted."),
        other => AppError::Internal(format!("visit plan: {other:?}")),
    })?;
    Ok(VisitPlanDocument { watershed: slug.to_string(), rows: rank(&made, today) })
}

fn rank(made: &[Made], today: NaiveDate) -> Vec<PlannedVisitDocument> {
    let mut visits: BTreeMap<(String, NaiveDate), Vec<PlannedTaxonDocument>> = BTreeMap::new();
    for one in made {
        for (ahead, narrowing_days) in one.narrowing_days.iter().enumerate() {
            let key = (one.forecast.reach.to_string(), today + Days::new(ahead as u64));
            visits.entry(key).or_default().push(PlannedTaxonDocument {
                taxon: one.forecast.taxon.to_string(),
                brood: one.forecast.brood,
                narrowing_days: *narrowing_days,
            });
        }
    }
    let mut rows: Vec<PlannedVisitDocument> = visits
        .into_iter()
        .map(|((reach, date), mut taxa)| {
            let narrowing_days = taxa.iter().map(|t| t.narrowing_days).sum();
            taxa.sort_by(|a, b| b.narrowing_days.total_cmp(&a.narrowing_days));
            taxa.truncate(NAMED);
            PlannedVisitDocument { reach, date, narrowing_days, taxa }
        })
        .collect();
    // Stable: equal rows keep the order of reach and day.
    rows.sort_by(|a, b| b.narrowing_days.total_cmp(&a.narrowing_days));
    rows.truncate(ROWS);
    rows
}
