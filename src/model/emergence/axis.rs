//! Evenly spaced nodes of a table, and the cubic through four of them.

/// Points of the cubic.
pub(super) const POINTS: usize = 4;

/// Evenly spaced nodes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) from: f64,
    pub(super) step: f64,
    pub(super) nodes: usize,
}

impl Axis {
    /// Nodes that reach more than one step beyond `low` and `high`.
    pub(super) fn around((low, high): (f64, f64), step: f64) -> Self {
        Self { from: low - 1.5 * step, step, nodes: ((high - low) / step).ceil() as usize + 5 }
    }

    /// The same with `more` nodes before the first and as many after the last.
    pub(super) fn longer(self, more: usize) -> Self {
        Self { from: self.from - more as f64 * self.step, nodes: self.nodes + 2 * more, ..self }
    }

    pub(super) fn at(&self, node: usize) -> f64 {
        self.from + node as f64 * self.step
    }

    /// The interval that holds `x` and how far along; `None` outside the range that was asked for.
    pub(super) fn place(&self, x: f64) -> Option<(usize, f64)> {
        let along = (x - self.from) / self.step;
        if !(along >= 1.0 && along + 2.0 < self.nodes as f64) {
            return None;
        }
        let node = along as usize;
        Some((node, along - node as f64))
    }
}

/// A range that holds nothing yet.
pub(super) const NOTHING: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);

/// Makes `range` hold `value` too.
pub(super) fn widen(range: &mut (f64, f64), value: f64) {
    *range = (range.0.min(value), range.1.max(value));
}

/// Weights of four values one step apart, read `along` the middle interval.
pub(super) fn lagrange(along: f64) -> [f64; POINTS] {
    let [a, b, c, d] = [along + 1.0, along, along - 1.0, along - 2.0];
    [-b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0]
}
