//! Weather that is forecast: what records told of its effect moves duns, and nothing else does.

use subimago::domain::season::Cycle;
use subimago::model::emergence::season::SeasonWeather;
use subimago::model::emergence::{FitInput, FittedTaxon, SeasonRequest, fit_taxon, forecast_season};
use subimago::model::posterior::data::RAIN;
use subimago::model::posterior::layout::BETA;
use subimago::model::posterior::{Hours, Observation, Outcome, Protocol};

use crate::simulated::{Records, TRAITS, dataset};
use crate::world::{Truth, World};

fn fitted(noted: bool) -> (FittedTaxon, World) {
    let noted = |x: &mut [f64; 3]| {
        if !noted {
            *x = [0.0; 3];
        }
    };
    (fitted_on(noted), world())
}

fn world() -> World {
    World::new(Truth { years: 6, ..Truth::thermal() }, 3)
}

/// Fitted to records whose noted weather `change` has changed.
fn fitted_on(change: impl Fn(&mut [f64; 3])) -> FittedTaxon {
    let mut data = dataset(&world(), Records::Classes);
    data.units.iter_mut().flat_map(|unit| &mut unit.observations).for_each(|o| change(&mut o.x));
    let years = (2001..2007).collect();
    let input = FitInput {
        sites: Vec::new(),
        data,
        years,
        prior: TRAITS,
        has_water: true,
        hours_known: true,
        flights: None,
        cycle: Cycle::Calendar,
    };
    fit_taxon(&input).unwrap()
}

/// Chance of at least sparse on the fullest day, under a sky so much more or less than half clouded.
fn chance(fitted: &FittedTaxon, cloud: f64) -> f64 {
    let water = [fitted.climate.clone()];
    let weather = SeasonWeather { duns: vec![[cloud, 0.0, 0.0]; 365], flights: Vec::new() };
    let request = SeasonRequest { weather: Some(&weather), ..SeasonRequest::new(Some(0), 2010, &water, 400, 7) };
    let season = forecast_season(fitted, &request).unwrap();
    season.classes.iter().map(|p| 1.0 - p[0]).fold(0.0, f64::max)
}

#[test]
fn clouds_that_records_told_of_raise_the_duns_of_a_clouded_day() {
    let (fitted, world) = fitted(true);
    assert!(world.truth.beta_cloud > 0.5, "in the simulated river clouds bring duns");
    let odds = |p: f64| p / (1.0 - p);
    let (clear, clouded) = (odds(chance(&fitted, -0.5)), odds(chance(&fitted, 0.5)));
    println!("odds of any on the fullest day {clear:.2} under a clear sky, {clouded:.2} under clouds");
    // exp(0.8) is 2.2; averaged over seasons it is less.
    assert!((1.2..3.0).contains(&(clouded / clear)), "{clear} and {clouded}");
}

#[test]
fn clouds_that_nobody_noted_change_nothing() {
    let (fitted, _) = fitted(false);
    assert_eq!(chance(&fitted, -0.5), chance(&fitted, 0.5));
}

/// Chance of at least sparse on the fullest day, in rain of that covariate.
fn chance_in_rain(fitted: &FittedTaxon, rain: f64) -> f64 {
    let water = [fitted.climate.clone()];
    let weather = SeasonWeather { duns: vec![[0.0, 0.0, rain]; 365], flights: Vec::new() };
    let request = SeasonRequest { weather: Some(&weather), ..SeasonRequest::new(Some(0), 2010, &water, 400, 7) };
    let season = forecast_season(fitted, &request).unwrap();
    season.classes.iter().map(|p| 1.0 - p[0]).fold(0.0, f64::max)
}

