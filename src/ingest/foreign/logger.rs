//! Exports of temperature loggers: some lines about the instrument, a header, rows by instant.

use std::fmt::Write as _;

use chrono::FixedOffset;

use super::{Converted, DateStyle, Scale, Zone};
use crate::domain::Slug;

/// Lines that may stand before the header.
const HEADER_WITHIN: usize = 60;
/// Share of rows that must be read in a style for it to be offered.
const MOST: f64 = 0.98;

/// How an export is laid out, as far as the file itself tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// Line of the header, from 1.
    pub header_line: usize,
    /// What stands between fields.
    pub separator: char,
    /// True when the file is not UTF-8 and was read as Latin-1.
    pub latin1: bool,
    /// Names of the columns of the time: one, or date and clock.
    pub time: Vec<String>,
    /// Names of the columns that hold temperatures.
    pub values: Vec<String>,
    /// Styles of date that nearly all rows can be read in.
    pub styles: Vec<DateStyle>,
    /// Offset from UTC that the header states.
    pub offset: Option<FixedOffset>,
    /// Rows that have a time.
    pub rows: usize,
    /// First time and values, as they stand there.
    pub sample: String,
}

/// What a keeper has said of an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Confirmed {
    /// The gauge whose readings these are.
    pub gauge: Slug,
    /// Order of day, month and year.
    pub style: DateStyle,
    /// Where the logger's clock stood.
    pub zone: Zone,
    /// Scale of the values.
    pub scale: Scale,
    /// The column that is meant, where there are several.
    pub column: Option<String>,
}

struct Text {
    lines: Vec<String>,
    latin1: bool,
}

impl Text {
    fn of(bytes: &[u8]) -> Self {
        let (text, latin1) = match std::str::from_utf8(bytes) {
            Ok(text) => (text.trim_start_matches('\u{feff}').to_owned(), false),
            Err(_) => (bytes.iter().map(|byte| char::from(*byte)).collect(), true),
        };
        Self { lines: text.lines().map(str::to_owned).collect(), latin1 }
    }
}

/// The fields of a line; quotes around a field are taken off.
fn fields(line: &str, separator: char) -> Vec<String> {
    let (mut found, mut field, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            c if c == separator && !quoted => found.push(std::mem::take(&mut field).trim().to_owned()),
            c => field.push(c),
        }
    }
    found.push(field.trim().to_owned());
    found
}

fn says(name: &str, words: &[&str]) -> bool {
    let name = name.to_lowercase();
    words.iter().any(|word| name.contains(word))
}

