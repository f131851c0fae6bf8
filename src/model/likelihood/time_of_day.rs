//! Which part of a day's emergence falls into the hours watched.
//!
//! S = (1 - phi) [Phi((t2 - h*)/sh) - Phi((t1 - h*)/sh)] + phi (t2 - t1)/24, h* = h0 + h1 (Tw - 12 C).
//! Hours are local mean solar time. Wrapped, S sums over h* - 24, h* and h* + 24.

use super::first_sighting::{normal_cdf, normal_density};
use super::normal_interval::NormalCurvature;

/// Share of a day's emergence spread evenly over the day.
pub const EVEN_SHARE: f64 = 0.02;
/// Water temperature at which h* = h0, degrees Celsius.
pub const REFERENCE_WATER_C: f64 = 12.0;

/// Spreads from the peak beyond which nothing is left in double precision.
const FAR: f64 = 9.0;

/// Whether the hours of a day close to a circle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Midnight {
    /// Emergence at 23:30 is an hour from 00:30.
    Wraps,
    /// Hours are a line; the form of the reference data set.
    Ends,
}

/// Share of the day's emergence within the hours, and its derivatives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoursTerms {
    /// S.
    pub value: f64,
    /// dS/dh*.
    pub d_peak: f64,
    /// dS/d sh.
    pub d_spread: f64,
}

/// S for hours `start`..`end` (end after start, past 24 when over midnight), peak h* and spread sh.
#[must_use]
pub fn hours_terms(start: f64, end: f64, peak: f64, spread: f64, midnight: Midnight) -> HoursTerms {
    let (mut mass, mut d_peak, mut d_spread) = (0.0, 0.0, 0.0);
    for (z1, z2) in near(start, end, peak, spread, midnight) {
        let (n1, n2) = (normal_density(z1), normal_density(z2));
        mass += normal_cdf(z2) - normal_cdf(z1);
        d_peak -= (n2 - n1) / spread;
        d_spread -= (n2 * z2 - n1 * z1) / spread;
    }
    let keep = 1.0 - EVEN_SHARE;
    HoursTerms {
        value: keep * mass + EVEN_SHARE * (end - start) / 24.0,
        d_peak: keep * d_peak,
        d_spread: keep * d_spread,
    }
}

/// Second derivatives of S in h* and sh.
#[must_use]
pub fn hours_curvature(start: f64, end: f64, peak: f64, spread: f64, midnight: Midnight) -> NormalCurvature {
    let mut found = NormalCurvature::default();
    for (z1, z2) in near(start, end, peak, spread, midnight) {
        found.add(1.0 - EVEN_SHARE, z2, normal_density(z2), spread);
        found.add(EVEN_SHARE - 1.0, z1, normal_density(z1), spread);
    }
    found
}

/// The ends of the hours in spreads from the peak, on each day whose peak is near.
fn near(start: f64, end: f64, peak: f64, spread: f64, midnight: Midnight) -> impl Iterator<Item = (f64, f64)> {
    let shifts: &[f64] = match midnight {
        Midnight::Wraps => &[-24.0, 0.0, 24.0],
        Midnight::Ends => &[0.0],
    };
    let ends = shifts.iter().map(move |shift| ((start - peak - shift) / spread, (end - peak - shift) / spread));
    ends.filter(|(z1, z2)| z1.min(*z2) <= FAR && z1.max(*z2) >= -FAR)
}
