//! Kept files of the older services of USGS in our own form.

use std::fmt::Write as _;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use super::Converted;
use crate::domain::{ReadingTime, Slug};
use crate::ingest::temperature::series::{choose, join};
use crate::ingest::temperature::{Asked, PageFault, usgs_legacy, usgs_rdb};

/// The rows of a table or of JSON, of the series named or else the fullest.
///
/// # Errors
/// [`PageFault`] when it is no such file; one without a usable value has that said in the notes.
pub fn convert(
    bytes: &[u8],
    table: bool,
    gauge: &Slug,
    series: &[String],
    now: DateTime<Utc>,
) -> Result<Converted, PageFault> {
    // Where the station lies is not said: a day is over once it is so in the last zone of the Earth.
    let asked = Asked { url: "", station: None, now, zone: Tz::Etc__GMTPlus12 };
    let mut page = if table { usgs_rdb::page(bytes, &asked)? } else { usgs_legacy::page(bytes, &asked)? };
    let mut choice = choose(&page.readings, series);
    let readings = join(&page.readings, &mut choice, &mut page.refused);
    let mut converted = Converted { csv: String::new(), notes: choice.notes };
    if page.refused.total() > 0 {
        converted.notes.push(format!("not taken: {}", page.refused));
    }
    let daily = readings.iter().all(|reading| matches!(reading.time, ReadingTime::Day { .. }));
    converted.csv.push_str(if daily { "site,date,tmean_c,tmin_c,tmax_c,flag\n" } else { "site,at,value_c,flag\n" });
    for reading in &readings {
        let flag = reading.quality.as_str();
        let _ = match reading.time {
            ReadingTime::Day { date, mean: tmean_c, low: tmin_c, high: tmax_c } if daily => {
                writeln!(converted.csv, "{gauge},{date},{tmean_c},{tmin_c},{tmax_c},{flag}")
            }
            ReadingTime::Instant { at, value: value_c } => {
                writeln!(converted.csv, "{gauge},{},{value_c},{flag}", at.to_rfc3339())
            }
            // Days beside instants: the instants say the same in more detail.
            ReadingTime::Day { .. } => Ok(()),
        };
    }
    Ok(converted)
}
