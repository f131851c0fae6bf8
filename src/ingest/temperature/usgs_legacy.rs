//! JSON of the United States Geological Survey's older water services, as kept in files.
//!
//! Daily values stand at local midnight without an offset, instantaneous ones have one. The mark for no
//! value is a number while values are texts. One file holds many series; several methods may measure
//! one quantity at one station.

use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, When, Why};
use super::usgs::{WATER_TEMPERATURE, quality, statistic_of};
use super::value::{self, unit, water_c};

/// Reads one document, of instantaneous or daily values.
///
/// # Errors
/// [`PageFault`] when the document as a whole is unusable.
pub fn page(bytes: &[u8], asked: &Asked<'_>) -> Result<Page, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let all = body["value"]["timeSeries"].as_array().ok_or(PageFault::Form("there are no time series"))?;
    let mut rows = Vec::new();
    for series in all {
        let about = About::of(series, asked);
        let methods = series["values"].as_array().map_or(&[][..], Vec::as_slice);
        for method in methods {
            let id = &method["method"][0]["methodID"];
            let lines = method["value"].as_array().map_or(&[][..], Vec::as_slice);
            rows.extend(lines.iter().map(|line| about.as_ref().map_err(|why| *why)?.row(line, id, asked)));
        }
    }
    Ok(Page::of(rows))
}

/// What a series says of all its values.
struct About<'a> {
    name: &'a str,
    unit: &'a str,
    statistic: Option<&'a str>,
    none: Option<f64>,
}

impl<'a> About<'a> {
    fn of(series: &'a Value, asked: &Asked<'_>) -> Result<Self, Why> {
        let variable = &series["variable"];
        if variable["variableCode"][0]["value"] != WATER_TEMPERATURE {
            return Err(Why::OtherQuantity);
        }
        let site = &series["sourceInfo"]["siteCode"][0];
        let (agency, station) = (site["agencyCode"].as_str().ok_or(Why::Form)?, site["value"].as_str());
        let station = station.ok_or(Why::Form)?;
        let is_it = |wanted: &str| wanted == station || wanted == format!("{agency}-{station}");
        if asked.station.is_some_and(|wanted| !is_it(wanted)) {
            return Err(Why::OtherStation);
        }
        let options = variable["options"]["option"].as_array().map_or(&[][..], Vec::as_slice);
        let statistic = options.iter().find(|option| option["name"] == "Statistic");
        Ok(Self {
            name: series["name"].as_str().ok_or(Why::Form)?,
            unit: variable["unit"]["unitCode"].as_str().ok_or(Why::Unit)?,
            statistic: statistic.and_then(|option| option["optionCode"].as_str()),
            none: variable["noDataValue"].as_f64(),
        })
    }

    fn row(&self, row: &Value, method: &Value, asked: &Asked<'_>) -> Result<Measured, Why> {
        let time = row["dateTime"].as_str().ok_or(Why::Time)?;
        let number = value::number(&row["value"])?;
        if self.none == Some(number) {
            return Err(Why::NoValue);
        }
        let when = match time.split_once('T') {
            // Midnight without an offset: the day is meant.
            Some((day, "00:00:00.000" | "00:00:00")) => {
                When::Day(value::date(day, asked)?, statistic_of(self.statistic)?)
            }
            _ => When::Instant(value::instant(time, asked.now)?),
        };
        let qualifiers = value::marks(&row["qualifiers"]);
        Ok(Measured {
            series: value::series(&format!("{}#{method}", self.name))?,
            when,
            value_c: water_c(number, unit(self.unit)?)?,
            quality: quality(&qualifiers),
            qualifiers,
            changed_at: None,
        })
    }
}
