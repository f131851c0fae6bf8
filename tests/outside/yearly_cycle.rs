//! The yearly cycle of two Swiss rivers (Federal Office for the Environment, compiled for Environ.
//! Res. Lett. 10 (2015) 114011) against coefficients computed independently by plain least squares
//! with numpy on the same days.

use chrono::NaiveDate;
use subimago::model::temperature::Climatology;

use crate::shared;

#[test]
fn coefficients_and_persistence_agree_with_plain_least_squares() {
    let Some(sites) = shared::water("data/water/swiss-rivers/daily.csv") else { return };
    for (site, coefficients, phi) in [
        ("CH-2369", [9.6928, -7.2952, -2.4928, 0.1827, 0.0270], 0.908),
        ("CH-2011", [6.9469, -2.5739, -0.3544, -0.6817, -0.3711], 0.798),
    ] {
        let climatology = Climatology::fit(&sites[site], NaiveDate::MAX).expect("years of data");
        for (found, want) in climatology.coefficients().iter().zip(coefficients) {
            assert!((found - want).abs() < 0.02, "{site}: {found} for {want}");
        }
        assert!((climatology.phi() - phi).abs() < 0.02, "{site}: phi {}", climatology.phi());
    }
}

/// Two rivers of the United States (Geological Survey, Beaver Kill and Madison below
/// Hebgen) through September 2019: correlation from one day to the next as computed independently.
#[test]
fn persistence_of_american_rivers_agrees() {
    let Some(sites) = shared::water("data/water/us-trout-gauges/temperature_daily.csv") else { return };
    let through = NaiveDate::from_ymd_opt(2019, 9, 30).expect("a date");
    for (site, phi) in [("USGS-01420500", 0.853), ("USGS-06038500", 0.904)] {
        let found = Climatology::fit(&sites[site], through).expect("three years").phi();
        println!("{site}: {found:.4} for {phi}");
        assert!((found - phi).abs() < 0.02, "{site}: phi {found} for {phi}");
    }
}
