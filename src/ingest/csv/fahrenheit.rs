//! Headers that say degrees Fahrenheit: such a file is refused, not read as Celsius.

use std::io::{Read, Seek};

use super::readings::{TMAX, TMEAN, TMIN, VALUE};
use super::table::Table;
use crate::ingest::faults::{Fault, FaultKind};

/// A fault when a temperature column says degrees Fahrenheit: one that would be read, or one that
/// stands where ours is missing.
pub(super) fn fahrenheit<R: Read + Seek>(table: &Table<'_, R>) -> Option<Fault> {
    const TEMPERATURES: [usize; 4] = [TMEAN, TMIN, TMAX, VALUE];
    let read = TEMPERATURES.iter().filter_map(|at| table.name(*at)).find(|name| says_fahrenheit(name));
    let stands_in = || {
        let main = table.has(TMEAN) || table.has(VALUE);
        table.unknown_columns().into_iter().find(|name| {
            let name = name.to_lowercase();
            let instead = (name.contains("min") && !table.has(TMIN)) || (name.contains("max") && !table.has(TMAX));
            says_fahrenheit(&name) && (!main || instead)
        })
    };
    let found = read.map(str::to_owned).or_else(stands_in)?;
    let reason = "says degrees Fahrenheit; give degrees Celsius in columns named tmean_c, tmin_c, tmax_c or value_c";
    Some(table.header_fault(&found, FaultKind::Fahrenheit, reason))
}

/// True when a column name says degrees Fahrenheit: `tmean_f`, `temp (F)`, `°F`, `degF`, ...
fn says_fahrenheit(name: &str) -> bool {
    let name = name.to_lowercase();
    name.contains("fahrenheit")
        || name.contains('\u{2109}')
        || name.split(|c: char| !c.is_alphanumeric()).any(|word| matches!(word, "f" | "degf" | "degreesf" | "ºf"))
        || ["mean", "min", "max", "temp", "temperature"].iter().any(|stem| name.ends_with(&format!("{stem}f")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_that_say_fahrenheit() {
        for name in
            ["tmean_f", "Temp (F)", "\u{b0}F", "temp \u{b0}F", "water_degF", "Temperature [Fahrenheit]", "tmaxF"]
        {
            assert!(says_fahrenheit(name), "{name}");
        }
        for name in ["tmean_c", "flag", "mean_degC", "flow_cfs", "of", "temp (C)", "wtemp"] {
            assert!(!says_fahrenheit(name), "{name}");
        }
    }
}
