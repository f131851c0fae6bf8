//! One key twice in one file: the same again is a repeat, something else is a fault. Found without
//! keeping the rows.

use crate::ingest::faults::{Fault, Faults};

/// What is kept of one row: enough to know it again, and no more, since there may be a million.
#[derive(Debug, Clone, Copy)]
struct Kept<K, V> {
    key: K,
    line: u32,
    mark: u64,
    shown: V,
}

/// The rows of a file so far.
pub(super) struct Seen<K, V>(Vec<Kept<K, V>>);

/// What came of the rows.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Settled {
    /// Rows that say again what an earlier one says.
    pub(super) repeated: u64,
    /// Rows of which one contradicts another.
    pub(super) rejected: u64,
    /// Lines of the rows that must not be used, in order.
    pub(super) left_out: Vec<u32>,
    /// Sum of the marks of the others.
    pub(super) sum: u64,
}

impl<K: Ord + Copy, V: Copy> Seen<K, V> {
    /// Makes room for so many rows, so that it need not be found twice over while it grows.
    pub(super) fn with_room(rows: usize) -> Self {
        Self(Vec::with_capacity(rows))
    }

    /// Notes a row. `mark` is equal for rows that say the same, and for no others; `shown` is what a
    /// fault repeats of it.
    pub(super) fn add(&mut self, line: u32, key: K, mark: u64, shown: V) {
        self.0.push(Kept { key, line, mark, shown });
    }

    /// Leaves one row of each key and tells `stays` the key. When two rows of one key say different
    /// things both are left out, because the file does not tell which is right, and `fault` is given
    /// the line of the first, and the line and what is shown of the later row.
    pub(super) fn settle(
        self,
        faults: &mut Faults,
        fault: impl Fn(u32, u32, V) -> Fault,
        mut stays: impl FnMut(K),
    ) -> Settled {
        let Self(mut rows) = self;
        // In place: a sort that keeps the order of equals would need half as much memory again.
        rows.sort_unstable_by_key(|row| (row.key, row.line));
        let mut settled = Settled::default();
        for group in rows.chunk_by(|a, b| a.key == b.key) {
            let [first, others @ ..] = group else { continue };
            if others.iter().all(|row| row.mark == first.mark) {
                settled.repeated += others.len() as u64;
                settled.left_out.extend(others.iter().map(|row| row.line));
                settled.sum = settled.sum.wrapping_add(first.mark);
                stays(first.key);
                continue;
            }
            settled.rejected += group.len() as u64;
            settled.left_out.extend(group.iter().map(|row| row.line));
            for row in others.iter().filter(|row| row.mark != first.mark) {
                faults.push(fault(first.line, row.line, row.shown));
            }
        }
        settled.left_out.sort_unstable();
        settled
    }
}

/// The rows of a file in which those of one group follow each other in time, as loggers write them. No more is kept
/// than the last row of each group.
pub(super) struct InOrder {
    last: Vec<Option<(i64, u64)>>,
    settled: Settled,
}

impl InOrder {
    /// Of so many groups.
    pub(super) fn of(groups: usize) -> Self {
        Self { last: vec![None; groups], settled: Settled::default() }
    }

    /// Notes a row of `group` at `time`, with a `mark` as in [`Seen::add`]. False when it does not follow the one
    /// before it: then nothing that is known here holds.
    pub(super) fn add(&mut self, line: u32, group: usize, time: i64, mark: u64) -> bool {
        match self.last[group] {
            Some(last) if last == (time, mark) => {
                self.settled.repeated += 1;
                self.settled.left_out.push(line);
            }
            Some((last, _)) if last >= time => return false,
            _ => {
                self.settled.sum = self.settled.sum.wrapping_add(mark);
                self.last[group] = Some((time, mark));
            }
        }
        true
    }

    /// What came of them.
    pub(super) fn settle(self) -> Settled {
        self.settled
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ingest::faults::FaultKind;

    #[test]
    fn rows_in_order_are_settled_as_those_in_any_order() {
        let rows = [(2, 0, 1, 10), (3, 1, 1, 20), (4, 0, 1, 10), (5, 0, 3, 30), (6, 1, 2, 40)];
        let (mut ordered, mut seen) = (InOrder::of(2), Seen::with_room(5));
        for (line, group, time, mark) in rows {
            assert!(ordered.add(line, group, time, mark));
            seen.add(line, (group, time), mark, ());
        }
        let none = |_, _, ()| Fault::new(1, "x", "", FaultKind::Conflict, "none");
        assert_eq!(ordered.settle(), seen.settle(&mut Faults::default(), none, |_| {}));
        let mut ordered = InOrder::of(1);
        assert!(ordered.add(2, 0, 5, 1));
        assert!(!ordered.add(3, 0, 5, 2) && !ordered.add(3, 0, 4, 1), "another value, an earlier time");
    }

    #[test]
    fn repeats_leave_the_first_and_contradictions_leave_none() {
        let mut seen = Seen::with_room(6);
        for (line, key, mark) in [(2, 'b', 1), (3, 'a', 5), (4, 'b', 1), (5, 'c', 7), (6, 'c', 8), (7, 'c', 7)] {
            seen.add(line, key, mark, mark * 10);
        }
        let (mut faults, mut staying) = (Faults::default(), Vec::new());
        let fault = |first, line, shown: u64| {
            Fault::new(u64::from(line), "x", &shown.to_string(), FaultKind::Conflict, format!("not as line {first}"))
        };
        let settled = seen.settle(&mut faults, fault, |key| staying.push(key));
        assert_eq!(settled, Settled { repeated: 1, rejected: 3, left_out: vec![4, 5, 6, 7], sum: 6 });
        assert_eq!(staying, ['a', 'b']);
        let told: Vec<String> = faults.kept().iter().map(ToString::to_string).collect();
        assert_eq!(told, ["line 6, column x: not as line 5 (found \"80\")"]);
    }
}
