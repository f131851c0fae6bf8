//! A simulated club on six watersheds over fourteen years, with everything known.
//!
//! Nothing here calls the model: the clock is summed by quadrature over 96 instants a day, the curve
//! is written out, the time-of-day share is integrated numerically, and records are drawn through
//! `rand` and `rand_distr`. What a fit recovers from it is therefore no echo of its own code.
//!
//! Conventions: every year has 365 days; arrays over days start with day 1 at index 0; hours are
//! local mean solar time and do not wrap at midnight.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Gamma, Normal, Poisson};
use rand_pcg::Pcg64;

use crate::river::{climate, day_length, day_of_fall, normal};

pub(crate) const DAYS: usize = 365;
/// Share of a season's insects spread evenly over the year.
pub(crate) const STRAGGLERS: f64 = 0.002;
/// Share of a day's insects spread evenly over its hours.
pub(crate) const OFF_HOURS: f64 = 0.02;
/// Median emergence after the fall of the river, days.
const DAYS_AFTER_FALL: f64 = 12.0;
/// Steepness of the gate, per hour of day length.
pub(crate) const GATE_STEEPNESS: f64 = 6.0;

/// What the insects of a world go by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Driver {
    Calendar,
    Thermal,
    Gated,
    /// Days since the river fell to its level of early May.
    Discharge,
}

/// A second generation of the year, on the same clock.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SecondBrood {
    /// Its median day in the mean climate.
    pub(crate) d50: f64,
    /// Its share of the year's insects.
    pub(crate) share: f64,
}

/// The truth of a world.
#[derive(Debug, Clone)]
pub(crate) struct Truth {
    pub(crate) driver: Driver,
    pub(crate) sites: usize,
    pub(crate) years: usize,
    /// Mean number of visits per site and year.
    pub(crate) visits: f64,
    /// Mean and spread of the days of visits, and the last of them.
    pub(crate) visit_days: [f64; 3],
    pub(crate) second: Option<SecondBrood>,
    pub(crate) base_temp_c: f64,
    pub(crate) gate_hours: f64,
    /// Median day of emergence in the mean climate.
    pub(crate) d50: f64,
    /// Width of the curve on the log of the clock.
    pub(crate) sigma: f64,
    /// Standard deviations of site and year effects on the log of the clock.
    pub(crate) su: f64,
    pub(crate) sv: f64,
    /// Standard deviation of the level of a site.
    pub(crate) sa: f64,
    pub(crate) slope: f64,
    pub(crate) tau: [f64; 3],
    pub(crate) beta_cloud: f64,
    pub(crate) beta_flow: f64,
    pub(crate) h0: f64,
    pub(crate) h1: f64,
    pub(crate) sh: f64,
    /// Log mean catch of a visit that sees the whole season's emergence, and of a trap likewise.
    pub(crate) log_visit_level: f64,
    pub(crate) log_trap_level: f64,
    /// Negative binomial: variance = mean + mean^2 / dispersion.
    pub(crate) dispersion: f64,
}

impl Truth {
    /// Degree-days above 4.5 C; the world of the recovery study.
    pub(crate) fn thermal() -> Self {
        Self {
            driver: Driver::Thermal,
            sites: 6,
            years: 14,
            visits: 10.0,
            visit_days: [141.0, 24.0, 220.0],
            second: None,
            base_temp_c: 4.5,
            gate_hours: 13.5,
            d50: 136.0,
            sigma: 0.06,
            su: 0.05,
            sv: 0.02,
            sa: 0.3,
            slope: 1.0,
            tau: [-4.6, -2.9, -1.7],
            beta_cloud: 0.8,
            beta_flow: -0.4,
            h0: 14.5,
            h1: -0.2,
            sh: 1.4,
            log_visit_level: 6.0,
            log_trap_level: 5.0,
            dispersion: 1.5,
        }
    }

    /// The same behind a day-length gate.
    pub(crate) fn gated() -> Self {
        Self { driver: Driver::Gated, ..Self::thermal() }
    }

    /// Days alone: temperature has nothing to say.
    pub(crate) fn calendar() -> Self {
        Self { driver: Driver::Calendar, sigma: 0.04, su: 0.02, sv: 0.015, ..Self::thermal() }
    }

