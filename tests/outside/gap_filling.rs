//! Days that were measured are hidden, filled in, and compared: the error that is stated must be
//! the error that is made.

use chrono::{Days, NaiveDate};
use subimago::domain::Slug;
use subimago::model::temperature::{Neighbour, Series, site_temperature};

use crate::shared;

const WEST_BROOK: &str = "data/water/west-brook/temperature_and_weather_daily.csv";

/// Hides `length` days from every `step`th on and returns the errors in units of the stated one.
fn errors(own: &Series, neighbours: &[Neighbour<'_>], length: u64, step: usize) -> Vec<f64> {
    let starts: Vec<NaiveDate> = own.keys().copied().step_by(step).skip(1).collect();
    let hidden = |date: NaiveDate| starts.iter().any(|start| *start <= date && date < *start + Days::new(length));
    let left: Series = own.iter().filter(|(date, _)| !hidden(**date)).map(|(d, t)| (*d, *t)).collect();
    let site = site_temperature(&left, neighbours, NaiveDate::MAX).expect("years of data");
    own.iter()
        .filter(|(date, _)| hidden(**date))
        .filter_map(|(date, day)| {
            let filled = site.completed.days().get(date)?;
            assert!(filled.is_estimated());
            Some((filled.temp.tmean_c - day.tmean_c) / filled.sd_c)
        })
        .collect()
}

fn root_mean_square(errors: &[f64]) -> f64 {
    (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt()
}

#[test]
fn short_gaps_err_as_much_as_they_say() {
    let Some(sites) = shared::water(WEST_BROOK) else { return };
    for (length, step) in [(1, 17), (5, 43), (12, 67)] {
        let made = errors(&sites["WEST_BROOK"], &[], length, step);
        let ratio = root_mean_square(&made);
        eprintln!("gaps of {length} d: error made over error stated {ratio:.2} on {} days", made.len());
        assert!(made.len() > 150 && (0.6..1.3).contains(&ratio), "{length} days: {ratio} on {}", made.len());
    }
}

#[test]
fn long_gaps_err_as_much_as_they_say() {
    let Some(sites) = shared::water(WEST_BROOK) else { return };
    let (jimmy, mitchell) = (Slug::new("WB_JIMMY").expect("a slug"), Slug::new("WB_MITCHELL").expect("a slug"));
    let neighbours = [
        Neighbour { gauge: &jimmy, series: &sites["WB_JIMMY"] },
        Neighbour { gauge: &mitchell, series: &sites["WB_MITCHELL"] },
    ];
    let made = errors(&sites["WEST_BROOK"], &neighbours, 40, 173);
    let ratio = root_mean_square(&made);
    eprintln!("gaps of 40 d: error made over error stated {ratio:.2} on {} days", made.len());
    assert!(made.len() > 300 && (0.5..1.4).contains(&ratio), "{ratio} on {}", made.len());
}
