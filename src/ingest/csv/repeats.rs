//! One key twice in one file: the same again is a repeat, something else is a fault.

use super::Parsed;
use crate::ingest::faults::Fault;

/// Leaves one row of each key. Rows that repeat it are counted; when two say different things both
/// are rejected, because the file does not tell which is right, and `fault` is told the line of the
/// first and the later row.
pub(super) fn settle<T, K: Ord>(
    parsed: &mut Parsed<T>,
    key: impl Fn(&T) -> K,
    same: impl Fn(&T, &T) -> bool,
    fault: impl Fn(u32, u32, &T) -> Fault,
) {
    let rows = &parsed.rows;
    let mut order: Vec<u32> = (0..u32::try_from(rows.len()).unwrap_or(u32::MAX)).collect();
    let row = |at: u32| &rows[at as usize].1;
    // Stable, so that of equal keys the first line stays the first.
    order.sort_by_cached_key(|at| key(row(*at)));
    let mut keep = vec![true; rows.len()];
    for group in order.chunk_by(|a, b| key(row(*a)) == key(row(*b))).filter(|group| group.len() > 1) {
        let first = group[0];
        let others: Vec<u32> = group[1..].iter().copied().filter(|at| !same(row(first), row(*at))).collect();
        for at in &others {
            parsed.faults.push(fault(rows[first as usize].0, rows[*at as usize].0, row(*at)));
        }
        if others.is_empty() {
            parsed.repeated += group.len() as u64 - 1;
            for at in &group[1..] {
                keep[*at as usize] = false;
            }
        } else {
            parsed.rejected += group.len() as u64;
            for at in group {
                keep[*at as usize] = false;
            }
        }
    }
    let mut keep = keep.into_iter();
    parsed.rows.retain(|_| keep.next().unwrap_or(true));
    parsed.faults.sort();
}
