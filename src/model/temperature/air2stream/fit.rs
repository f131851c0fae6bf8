//! Parameters by least squares within the published ranges.

use super::step::{Scheme, run_into};
use super::{Air2StreamError, Forcing, Parameters, Version};
use crate::model::least_squares::{Bounds, LeastSquares, Stop, least_squares};

/// Fewest days with water temperature to fit to.
pub const FEWEST_DAYS: usize = 180;

/// Ranges of a1 to a8, as published with the model.
const BOUNDS: [Bounds; 8] =
    [(-5.0, 15.0), (-5.0, 1.5), (-5.0, 5.0), (-1.0, 1.0), (0.0, 20.0), (0.0, 10.0), (0.0, 1.0), (-1.0, 5.0)];
/// Starts of the search: a middling river with little and with more pull by discharge, one that
/// answers slowly and is fed by discharge, and one that follows the air quickly. With the explicit
/// scheme the sum of squares jumps where a flood makes it blow up, so that one start is not enough.
const STARTS: [[f64; 8]; 4] = [
    [1.0, 0.5, 0.7, 0.0, 1.0, 1.0, 0.6, 0.2],
    [1.0, 0.5, 0.7, 0.0, 1.0, 1.0, 0.6, 0.1],
    [1.0, 0.2, 0.3, 0.3, 5.0, 1.5, 0.55, 0.8],
    [3.0, 0.8, 1.2, 0.0, 0.5, 1.5, 0.6, 0.1],
];
const STOP: Stop = Stop { max_steps: 200, relative_fall: 1e-7 };

/// A model fitted to one river.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// The parameters; they belong to `scheme`.
    pub parameters: Parameters,
    /// The scheme they were fitted with.
    pub scheme: Scheme,
    /// Root of the mean squared error over the days fitted to, degrees Celsius.
    pub rmse_c: f64,
    /// Days fitted to.
    pub days: usize,
}

/// Fits `version` to the water temperatures `water_c`, degrees Celsius, one for each day of
/// `forcing`, `None` where not measured. The run is free: it is not corrected by measurements.
/// Versions with three to five parameters have one minimum within reach and are searched from one
/// start, the others from four.
///
/// # Errors
/// [`Air2StreamError`] for unequal lengths, fewer than [`FEWEST_DAYS`] measured days and missing
/// discharge.
pub fn fit(
    forcing: &Forcing,
    water_c: &[Option<f64>],
    version: Version,
    scheme: Scheme,
) -> Result<Fitted, Air2StreamError> {
    forcing.serves(version)?;
    if water_c.len() != forcing.days.len() {
        let (air, other) = (forcing.days.len(), water_c.len());
        return Err(Air2StreamError::Lengths { air, other, what: "water temperature" });
    }
    let measured: Vec<(usize, f64)> =
        water_c.iter().enumerate().filter_map(|(index, value)| Some((index, (*value)?))).collect();
    if measured.len() < FEWEST_DAYS {
        return Err(Air2StreamError::TooFewDays { days: measured.len(), needed: FEWEST_DAYS });
    }
    let free = version.free();
    let bounds: Vec<Bounds> = free.iter().map(|k| BOUNDS[*k]).collect();
    let with = |x: &[f64]| {
        let mut a = [0.0; 8];
        free.iter().zip(x).for_each(|(k, value)| a[*k] = *value);
        Parameters { version, a }
    };
    let mut water = Vec::with_capacity(forcing.days.len());
    let mut search = |start: &[f64; 8]| {
        let start: Vec<f64> = free.iter().map(|k| start[*k]).collect();
        least_squares(&start, &bounds, STOP, |x, out| {
            run_into(&with(x), forcing, scheme, water_c[0], &mut water);
            out.clear();
            out.extend(measured.iter().map(|(index, value)| water[*index] - value));
        })
    };
    let mut best: LeastSquares = search(&STARTS[0]);
    if free.len() > 5 {
        for start in &STARTS[1..] {
            let found = search(start);
            if found.sum_of_squares < best.sum_of_squares {
                best = found;
            }
        }
    }
    let rmse_c = (best.sum_of_squares / measured.len() as f64).sqrt();
    Ok(Fitted { parameters: with(&best.x), scheme, rmse_c, days: measured.len() })
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::super::run;
    use super::*;

    /// Two years of air and discharge with weather of their own.
    fn forcing() -> Forcing {
        let wave = |day: usize, period: f64| (std::f64::consts::TAU * day as f64 / period).sin();
        let air: Vec<f64> =
            (0..730).map(|d| 9.0 - 9.0 * wave(d + 91, 365.0) + 4.0 * wave(d, 11.3) + 2.0 * wave(d, 4.1)).collect();
        let flow: Vec<f64> = (0..730).map(|d| (1.0 + 0.5 * wave(d, 365.0) + 0.3 * wave(d, 23.0)).exp()).collect();
        Forcing::new(NaiveDate::from_ymd_opt(2001, 1, 1).expect("a date"), &air, Some(&flow)).expect("days")
    }

    #[test]
    fn parameters_that_made_the_water_are_found_again() {
        let forcing = forcing();
        for version in Version::ALL {
            let mut a = [0.9, 0.6, 0.75, 0.2, 2.0, 1.4, 0.6, 0.3];
            (0..8).filter(|k| !version.free().contains(k)).for_each(|k| a[k] = 0.0);
            let p = Parameters { version, a };
            let water = run(&p, &forcing, Scheme::CrankNicolson, None).expect("discharge");
            let water: Vec<Option<f64>> =
                water.iter().enumerate().map(|(d, w)| (!d.is_multiple_of(5)).then_some(*w)).collect();
            let fitted = fit(&forcing, &water, version, Scheme::CrankNicolson).expect("two years");
            assert!(fitted.rmse_c < 2e-3 && fitted.days == 584, "{fitted:?}");
            let miss = fitted.parameters.a.iter().zip(a).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
            assert!(miss < 0.05, "{version:?}: {:?}", fitted.parameters.a);
        }
    }

    #[test]
    fn what_cannot_be_fitted_is_refused() {
        let forcing = forcing();
        let few: Vec<Option<f64>> = (0..730).map(|d| (d < 100).then_some(5.0)).collect();
        let refused = |water: &[Option<f64>]| fit(&forcing, water, Version::Three, Scheme::CrankNicolson);
        assert_eq!(refused(&few), Err(Air2StreamError::TooFewDays { days: 100, needed: FEWEST_DAYS }));
        assert!(matches!(refused(&few[1..]), Err(Air2StreamError::Lengths { air: 730, other: 729, .. })));
    }
}
