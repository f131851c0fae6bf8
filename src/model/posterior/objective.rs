//! Negative log posterior and its exact gradient.

use crate::domain::fit::ClockKind;
use crate::model::clock::{ClockRun, expit};
use crate::model::curve::STRAY_SHARE;
use crate::model::curve::{Curve, ShareTerms, with_strays};
use crate::model::likelihood::first_sighting::first_sighting_terms;
use crate::model::likelihood::negative_binomial::count_terms;
use crate::model::likelihood::ordinal::{OrdinalTerms, class_terms, seen_terms};
use crate::model::likelihood::time_of_day::{HoursTerms, Midnight, REFERENCE_WATER_C, hours_terms};

use super::data::{COVARIATES, Dataset, Observation, Outcome, Protocol, Unit};
use super::layout::{BETA, D50, DC, H0, H1, LOG_B, LOG_GAPS, LOG_SH, LOG_SIGMA, Layout, TAU1, TB};
use super::priors::Priors;

/// A first sighting marks the 5 % point of the first part: logit(0.05).
pub const FIRST_SIGHTING_LOGIT: f64 = -2.944_438_979_166_440_3;

/// The posterior of `data` on one clock.
#[derive(Debug, Clone, Copy)]
pub struct Objective<'a> {
    /// The clock.
    pub clock: ClockKind,
    /// The records.
    pub data: &'a Dataset,
    /// The priors.
    pub priors: &'a Priors,
    /// Whether the curve has a second part.
    pub two_parts: bool,
}

/// Memory kept between evaluations: clock runs, re-run only when Tb or Dc move.
#[derive(Debug, Default)]
pub struct Workspace {
    at: Option<(f64, f64)>,
    pub(super) reference: ClockRun,
    pub(super) runs: Vec<ClockRun>,
}

/// Parameters shared by all site-years, unpacked once per evaluation.
#[derive(Debug, Clone, Copy)]
pub struct Common {
    /// ln Cref(d50).
    pub mu: f64,
    /// Scales of both parts.
    pub s: [f64; 2],
    /// Distance between the parts on ln C.
    pub gap: f64,
    /// Slope of the class scale.
    pub b: f64,
    /// Class thresholds.
    pub tau: [f64; 3],
    /// Spread of the hour.
    pub spread: f64,
    /// Dispersion of counts.
    pub theta: f64,
    /// Scale of first sightings.
    pub s_first: f64,
}

impl Common {
    /// Unpacks `theta`; `mu` is ln Cref(d50).
    #[must_use]
    pub fn new(theta: &[f64], layout: Layout, mu: f64) -> Self {
        let (gap2, gap3) = (theta[LOG_GAPS].exp(), theta[LOG_GAPS + 1].exp());
        let tau1 = theta[TAU1];
        Self {
            mu,
            s: [theta[LOG_SIGMA].exp(), theta[layout.log_sigma2()].exp()],
            gap: theta[layout.log_gap()].exp(),
            b: theta[LOG_B].exp(),
            tau: [tau1, tau1 + gap2, tau1 + gap2 + gap3],
            spread: theta[LOG_SH].exp(),
            theta: theta[layout.log_theta()].exp(),
            s_first: theta[layout.log_first()].exp(),
        }
    }

    /// The curve of a site-year whose shift on ln C is `shift` and whose split is `logit_w`
    /// (`None` for one part).
    #[must_use]
    pub fn curve(&self, shift: f64, logit_w: Option<f64>) -> Curve {
        let ell1 = self.mu + shift;
        match logit_w {
            None => Curve::single(ell1, self.s[0]),
            Some(logit) => Curve { w: expit(logit), ell: [ell1, ell1 + self.gap], s: self.s },
        }
    }
}

/// Gradient of the log likelihood in the quantities of one site-year.
#[derive(Debug, Default)]
struct UnitGradient {
    share: ShareTerms,
    tb: f64,
    dc: f64,
    first_s: f64,
}

