//! The keeper's word on readings: flags overruled, days entered by hand. Both are new versions of readings, sent the way
//! programs send them.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde_json::{Value, json};

use super::form::Form;
use super::gauges::Shown;
use super::session::AtWater;
use crate::app::document::reading::{NewReading, NewReadings};
use crate::app::document::{Faults, ReadingsInput, read};
use crate::app::once::{Answer, Once};
use crate::app::reading::{self, Step};
use crate::app::{AppError, Service};
use crate::domain::{Gauge, Quality, Quantity, Reading, ReadingTime};

/// Names a reading and what it says, so that nobody judges a value that they did not see.
pub(super) fn key_of(reading: &Reading) -> String {
    match reading.time {
        ReadingTime::Day { date, mean, .. } => format!("{date} {mean}"),
        ReadingTime::Instant { at, value } => format!("{} {value}", at.timestamp_micros()),
    }
}

/// Local days that have single readings: they are judged by those.
pub(super) async fn days_of_instants(
    service: &Service,
    who: &AtWater,
    gauge: &Gauge,
    shown: Shown,
) -> Result<BTreeSet<NaiveDate>, AppError> {
    if shown.step == Step::Instant {
        return Ok(BTreeSet::new());
    }
    let (water, span) = (&who.view.watershed, (shown.from, shown.to));
    let instants = reading::list(service, water, &gauge.slug, shown.quantity, span, Step::Instant).await?;
    let local = |reading: &Reading| match reading.time {
        ReadingTime::Instant { at, .. } => at.with_timezone(&water.time_zone).date_naive(),
        ReadingTime::Day { date, .. } => date,
    };
    Ok(instants.iter().map(local).collect())
}

/// Gives the ticked readings another flag.
pub(super) async fn chosen(
    service: &Service,
    who: &AtWater,
    gauge: &Gauge,
    shown: Shown,
    form: &Form,
) -> Result<&'static str, AppError> {
    let fault = |code, detail: &str| Err(AppError::fault("#/flag", code, detail));
    let Ok(flag) = Quality::parse(form.text("flag")) else { return fault("invalid_value", "must be one of the three") };
    let keys = form.all("row");
    if keys.is_empty() {
        return fault("missing", "needs a ticked reading");
    }
    let (water, span) = (&who.view.watershed, (shown.from, shown.to));
    let stored = reading::list(service, water, &gauge.slug, shown.quantity, span, shown.step).await?;
    let single = days_of_instants(service, who, gauge, shown).await?;
    let free = |reading: &&Reading| match reading.time {
        ReadingTime::Day { date, .. } => !single.contains(&date),
        ReadingTime::Instant { .. } => true,
    };
    let wanted: BTreeSet<&str> = keys.iter().map(String::as_str).collect();
    let readings: Vec<NewReading> = stored
        .iter()
        .filter(free)
        .filter(|reading| wanted.contains(key_of(reading).as_str()))
        .map(|reading| NewReading { time: reading.time, flag })
        .collect();
    if readings.len() != wanted.len() {
        let detail = "Some of these readings have changed since this page was opened. Look at them again.".to_owned();
        return Err(AppError::Conflict { detail });
    }
    let answer = add(service, who, gauge, &NewReadings { quantity: shown.quantity, readings }).await?;
    Ok(outcome(&answer, "flagged"))
}

/// Takes a day that was read by hand.
pub(super) async fn by_hand(
    service: &Service,
    who: &AtWater,
    gauge: &Gauge,
    quantity: Quantity,
    form: &Form,
) -> Result<&'static str, AppError> {
    let names = if quantity.is_temperature() { ["tmean_c", "tmin_c", "tmax_c"] } else { ["mean", "min", "max"] };
    let fields = ["mean", "low", "high"];
    let values = form.document(&["date"], &fields);
    let mut one = json!({ "date": values["date"] });
    for (field, name) in fields.iter().zip(names) {
        one[name] = values[*field].clone();
    }
    let body = json!({ "quantity": quantity.as_str(), "readings": [one] });
    // Faults are told at the fields of the form.
    let at_fields = |error: AppError| match error {
        AppError::Faults(faults) => {
            let mut told = Faults::default();
            for fault in faults.into_vec() {
                let place = fault.pointer.unwrap_or_default();
                let place = place.trim_start_matches("#/readings/0/");
                let field = names.iter().position(|name| *name == place).map_or(place, |index| fields[index]);
                told.add(format!("#/{field}"), fault.code, fault.detail);
            }
            AppError::Faults(told)
        }
        other => other,
    };
    let new = read::<ReadingsInput>(body).map_err(AppError::Faults).map_err(at_fields)?;
    let answer = add(service, who, gauge, &new).await.map_err(at_fields)?;
    Ok(outcome(&answer, "entered"))
}

async fn add(service: &Service, who: &AtWater, gauge: &Gauge, new: &NewReadings) -> Result<Answer, AppError> {
    // The same form again says what is stored already: a key would add nothing.
    let once = Once {
        token_id: who.signed.token.id,
        route: "desk readings".to_owned(),
        key: None,
        fingerprint: String::new(),
    };
    reading::add(service, &who.view.watershed.slug, &gauge.slug, new, &once).await
}

fn outcome(answer: &Answer, done: &'static str) -> &'static str {
    let receipt: Option<Value> = serde_json::from_str(&answer.body).ok();
    let unchanged = receipt.is_some_and(|receipt| receipt["total"] == receipt["unchanged"]);
    if unchanged { "unchanged" } else { done }
}
