//! The job `fit`: fits a watershed (or one taxon of it) and publishes the forecasts.

use chrono::NaiveDate;
use serde::Deserialize;

use crate::app::fit::{FitRequest, fit_watershed};
use crate::app::publish::publish;
use crate::domain::Slug;
use crate::domain::job::Job;
use crate::store::job::{Lease, progress_job};

use super::Runner;

/// Arguments of the job.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Arguments {
    #[serde(default)]
    taxon: Option<String>,
    #[serde(default)]
    through: Option<NaiveDate>,
}

pub(super) async fn run(runner: &Runner, job: &Job) -> Result<String, String> {
    let arguments: Arguments = serde_json::from_str(&job.arguments_json)
        .map_err(|e| error_json("bad-arguments", &format!("the job's arguments cannot be read: {e}")))?;
    let taxon = arguments
        .taxon
        .map(|text| Slug::new(&text))
        .transpose()
        .map_err(|e| error_json("bad-arguments", &e.to_string()))?;
    let request = FitRequest { watershed: job.watershed.clone(), taxon: taxon.clone(), through: arguments.through };
    let outcomes = fit_watershed(&runner.db, runner.clock.as_ref(), &request, &|_| {})
        .await
        .map_err(|e| error_json("fit-failed", &chain(&e)))?;
    let now = runner.clock.now();
    let total = outcomes.len() as u32;
    let told = async {
        let mut tx = runner.db.write().await?;
        progress_job(&mut tx, Lease::of(job), total, total, now).await?;
        tx.commit().await
    };
    told.await.map_err(|e| error_json("database", &chain(&e)))?;
    let local = |zone: chrono_tz::Tz| now.with_timezone(&zone).date_naive();
    let zone = watershed_zone(runner, &job.watershed).await?;
    let today = runner.today.unwrap_or_else(|| local(zone));
    let published = publish(&runner.db, runner.clock.as_ref(), &job.watershed, taxon.as_ref(), today)
        .await
        .map_err(|e| error_json("publish-failed", &chain(&e)))?;
    let fitted: Vec<serde_json::Value> = outcomes
        .iter()
        .map(|o| {
            serde_json::json!({
                "taxon": o.taxon.as_str(),
                "brood": o.brood,
                "fit": o.fit.as_ref().map(|f| f.id),
                "prior_driven": o.fit.as_ref().is_some_and(|f| f.prior_driven),
            })
        })
        .collect();
    Ok(serde_json::json!({ "fitted": fitted, "forecasts": published.len() }).to_string())
}

async fn watershed_zone(runner: &Runner, slug: &Slug) -> Result<chrono_tz::Tz, String> {
    let found = async {
        let mut tx = runner.db.read().await?;
        crate::store::place::find_watershed(&mut tx, slug).await
    };
    match found.await {
        Ok(Some(watershed)) => Ok(watershed.time_zone),
        Ok(None) => Err(error_json("no-watershed", "the watershed is gone")),
        Err(e) => Err(error_json("database", &chain(&e))),
    }
}

/// An error as stored with a job.
pub(super) fn error_json(code: &str, detail: &str) -> String {
    serde_json::json!({ "code": code, "detail": detail }).to_string()
}

/// An error with its causes in one line.
fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(next) = cause {
        text = format!("{text}: {next}");
        cause = next.source();
    }
    text
}
