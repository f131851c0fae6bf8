//! Which column of a file is which of ours.

use crate::domain::Invalid;
use crate::ingest::faults::{Fault, FaultKind, Faults};

/// One of our columns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Its name.
    pub(super) name: &'static str,
    /// Other names of it.
    pub(super) aliases: &'static [&'static str],
}

impl Column {
    pub(super) fn is(&self, name: &str) -> bool {
        let name = name.trim();
        self.name.eq_ignore_ascii_case(name) || self.aliases.iter().any(|alias| alias.eq_ignore_ascii_case(name))
    }
}

/// Names given to our columns by the caller: ours and theirs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ColumnNames(Vec<(String, String)>);

impl ColumnNames {
    /// Reads `ours=theirs,...`; empty text gives none.
    ///
    /// # Errors
    /// [`Invalid`] for a part without `=`, with an empty side, or for one of ours named twice.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        let parts = text.split(',').filter(|part| !part.trim().is_empty());
        Self::new(parts.map(|part| part.split_once('=').unwrap_or((part, ""))))
    }

    /// Takes pairs of ours and theirs.
    ///
    /// # Errors
    /// [`Invalid`] for an empty side, or for one of ours named twice.
    pub fn new<'a>(pairs: impl IntoIterator<Item = (&'a str, &'a str)>) -> Result<Self, Invalid> {
        let mut names: Vec<(String, String)> = Vec::new();
        for (ours, theirs) in pairs {
            let (ours, theirs) = (ours.trim(), theirs.trim());
            if ours.is_empty() || theirs.is_empty() {
                let found = format!("{ours}={theirs}");
                return Err(Invalid::new("columns", found, "must be ours=theirs, for example site=station"));
            }
            if names.iter().any(|(known, _)| known.eq_ignore_ascii_case(ours)) {
                return Err(Invalid::new("columns", ours, "is named twice"));
            }
            names.push((ours.to_owned(), theirs.to_owned()));
        }
        Ok(Self(names))
    }
}

/// The header of a file, understood.
#[derive(Debug)]
pub(super) struct Header {
    /// Column names as in the file.
    pub(super) names: Vec<String>,
    /// Position in the file of each of our columns.
    pub(super) places: Vec<Option<usize>>,
}

impl Header {
    /// Finds our `columns` in `names`, a row on `line`.
    pub(super) fn read(names: Vec<String>, columns: &[Column], given: &ColumnNames, line: u64) -> Result<Self, Faults> {
        let mut faults = Faults::default();
        let mut fault = |name: &str, kind, reason: String| faults.push(Fault::new(line, "header", name, kind, reason));
        let mut places = vec![None; columns.len()];
        for (ours, theirs) in &given.0 {
            let Some(column) = columns.iter().position(|column| column.is(ours)) else {
                let known: Vec<&str> = columns.iter().map(|column| column.name).collect();
                let reason = format!("is none of our columns; these are {}", known.join(", "));
                fault(ours, FaultKind::MissingColumn, reason);
                continue;
            };
            let exact = names.iter().position(|name| name == theirs);
            let place = exact.or_else(|| names.iter().position(|name| name.eq_ignore_ascii_case(theirs)));
            if place.is_none() {
                let reason = format!("the file has no such column to be read as {ours}; it has {}", names.join(", "));
                fault(theirs, FaultKind::MissingColumn, reason);
            }
            places[column] = place;
        }
        let named: Vec<usize> = places.iter().flatten().copied().collect();
        for (at, column) in columns.iter().enumerate() {
            if given.0.iter().any(|(ours, _)| column.is(ours)) {
                continue;
            }
            let found: Vec<usize> =
                (0..names.len()).filter(|place| !named.contains(place) && column.is(&names[*place])).collect();
            places[at] = found.first().copied();
            if let [_, second, ..] = found[..] {
                let reason = format!("a second column for {}; keep one", column.name);
                fault(&names[second], FaultKind::RepeatedColumn, reason);
            }
        }
        if faults.is_empty() { Ok(Self { names, places }) } else { Err(faults) }
    }

    /// Columns that are none of ours.
    pub(super) fn unknown(&self) -> impl Iterator<Item = &str> {
        let known = |place: &usize| self.places.contains(&Some(*place));
        (0..self.names.len()).filter(move |place| !known(place)).map(|place| self.names[place].as_str())
    }

    /// A fault for a needed column that is missing.
    pub(super) fn missing(&self, column: &Column, line: u64) -> Fault {
        let mut names: Vec<&str> = vec![column.name];
        names.extend(column.aliases);
        let mut reason = format!("the column {} is missing", names.join(" or "));
        if self.names.len() == 1 && self.names[0].contains([';', '\t', '|']) {
            reason.push_str("; columns must be separated by commas");
        }
        Fault::new(line, "header", &self.names.join(","), FaultKind::MissingColumn, reason)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: [Column; 2] =
        [Column { name: "site", aliases: &["gauge"] }, Column { name: "tmean_c", aliases: &[] }];

    fn read(names: &[&str], given: &str) -> Result<Header, Faults> {
        let names = names.iter().map(|name| (*name).to_owned()).collect();
        Header::read(names, &COLUMNS, &ColumnNames::parse(given).expect("valid"), 1)
    }

    #[test]
    fn columns_are_found_in_any_order_and_by_other_names() {
        let header = read(&["note", "TMEAN_C", "gauge"], "").expect("understood");
        assert_eq!(header.places, [Some(2), Some(1)]);
        assert_eq!(header.unknown().collect::<Vec<_>>(), ["note"]);
        let header =
            read(&["watershed", "date", "mean_degC"], "gauge=watershed,tmean_c=mean_degC").expect("understood");
        assert_eq!(header.places, [Some(0), Some(2)]);
    }

    #[test]
    fn a_given_name_wins_over_a_column_of_our_name() {
        let header = read(&["site", "station", "tmean_c"], "site=station").expect("understood");
        assert_eq!(header.places, [Some(1), Some(2)]);
        assert_eq!(header.unknown().collect::<Vec<_>>(), ["site"]);
    }

    #[test]
    fn wrong_names_and_two_columns_of_one_meaning_are_faults() {
        assert_eq!(read(&["site", "gauge"], "").expect_err("fault").kept()[0].kind, FaultKind::RepeatedColumn);
        assert_eq!(read(&["site"], "tmean_c=water").expect_err("fault").kept()[0].value, "water");
        assert_eq!(read(&["site"], "sight=site").expect_err("fault").kept()[0].value, "sight");
        assert!(ColumnNames::parse("site").is_err() && ColumnNames::parse("a=b,A=c").is_err());
        assert_eq!(ColumnNames::parse(" ").expect("none"), ColumnNames::default());
    }
}
