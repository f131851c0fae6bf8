//! River temperatures of the French water information service, Hub'Eau, version 1.
//!
//! The last page may answer 206 as any other does: only `next` tells the end. A row states a date and
//! a clock reading but no time zone; the asker says which.

use chrono::NaiveTime;
use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, When, Why, next_on_same_host};
use super::value::{self, Unit, water_c};
use crate::domain::Quality;

/// Code of water temperature in the service's dictionary of parameters.
const WATER_TEMPERATURE: &str = "1301";
/// Code of degrees Celsius in its dictionary of units.
const DEGREES_CELSIUS: &str = "27";

/// Reads one page of `temperature/chronique`.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn page(bytes: &[u8], asked: &Asked<'_>) -> Result<Page, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let rows = body["data"].as_array().ok_or(PageFault::Form("there are no data"))?;
    let mut page = Page::of(rows.iter().map(|line| row(line, asked)));
    page.total = body["count"].as_u64();
    page.next = match &body["next"] {
        Value::Null => None,
        Value::String(link) => Some(next_on_same_host(asked.url, link)?),
        _ => return Err(PageFault::Form("the address of the next page is no text")),
    };
    Ok(page)
}

fn row(row: &Value, asked: &Asked<'_>) -> Result<Measured, Why> {
    let text = |key: &str| row[key].as_str().ok_or(Why::Form);
    if text("code_parametre")? != WATER_TEMPERATURE {
        return Err(Why::OtherQuantity);
    }
    let station = text("code_station")?;
    if asked.station.is_some_and(|wanted| wanted != station) {
        return Err(Why::OtherStation);
    }
    let number = value::number(&row["resultat"])?;
    if row["code_unite"].as_str() != Some(DEGREES_CELSIUS) {
        return Err(Why::Unit);
    }
    let date = value::any_date(text("date_mesure_temp")?)?;
    let time = NaiveTime::parse_from_str(text("heure_mesure_temp")?, "%H:%M:%S").map_err(|_| Why::Time)?;
    let code = row["code_qualification"].as_str();
    let label = row["libelle_qualification"].as_str().unwrap_or_default();
    Ok(Measured {
        series: value::series(station)?,
        when: When::Instant(value::local(date, time, asked.zone, asked.now)?),
        value_c: water_c(number, Unit::Celsius)?,
        quality: quality(code, label),
        qualifiers: value::mark(&format!("{} {label}", code.unwrap_or_default())).into_iter().collect(),
        changed_at: None,
    })
}

/// The list of qualifications is the national dictionary's number 414, here from memory except for 4,
/// "not qualified", which stands in recorded answers. Where code and label disagree the worse counts.
fn quality(code: Option<&str>, label: &str) -> Quality {
    let label = label.to_lowercase();
    if code == Some("2") || label.contains("incorrect") {
        Quality::Bad
    } else if !matches!(code, Some("0" | "1" | "4")) || label.contains("incertain") || label.contains("douteu") {
        Quality::Suspect
    } else {
        Quality::Good
    }
}
