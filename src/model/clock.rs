//! The four clocks an emergence curve can run on, with derivatives in their own parameters.
//!
//! Increments per day (E and f by the single sine on water extremes, D day length in hours):
//!
//! | clock | r(d) | dr/dTb | dr/dDc |
//! |---|---|---|---|
//! | calendar | 1 | 0 | 0 |
//! | thermal | E(Tb) | -f(Tb) | 0 |
//! | photothermal | E(Tb) D/12 | -f(Tb) D/12 | 0 |
//! | gated | E(Tb) G, G = 1/(1 + exp(-kappa (D - Dc))) | -f(Tb) G | -E(Tb) kappa G (1 - G) |

use crate::domain::fit::ClockKind;
use crate::model::thermal::degree_days_sine;

/// Steepness of the day-length gate, per hour of day length; fixed, since club data cannot tell it.
pub const GATE_STEEPNESS_PER_HOUR: f64 = 6.0;

/// What drives a clock over one season at one site. Index 0 is day 1.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drivers {
    /// Daily minimum of the water, degrees Celsius.
    pub tmin_c: Vec<f64>,
    /// Daily maximum of the water, degrees Celsius.
    pub tmax_c: Vec<f64>,
    /// Day length, hours.
    pub day_length_hours: Vec<f64>,
    /// Days before the clocks begin to run.
    pub idle_days: usize,
}

impl Drivers {
    /// Number of days.
    #[must_use]
    pub fn len(&self) -> usize {
        self.tmin_c.len()
    }

    /// True without any day.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.tmin_c.is_empty()
    }

    /// The mean climate: day-by-day mean of extremes and day length over `seasons`.
    ///
    /// Seasons of unequal length are averaged over those that have the day.
    #[must_use]
    pub fn mean_of<'a>(seasons: impl IntoIterator<Item = &'a Drivers>) -> Drivers {
        let mut sums: Vec<[f64; 4]> = Vec::new();
        let mut idle_days = 0;
        for season in seasons {
            idle_days = season.idle_days.max(idle_days);
            if sums.len() < season.len() {
                sums.resize(season.len(), [0.0; 4]);
            }
            for (day, sum) in sums.iter_mut().enumerate().take(season.len()) {
                sum[0] += season.tmin_c[day];
                sum[1] += season.tmax_c[day];
                sum[2] += season.day_length_hours[day];
                sum[3] += 1.0;
            }
        }
        Drivers {
            tmin_c: sums.iter().map(|s| s[0] / s[3]).collect(),
            tmax_c: sums.iter().map(|s| s[1] / s[3]).collect(),
            day_length_hours: sums.iter().map(|s| s[2] / s[3]).collect(),
            idle_days,
        }
    }
}

/// Running sums of a clock and of its derivatives; index d is "through day d", index 0 is zero.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ClockRun {
    /// C(d), clock units (days or degree-days).
    pub c: Vec<f64>,
    /// dC/dTb.
    pub d_tb: Vec<f64>,
    /// dC/dDc.
    pub d_dc: Vec<f64>,
}

impl ClockRun {
    /// Runs `kind` over `drivers` through day `last_day` (at most the days there are).
    #[must_use]
    pub fn new(kind: ClockKind, drivers: &Drivers, base_temp_c: f64, gate_hours: f64, last_day: usize) -> Self {
        let mut run = Self::default();
        run.refill(kind, drivers, base_temp_c, gate_hours, last_day);
        run
    }

    /// C(d) alone through day `last_day` (at most the days there are), index 0 is zero: what forecasts
    /// need of a clock.
    #[must_use]
    pub fn sums(kind: ClockKind, drivers: &Drivers, base_temp_c: f64, gate_hours: f64, last_day: usize) -> Vec<f64> {
        Self::sums_to(f64::INFINITY, kind, drivers, base_temp_c, gate_hours, last_day)
    }

    /// The same, but infinite after the first day on which C is past `enough`: half of a year lies behind a season,
    /// and the clock is most of what a draw costs.
    #[must_use]
    pub fn sums_to(
        enough: f64,
        kind: ClockKind,
        drivers: &Drivers,
        base_temp_c: f64,
        gate_hours: f64,
        last_day: usize,
    ) -> Vec<f64> {
        let days = last_day.min(drivers.len());
        let mut c = 0.0;
        let mut sums = Vec::with_capacity(days + 1);
        sums.push(c);
        let idle = drivers.idle_days.min(days);
        sums.resize(idle + 1, c);
        for day in idle..days {
            c += increment(kind, drivers, day, base_temp_c, gate_hours).0;
            sums.push(c);
            if c > enough {
                break;
            }
        }
        sums.resize(days + 1, f64::INFINITY);
        sums
    }