fn number(text: &str) -> Option<f64> {
    let text = if text.contains('.') { text.to_owned() } else { text.replace(',', ".") };
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// An offset as `GMT-04:00` or `UTC+2` in a header.
fn stated_offset(name: &str) -> Option<FixedOffset> {
    let upper = name.to_ascii_uppercase();
    let after =
        ["GMT", "UTC"].iter().find_map(|word| upper.split_once(word).map(|(_, after)| after.trim().to_owned()))?;
    let sign = match after.chars().next() {
        Some('+') => 1,
        Some('-') => -1,
        _ => return FixedOffset::east_opt(0),
    };
    let clock: String = after[1..].chars().take_while(|c| c.is_ascii_digit() || *c == ':').collect();
    let (hours, minutes) = clock.split_once(':').unwrap_or((&clock, "0"));
    FixedOffset::east_opt(sign * (hours.parse::<i32>().ok()? * 3600 + minutes.parse::<i32>().ok()? * 60))
}

impl Layout {
    /// Looks at a file; `None` when it is no such export.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let text = Text::of(bytes);
        [',', ';', '\t'].into_iter().find_map(|separator| {
            (0..text.lines.len().min(HEADER_WITHIN)).find_map(|at| Self::at(&text, at, separator))
        })
    }

    fn at(text: &Text, at: usize, separator: char) -> Option<Self> {
        let header = fields(text.lines.get(at)?, separator);
        let time_at: Vec<usize> = (0..header.len()).filter(|i| says(&header[*i], &["date", "time", "datum"])).collect();
        let first = *time_at.first()?;
        let time_at = if says(&header[first], &["time"]) && says(&header[first], &["date"]) || time_at.len() == 1 {
            vec![first]
        } else {
            vec![first, *time_at.get(1)?]
        };
        let rows: Vec<Vec<String>> = text.lines[at + 1..]
            .iter()
            .map(|line| fields(line, separator))
            .filter(|row| row.len() > first && !row[first].is_empty())
            .collect();
        if rows.is_empty() {
            return None;
        }
        let named = |i: &usize| says(&header[*i], &["temp", "\u{b0}c", "\u{b0}f", "degc", "degf", "celsius"]);
        let numeric = |i: &usize| rows.iter().any(|row| row.get(*i).is_some_and(|cell| number(cell).is_some()));
        let values: Vec<usize> =
            (0..header.len()).filter(|i| !time_at.contains(i)).filter(named).filter(numeric).collect();
        let moment = |row: &Vec<String>| moment(row, &time_at);
        let fits = |style: &DateStyle| {
            let read = rows.iter().filter(|row| style.moment(&moment(row)).is_some()).count();
            read as f64 >= MOST * rows.len() as f64
        };
        let styles: Vec<DateStyle> = DateStyle::WORDS.into_iter().map(|(style, _)| style).filter(fits).collect();
        if styles.is_empty() || values.is_empty() {
            return None;
        }
        let name = |i: &usize| header[*i].clone();
        let sample = values.iter().filter_map(|i| rows[0].get(*i)).cloned().collect::<Vec<_>>().join(" | ");
        Some(Self {
            header_line: at + 1,
            separator,
            latin1: text.latin1,
            time: time_at.iter().map(name).collect(),
            offset: time_at.iter().find_map(|i| stated_offset(&header[*i])),
            values: values.iter().map(name).collect(),
            styles,
            rows: rows.len(),
            sample: format!("{} | {sample}", moment(&rows[0])),
        })
    }

    /// The rows in our own form, as `confirmed`. A row that cannot be read is given on as it stands, for the
    /// import to refuse with its line.
    ///
    /// # Errors
    /// In words, when the column that is meant is not clear.
    pub fn convert(&self, bytes: &[u8], confirmed: &Confirmed) -> Result<Converted, String> {
        let text = Text::of(bytes);
        let header = fields(text.lines.get(self.header_line - 1).map_or("", String::as_str), self.separator);
        let position = |name: &String| header.iter().position(|known| known == name);
        let wanted = match (&confirmed.column, self.values.as_slice()) {
            (Some(name), _) => name,
            (None, [only]) => only,
            (None, several) => {
                let list = several.join("\", \"");
                return Err(format!(
                    "several columns hold temperatures, \"{list}\": name one with --columns value_c=NAME"
                ));
            }
        };
        let value_at = position(wanted).ok_or_else(|| format!("there is no column \"{wanted}\""))?;
        let time_at: Vec<usize> = self.time.iter().filter_map(position).collect();
        let mut converted = Converted::default();
        // Empty lines before the header keep each row on its own line.
        converted.csv.push_str(&"\n".repeat(self.header_line - 1));
        converted.csv.push_str("site,at,value_c\n");
        for line in &text.lines[self.header_line..] {
            let row = fields(line, self.separator);
            let moment = moment(&row, &time_at);
            if moment.is_empty() {
                converted.csv.push('\n');
                continue;
            }
            let at = confirmed.style.moment(&moment).and_then(|clock| confirmed.zone.instant(clock));
            let at = at.map_or(moment, |at| at.format("%Y-%m-%dT%H:%M:%SZ").to_string());
            let cell = row.get(value_at).map_or("", String::as_str);
            let value =
                number(cell).map_or_else(|| cell.to_owned(), |value| confirmed.scale.to_celsius(value).to_string());
            let quoted = |text: &str| text.replace('"', "'");
            let _ = writeln!(converted.csv, "{},\"{}\",\"{}\"", confirmed.gauge, quoted(&at), quoted(&value));
        }
        if self.latin1 {
            converted.notes.push("the file is not UTF-8 and was read as Latin-1".to_owned());
        }
        Ok(converted)
    }
}

fn moment(row: &[String], time_at: &[usize]) -> String {
    time_at.iter().filter_map(|i| row.get(*i)).map(String::as_str).collect::<Vec<_>>().join(" ").trim().to_owned()
}