    /// Half of the insects emerge within twelve days of the fall of the river, whatever its warmth;
    /// `d50` has no meaning here.
    pub(crate) fn discharge() -> Self {
        Self { driver: Driver::Discharge, sigma: 0.35, ..Self::thermal() }
    }

    /// Two generations, seen on visits from March to October.
    pub(crate) fn two_broods() -> Self {
        Self {
            second: Some(SecondBrood { d50: 215.0, share: 0.45 }),
            visit_days: [172.0, 45.0, 290.0],
            ..Self::thermal()
        }
    }
}

/// Temperatures of one site and year, degrees Celsius.
#[derive(Debug, Clone)]
pub(crate) struct SiteYear {
    pub(crate) tmean_c: Vec<f64>,
    pub(crate) tmin_c: Vec<f64>,
    pub(crate) tmax_c: Vec<f64>,
    /// Share of the season's emergence by day, stragglers included; sums to 1 but for what the
    /// curve has left after day 365.
    pub(crate) share: Vec<f64>,
    /// Days on which 5 % and 50 % of the curve are reached, linear within the day.
    pub(crate) onset_day: f64,
    pub(crate) median_day: f64,
}

/// One visit with both ways of noting what was seen.
#[derive(Debug, Clone)]
pub(crate) struct Visit {
    pub(crate) site: usize,
    pub(crate) year: usize,
    /// From 1.
    pub(crate) day: usize,
    pub(crate) hour_start: f64,
    pub(crate) hour_end: f64,
    pub(crate) log_effort_term: f64,
    pub(crate) cloud: f64,
    pub(crate) flow: f64,
    pub(crate) water_c: f64,
    /// 0 none to 3 heavy.
    pub(crate) class: usize,
    pub(crate) count: u32,
}

/// One trap over the days after `day_from` through `day_to`.
#[derive(Debug, Clone)]
pub(crate) struct Trap {
    pub(crate) site: usize,
    pub(crate) year: usize,
    pub(crate) day_from: usize,
    pub(crate) day_to: usize,
    pub(crate) traps: f64,
    pub(crate) count: u32,
}

/// A whole simulated record.
#[derive(Debug, Clone)]
pub(crate) struct World {
    pub(crate) truth: Truth,
    /// By site, then year.
    pub(crate) climate: Vec<Vec<SiteYear>>,
    pub(crate) day_length_hours: Vec<f64>,
    pub(crate) visits: Vec<Visit>,
    pub(crate) traps: Vec<Trap>,
    /// Log of the clock at the median in the mean climate.
    pub(crate) mu: f64,
    /// The day by year on which the river has fallen.
    pub(crate) fall: Vec<usize>,
    pub(crate) site_effect: Vec<f64>,
    pub(crate) year_effect: Vec<f64>,
    pub(crate) site_level: Vec<f64>,
}

