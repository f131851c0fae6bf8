//! temp
/// temp
pub fn degree_days_sine(m: f64, x: f64, c: f64) -> (f64, f64) {
    if c >= x {
        return (0.0, 0.0);
    }
    let mean = 0.5 * (x + m);
    if c <= m {
        return (mean - c, 1.0);
    }
    let a = 0.5 * (x - m);
    let t = ((c - mean) / a).asin();
    (
        ((mean - c) * (std::f64::consts::FRAC_PI_2 - t) + a * t.cos()) / std::f64::consts::PI,
        0.5 - t / std::f64::consts::PI,
    )
}