#[test]
fn rain_moves_duns_where_records_noted_it_and_is_no_parameter_elsewhere() {
    let (dry, _) = fitted(true);
    let held = |fit: &FittedTaxon| fit.members.iter().all(|member| !member.fit.laplace.free.contains(&(BETA + RAIN)));
    assert!(held(&dry), "nobody noted rain");
    assert_eq!(chance_in_rain(&dry, 0.0), chance_in_rain(&dry, 2.0));
    // The effect that the simulated river has of clouds, noted as one of rain.
    let wet = fitted_on(|x| *x = [0.0, 0.0, 2.0 * (x[0] + 0.5)]);
    assert!(!held(&wet));
    let odds = |p: f64| p / (1.0 - p);
    let (none, rain) = (odds(chance_in_rain(&wet, 0.0)), odds(chance_in_rain(&wet, 2.0)));
    println!("odds of any on the fullest day {none:.2} without rain, {rain:.2} in rain");
    // exp(0.8) is 2.2; the effect is known to 0.25, and this is two of these either way.
    assert!((1.3..3.7).contains(&(rain / none)), "{none} and {rain}");
}

#[test]
fn a_blank_on_a_day_that_weather_holds_down_does_not_raise_its_odds() {
    let (fitted, _) = fitted(true);
    let water = [fitted.climate.clone()];
    let weather = SeasonWeather { duns: vec![[-0.5, 0.0, 0.0]; 365], flights: Vec::new() };
    let asked = |here: &[Observation]| {
        let plain = SeasonRequest::new(Some(0), 2010, &water, 400, 7);
        forecast_season(&fitted, &SeasonRequest { weather: Some(&weather), here, ..plain }).unwrap().classes
    };
    let before = asked(&[]);
    let day = (0..365).min_by(|a, b| before[*a][0].total_cmp(&before[*b][0])).unwrap();
    let visit = |class| Observation {
        from_day: day,
        to_day: day + 1,
        outcome: Outcome::Class(class),
        protocol: Protocol::Visit,
        log_effort: 0.0,
        hours: Some(Hours { start: 13.0, end: 15.0, water_c: 12.0 }),
        x: [-0.5, 0.0, 0.0],
        weight: 1.0,
    };
    let odds = |p: [f64; 4]| (1.0 - p[0]) / p[0];
    let (plain, blank, heavy) = (odds(before[day]), odds(asked(&[visit(0)])[day]), odds(asked(&[visit(3)])[day]));
    println!("odds under a clear sky {plain:.2}, after a blank {blank:.2}, after a heavy visit {heavy:.2}");
    assert!(blank < 0.7 * plain && heavy > 1.3 * plain, "{blank}, {plain}, {heavy}");
    // A blank in weather that holds insects down says less than one in weather that brings them.
    let in_clouds = odds(asked(&[Observation { x: [0.5, 0.0, 0.0], ..visit(0) }])[day]);
    assert!(in_clouds < blank, "{in_clouds} and {blank}");
}

#[test]
fn weather_and_a_visit_out_of_season_are_those_of_their_day_alone() {
    let (fitted, _) = fitted(true);
    let water = [fitted.climate.clone()];
    // Days of winter and of autumn, on which nothing but strays emerges.
    for day in [30, 340] {
        let asked = |weather: &SeasonWeather, here: &[Observation]| {
            let plain = SeasonRequest::new(Some(0), 2010, &water, 200, 7);
            forecast_season(&fitted, &SeasonRequest { weather: Some(weather), here, ..plain }).unwrap().classes
        };
        let clear = SeasonWeather { duns: vec![[0.0; 3]; 365], flights: Vec::new() };
        let mut clouded = clear.clone();
        clouded.duns[day] = [0.5, 0.0, 0.0];
        let visit = Observation {
            from_day: day,
            to_day: day + 1,
            outcome: Outcome::Class(1),
            protocol: Protocol::Visit,
            log_effort: 0.0,
            hours: Some(Hours { start: 13.0, end: 15.0, water_c: 6.0 }),
            x: [0.0; 3],
            weight: 1.0,
        };
        let (before, by_weather, by_visit) = (asked(&clear, &[]), asked(&clouded, &[]), asked(&clear, &[visit]));
        for (name, after) in [("weather", by_weather), ("a visit", by_visit)] {
            let any = |p: [f64; 4]| 1.0 - p[0];
            assert!(any(after[day]) > 1.05 * any(before[day]), "{name} on {day}: {:?} {:?}", before[day], after[day]);
            let others = (0..365).filter(|other| *other != day && before[*other] != after[*other]).count();
            assert_eq!(others, 0, "{name} on {day}");
        }
    }
}
