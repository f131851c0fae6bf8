//! On which line each row of a file begins, kept in as little room as there are surprises: most files have one
//! row a line from the first to the last.

/// Lines of rows, in order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct RowLines {
    /// Number of a row, from 0, and its line. Rows up to the next such number follow line by line.
    runs: Vec<(u32, u32)>,
    rows: u32,
}

impl RowLines {
    /// Notes that the next row begins on `line`.
    pub(super) fn push(&mut self, line: u32) {
        let follows = self.runs.last().is_some_and(|(row, first)| first.saturating_add(self.rows - row) == line);
        if !follows {
            self.runs.push((self.rows, line));
        }
        self.rows += 1;
    }

    /// How many rows there are.
    pub(super) fn len(&self) -> u64 {
        u64::from(self.rows)
    }
}

impl IntoIterator for RowLines {
    type Item = u32;
    type IntoIter = Lines;

    fn into_iter(self) -> Lines {
        Lines { of: self, row: 0, run: 0 }
    }
}

/// The lines one by one.
#[derive(Debug)]
pub(super) struct Lines {
    of: RowLines,
    row: u32,
    run: usize,
}

impl Lines {
    /// Rows that are still to come.
    pub(super) fn left(&self) -> usize {
        (self.of.rows - self.row) as usize
    }
}

impl Iterator for Lines {
    type Item = u32;

    fn next(&mut self) -> Option<u32> {
        if self.row == self.of.rows {
            return None;
        }
        if self.of.runs.get(self.run + 1).is_some_and(|(row, _)| *row == self.row) {
            self.run += 1;
        }
        let (row, line) = self.of.runs.get(self.run)?;
        let line = line.saturating_add(self.row - row);
        self.row += 1;
        Some(line)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn lines_come_back_as_they_were_noted(steps in proptest::collection::vec(1_u32..4, 0..200)) {
            let mut given = Vec::new();
            let mut lines = RowLines::default();
            let mut line = 0;
            for step in steps {
                line += step;
                given.push(line);
                lines.push(line);
            }
            prop_assert_eq!(lines.len(), given.len() as u64);
            prop_assert_eq!(lines.clone().into_iter().left(), given.len());
            prop_assert_eq!(lines.into_iter().collect::<Vec<_>>(), given);
        }
    }

    #[test]
    fn a_row_a_line_takes_one_note() {
        let mut lines = RowLines::default();
        (1..1000).for_each(|line| lines.push(line));
        assert_eq!(lines.runs, [(0, 1)]);
    }
}
