//! air2stream on two Swiss rivers: published parameters and errors (Toffolon and Piccolroaz 2015,
//! Environ. Res. Lett. 10:114011, table 2; data of the Federal Office for the Environment and
//! MeteoSwiss, compiled for that paper), and fits of our own.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use subimago::model::temperature::air2stream::{Forcing, Parameters, Scheme, Version, fit, run};

use crate::shared;

const DAILY: &str = "data/water/swiss-rivers/daily.csv";
const PUBLISHED: &str = "data/water/swiss-rivers/check_air2stream_published.csv";

/// A river's consecutive days.
#[derive(Default, Clone)]
struct River {
    dates: Vec<NaiveDate>,
    water_c: Vec<Option<f64>>,
    air_c: Vec<f64>,
    discharge: Vec<f64>,
}

impl River {
    fn forcing(&self) -> Forcing {
        Forcing::new(self.dates[0], &self.air_c, Some(&self.discharge)).expect("air and discharge")
    }

    fn years(&self, keep: impl Fn(i32) -> bool) -> Self {
        let mut part = Self::default();
        for (index, date) in self.dates.iter().enumerate().filter(|(_, date)| keep(date.year())) {
            part.dates.push(*date);
            part.water_c.push(self.water_c[index]);
            part.air_c.push(self.air_c[index]);
            part.discharge.push(self.discharge[index]);
        }
        part
    }

    fn rmse(&self, parameters: &Parameters, scheme: Scheme) -> f64 {
        let water = run(parameters, &self.forcing(), scheme, self.water_c[0]).expect("discharge");
        let errors: Vec<f64> =
            water.iter().zip(&self.water_c).filter_map(|(ours, measured)| Some(ours - (*measured)?)).collect();
        (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt()
    }
}

fn rivers() -> Option<BTreeMap<String, River>> {
    let mut rivers: BTreeMap<String, River> = BTreeMap::new();
    for row in csv::Reader::from_path(shared::path(DAILY)?).unwrap().deserialize() {
        let row: BTreeMap<String, String> = row.unwrap();
        let river = rivers.entry(row["site"].clone()).or_default();
        river.dates.push(row["date"].parse().unwrap());
        river.water_c.push(row["tmean_c"].parse().ok());
        river.air_c.push(row["air_tmean_c"].parse().unwrap());
        river.discharge.push(row["discharge_m3s"].parse().unwrap());
    }
    Some(rivers)
}

struct Published {
    site: String,
    parameters: Parameters,
    rmse_c: f64,
}

fn published() -> Option<Vec<Published>> {
    let mut all = Vec::new();
    for row in csv::Reader::from_path(shared::path(PUBLISHED)?).unwrap().deserialize() {
        let row: BTreeMap<String, String> = row.unwrap();
        let version = match row["n_parameters"].as_str() {
            "3" => Version::Three,
            "4" => Version::Four,
            "5" => Version::Five,
            "7" => Version::Seven,
            "8" => Version::Eight,
            other => panic!("{other} parameters"),
        };
        let a = std::array::from_fn(|k| row[&format!("a{}", k + 1)].parse().unwrap_or(0.0));
        let parameters = Parameters { version, a };
        all.push(Published { site: row["site"].clone(), parameters, rmse_c: row["rmse_cal"].parse().unwrap() });
    }
    assert_eq!(all.len(), 10);
    Some(all)
}

/// The published errors have two digits; 0.006 leaves half a digit and rounding of the parameters.
#[test]
fn published_parameters_give_the_published_errors() {
    let (Some(rivers), Some(published)) = (rivers(), published()) else { return };
    for p in published {
        let found = rivers[&p.site].rmse(&p.parameters, Scheme::RungeKutta4);
        println!("{} {:?}: {found:.4}, published {:.2}", p.site, p.parameters.version, p.rmse_c);
        assert!((found - p.rmse_c).abs() < 0.006, "{} {:?}: {found}", p.site, p.parameters.version);
    }
}

/// Least squares stands in for the paper's particle swarm: as good as published, or better.
#[test]
fn own_fits_are_as_good_as_the_published_ones() {
    let (Some(rivers), Some(published)) = (rivers(), published()) else { return };
    for p in published {
        let river = &rivers[&p.site];
        let version = p.parameters.version;
        let fitted = fit(&river.forcing(), &river.water_c, version, Scheme::RungeKutta4).expect("years of days");
        let a: Vec<String> = version.free().iter().map(|k| format!("{:.3}", fitted.parameters.a[*k])).collect();
        println!("{} {version:?}: {:.4}, published {:.2}; {}", p.site, fitted.rmse_c, p.rmse_c, a.join(" "));
        assert!(fitted.rmse_c < p.rmse_c + 0.01, "{} {version:?}: {fitted:?}", p.site);
        let same = river.rmse(&fitted.parameters, Scheme::RungeKutta4);
        assert!((same - fitted.rmse_c).abs() < 1e-9, "{same}");
    }
}

/// The scheme in use, fitted on the earlier years and tried on the later ones. The paper's own
/// validation years are not in the table; its errors there were 0.75 to 1.05 (its table 2).
#[test]
fn the_stable_scheme_holds_in_years_it_has_not_seen() {
    let Some(rivers) = rivers() else { return };
    // Published: (calibration, validation) by version, the smallest first. For another split of the
    // years the error in validation is held to be at most a fifth above the published one.
    let table = [
        ("CH-2369", 2006, [(0.78, 0.91), (0.77, 0.92), (0.65, 0.78), (0.62, 0.78), (0.62, 0.76)]),
        ("CH-2011", 1997, [(0.91, 1.05), (0.90, 1.04), (0.88, 1.05), (0.61, 0.77), (0.58, 0.75)]),
    ];
    for (site, last, published) in table {
        let (early, late) = (rivers[site].years(|y| y <= last), rivers[site].years(|y| y > last));
        for (version, (calibration, validation)) in Version::ALL.into_iter().zip(published) {
            let fitted = fit(&early.forcing(), &early.water_c, version, Scheme::CrankNicolson).expect("years of days");
            let found = late.rmse(&fitted.parameters, Scheme::CrankNicolson);
            println!(
                "{site} {version:?}: fitted through {last} {:.3}, later years {found:.3}; published {calibration}, {validation}",
                fitted.rmse_c
            );
            assert!(fitted.rmse_c < 1.2 * calibration, "{site} {version:?}: {}", fitted.rmse_c);
            assert!(found < 1.2 * validation, "{site} {version:?}: {found}");
        }
    }
}
