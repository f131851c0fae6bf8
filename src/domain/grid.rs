//! Places made coarser before they are published: the centre of a cell of a fixed grid of degrees. No chance is
//! involved, so that many answers about one place tell no more than one.

/// Side of a cell, degrees of latitude and of longitude.
pub const GRID_DEGREES: f64 = 0.01;
/// What the grid adds to the uncertainty of a place, metres: the diagonal of a cell at the equator, where it is
/// longest (0.01 degrees are 1106 m of latitude and 1113 m of longitude), rounded up to ten. Best practice for
/// sensitive species is to publish a cell's centre and to state the whole diagonal, since what was rounded may
/// itself have been rounded before (GBIF, Generalizing Sensitive Species Occurrence Data, 2020).
pub const UNCERTAINTY_M: f64 = 1570.0;

/// The centre of a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellCentre {
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
}

impl CellCentre {
    /// The centre of the cell that holds a place.
    #[must_use]
    pub fn of(latitude: f64, longitude: f64) -> Self {
        Self { latitude: centre(latitude, 90.0), longitude: centre(longitude, 180.0) }
    }
}

/// Cells are counted from zero; the last one of the scale takes in its upper end.
fn centre(degrees: f64, end: f64) -> f64 {
    let last = (end / GRID_DEGREES).round() - 1.0;
    // A few parts in 10^12 more, so that 52.30 lies in the cell that begins there, whatever its binary digits.
    let cell = (degrees / GRID_DEGREES + 1e-9).floor().clamp(-last - 1.0, last);
    (cell * 10.0 + 5.0) / 1000.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn centres_are_written_in_three_decimals() {
        for (given, latitude, longitude) in [
            ((52.30, -3.08), 52.305, -3.075),
            ((52.3099, -3.0701), 52.305, -3.075),
            ((-0.001, 0.0), -0.005, 0.005),
            ((90.0, 180.0), 89.995, 179.995),
            ((-90.0, -180.0), -89.995, -179.995),
        ] {
            let found = CellCentre::of(given.0, given.1);
            assert_eq!((found.latitude, found.longitude), (latitude, longitude), "{given:?}");
            assert_eq!(found.latitude.to_string(), latitude.to_string());
        }
    }

    proptest! {
        #[test]
        fn a_centre_is_its_own_and_lies_near(latitude in -90.0..=90.0_f64, longitude in -180.0..=180.0_f64) {
            let cell = CellCentre::of(latitude, longitude);
            prop_assert_eq!(CellCentre::of(cell.latitude, cell.longitude), cell);
            prop_assert!((cell.latitude - latitude).abs() <= GRID_DEGREES / 2.0 + 1e-9);
            prop_assert!((cell.longitude - longitude).abs() <= GRID_DEGREES / 2.0 + 1e-9);
            prop_assert_eq!((cell.latitude * 1000.0).round() / 1000.0, cell.latitude);
        }
    }
}