impl Objective<'_> {
    /// Value and gradient at `theta`; the gradient of parameters that are not free is zero.
    /// Infinite where the mean climate never reaches d50's clock reading.
    pub fn value_and_gradient(&self, theta: &[f64], gradient: &mut [f64], work: &mut Workspace) -> f64 {
        gradient.fill(0.0);
        let layout = Layout::of(self.data);
        work.run(self, theta[TB], theta[DC]);
        let reference = work.reference.at(theta[D50]);
        if reference.c <= 0.0 || reference.slope <= 0.0 {
            return f64::INFINITY;
        }
        let common = Common::new(theta, layout, reference.c.ln());
        let mut log_lik = 0.0;
        for (index, unit) in self.data.units.iter().enumerate() {
            let shift = theta[layout.u(unit.site)] + theta[layout.v(unit.year)] + theta[layout.shift(index)];
            let logit_w = self.two_parts.then(|| theta[layout.logit_w()] + theta[layout.split(index)]);
            let curve = common.curve(shift, logit_w);
            let mut sums = UnitGradient::default();
            for observation in &unit.observations {
                log_lik += self.add_observation(
                    theta,
                    gradient,
                    &common,
                    &curve,
                    (index, unit, observation),
                    &work.runs[index],
                    &mut sums,
                );
            }
            scatter(gradient, layout, (index, unit), &common, &curve, &sums, self.two_parts);
            let g_mu = sums.share.d_ell[0] + sums.share.d_ell[1];
            gradient[D50] += g_mu * reference.slope / reference.c;
            gradient[TB] += sums.tb + g_mu * reference.d_tb / reference.c;
            gradient[DC] += sums.dc + g_mu * reference.d_dc / reference.c;
        }
        for (g, prior) in gradient.iter_mut().zip(&self.priors.0) {
            *g = if prior.free { -*g } else { 0.0 };
        }
        let value = -log_lik + self.priors.add(theta, gradient);
        if value.is_nan() { f64::INFINITY } else { value }
    }

    #[expect(clippy::too_many_arguments, reason = "one call site; the pieces belong to different owners")]
    fn add_observation(
        &self,
        theta: &[f64],
        gradient: &mut [f64],
        common: &Common,
        curve: &Curve,
        (index, unit, observation): (usize, &Unit, &Observation),
        run: &ClockRun,
        sums: &mut UnitGradient,
    ) -> f64 {
        let layout = Layout::of(self.data);
        let (d0, d1) = (observation.from_day, observation.to_day);
        let (c0, c1) = (run.c[d0], run.c[d1]);
        if let Outcome::First { looked_before } = observation.outcome {
            let (c0, days) = if looked_before { (c0, d1 - d0) } else { (0.0, d1) };
            let ell = curve.ell[0] + FIRST_SIGHTING_LOGIT * curve.s[0];
            let terms = first_sighting_terms(c0, c1, days as f64, ell, common.s_first);
            sums.share.d_ell[0] += terms.d_ell;
            sums.share.d_s[0] += FIRST_SIGHTING_LOGIT * terms.d_ell;
            sums.first_s += terms.d_s;
            sums.tb += terms.d_c0 * run.d_tb[d0] + terms.d_c1 * run.d_tb[d1];
            sums.dc += terms.d_c0 * run.d_dc[d0] + terms.d_c1 * run.d_dc[d1];
            return terms.log_prob;
        }
        let share = curve.share_between(c0, c1);
        let q = with_strays(share.value, (d1 - d0) as f64);
        let hours = hours_of(theta, common, observation, self.data.midnight);
        let base = q.ln() + hours.map_or(0.0, |(_, t)| t.value.ln()) + observation.log_effort;
        let level = theta[layout.a(unit.site)] + theta[layout.level(index)];
        let effects: f64 = (0..COVARIATES).map(|k| theta[BETA + k] * observation.x[k]).sum();
        let weight = observation.weight;

        // g_base: derivative in the log intensity; g_level: in the level; g_x: in beta'x.
        let (log_prob, g_base, g_level, g_x, g_log_b) = match observation.outcome {
            Outcome::Count(count) => {
                let trapped = observation.protocol == Protocol::Trap;
                let catch = theta[layout.alpha()] + if trapped { theta[layout.trap_level()] } else { 0.0 };
                let mean = (catch + level + base + effects / common.b).exp();
                let terms = count_terms(count, mean, common.theta);
                let g = weight * terms.d_log_mean;
                gradient[layout.alpha()] += g;
                if trapped {
                    gradient[layout.trap_level()] += g;
                }
                gradient[layout.log_theta()] += weight * terms.d_theta * common.theta;
                (terms.log_prob, g, g, g / common.b, -g * effects / common.b)
            }
            Outcome::Class(_) | Outcome::Seen | Outcome::First { .. } => {
                let eta = common.b * base + effects + level;
                let terms = match observation.outcome {
                    Outcome::Class(class) => class_terms(eta, &common.tau, class),
                    _ => seen_terms(eta, &common.tau),
                };
                add_thresholds(gradient, theta, &terms, weight);
                let g = weight * terms.d_eta;
                (terms.log_prob, common.b * g, g, g, common.b * base * g)
            }
        };
        gradient[LOG_B] += g_log_b;
        gradient[layout.a(unit.site)] += g_level;
        gradient[layout.level(index)] += g_level;
        for k in 0..COVARIATES {
            gradient[BETA + k] += g_x * observation.x[k];
        }
        if let Some((warmth, terms)) = hours {
            let per = g_base / terms.value;
            gradient[H0] += per * terms.d_peak;
            gradient[H1] += per * terms.d_peak * warmth;
            gradient[LOG_SH] += per * terms.d_spread * common.spread;
        }
        let per_share = g_base * (1.0 - STRAY_SHARE) / q;
        for k in 0..2 {
            sums.share.d_ell[k] += per_share * share.d_ell[k];
            sums.share.d_s[k] += per_share * share.d_s[k];
        }
        sums.share.d_w += per_share * share.d_w;
        sums.tb += per_share * (share.d_c0 * run.d_tb[d0] + share.d_c1 * run.d_tb[d1]);
        sums.dc += per_share * (share.d_c0 * run.d_dc[d0] + share.d_c1 * run.d_dc[d1]);
        weight * log_prob
    }
}

