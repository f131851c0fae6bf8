//! Which records a fit has used, and what few records of another kind do to it.

use subimago::domain::season::Cycle;
use subimago::model::emergence::{FitInput, FittedTaxon, SeasonRequest, fit_taxon, forecast_season};
use subimago::model::posterior::{Dataset, Hours, Observation, Outcome, Protocol};

use crate::simulated::{Records, TRAITS, dataset};
use crate::world::{Truth, World};

fn fit(data: Dataset) -> FittedTaxon {
    let input = FitInput {
        sites: Vec::new(),
        years: (0..data.years as i32).map(|year| 2001 + year).collect(),
        data,
        prior: TRAITS,
        has_water: true,
        hours_known: true,
        flights: None,
        cycle: Cycle::Calendar,
    };
    fit_taxon(&input).unwrap()
}

fn records(kind: Records) -> Dataset {
    dataset(&World::new(Truth { years: 4, ..Truth::thermal() }, 5), kind)
}

/// A visit of two hours about the peak.
fn visit(day: usize, class: usize) -> Observation {
    Observation {
        from_day: day - 1,
        to_day: day,
        outcome: Outcome::Class(class),
        protocol: Protocol::Visit,
        log_effort: 0.0,
        hours: Some(Hours { start: 13.0, end: 15.0, water_c: 12.0 }),
        x: [0.0; 3],
        weight: 1.0,
    }
}

fn classes(fitted: &FittedTaxon) -> Vec<[f64; 4]> {
    let water = [fitted.climate.clone()];
    forecast_season(fitted, &SeasonRequest::new(Some(0), 2010, &water, 400, 7)).unwrap().classes
}

/// The day on which insects are likeliest, as an index.
fn fullest(classes: &[[f64; 4]]) -> usize {
    (0..classes.len()).min_by(|a, b| classes[*a][0].total_cmp(&classes[*b][0])).unwrap()
}

#[test]
fn records_that_cannot_tell_onset_are_not_said_to_be_used() {
    let mut data = records(Records::Classes);
    for unit in &mut data.units {
        // Only days on which insects were met: nobody looked before they came.
        unit.observations.retain(|o| matches!(o.outcome, Outcome::Class(class) if class > 0));
    }
    assert!(data.len() > 20);
    let fitted = fit(data);
    assert!(fitted.prior_driven);
    // What the fit has not used is news to it, or a report that has just moved the forecast would be taken back.
    assert_eq!((fitted.records, fitted.years_used, fitted.latest.1.len()), (0, 0, 0));
    let used = fit(records(Records::Classes));
    assert!(used.records > 100 && used.years_used == 4 && used.latest.1.len() > 10);
}

/// Days from the earlier to the later end of the 80 % interval of the 10 % date.
fn width_days(fitted: &FittedTaxon) -> f64 {
    let water = [fitted.climate.clone()];
    let season = forecast_season(fitted, &SeasonRequest::new(Some(0), 2010, &water, 400, 7)).unwrap();
    season.milestones[1][2].unwrap() - season.milestones[1][0].unwrap()
}

#[test]
fn dates_are_told_where_hardly_any_record_would_tell_them() {
    let full = fit(records(Records::Traps));
    let mut data = records(Records::Traps);
    for o in data.units.iter_mut().flat_map(|unit| &mut unit.observations) {
        if let Outcome::Count(count) = &mut o.outcome {
            *count /= 60;
        }
    }
    let caught = data.units.iter().flat_map(|unit| &unit.observations).map(|o| match o.outcome {
        Outcome::Count(count) => count,
        _ => 0,
    });
    println!("{} insects in all", caught.sum::<u32>());
    let (many, few) = (width_days(&full), width_days(&fit(data)));
    println!("the 10 % date within {many:.1} d, of a sixtieth of the insects within {few:.1} d");
    // The curve's own days lack what records add, and are less sure for there being few.
    assert!(few > 0.6 * many, "{few} and {many}");
}

#[test]
fn one_visit_does_not_undo_the_classes_of_years_of_traps() {
    let trapped = fit(records(Records::Traps));
    let before = classes(&trapped);
    let day = fullest(&before);
    let mut data = records(Records::Traps);
    let last = data.units.last_mut().unwrap();
    last.observations.push(visit(day + 1, 0));
    let one = fit(data.clone());
    assert!(!one.has_classes && one.kernel.is_some());
    let after = classes(&one);
    let moved = (before[day][0] - after[day][0]).abs();
    println!("chance of none on the fullest day {:.2}, with one blank visit {:.2}", before[day][0], after[day][0]);
    assert!(moved < 0.1, "{moved}");
    // Twenty-five visits with classes of their own tell them by themselves.
    for (k, unit) in data.units.iter_mut().enumerate() {
        unit.observations.extend((0..8).map(|visits| visit(day - 20 + 5 * visits + k % 2, usize::from(visits > 3))));
    }
    let many = fit(data);
    assert!(many.has_classes && many.kernel.is_none());
}
