//! Days that were measured are hidden, filled in, and compared: the error that is stated must be
//! the error that is made.

use chrono::{Days, NaiveDate};
use subimago::domain::Slug;
use subimago::model::temperature::{
    AirSeries, Between, Neighbour, Series, WaterFromAir, between, site_temperature, site_temperature_with_air,
};

use crate::shared;

const WEST_BROOK: &str = "data/water/west-brook/temperature_and_weather_daily.csv";

/// Hides `length` days from every `step`th on and returns the errors in units of the stated one.
fn errors(own: &Series, neighbours: &[Neighbour<'_>], length: u64, step: usize) -> Vec<f64> {
    both_errors(own, neighbours, None, length, step).into_iter().map(|(made, stated)| made / stated).collect()
}

/// The errors, with those stated; degrees Celsius.
fn both_errors(
    own: &Series,
    neighbours: &[Neighbour<'_>],
    air: Option<&AirSeries>,
    length: u64,
    step: usize,
) -> Vec<(f64, f64)> {
    let starts: Vec<NaiveDate> = own.keys().copied().step_by(step).skip(1).collect();
    let hidden = |date: NaiveDate| starts.iter().any(|start| *start <= date && date < *start + Days::new(length));
    let left: Series = own.iter().filter(|(date, _)| !hidden(**date)).map(|(d, t)| (*d, *t)).collect();
    let last = *own.keys().next_back().expect("days");
    let model = air.map(|air| WaterFromAir::fit(&left, air, last).expect("years of air"));
    let site = site_temperature_with_air(&left, neighbours, model.as_ref(), last).expect("years of data");
    own.iter()
        .filter(|(date, _)| hidden(**date))
        .filter_map(|(date, day)| {
            let filled = site.completed.days().get(date)?;
            assert!(filled.is_estimated());
            Some((filled.temp.tmean_c - day.tmean_c, filled.sd_c))
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

/// Without a neighbour the air fills what is too long for a line. Set before looking: the error is
/// below two thirds of the anomalies' own spread (that of saying nothing), and is the error stated.
#[test]
fn long_gaps_are_filled_from_the_air() {
    let (Some(sites), Some(air)) = (shared::water(WEST_BROOK), shared::air(WEST_BROOK)) else { return };
    for site in ["WEST_BROOK", "WB_JIMMY", "WB_MITCHELL"] {
        let own = &sites[site];
        let made = both_errors(own, &[], Some(&air[site]), 40, 173);
        let usual = site_temperature(own, &[], NaiveDate::MAX).expect("years of data").climatology;
        let anomalies: Vec<f64> = own.iter().map(|(date, day)| day.tmean_c - usual.mean_c(*date)).collect();
        let error = root_mean_square(&made.iter().map(|m| m.0).collect::<Vec<_>>());
        let ratio = root_mean_square(&made.iter().map(|m| m.0 / m.1).collect::<Vec<_>>());
        let spread = root_mean_square(&anomalies);
        eprintln!(
            "{site}: gaps of 40 d from the air {error:.2} C, anomalies {spread:.2}; made over stated {ratio:.2} on {} days",
            made.len()
        );
        assert!(made.len() > 300 && error < 0.67 * spread, "{site}: {error} of {spread} on {}", made.len());
        assert!((0.7..1.3).contains(&ratio), "{site}: {ratio}");
    }
}

/// The gauge of a chain on one water that lies between two others is hidden: the Delaware's East Branch
/// at Fishs Eddy, 7.3 km in a straight line below Harvard (16.4 below Cooks Falls on the Beaver Kill,
/// which joins between) and 12.2 above Lordville; from the coordinates in the table. Cold and warm
/// branches join on the way. Set before looking: the error is at most 1.5 times the stated one; forty days
/// of its own in spring halve what is off in level, or leave less than half a degree of it. That it errs
/// less than the plain mean of the gauges was hoped and is not so on this water.
#[test]
fn a_reach_between_two_gauges() {
    let Some(sites) = shared::water("data/water/us-trout-gauges/temperature_daily.csv") else { return };
    let own = &sites["USGS-01421000"];
    let last = *own.keys().next_back().expect("days");
    let (up, low) = (Slug::new("up").expect("a slug"), Slug::new("low").expect("a slug"));
    let lower = Neighbour { gauge: &low, series: &sites["USGS-01427207"] };
    let spring: Series = own
        .range(NaiveDate::from_ymd_opt(2018, 4, 10).expect("a date")..)
        .take(40)
        .map(|(date, day)| (*date, *day))
        .collect();
    for (name, upper, way) in [("East Branch", "USGS-01417500", 7.3), ("Beaver Kill", "USGS-01420500", 16.4)] {
        let upper = Neighbour { gauge: &up, series: &sites[upper] };
        let place = Between::new((upper, 0.0), (lower, way + 12.2), way).expect("between");
        let mean = site_temperature(&Series::new(), &[upper, lower], last).expect("gauges");
        let errors = |site: &subimago::model::temperature::SiteTemperature| -> Vec<(f64, f64)> {
            let level = site.completed.level_sd_c();
            own.iter()
                .filter_map(|(date, day)| Some((day, site.completed.days().get(date).filter(|d| d.is_estimated())?)))
                .map(|(day, found)| (found.temp.tmean_c - day.tmean_c, found.sd_c.hypot(level)))
                .collect()
        };
        let mut offs = Vec::new();
        for (what, days) in [("no days", &Series::new()), ("40 days", &spring)] {
            let site = between(days, place, last).expect("gauges");
            let made = errors(&site);
            let n = made.len() as f64;
            let off = made.iter().map(|m| m.0).sum::<f64>() / n;
            let rmse = root_mean_square(&made.iter().map(|m| m.0).collect::<Vec<_>>());
            let ratio = root_mean_square(&made.iter().map(|m| m.0 / m.1).collect::<Vec<_>>());
            let all = root_mean_square(&errors(&mean).iter().map(|m| m.0).collect::<Vec<_>>());
            eprintln!(
                "{name}, {what} of its own: {rmse:.2} C (mean of gauges {all:.2}), level off {off:+.2}, made over stated {ratio:.2}"
            );
            assert!(n > 900.0 && ratio < 1.5, "{name}, {what}: {ratio}");
            offs.push(off.abs());
        }
        assert!(offs[1] < (0.5 * offs[0]).max(0.5), "{name}: {offs:?}");
    }
}