impl Workspace {
    pub(super) fn run(&mut self, objective: &Objective<'_>, tb: f64, dc: f64) {
        if self.at == Some((tb, dc)) && self.runs.len() == objective.data.units.len() {
            return;
        }
        let data = objective.data;
        self.reference.refill(objective.clock, &data.climate, tb, dc, data.climate.len());
        self.runs.resize_with(data.units.len(), ClockRun::default);
        for (run, unit) in self.runs.iter_mut().zip(&data.units) {
            run.refill(objective.clock, &unit.drivers, tb, dc, unit.last_day());
        }
        self.at = Some((tb, dc));
    }
}

pub(super) fn hours_of(
    theta: &[f64],
    common: &Common,
    observation: &Observation,
    midnight: Midnight,
) -> Option<(f64, HoursTerms)> {
    observation.hours.map(|hours| {
        let warmth = hours.water_c - REFERENCE_WATER_C;
        let peak = theta[H0] + theta[H1] * warmth;
        (warmth, hours_terms(hours.start, hours.end, peak, common.spread, midnight))
    })
}

fn add_thresholds(gradient: &mut [f64], theta: &[f64], terms: &OrdinalTerms, weight: f64) {
    let [t1, t2, t3] = terms.d_tau.map(|slope| weight * slope);
    gradient[TAU1] += t1 + t2 + t3;
    gradient[LOG_GAPS] += (t2 + t3) * theta[LOG_GAPS].exp();
    gradient[LOG_GAPS + 1] += t3 * theta[LOG_GAPS + 1].exp();
}

fn scatter(
    gradient: &mut [f64],
    layout: Layout,
    (index, unit): (usize, &Unit),
    common: &Common,
    curve: &Curve,
    sums: &UnitGradient,
    two_parts: bool,
) {
    let g_shift = sums.share.d_ell[0] + sums.share.d_ell[1];
    gradient[layout.u(unit.site)] += g_shift;
    gradient[layout.v(unit.year)] += g_shift;
    gradient[layout.shift(index)] += g_shift;
    gradient[LOG_SIGMA] += sums.share.d_s[0] * common.s[0];
    gradient[layout.log_first()] += sums.first_s * common.s_first;
    if two_parts {
        let g_logit = sums.share.d_w * curve.w * (1.0 - curve.w);
        gradient[layout.logit_w()] += g_logit;
        gradient[layout.split(index)] += g_logit;
        gradient[layout.log_gap()] += sums.share.d_ell[1] * common.gap;
        gradient[layout.log_sigma2()] += sums.share.d_s[1] * common.s[1];
    }
}
