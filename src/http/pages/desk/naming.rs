//! Insects that a member described and a keeper names. What the member said stays in the report's history.

use maud::{Markup, html};
use serde_json::{Value, json};

use super::called::choices;
use super::form::{Fields, Form};
use super::frame::mark;
use super::session::AtWater;
use crate::app::AppError;
use crate::app::document::{ModerationDocument, ReportDocument};

/// The change that names what the form says; a fault where no insect was chosen.
///
/// # Errors
/// When the report cannot be written.
pub(super) fn patch(report: &ReportDocument, form: &Form) -> Result<Result<Value, AppError>, AppError> {
    let mut sightings =
        serde_json::to_value(&report.sightings).map_err(|error| AppError::Internal(error.to_string()))?;
    let missing = || Ok(Err(AppError::fault("#/taxon", "missing", "must be chosen")));
    let at = form.text("name").parse::<usize>().ok();
    let Some(one) = at.and_then(|at| sightings.get_mut(at)).filter(|one| one["taxon"].is_null()) else {
        return missing();
    };
    if form.text("taxon").is_empty() {
        return missing();
    }
    one["taxon"] = Value::from(form.text("taxon"));
    one["described"] = Value::Null;
    Ok(Ok(json!({ "sightings": sightings })))
}

/// A form for each insect without a name.
pub(super) fn forms(who: &AtWater, told: &ModerationDocument, action: &str, fields: Fields<'_>) -> Markup {
    let mut taxa = vec![(String::new(), "Choose an insect".to_owned())];
    taxa.extend(choices(&who.view));
    // One at a time: the others have their turn once it is named.
    let unnamed = told.report.sightings.iter().enumerate().find(|(_, seen)| seen.taxon.is_none());
    html! {
        @if let Some((index, seen)) = unnamed {
            h2 { "Name an insect" }
            p {
                @match &seen.described {
                    Some(described) => { (described.length_mm) " mm, " (described.colour) ", " (seen.stage) },
                    None => (seen.stage),
                }
                ". What the member said stays in the history."
            }
            (fields.complaint(&["taxon"]))
            form.filled method="post" action=(action) {
                (mark(&who.signed))
                input type="hidden" name="version" value=(told.report.version);
                (fields.choice("taxon", "It is", "", "", &taxa))
                button type="submit" name="name" value=(index) { "Name it" }
            }
        }
    }
}
