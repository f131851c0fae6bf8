use subimago::domain::fit::ClockKind;
use subimago::model::clock::ClockRun;
use subimago::model::emergence::effects::Present;
use subimago::model::emergence::prior::{log_slope_per_day, priors};
use subimago::model::emergence::{EffectSds, TaxonPrior, fit_clock};
use subimago::model::laplace::{Laplace, approximate};
use subimago::model::optimise::Stop;
use subimago::model::posterior::{Dataset, Layout, Objective};

use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

fn log_hyper(e: &EffectSds, s: &EffectSds) -> f64 {
    [(e.site_shift, s.site_shift), (e.year_shift, s.year_shift), (e.unit_shift, s.unit_shift), (e.site_level, s.site_level), (e.unit_level, s.unit_level)]
        .iter().map(|(a, b)| -0.5 * (a / b).powi(2) + a.ln()).sum()
}

fn mackay(e: &EffectSds, fit: &Laplace, layout: Layout, slope: f64, jac: f64, em: bool) -> EffectSds {
    let sc = EffectSds::scales(slope);
    let sds = fit.sds();
    let step = |ix: Vec<usize>, old: f64, scale: f64| {
        let m: f64 = ix.iter().map(|&i| fit.mode[i].powi(2)).sum();
        let v: f64 = ix.iter().map(|&i| sds[i].powi(2)).sum();
        let n = ix.len() as f64;
        let (gamma, m) = if em { (n - jac, m + v) } else { ((n - v / old / old - jac), m) };
        let h2 = scale * scale;
        (0.5 * h2 * ((gamma * gamma + 4.0 * m / h2).sqrt() - gamma)).sqrt().clamp(0.02 * scale, 4.0 * scale)
    };
    EffectSds {
        site_shift: step((0..layout.sites).map(|i| layout.u(i)).collect(), e.site_shift, sc.site_shift),
        year_shift: step((0..layout.years).map(|i| layout.v(i)).collect(), e.year_shift, sc.year_shift),
        unit_shift: step((0..layout.units).map(|i| layout.shift(i)).collect(), e.unit_shift, sc.unit_shift),
        unit_split: e.unit_split,
        site_level: step((0..layout.sites).map(|i| layout.a(i)).collect(), e.site_level, sc.site_level),
        unit_level: step((0..layout.units).map(|i| layout.level(i)).collect(), e.unit_level, sc.unit_level),
    }
}

fn path(data: &Dataset, taxon: &TaxonPrior, mut e: EffectSds, mut theta: Vec<f64>, slope: f64, jac: f64, how: &str, rounds: usize) {
    let layout = Layout::of(data);
    let sc = EffectSds::scales(slope);
    println!("--- {how} jac {jac}");
    for round in 0..rounds {
        let prior = priors(ClockKind::Thermal, data, taxon, false, &e).unwrap();
        let objective = Objective { clock: ClockKind::Thermal, data, priors: &prior, two_parts: false };
        let Ok(l) = approximate(&objective, &theta, Stop { max_evaluations: 300, gradient: 1e-5 }) else { println!("fails"); return };
        if round < 6 || round % 5 == 0 {
        println!("{round:3} ev {:9.3} +hyper {:9.3} Tb {:6.3} d50 {:7.2} lsig {:6.3} lb {:.3} | {:.4} {:.4} {:.4} {:.3} {:.3} evals {}", l.log_evidence, l.log_evidence + log_hyper(&e, &sc), l.mode[0], l.mode[2], l.mode[3], l.mode[4], e.site_shift, e.year_shift, e.unit_shift, e.site_level, e.unit_level, l.evaluations);
        }
        e = if how == "now" { e.updated(&l, layout, slope, &Present::of(data)) } else { mackay(&e, &l, layout, slope, jac, how == "em") };
        theta = l.mode;
    }
}

