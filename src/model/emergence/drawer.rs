//! Many draws of one season under one fit.

use rand::Rng;
use rand::seq::SliceRandom;
use rand_distr::{Distribution, StandardNormal};
use statrs::distribution::{ContinuousCDF, Normal};

use crate::model::clock::Drivers;
use crate::model::posterior::Layout;
use crate::model::posterior::data::COVARIATES;
use crate::model::posterior::layout::BETA;
use crate::model::posterior::objective::Common;

use super::draws::{DrawnSeason, Target};
use super::fit_clock::FittedClock;

/// Deviates of the effects that a season may not have yet.
const FRESH: usize = 6;

/// Draws parameters from the posterior, and new effects from their distributions, for some reaches of one
/// season. Of the posterior's parameters only those that these need are drawn: most are effects of other years.
#[derive(Debug)]
pub struct Drawer<'a> {
    fit: &'a FittedClock,
    climate: &'a Drivers,
    targets: Vec<Target>,
    rows: Vec<Row>,
}

/// How one parameter depends on the deviates.
#[derive(Debug)]
struct Row {
    /// Its place in the parameter vector.
    parameter: usize,
    /// The first deviate that it depends on.
    from: usize,
    weights: Vec<f64>,
}

impl FittedClock {
    /// For `targets`; `climate` is the one the fit was made in.
    #[must_use]
    pub fn drawer<'a>(&'a self, climate: &'a Drivers, targets: &[Target]) -> Drawer<'a> {
        let mut needed: Vec<usize> = targets.iter().flat_map(|target| own_parameters(self.layout, target)).collect();
        needed.extend(common_parameters(self.layout));
        let rows = self.laplace.free.iter().enumerate().filter(|(_, parameter)| needed.contains(parameter));
        let row = |(from, &parameter)| Row { parameter, from, weights: self.laplace.deviate_weights(from) };
        Drawer { fit: self, climate, targets: targets.to_vec(), rows: rows.map(row).collect() }
    }
}

/// Posterior sd of a covariate's effect below which records are taken to have told of it; its prior's is 1.
const TOLD_SD: f64 = 0.5;

impl FittedClock {
    /// Which covariates of the weather the records have told of: an effect that is known from its prior alone would
    /// only blur.
    #[must_use]
    pub fn weather_told(&self) -> [bool; COVARIATES] {
        std::array::from_fn(|k| {
            let row = self.laplace.free.iter().position(|parameter| *parameter == BETA + k);
            let sd = row.map(|row| self.laplace.deviate_weights(row).iter().map(|w| w * w).sum::<f64>().sqrt());
            sd.is_some_and(|sd| sd < TOLD_SD)
        })
    }
}

impl Drawer<'_> {
    /// One draw for the first target: the same whatever others follow it. `None` when the draw falls where
    /// the reference clock does not run.
    pub fn draw<R: Rng>(&self, rng: &mut R) -> Option<DrawnSeason> {
        self.seasons(self.targets.get(..1)?, rng)?.pop()
    }

    /// One draw for every target: parameters and the year's effect are common to them.
    pub fn draw_together<R: Rng>(&self, rng: &mut R) -> Option<Vec<DrawnSeason>> {
        self.seasons(&self.targets, rng)
    }

    /// `draws` draws for the first target that are spread over their distribution (a Latin hypercube, McKay,
    /// Beckman and Conover 1979: every deviate takes the middle of each of `draws` equally likely pieces
    /// once): means and medians over them have less noise than over draws that know nothing of each other.
    pub fn draw_spread<R: Rng>(&self, draws: usize, rng: &mut R) -> Vec<Option<DrawnSeason>> {
        let standard = Normal::standard();
        let middles: Vec<f64> = (0..draws).map(|k| standard.inverse_cdf((k as f64 + 0.5) / draws as f64)).collect();
        let deviates = self.fit.laplace.free.len() + FRESH;
        let columns: Vec<Vec<f64>> = (0..deviates)
            .map(|_| {
                let mut column = middles.clone();
                column.shuffle(rng);
                column
            })
            .collect();
        (0..draws)
            .map(|k| {
                let mut deviates = columns.iter().map(|column| column[k]);
                self.seasons_of(self.targets.get(..1)?, || deviates.next().unwrap_or(0.0))?.pop()
            })
            .collect()
    }

    fn seasons<R: Rng>(&self, targets: &[Target], rng: &mut R) -> Option<Vec<DrawnSeason>> {
        self.seasons_of(targets, || StandardNormal.sample(rng))
    }

    /// The seasons of `targets` from standard normal deviates, those of the parameters first.
    fn seasons_of(&self, targets: &[Target], mut normal: impl FnMut() -> f64) -> Option<Vec<DrawnSeason>> {
        let fit = self.fit;
        let z: Vec<f64> = (0..fit.laplace.free.len()).map(|_| normal()).collect();
        let mut theta = fit.mean.clone();
        for Row { parameter, from, weights } in &self.rows {
            theta[*parameter] += weights.iter().zip(&z[*from..]).map(|(weight, z)| weight * z).sum::<f64>();
        }
        let common = Common::new(&theta, fit.layout, fit.log_reference(&theta, self.climate)?);
        let mut year = None;
        let one = |target: &Target| {
            // Every new effect takes a deviate, used or not, so that targets share random numbers.
            let fresh: [f64; FRESH] = std::array::from_fn(|_| normal());
            fit.season(&theta, common, target, *year.get_or_insert(fresh[1]), &fresh)
        };
        Some(targets.iter().map(one).collect())
    }
}

/// What every season needs.
fn common_parameters(layout: Layout) -> impl Iterator<Item = usize> {
    let extras = [
        layout.log_gap(),
        layout.log_sigma2(),
        layout.logit_w(),
        layout.alpha(),
        layout.log_theta(),
        layout.log_first(),
        layout.trap_level(),
    ];
    (0..BETA + COVARIATES).chain(extras)
}

/// The effects that `target` has in the fit.
fn own_parameters(layout: Layout, target: &Target) -> Vec<usize> {
    let mut own = Vec::new();
    own.extend(target.site.iter().flat_map(|&site| [layout.u(site), layout.a(site)]));
    own.extend(target.unit.iter().flat_map(|&unit| [layout.shift(unit), layout.level(unit), layout.split(unit)]));
    own.extend(target.year.map(|year| layout.v(year)));
    // Where a new year is expected rests on years known.
    own.extend(target.new_year.years().map(|year| layout.v(year)));
    own
}