impl World {
    pub(crate) fn new(truth: Truth, seed: u64) -> Self {
        let mut rng = Pcg64::seed_from_u64(seed);
        let day_length_hours: Vec<f64> = (1..=DAYS).map(day_length).collect();
        let mut climate = climate(&truth, &mut rng);

        let mean = |pick: fn(&SiteYear) -> &Vec<f64>| -> Vec<f64> {
            let all: Vec<&Vec<f64>> = climate.iter().flatten().map(pick).collect();
            (0..DAYS).map(|d| all.iter().map(|days| days[d]).sum::<f64>() / all.len() as f64).collect()
        };
        let (low, high) = (mean(|s| &s.tmin_c), mean(|s| &s.tmax_c));
        let fall: Vec<usize> = (0..truth.years).map(|year| day_of_fall(seed, year)).collect();
        let reference = running_clock(&truth, &low, &high, &day_length_hours, 0);
        let log_clock = |day: f64| {
            let (whole, part) = (day.floor() as usize, day - day.floor());
            ((1.0 - part) * reference[whole] + part * reference[whole + 1]).ln()
        };
        let mu = if truth.driver == Driver::Discharge { DAYS_AFTER_FALL.ln() } else { log_clock(truth.d50) };
        let later = truth.second.map(|brood| (log_clock(brood.d50) - mu, brood.share));

        let effects = |n: usize, sd: f64, rng: &mut Pcg64| -> Vec<f64> { (0..n).map(|_| sd * normal(rng)).collect() };
        let site_effect = effects(truth.sites, truth.su, &mut rng);
        let year_effect = effects(truth.years, truth.sv, &mut rng);
        let site_level = effects(truth.sites, truth.sa, &mut rng);

        for (site, years) in climate.iter_mut().enumerate() {
            for (year, season) in years.iter_mut().enumerate() {
                let clock = running_clock(&truth, &season.tmin_c, &season.tmax_c, &day_length_hours, fall[year]);
                let log_median = mu + site_effect[site] + year_effect[year];
                let done: Vec<f64> = clock
                    .iter()
                    .map(|c| {
                        let first = emerged(*c, log_median, truth.sigma);
                        later.map_or(first, |(apart, share)| {
                            (1.0 - share) * first + share * emerged(*c, log_median + apart, truth.sigma)
                        })
                    })
                    .collect();
                season.share =
                    done.windows(2).map(|w| (1.0 - STRAGGLERS) * (w[1] - w[0]) + STRAGGLERS / 365.0).collect();
                season.onset_day = day_of(&done, 0.05);
                season.median_day = day_of(&done, 0.5);
            }
        }
        let mut world = Self {
            truth,
            climate,
            day_length_hours,
            visits: Vec::new(),
            traps: Vec::new(),
            mu,
            fall,
            site_effect,
            year_effect,
            site_level,
        };
        for site in 0..world.truth.sites {
            for year in 0..world.truth.years {
                world.visit(site, year, &mut rng);
                world.trap(site, year, &mut rng);
            }
        }
        world
    }

    /// Probabilities of the four classes for a visit.
    pub(crate) fn class_probabilities(&self, visit: &Visit) -> [f64; 4] {
        let truth = &self.truth;
        let share = self.climate[visit.site][visit.year].share[visit.day - 1];
        let eta = truth.slope * (share.ln() + self.hours_share(visit).ln() + visit.log_effort_term)
            + truth.beta_cloud * visit.cloud
            + truth.beta_flow * visit.flow
            + self.site_level[visit.site];
        let at_least = truth.tau.map(|tau| 1.0 / (1.0 + (tau - eta).exp()));
        [1.0 - at_least[0], at_least[0] - at_least[1], at_least[1] - at_least[2], at_least[2]]
    }

    /// Expected count of a visit.
    pub(crate) fn expected_count(&self, visit: &Visit) -> f64 {
        let truth = &self.truth;
        let share = self.climate[visit.site][visit.year].share[visit.day - 1];
        let weather = (truth.beta_cloud * visit.cloud + truth.beta_flow * visit.flow) / truth.slope;
        let log_mean = truth.log_visit_level
            + self.site_level[visit.site]
            + share.ln()
            + self.hours_share(visit).ln()
            + visit.log_effort_term
            + weather;
        log_mean.exp()
    }

    /// Expected catch of a trap.
    pub(crate) fn expected_catch(&self, trap: &Trap) -> f64 {
        let days = &self.climate[trap.site][trap.year].share[trap.day_from..trap.day_to];
        (self.truth.log_trap_level + self.site_level[trap.site]).exp() * trap.traps * days.iter().sum::<f64>()
    }

    /// Share of the day's insects between the hours of a visit, by the midpoint rule.
    fn hours_share(&self, visit: &Visit) -> f64 {
        let truth = &self.truth;
        let peak = truth.h0 + truth.h1 * (visit.water_c - 12.0);
        let steps = 400;
        let width = (visit.hour_end - visit.hour_start) / f64::from(steps);
        let density = |hour: f64| (-0.5 * ((hour - peak) / truth.sh).powi(2)).exp();
        let sum: f64 = (0..steps).map(|k| density(visit.hour_start + (f64::from(k) + 0.5) * width)).sum();
        let within = sum * width / (truth.sh * std::f64::consts::TAU.sqrt());
        (1.0 - OFF_HOURS) * within + OFF_HOURS * (visit.hour_end - visit.hour_start) / 24.0
    }