#[test]
fn trial() {
    let seed: u64 = std::env::var("SEED").map_or(1, |s| s.parse().unwrap());
    let world = World::new(Truth::thermal(), seed);
    let data = dataset(&world, Records::Classes);
    let taxon = TaxonPrior { base_temp_c: (4.0, 2.0), median_day: Some((135.0, 20.0)), species: true, one_of_several: false, hour: Some((14.0, 3.0)) };
    let fit = fit_clock(ClockKind::Thermal, &data, &taxon, false).unwrap();
    let reference = ClockRun::new(ClockKind::Thermal, &data.climate, 4.0, 12.5, data.climate.len());
    let slope = log_slope_per_day(&reference, 135.0).unwrap();
    println!("slope {slope} scales {:?}", EffectSds::scales(slope));
    path(&data, &taxon, fit.effects, fit.laplace.mode.clone(), slope, 0.0, "now", 31);
    path(&data, &taxon, fit.effects, fit.laplace.mode.clone(), slope, 0.0, "mackay", 16);
    path(&data, &taxon, fit.effects, fit.laplace.mode.clone(), slope, 1.0, "mackay", 16);
    let f = 0.15;
    let s = EffectSds::scales(slope);
    let small = EffectSds { site_shift: s.site_shift * f, year_shift: s.year_shift * f, unit_shift: s.unit_shift * f, unit_split: s.unit_split * 0.5, site_level: 0.5, unit_level: 0.5 };
    let prior = priors(ClockKind::Thermal, &data, &taxon, false, &small).unwrap();
    let objective = Objective { clock: ClockKind::Thermal, data: &data, priors: &prior, two_parts: false };
    let l = approximate(&objective, &prior.means(), Stop { max_evaluations: 300, gradient: 1e-5 }).unwrap();
    for (h, j) in [("now", 0.0), ("mackay", 0.0), ("mackay", 1.0), ("em", 1.0)] {
        path(&data, &taxon, small, l.mode.clone(), slope, j, h, 16);
    }
}

#[test]
fn profile() {
    for seed in 1..=3 {
    let world = World::new(Truth::thermal(), seed);
    let data = dataset(&world, Records::Classes);
    let taxon = TaxonPrior { base_temp_c: (4.0, 2.0), median_day: Some((135.0, 20.0)), species: true, one_of_several: false, hour: Some((14.0, 3.0)) };
    let reference = ClockRun::new(ClockKind::Thermal, &data.climate, 4.0, 12.5, data.climate.len());
    let slope = log_slope_per_day(&reference, 135.0).unwrap();
    let s = EffectSds::scales(slope);
    let stop = Stop { max_evaluations: 300, gradient: 1e-5 };
    println!("== seed {seed} slope {slope}");
    let ends = |e: EffectSds, starts: Vec<Vec<f64>>, name: &str| -> Vec<f64> {
        let prior = priors(ClockKind::Thermal, &data, &taxon, false, &e).unwrap();
        let objective = Objective { clock: ClockKind::Thermal, data: &data, priors: &prior, two_parts: false };
        let mut best: Option<(f64, Vec<f64>)> = None;
        for start in starts {
            match approximate(&objective, &start, stop) {
                Ok(l) => {
                    println!("{name} from {:6.1}: value {:9.2} ev {:9.2} +hyper {:9.2} Tb {:6.2} d50 {:6.1} lsig {:6.2} lb {:5.2}", start[2], l.value, l.log_evidence, l.log_evidence + log_hyper(&e, &s), l.mode[0], l.mode[2], l.mode[3], l.mode[4]);
                    if best.as_ref().is_none_or(|b| b.0 < l.log_evidence) { best = Some((l.log_evidence, l.mode.clone())); }
                }
                Err(x) => println!("{name} {x}"),
            }
        }
        best.unwrap().1
    };
    let prior = priors(ClockKind::Thermal, &data, &taxon, false, &EffectSds::start(slope)).unwrap();
    let starts: Vec<Vec<f64>> = [0.0, -15.0, 15.0, -30.0, 30.0].iter().map(|o| { let mut p = prior.means(); p[2] = 135.0 + o; p }).collect();
    ends(EffectSds::start(slope), starts.clone(), "wide");
    let f = 0.15;
    let small = EffectSds { site_shift: s.site_shift * 0.5, year_shift: s.year_shift * f, unit_shift: s.unit_shift * f, unit_split: s.unit_split * 0.5, site_level: 0.5, unit_level: 0.3 };
    let mut mode = ends(small, starts, "small");
    for u in [0.12, 0.08, 0.0527, 0.035, 0.02, 0.01] {
        let e = EffectSds { unit_shift: u, site_shift: 0.05, year_shift: 0.02, ..small };
        mode = ends(e, vec![mode.clone()], &format!("unit {u}"));
    }
    }
}
