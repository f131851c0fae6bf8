//! Where the outside data are, and their daily water temperatures.

use std::collections::BTreeMap;
use std::path::PathBuf;

use subimago::model::temperature::{AirSeries, DayTemp, Series};

/// The path of `name` in the outside data, or `None` after saying that the test is skipped.
///
/// # Panics
/// In continuous integration, when the file is absent.
pub(crate) fn path(name: &str) -> Option<PathBuf> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared").join(name);
    if path.exists() {
        return Some(path);
    }
    let required = std::env::var_os("CI").is_some_and(|value| value == "true");
    assert!(!required, "{name}: the outside data are absent, and CI needs them");
    eprintln!("SKIPPED: ../shared/{name} is absent");
    None
}

/// Daily water temperatures by site from a table `site,date,tmean_c[,tmin_c,tmax_c]`.
///
/// A day whose extremes do not enclose its mean is left out, as an import would.
pub(crate) fn water(name: &str) -> Option<BTreeMap<String, Series>> {
    let mut sites: BTreeMap<String, Series> = BTreeMap::new();
    let mut reader = csv::Reader::from_path(path(name)?).expect("a table");
    for row in reader.deserialize() {
        let row: BTreeMap<String, String> = row.expect("a row");
        let number = |column: &str| row.get(column).and_then(|text| text.parse::<f64>().ok());
        let Some(tmean_c) = number("tmean_c") else { continue };
        let tmin_c = number("tmin_c").unwrap_or(tmean_c);
        let tmax_c = number("tmax_c").unwrap_or(tmean_c);
        if tmin_c <= tmean_c && tmean_c <= tmax_c {
            let date = row["date"].parse().expect("an ISO date");
            sites.entry(row["site"].clone()).or_default().insert(date, DayTemp { tmean_c, tmin_c, tmax_c });
        }
    }
    assert!(!sites.is_empty(), "{name} has no temperatures");
    Some(sites)
}

/// Daily mean air temperatures by site from the column `air_tmean_c` of a table.
pub(crate) fn air(name: &str) -> Option<BTreeMap<String, AirSeries>> {
    let mut sites: BTreeMap<String, AirSeries> = BTreeMap::new();
    for row in csv::Reader::from_path(path(name)?).expect("a table").deserialize() {
        let row: BTreeMap<String, String> = row.expect("a row");
        if let Ok(air_c) = row["air_tmean_c"].parse() {
            let date = row["date"].parse().expect("an ISO date");
            sites.entry(row["site"].clone()).or_default().insert(date, air_c);
        }
    }
    assert!(!sites.is_empty(), "{name} has no air temperatures");
    Some(sites)
}
