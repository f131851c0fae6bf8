//! The river of the simulated worlds: its warmth, its days and its falling water.

use rand::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

use crate::world::{DAYS, SiteYear, Truth};

const LATITUDE_DEG: f64 = 41.5;
/// No fall of the river counts before this day.
const FIRST_FALL: usize = 90;

pub(crate) fn normal<R: Rng>(rng: &mut R) -> f64 {
    StandardNormal.sample(rng)
}

/// Yearly cycle, site offset, a year's warmth, weather with a memory of days, and a daily range.
pub(crate) fn climate(truth: &Truth, rng: &mut Pcg64) -> Vec<Vec<SiteYear>> {
    let warmth: Vec<f64> = (0..truth.years).map(|_| 0.9 * normal(rng)).collect();
    (0..truth.sites)
        .map(|site| {
            let offset = 2.4 * (site as f64 / (truth.sites.max(2) - 1) as f64 - 0.5);
            warmth
                .iter()
                .map(|year| {
                    let mut weather = 1.5 * normal(rng);
                    let mut season = SiteYear {
                        tmean_c: Vec::with_capacity(DAYS),
                        tmin_c: Vec::with_capacity(DAYS),
                        tmax_c: Vec::with_capacity(DAYS),
                        share: Vec::new(),
                        onset_day: 0.0,
                        median_day: 0.0,
                    };
                    for day in 0..DAYS {
                        let turn = std::f64::consts::TAU * (day as f64 - 24.0) / 365.0;
                        weather = 0.92 * weather + 1.5 * (1.0 - 0.92_f64 * 0.92).sqrt() * normal(rng);
                        let mean = (11.3 - 8.8 * turn.cos() + offset + year + weather).max(0.2);
                        let half = 1.2 - 0.7 * turn.cos();
                        season.tmean_c.push(mean);
                        season.tmin_c.push((mean - half).max(0.0));
                        season.tmax_c.push(mean + half);
                    }
                    season
                })
                .collect()
        })
        .collect()
}

/// The day of a year on which the log discharge, as the mean of a week, first falls to what is usual
/// on day 125: a yearly wave that is highest in March, and spates with a memory of days. One for the
/// whole river, and of no kin with its warmth.
pub(crate) fn day_of_fall(seed: u64, year: usize) -> usize {
    let mut rng = Pcg64::seed_from_u64(seed ^ ((year as u64 + 1) << 32));
    let wave = |day: usize| 0.8 * (std::f64::consts::TAU * (day as f64 - 75.0) / 365.0).cos();
    let mut spate = 0.3 * normal(&mut rng);
    let flow: Vec<f64> = (1..=DAYS)
        .map(|day| {
            spate = 0.95 * spate + 0.3 * (1.0 - 0.95_f64 * 0.95).sqrt() * normal(&mut rng);
            wave(day) + spate
        })
        .collect();
    let week = |day: usize| flow[day - 7..day].iter().sum::<f64>() / 7.0;
    (FIRST_FALL..DAYS).find(|day| week(*day) <= wave(125)).unwrap_or(DAYS)
}

/// Day length by Spencer's Fourier series for the declination (1971), sun's upper edge, refracted.
pub(crate) fn day_length(day: usize) -> f64 {
    let g = std::f64::consts::TAU * (day as f64 - 1.0) / 365.0;
    let declination = 0.006_918 - 0.399_912 * g.cos() + 0.070_257 * g.sin() - 0.006_758 * (2.0 * g).cos()
        + 0.000_907 * (2.0 * g).sin()
        - 0.002_697 * (3.0 * g).cos()
        + 0.001_48 * (3.0 * g).sin();
    let latitude = LATITUDE_DEG.to_radians();
    let edge = -(0.8333_f64.to_radians().sin()) - latitude.sin() * declination.sin();
    24.0 / std::f64::consts::PI * (edge / (latitude.cos() * declination.cos())).acos()
}
