//! Second derivatives of the negative log posterior.
//!
//! Exact, but in the clock's own parameters and the dispersion of counts, which take central differences
//! of the exact gradient: sums of degree-days bend abruptly where a base temperature meets a day's
//! extreme.

use nalgebra::DMatrix;

use crate::model::curve::{Curve, STRAY_SHARE, with_strays};
use crate::model::likelihood::first_sighting::{first_sighting_curvature, first_sighting_terms};
use crate::model::likelihood::negative_binomial::{count_curvature, count_terms};
use crate::model::likelihood::ordinal::{class_curvature, class_terms, seen_curvature, seen_terms};
use crate::model::likelihood::time_of_day::hours_curvature;

use super::data::{COVARIATES, Outcome, Protocol};
use super::layout::{BETA, D50, DC, H0, LOG_B, LOG_SIGMA, Layout, TAU1, TB};
use super::local::{
    CATCH, Curved, EFFECT, FIRST, GAP, HOUR, LEVEL, LOCALS, LOG_S1, LOG_S2, LOGIT_W, SHIFT, SLOPE, THRESHOLD, TRAP,
};
use super::objective::{Common, FIRST_SIGHTING_LOGIT, Objective, Workspace, hours_of};
use super::{Observation, Unit};
use crate::model::clock::ClockRun;

/// Step of the differences: this part of the prior's sd, within bounds.
const STEP: f64 = 1e-5;
const SD_BOUNDS: (f64, f64) = (1e-3, 5.0);

