//! The exact second derivatives against differences of the gradient, on records of every kind, with every
//! parameter free.

use subimago::domain::fit::ClockKind;
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::{Dataset, Layout, Objective, Outcome, Prior, Priors, Protocol, Workspace};

use crate::reference::{golden, reference_priors};

/// The reference records, some of them turned into records of the other kinds, one site-year taken out.
fn every_kind(midnight: Midnight) -> Dataset {
    let mut data = golden().data;
    data.midnight = midnight;
    data.units.remove(4);
    data.units.reverse();
    for (place, record) in data.units.iter_mut().flat_map(|u| &mut u.observations).enumerate() {
        let Outcome::Class(class) = record.outcome else { panic!("the reference holds classes") };
        match place % 9 {
            1 => record.outcome = Outcome::Count(class as u32 * 4),
            2 => {
                // A trap stands for a week, without hours.
                (record.outcome, record.protocol) = (Outcome::Count(class as u32 * 30), Protocol::Trap);
                (record.from_day, record.hours) = (record.from_day.saturating_sub(6), None);
            }
            3 if class > 0 => record.outcome = Outcome::Seen,
            4 => {
                record.from_day = record.from_day.saturating_sub(20);
                record.outcome = Outcome::First { looked_before: place % 2 == 0 };
            }
            _ => (),
        }
        if place % 5 == 0 && !matches!(record.outcome, Outcome::First { .. }) {
            record.weight = 0.7;
        }
    }
    data
}

fn all_free(data: &Dataset) -> Priors {
    let layout = Layout::of(data);
    let mut priors = reference_priors(layout, [0.05, 0.03, 0.6], 4.0, 135.0);
    priors.0[layout.log_gap()] = Prior::normal(-1.0, 0.5);
    priors.0[layout.log_sigma2()] = Prior::normal(-2.0, 0.5);
    priors.0[layout.logit_w()] = Prior::normal(-0.7, 1.0);
    priors.0[layout.alpha()] = Prior::normal(2.0, 2.0);
    priors.0[layout.log_theta()] = Prior::normal(0.3, 1.0);
    priors.0[layout.log_first()] = Prior::normal(-2.0, 0.5);
    priors.0[layout.trap_level()] = Prior::normal(0.4, 1.0);
    for unit in 0..layout.units {
        priors.0[layout.shift(unit)] = Prior::effect(0.04);
        priors.0[layout.split(unit)] = Prior::effect(0.5);
        priors.0[layout.level(unit)] = Prior::effect(0.5);
    }
    priors
}

#[test]
fn the_exact_curvature_is_that_of_the_gradient() {
    for (clock, two_parts, midnight) in [
        (ClockKind::Calendar, true, Midnight::Wraps),
        (ClockKind::Calendar, false, Midnight::Ends),
        (ClockKind::Thermal, true, Midnight::Ends),
        (ClockKind::Photothermal, true, Midnight::Wraps),
        (ClockKind::Gated, true, Midnight::Ends),
        (ClockKind::Gated, false, Midnight::Wraps),
    ] {
        let data = every_kind(midnight);
        let priors = all_free(&data);
        let objective = Objective { clock, data: &data, priors: &priors, two_parts };
        // Off the mode and off every symmetry: each parameter a little away from its mean.
        let theta: Vec<f64> =
            priors.0.iter().enumerate().map(|(i, p)| p.mean + 0.4 * p.sd * (1.7 * i as f64 + 0.3).sin()).collect();
        let free = priors.free();
        let mut work = Workspace::default();
        let found = objective.hessian(&theta, &free, &mut work);
        let (mut up, mut down) = (vec![0.0; theta.len()], vec![0.0; theta.len()]);
        for (column, &index) in free.iter().enumerate() {
            let step = 1e-5 * priors.0[index].sd;
            let mut at = theta.clone();
            at[index] = theta[index] + step;
            assert!(objective.value_and_gradient(&at, &mut up, &mut work).is_finite());
            at[index] = theta[index] - step;
            objective.value_and_gradient(&at, &mut down, &mut work);
            for (row, &other) in free.iter().enumerate() {
                let alone = (up[other] - down[other]) / (2.0 * step);
                let size = (found[(row, row)].abs() * found[(column, column)].abs()).sqrt().max(1.0);
                let off = (found[(row, column)] - alone) / size;
                assert!(
                    off.abs() < 2e-6,
                    "{clock:?}, two parts {two_parts}, row {other}, column {index}: {} against {alone}",
                    found[(row, column)]
                );
            }
        }
    }
}