    fn visit(&mut self, site: usize, year: usize, rng: &mut Pcg64) {
        let [middle, spread, last] = self.truth.visit_days;
        let days = Normal::new(middle, spread).expect("a positive spread");
        let number: f64 = Poisson::new(self.truth.visits).expect("a positive mean").sample(rng);
        for _ in 0..number as usize {
            let day = days.sample(rng).round().clamp(60.0, last) as usize;
            let hour_start = rng.random_range(9.5..18.0);
            let people = f64::from(rng.random_range(1..=3_u8));
            let mut visit = Visit {
                site,
                year,
                day,
                hour_start,
                hour_end: hour_start + rng.random_range(1.0..4.0),
                log_effort_term: 0.5 * people.ln(),
                cloud: if rng.random_bool(0.45) { 1.0 } else { 0.0 },
                flow: normal(rng),
                water_c: self.climate[site][year].tmean_c[day - 1],
                class: 0,
                count: 0,
            };
            let u: f64 = rng.random_range(0.0..1.0);
            let p = self.class_probabilities(&visit);
            visit.class = (0..3).take_while(|k| u > p[..=*k].iter().sum::<f64>()).count();
            visit.count = self.catch(self.expected_count(&visit), rng);
            self.visits.push(visit);
        }
    }

    /// Traps emptied about once a week from late February to the end of July.
    fn trap(&mut self, site: usize, year: usize, rng: &mut Pcg64) {
        let mut day_from = 50 + rng.random_range(0..7_usize);
        while day_from < 210 {
            let day_to = day_from + rng.random_range(5..=9_usize);
            let traps = f64::from(rng.random_range(1..=3_u8));
            let mut trap = Trap { site, year, day_from, day_to, traps, count: 0 };
            trap.count = self.catch(self.expected_catch(&trap), rng);
            self.traps.push(trap);
            day_from = day_to;
        }
    }

    /// A negative binomial number: Poisson with a gamma mean.
    fn catch(&self, mean: f64, rng: &mut Pcg64) -> u32 {
        let gamma = Gamma::new(self.truth.dispersion, mean / self.truth.dispersion).expect("positive parameters");
        let rate: f64 = gamma.sample(rng);
        if rate <= 0.0 {
            return 0;
        }
        let count: f64 = Poisson::new(rate).expect("a positive mean").sample(rng);
        count as u32
    }
}

/// The running clock: entry d is the sum through day d, entry 0 is 0.
fn running_clock(truth: &Truth, tmin_c: &[f64], tmax_c: &[f64], day_length_hours: &[f64], fall: usize) -> Vec<f64> {
    let mut clock = vec![0.0];
    let mut sum = 0.0;
    for day in 0..DAYS {
        sum += match truth.driver {
            Driver::Calendar => 1.0,
            Driver::Discharge => f64::from(u8::from(day >= fall)),
            Driver::Thermal => warmth_above(tmin_c[day], tmax_c[day], truth.base_temp_c),
            Driver::Gated => {
                let gate = 1.0 / (1.0 + (GATE_STEEPNESS * (truth.gate_hours - day_length_hours[day])).exp());
                gate * warmth_above(tmin_c[day], tmax_c[day], truth.base_temp_c)
            }
        };
        clock.push(sum);
    }
    clock
}

/// Degree-days of a sine day, from 96 instants.
pub(crate) fn warmth_above(tmin_c: f64, tmax_c: f64, base_c: f64) -> f64 {
    let instants = 96;
    let temp = |k: i32| {
        let phase = std::f64::consts::TAU * (f64::from(k) + 0.5) / f64::from(instants);
        0.5 * (tmin_c + tmax_c) - 0.5 * (tmax_c - tmin_c) * phase.cos()
    };
    (0..instants).map(|k| (temp(k) - base_c).max(0.0)).sum::<f64>() / f64::from(instants)
}

/// Share emerged when the clock shows `clock`: log-logistic.
fn emerged(clock: f64, log_median: f64, sigma: f64) -> f64 {
    if clock <= 0.0 { 0.0 } else { 1.0 / (1.0 + ((log_median - clock.ln()) / sigma).exp()) }
}

/// The day on which `share` is reached, linear within the day; `done[d]` is the share by the end of day d.
fn day_of(done: &[f64], share: f64) -> f64 {
    let after = done.iter().position(|f| *f >= share).unwrap_or(done.len() - 1).max(1);
    let step = done[after] - done[after - 1];
    if step > 0.0 { (after - 1) as f64 + (share - done[after - 1]) / step } else { after as f64 }
}