impl Objective<'_> {
    /// Second derivatives of the value at `theta` over the parameters `free` (in that order). `theta` lies where
    /// [`Objective::value_and_gradient`] is finite.
    #[must_use]
    pub fn hessian(&self, theta: &[f64], free: &[usize], work: &mut Workspace) -> DMatrix<f64> {
        let layout = Layout::of(self.data);
        let differenced: Vec<(usize, Vec<f64>)> = free
            .iter()
            .enumerate()
            .filter(|(_, index)| [TB, DC, layout.log_theta()].contains(index))
            .map(|(column, &index)| (column, self.column_by_differences(theta, index, work)))
            .collect();
        work.run(self, theta[TB], theta[DC]);
        let mut hessian = DMatrix::zeros(free.len(), free.len());
        self.add_exact(theta, free, work, &mut hessian);
        for (row, &index) in free.iter().enumerate() {
            hessian[(row, row)] += self.priors.0[index].sd.powi(-2);
        }
        for (column, list) in &differenced {
            for (row, &index) in free.iter().enumerate() {
                (hessian[(row, *column)], hessian[(*column, row)]) = (list[index], list[index]);
            }
        }
        hessian
    }

    fn column_by_differences(&self, theta: &[f64], index: usize, work: &mut Workspace) -> Vec<f64> {
        let step = STEP * self.priors.0[index].sd.clamp(SD_BOUNDS.0, SD_BOUNDS.1);
        let mut at = theta.to_vec();
        let (mut up, mut down) = (vec![0.0; theta.len()], vec![0.0; theta.len()]);
        at[index] = theta[index] + step;
        self.value_and_gradient(&at, &mut up, work);
        at[index] = theta[index] - step;
        self.value_and_gradient(&at, &mut down, work);
        up.iter().zip(&down).map(|(u, d)| (u - d) / (2.0 * step)).collect()
    }

    fn add_exact(&self, theta: &[f64], free: &[usize], work: &Workspace, hessian: &mut DMatrix<f64>) {
        let layout = Layout::of(self.data);
        let mut row_of = vec![None; theta.len()];
        free.iter().enumerate().for_each(|(row, &index)| row_of[index] = Some(row));
        let reference = work.reference.at(theta[D50]);
        // ln Cref is the log of a straight line around d50.
        let per_day = reference.slope / reference.c;
        let common = Common::new(theta, layout, reference.c.ln());
        let mut pull = 0.0;
        for (index, unit) in self.data.units.iter().enumerate() {
            let shift = theta[layout.u(unit.site)] + theta[layout.v(unit.year)] + theta[layout.shift(index)];
            let logit_w = self.two_parts.then(|| theta[layout.logit_w()] + theta[layout.split(index)]);
            let curve = common.curve(shift, logit_w);
            let level = theta[layout.a(unit.site)] + theta[layout.level(index)];
            let mut sum = Curved::default();
            for observation in &unit.observations {
                self.add_record(theta, &common, &curve, level, observation, &work.runs[index], &mut sum);
            }
            pull += sum.first[SHIFT];
            sum.scatter(hessian, &places(layout, index, unit, per_day, &row_of));
        }
        if let Some(row) = row_of[D50] {
            hessian[(row, row)] -= pull * per_day * per_day;
        }
    }

    /// Adds minus the derivatives of the log probability of `observation`.
    #[expect(clippy::too_many_arguments, reason = "one call site; the pieces belong to different owners")]
    fn add_record(
        &self,
        theta: &[f64],
        common: &Common,
        curve: &Curve,
        level: f64,
        observation: &Observation,
        run: &ClockRun,
        sum: &mut Curved,
    ) {
        let (d0, d1) = (observation.from_day, observation.to_day);
        let (c0, c1) = (run.c[d0], run.c[d1]);
        if let Outcome::First { looked_before } = observation.outcome {
            let (c0, days) = if looked_before { (c0, d1 - d0) } else { (0.0, d1) };
            add_first(common, curve, c0, c1, days as f64, sum);
            return;
        }
        let mut rate = Curved::default();
        let base = self.log_rate(theta, common, curve, (c0, c1), observation, &mut rate);
        let x = &observation.x;
        let effects: f64 = (0..COVARIATES).map(|k| theta[BETA + k] * x[k]).sum();
        if let Outcome::Count(count) = observation.outcome {
            let layout = Layout::of(self.data);
            let trapped = observation.protocol == Protocol::Trap;
            let catch = theta[layout.alpha()] + if trapped { theta[layout.trap_level()] } else { 0.0 };
            let mean = (catch + level + base + effects / common.b).exp();
            rate.first[LEVEL] = 1.0;
            rate.first[CATCH] = 1.0;
            rate.first[TRAP] = f64::from(u8::from(trapped));
            rate.first[SLOPE] = -effects / common.b;
            rate.bend(SLOPE, SLOPE, effects / common.b);
            for (k, x) in x.iter().enumerate() {
                rate.first[EFFECT + k] = x / common.b;
                rate.bend(EFFECT + k, SLOPE, -x / common.b);
            }
            let terms = count_terms(count, mean, common.theta);
            let bent = count_curvature(count, mean, common.theta);
            sum.add_function_of(&rate, -observation.weight * terms.d_log_mean, -observation.weight * bent);
            return;
        }
        // eta = b * log rate + effects + level.
        let mut eta = Curved::default();
        eta.add_function_of(&rate, common.b, 0.0);
        for local in (SHIFT..LEVEL).chain(HOUR..EFFECT) {
            eta.bend(local, SLOPE, common.b * rate.first[local]);
        }
        eta.first[SLOPE] = common.b * base;
        eta.bend(SLOPE, SLOPE, common.b * base);
        eta.first[LEVEL] = 1.0;
        eta.first[EFFECT..EFFECT + COVARIATES].copy_from_slice(x);
        add_class(common, common.b * base + effects + level, observation, &eta, sum);
    }

    /// Log of the rate seen (share, hours, effort), its derivatives written to `rate`.
    fn log_rate(
        &self,
        theta: &[f64],
        common: &Common,
        curve: &Curve,
        (c0, c1): (f64, f64),
        observation: &Observation,
        rate: &mut Curved,
    ) -> f64 {
        let share = curve.curvature_between(c0, c1);
        let q = with_strays(share.value, (observation.to_day - observation.from_day) as f64);
        let per = (1.0 - STRAY_SHARE) / q;
        for row in SHIFT..LEVEL {
            rate.first[row] = per * share.first[row];
            for column in SHIFT..=row {
                rate.second[row][column] = per * share.second[row][column] - rate.first[row] * rate.first[column];
            }
        }
        let Some((warmth, terms)) = hours_of(theta, common, observation, self.data.midnight) else {
            return q.ln() + observation.log_effort;
        };
        if let Some(hours) = observation.hours {
            let peak = theta[H0] + theta[H0 + 1] * warmth;
            let bent = hours_curvature(hours.start, hours.end, peak, common.spread, self.data.midnight);
            let s = common.spread;
            let (peak, spread) = (terms.d_peak / terms.value, terms.d_spread * s / terms.value);
            let peaks = bent.centre / terms.value - peak * peak;
            let mixed = bent.mixed * s / terms.value - peak * spread;
            let spreads = (bent.spread * s * s + terms.d_spread * s) / terms.value - spread * spread;
            rate.first[HOUR..HOUR + 3].copy_from_slice(&[peak, peak * warmth, spread]);
            for (a, b, value) in [
                (0, 0, peaks),
                (1, 0, peaks * warmth),
                (1, 1, peaks * warmth * warmth),
                (2, 0, mixed),
                (2, 1, mixed * warmth),
                (2, 2, spreads),
            ] {
                rate.second[HOUR + a][HOUR + b] = value;
            }
        }
        q.ln() + terms.value.ln() + observation.log_effort
    }
}

