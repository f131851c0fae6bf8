//! The arguments of `import readings`. The words here are the help that users read.

use clap::Args;

use super::args::{TableArgs, slug};
use crate::app::import_foreign::{DateStyle, Form, Scale, Zone};
use crate::domain::{Quantity, Slug};

/// `import readings`: files in other forms are told first, and taken once --form confirms it.
#[derive(Debug, Args)]
pub(super) struct ReadingsArgs {
    #[command(flatten)]
    pub(super) table: TableArgs,
    /// What the file states: water_temperature, air_temperature, discharge, level, clarity, ice. The values
    /// of others than temperatures have their unit in their names: mean_m3_s or value_m3_s (discharge),
    /// mean_m or value_m (level; clarity: how far one sees), mean_share or value_share (ice)
    #[arg(long, value_name = "WORD", value_parser = quantity, default_value = "water_temperature")]
    pub(super) quantity: Quantity,
    /// The file is in another form
    #[arg(long, value_name = "FORM", value_parser = form)]
    pub(super) form: Option<Form>,
    /// With --form: the gauge whose readings these are
    #[arg(long, value_name = "G", value_parser = slug, requires = "form")]
    pub(super) gauge: Option<Slug>,
    /// With --form logger: order of its dates where several could be meant: ymd, dmy, mdy
    #[arg(long, value_name = "ORDER", value_parser = dates, requires = "form")]
    pub(super) dates: Option<DateStyle>,
    /// With --form logger: where its clock stood: an IANA time zone, UTC, or an offset as -04:00
    #[arg(long, value_name = "ZONE", value_parser = zone, requires = "form", allow_hyphen_values = true)]
    pub(super) zone: Option<Zone>,
    /// With --form logger: unit of its temperatures: c, f
    #[arg(long, value_name = "UNIT", value_parser = unit, requires = "form")]
    pub(super) unit: Option<Scale>,
    /// With --form usgs-json or usgs-rdb: the series that are meant
    #[arg(long, value_name = "ID", value_delimiter = ',', requires = "form")]
    pub(super) series: Vec<String>,
}

fn word<T: Copy>(words: &[(T, &str)], text: &str) -> Result<T, String> {
    words.iter().find(|(_, word)| *word == text).map(|(value, _)| *value).ok_or_else(|| {
        let known: Vec<&str> = words.iter().map(|(_, word)| *word).collect();
        format!("must be one of {}", known.join(", "))
    })
}

pub(super) fn quantity(text: &str) -> Result<Quantity, String> {
    Quantity::parse(text).map_err(|fault| fault.reason)
}

fn form(text: &str) -> Result<Form, String> {
    word(&Form::WORDS, text)
}

fn dates(text: &str) -> Result<DateStyle, String> {
    word(&DateStyle::WORDS, text)
}

fn unit(text: &str) -> Result<Scale, String> {
    word(&Scale::WORDS, text)
}

fn zone(text: &str) -> Result<Zone, String> {
    Zone::parse(text).ok_or_else(|| "must be an IANA time zone, UTC, or an offset as -04:00".to_owned())
}
