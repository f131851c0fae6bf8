//! Which parameters can be moved together when the curvature is taken by differences of the gradient.

use super::posterior::{Dataset, Layout};

/// Parameters moved together, and the entries (row, column) of the Hessian that the move tells.
pub(super) struct Probe {
    pub(super) columns: Vec<usize>,
    pub(super) entries: Vec<(usize, usize)>,
}

impl Probe {
    /// One parameter of `free`, which tells its whole column.
    pub(super) fn alone(column: usize, free: usize) -> Self {
        Self { columns: vec![column], entries: (0..free).map(|row| (row, column)).collect() }
    }
}

/// Effects of two sites, or of two site-years, never act on one record, so that all effects of one
/// kind can be moved at once: a row of a site or site-year feels only its own (Curtis, Powell and
/// Reid 1974, J. Inst. Maths Applics 13:117-119; from memory). What is common, and the years, which
/// meet every site, are moved one by one.
pub(super) fn probes(data: &Dataset, free: &[usize]) -> Vec<Probe> {
    let layout = Layout::of(data);
    let (sites, units) = (layout.sites, layout.units);
    // Kinds of effects: first index, number, and whether they belong to sites or to site-years.
    let kinds = [
        (layout.u(0), sites, true),
        (layout.a(0), sites, true),
        (layout.shift(0), units, false),
        (layout.split(0), units, false),
        (layout.level(0), units, false),
    ];
    let kind_of = |index: usize| kinds.iter().position(|&(first, n, _)| (first..first + n).contains(&index));
    let (mut alone, mut together): (Vec<Probe>, [Vec<usize>; 5]) = (Vec::new(), Default::default());
    for (column, &index) in free.iter().enumerate() {
        match kind_of(index) {
            Some(kind) => together[kind].push(column),
            None => alone.push(Probe::alone(column, free.len())),
        }
    }
    let mut place = vec![None; layout.len()];
    free.iter().enumerate().for_each(|(column, &index)| place[index] = Some(column));
    for (columns, &(first, _, of_sites)) in together.into_iter().zip(&kinds).filter(|(c, _)| !c.is_empty()) {
        let entries = free.iter().enumerate().filter_map(|(row, &index)| {
            let (start, _, row_of_site) = kinds[kind_of(index)?];
            let own = match (row_of_site, of_sites) {
                (true, false) => return None,
                (false, true) => data.units[index - start].site,
                _ => index - start,
            };
            Some((row, place[first + own]?))
        });
        alone.push(Probe { entries: entries.collect(), columns });
    }
    alone
}
