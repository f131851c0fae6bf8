//! Mass of a normal distribution between two ends: second derivatives in its centre and spread.
//!
//! With z = (t - p)/s and n the standard normal density: dPhi/dp = -n/s, dPhi/ds = -z n/s.

/// Second derivatives of Phi((t - p)/s).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct NormalCurvature {
    /// In p twice.
    pub centre: f64,
    /// In p and s.
    pub mixed: f64,
    /// In s twice.
    pub spread: f64,
}

impl NormalCurvature {
    /// Adds `weight` times those of the end at `z`, of standard density `density`.
    pub fn add(&mut self, weight: f64, z: f64, density: f64, s: f64) {
        let unit = weight * density / (s * s);
        self.centre -= unit * z;
        self.mixed += unit * (1.0 - z * z);
        self.spread += unit * z * (2.0 - z * z);
    }
}
