//! The Hessian with effects moved together against one with every parameter moved alone, on data where
//! every kind of effect is free.

use subimago::domain::fit::ClockKind;
use subimago::model::emergence::prior::priors;
use subimago::model::emergence::{EffectSds, TaxonPrior};
use subimago::model::laplace::approximate;
use subimago::model::optimise::Stop;
use subimago::model::posterior::{Dataset, Objective, Workspace};

use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

#[test]
fn effects_moved_together_give_the_curvature_of_each_moved_alone() {
    let world = World::new(Truth { sites: 3, years: 4, ..Truth::thermal() }, 5);
    let full = dataset(&world, Records::Traps);
    // A site and a year without records, and site-years out of order, as a fold may have them.
    let mut data: Dataset = full.without_year(1).without_site(2);
    data.units.reverse();
    let taxon = TaxonPrior {
        base_temp_c: (4.0, 1.0),
        median_day: Some((135.0, 20.0)),
        width_days: None,
        species: false,
        one_of_several: false,
        hour: None,
    };
    let prior = priors(ClockKind::Thermal, &data, &taxon, true, &EffectSds::start(0.03)).unwrap();
    let objective = Objective { clock: ClockKind::Thermal, data: &data, priors: &prior, two_parts: true };
    let fit = approximate(&objective, &prior.means(), Stop { max_evaluations: 400, gradient: 1e-6 }).unwrap();

    let lower = fit.precision.l();
    let found = &lower * lower.transpose();
    let n = fit.free.len();
    let (mut up, mut down) = (vec![0.0; fit.mode.len()], vec![0.0; fit.mode.len()]);
    let mut work = Workspace::default();
    for (column, &index) in fit.free.iter().enumerate() {
        let step = 1e-5 * prior.0[index].sd.clamp(1e-3, 5.0);
        let mut at = fit.mode.clone();
        at[index] = fit.mode[index] + step;
        objective.value_and_gradient(&at, &mut up, &mut work);
        at[index] = fit.mode[index] - step;
        objective.value_and_gradient(&at, &mut down, &mut work);
        for (row, &other) in fit.free.iter().enumerate() {
            let alone = (up[other] - down[other]) / (2.0 * step);
            let size = (found[(row, row)] * found[(column, column)]).sqrt();
            let off = (found[(row, column)] - alone) / size;
            assert!(off.abs() < 1e-5, "row {other}, column {index} of {n}: {} against {alone}", found[(row, column)]);
        }
    }
}
