use subimago::domain::fit::ClockKind;
use subimago::model::emergence::effects::InUse;
use subimago::model::emergence::{EffectSds, TaxonPrior, fit_clock};
use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};
#[test]
fn trial() {
    for seed in 1..=6 {
    let world = World::new(Truth::thermal(), seed);
    let data = dataset(&world, Records::Classes);
    let taxon = TaxonPrior { base_temp_c: (4.0, 2.0), median_day: Some((135.0, 20.0)), species: true, one_of_several: false, hour: Some((14.0, 3.0)) };
    let t = std::time::Instant::now();
    let fit = fit_clock(ClockKind::Thermal, &data, &taxon, false).unwrap();
    let sds = fit.laplace.sds();
    println!("{seed} ev {:.2} {:?} Tb {:.2} ({:.2}) d50 {:.2} ({:.2}) lsig {:.2} ({:.2}) lb {:.2} {:?}", fit.laplace.log_evidence + fit.effects.log_prior(0.03, &InUse::of(&data, &fit.laplace.free)), t.elapsed(), fit.laplace.mode[0], sds[0], fit.laplace.mode[2], sds[2], fit.laplace.mode[3], sds[3], fit.laplace.mode[4], fit.effects);
    }
}