fn add_first(common: &Common, curve: &Curve, c0: f64, c1: f64, days: f64, sum: &mut Curved) {
    let (s1, s) = (curve.s[0], common.s_first);
    let ell = curve.ell[0] + FIRST_SIGHTING_LOGIT * s1;
    let terms = first_sighting_terms(c0, c1, days, ell, s);
    let bent = first_sighting_curvature(c0, c1, days, ell, s);
    // ell in the shift and in log s1, where it also bends.
    let lean = FIRST_SIGHTING_LOGIT * s1;
    sum.first[SHIFT] -= terms.d_ell;
    sum.bend(SHIFT, SHIFT, -bent.centre);
    sum.bend(LOG_S1, SHIFT, -bent.centre * lean);
    sum.bend(LOG_S1, LOG_S1, -bent.centre * lean * lean - terms.d_ell * lean);
    sum.bend(FIRST, SHIFT, -bent.mixed * s);
    sum.bend(FIRST, LOG_S1, -bent.mixed * lean * s);
    sum.bend(FIRST, FIRST, -bent.spread * s * s - terms.d_s * s);
}

fn add_class(common: &Common, eta: f64, observation: &Observation, inner: &Curved, sum: &mut Curved) {
    let (mut terms, mut bent) = match observation.outcome {
        Outcome::Class(class) => (class_terms(eta, &common.tau, class), class_curvature(eta, &common.tau, class)),
        _ => (seen_terms(eta, &common.tau), seen_curvature(eta, &common.tau)),
    };
    let part = observation.weight;
    terms.d_eta *= part;
    terms.d_tau = terms.d_tau.map(|slope| part * slope);
    bent.eta *= part;
    bent.eta_tau = bent.eta_tau.map(|bent| part * bent);
    bent.tau = bent.tau.map(|row| row.map(|bent| part * bent));
    sum.add_function_of(inner, -terms.d_eta, -bent.eta);
    // Thresholds in the first one and in the log gaps.
    let gaps = [common.tau[1] - common.tau[0], common.tau[2] - common.tau[1]];
    let turns = [[1.0, 1.0, 1.0], [0.0, gaps[0], gaps[0]], [0.0, 0.0, gaps[1]]];
    for (row, turn) in turns.iter().enumerate() {
        let across: f64 = (0..3).map(|k| turn[k] * bent.eta_tau[k]).sum();
        for (local, slope) in inner.first.iter().enumerate() {
            sum.bend(THRESHOLD + row, local, -across * slope);
        }
        for (column, other) in turns.iter().enumerate().take(row + 1) {
            let both: f64 = (0..3)
                .flat_map(|a| (0..3).map(move |b| (a, b)))
                .map(|(a, b)| turn[a] * other[b] * bent.tau[a][b])
                .sum();
            sum.bend(THRESHOLD + row, THRESHOLD + column, -both);
        }
    }
    sum.bend(THRESHOLD + 1, THRESHOLD + 1, -gaps[0] * (terms.d_tau[1] + terms.d_tau[2]));
    sum.bend(THRESHOLD + 2, THRESHOLD + 2, -gaps[1] * terms.d_tau[2]);
}

/// Where the locals of site-year `index` stand among the free parameters, with their factors.
fn places(
    layout: Layout,
    index: usize,
    unit: &Unit,
    per_day: f64,
    row_of: &[Option<usize>],
) -> [Vec<(usize, f64)>; LOCALS] {
    let sum_of = |list: &[(usize, f64)]| -> Vec<(usize, f64)> {
        list.iter().filter_map(|&(parameter, factor)| Some((row_of[parameter]?, factor))).collect()
    };
    std::array::from_fn(|local| match local {
        SHIFT => sum_of(&[
            (layout.u(unit.site), 1.0),
            (layout.v(unit.year), 1.0),
            (layout.shift(index), 1.0),
            (D50, per_day),
        ]),
        LOG_S1 => sum_of(&[(LOG_SIGMA, 1.0)]),
        LOGIT_W => sum_of(&[(layout.logit_w(), 1.0), (layout.split(index), 1.0)]),
        GAP => sum_of(&[(layout.log_gap(), 1.0)]),
        LOG_S2 => sum_of(&[(layout.log_sigma2(), 1.0)]),
        LEVEL => sum_of(&[(layout.a(unit.site), 1.0), (layout.level(index), 1.0)]),
        SLOPE => sum_of(&[(LOG_B, 1.0)]),
        CATCH => sum_of(&[(layout.alpha(), 1.0)]),
        TRAP => sum_of(&[(layout.trap_level(), 1.0)]),
        FIRST => sum_of(&[(layout.log_first(), 1.0)]),
        THRESHOLD..HOUR => sum_of(&[(TAU1 + local - THRESHOLD, 1.0)]),
        HOUR..EFFECT => sum_of(&[(H0 + local - HOUR, 1.0)]),
        _ => sum_of(&[(BETA + local - EFFECT, 1.0)]),
    })
}
