//! Readings in other people's forms: told first, taken once confirmed.

use chrono::{DateTime, Utc};

use crate::domain::Slug;
use crate::ingest::foreign::logger::{Confirmed, Layout};
use crate::ingest::foreign::{Seems, recognise, usgs_file};

pub use crate::ingest::foreign::{Converted, DateStyle, Scale, Zone};

/// A form that is not our own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// An export of a temperature logger.
    Logger,
    /// JSON of the older services of USGS.
    UsgsJson,
    /// A table of the older services of USGS.
    UsgsTable,
}

impl Form {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 3] =
        [(Self::Logger, "logger"), (Self::UsgsJson, "usgs-json"), (Self::UsgsTable, "usgs-rdb")];
}

/// What a keeper says of a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Said {
    /// The gauge whose readings these are.
    pub gauge: Option<Slug>,
    /// Order of day, month and year.
    pub style: Option<DateStyle>,
    /// Where the logger's clock stood.
    pub zone: Option<Zone>,
    /// Scale of the values.
    pub scale: Option<Scale>,
    /// The column that is meant.
    pub column: Option<String>,
    /// Series that are meant.
    pub series: Vec<String>,
}

/// True when the first line that says something is a header of our own form.
#[must_use]
pub fn is_ours(bytes: &[u8]) -> bool {
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(4096)]);
    let first = head.trim_start_matches('\u{feff}').lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    first.split(',').any(|name| matches!(name.trim().to_ascii_lowercase().as_str(), "site" | "gauge"))
}

/// What a file seems to be, in lines, and what to add to take it; `None` when it is no form that is known.
#[must_use]
pub fn told(bytes: &[u8]) -> Option<Vec<String>> {
    match recognise(bytes)? {
        Seems::UsgsJson => Some(vec![confirm("usgs-json", "JSON of the older USGS water services", "")]),
        Seems::UsgsTable => Some(vec![confirm("usgs-rdb", "a table of the older USGS water services", "")]),
        Seems::Logger(layout) => Some(of_logger(&layout)),
    }
}

fn confirm(form: &str, what: &str, more: &str) -> String {
    format!("This seems to be {what}. If so, add --form {form} --gauge GAUGE{more}.")
}

fn of_logger(layout: &Layout) -> Vec<String> {
    let scale = layout.values.iter().find_map(|name| Scale::stated(name));
    let mut more = String::new();
    if layout.styles.len() > 1 {
        let styles: Vec<&str> = layout.styles.iter().map(|style| style.as_str()).collect();
        more.push_str(" --dates ");
        more.push_str(&styles.join("|"));
    }
    if layout.offset.is_none() {
        more.push_str(" --zone ZONE");
    }
    if scale.is_none() {
        more.push_str(" --unit c|f");
    }
    if layout.values.len() > 1 {
        more.push_str(" --columns value_c=NAME");
    }
    let styles: Vec<&str> = layout.styles.iter().map(|style| style.as_str()).collect();
    vec![
        format!("header on line {}, {} rows, first row: {}", layout.header_line, layout.rows, layout.sample),
        format!("time in \"{}\", dates as {}", layout.time.join("\" and \""), styles.join(" or ")),
        match layout.offset {
            Some(offset) => format!("clock at UTC{offset}, by the header"),
            None => "nothing says where the clock stood".to_owned(),
        },
        format!(
            "temperatures in \"{}\", {}",
            layout.values.join("\" or \""),
            match scale {
                Some(Scale::Fahrenheit) => "degrees Fahrenheit by the header",
                Some(Scale::Celsius) => "degrees Celsius by the header",
                None => "and nothing says in which unit",
            }
        ),
        confirm("logger", "an export of a temperature logger", &more),
    ]
}

/// The rows of a file in our own form, by what was said.
///
/// # Errors
/// In words: what must be said, or what the file contradicts.
pub fn convert(bytes: &[u8], form: Form, said: &Said, now: DateTime<Utc>) -> Result<Converted, String> {
    let gauge = said.gauge.as_ref().ok_or("say whose readings these are, with --gauge")?;
    match form {
        Form::Logger => of_confirmed_logger(bytes, gauge, said),
        Form::UsgsJson | Form::UsgsTable => {
            usgs_file::convert(bytes, form == Form::UsgsTable, gauge, &said.series, now).map_err(|why| why.to_string())
        }
    }
}

fn of_confirmed_logger(bytes: &[u8], gauge: &Slug, said: &Said) -> Result<Converted, String> {
    let layout = Layout::of(bytes).ok_or("no header with a time and a temperature is in its first lines")?;
    let style = match (said.style, layout.styles.as_slice()) {
        (Some(style), fits) if fits.contains(&style) => style,
        (Some(style), _) => return Err(format!("its dates cannot be read as {}", style.as_str())),
        (None, [only]) => *only,
        (None, _) => return Err("its dates can be read in several ways: say which with --dates".to_owned()),
    };
    let zone = match (said.zone, layout.offset) {
        (Some(zone), None) => zone,
        (None, Some(offset)) => Zone::Fixed(offset),
        (Some(zone), Some(offset)) if zone == Zone::Fixed(offset) => zone,
        (Some(_), Some(offset)) => return Err(format!("its header says UTC{offset}; leave --zone out")),
        (None, None) => return Err("nothing says where its clock stood: say so with --zone".to_owned()),
    };
    let named = said.column.as_deref().or_else(|| layout.values.first().map(String::as_str)).unwrap_or_default();
    let scale = match (said.scale, Scale::stated(named)) {
        (Some(said), Some(stated)) if said != stated => {
            return Err(format!("the column \"{named}\" says another unit than --unit {}", said.as_str()));
        }
        (Some(scale), _) | (None, Some(scale)) => scale,
        (None, None) => return Err("nothing says in which unit its temperatures are: say so with --unit".to_owned()),
    };
    let confirmed = Confirmed { gauge: gauge.clone(), style, zone, scale, column: said.column.clone() };
    layout.convert(bytes, &confirmed)
}