    /// As [`ClockRun::new`], reusing the memory of `self`.
    pub fn refill(&mut self, kind: ClockKind, drivers: &Drivers, base_temp_c: f64, gate_hours: f64, last_day: usize) {
        let days = last_day.min(drivers.len());
        let idle = drivers.idle_days.min(days);
        for column in [&mut self.c, &mut self.d_tb, &mut self.d_dc] {
            column.resize(days + 1, 0.0);
            column[..=idle].fill(0.0);
        }
        let (mut c, mut d_tb, mut d_dc) = (0.0, 0.0, 0.0);
        // Side by side, so that no index is checked: fits spend much of their time here.
        let columns = self.c[idle + 1..].iter_mut().zip(&mut self.d_tb[idle + 1..]).zip(&mut self.d_dc[idle + 1..]);
        for (day, ((to_c, to_tb), to_dc)) in (idle..).zip(columns) {
            let (r, r_tb, r_dc) = increment(kind, drivers, day, base_temp_c, gate_hours);
            c += r;
            d_tb += r_tb;
            d_dc += r_dc;
            (*to_c, *to_tb, *to_dc) = (c, d_tb, d_dc);
        }
    }

    /// Value, slope per day, dC/dTb and dC/dDc at the real-valued day `day`, linear between days.
    /// Days before the first or after the last are read on the nearest segment.
    #[must_use]
    pub fn at(&self, day: f64) -> ClockPoint {
        let last = self.c.len().saturating_sub(1);
        if last == 0 {
            return ClockPoint { c: 0.0, slope: 0.0, d_tb: 0.0, d_dc: 0.0 };
        }
        let left = (day.floor().max(0.0) as usize).min(last - 1);
        let part = day - left as f64;
        let along = |column: &[f64]| column[left] + part * (column[left + 1] - column[left]);
        ClockPoint {
            c: along(&self.c),
            slope: self.c[left + 1] - self.c[left],
            d_tb: along(&self.d_tb),
            d_dc: along(&self.d_dc),
        }
    }

    /// The real-valued day on which the clock reaches `target`; `None` if it never does.
    #[must_use]
    pub fn day_reaching(&self, target: f64) -> Option<f64> {
        let after = self.c.partition_point(|&c| c < target);
        if after == 0 {
            return Some(0.0);
        }
        let (low, high) = (self.c.get(after - 1)?, self.c.get(after)?);
        Some((after - 1) as f64 + (target - low) / (high - low))
    }
}

/// `sums` of a clock read at the real-valued `day`, linear between days; the nearest segment beyond the
/// ends, zero without a day.
#[must_use]
pub fn reading(sums: &[f64], day: f64) -> f64 {
    let last = sums.len().saturating_sub(1);
    if last == 0 {
        return 0.0;
    }
    let left = (day.floor().max(0.0) as usize).min(last - 1);
    sums[left] + (day - left as f64) * (sums[left + 1] - sums[left])
}

/// A clock read at a real-valued day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClockPoint {
    /// C.
    pub c: f64,
    /// dC/dday.
    pub slope: f64,
    /// dC/dTb.
    pub d_tb: f64,
    /// dC/dDc.
    pub d_dc: f64,
}

#[inline]
fn increment(kind: ClockKind, drivers: &Drivers, day: usize, base_temp_c: f64, gate_hours: f64) -> (f64, f64, f64) {
    if kind == ClockKind::Calendar {
        return (1.0, 0.0, 0.0);
    }
    let (e, f) = degree_days_sine(drivers.tmin_c[day], drivers.tmax_c[day], base_temp_c);
    match kind {
        ClockKind::Calendar | ClockKind::Thermal => (e, -f, 0.0),
        ClockKind::Photothermal => {
            let weight = drivers.day_length_hours[day] / 12.0;
            (e * weight, -f * weight, 0.0)
        }
        ClockKind::Gated => {
            let open = expit(GATE_STEEPNESS_PER_HOUR * (drivers.day_length_hours[day] - gate_hours));
            (e * open, -f * open, -e * GATE_STEEPNESS_PER_HOUR * open * (1.0 - open))
        }
    }
}

/// The logistic function, safe at both ends.
#[must_use]
pub fn expit(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::curve::Curve;

    #[test]
    fn a_season_is_read_the_same_off_a_clock_that_stops_when_it_is_over() {
        let warm = |day: usize| 10.0 - 8.0 * (day as f64 * std::f64::consts::TAU / 365.0).cos();
        let drivers = Drivers {
            tmin_c: (0..365).map(|day| warm(day) - 2.0).collect(),
            tmax_c: (0..365).map(|day| warm(day) + 3.0).collect(),
            day_length_hours: vec![12.0; 365],
            idle_days: 3,
        };
        let one = Curve::single(5.0, 0.03);
        for curve in [one, Curve { w: 0.3, ell: [5.0, 6.0], s: [0.03, 0.05] }, Curve::single(9.0, 0.1)] {
            for (kind, _) in ClockKind::WORDS {
                let whole = ClockRun::sums(kind, &drivers, 4.0, 11.0, 365);
                let short = ClockRun::sums_to(curve.over(), kind, &drivers, 4.0, 11.0, 365);
                assert_eq!(curve.completed_each(&short), curve.completed_each(&whole), "{kind:?} {curve:?}");
            }
        }
        let short = ClockRun::sums_to(one.over(), ClockKind::Thermal, &drivers, 4.0, 11.0, 365);
        let whole = ClockRun::sums(ClockKind::Thermal, &drivers, 4.0, 11.0, 365);
        let run = short.iter().filter(|c| c.is_finite()).count();
        assert!((100..300).contains(&run), "{run} days are run");
        assert_eq!((short.len(), &short[..run]), (366, &whole[..run]));
    }
}
