//! One day's step, and the run of many.

use std::f64::consts::TAU;

use super::{Air2StreamError, Forcing, ForcingDay, Parameters};

/// Days that are run once more in front, so that the start is forgotten.
const WARM_UP_DAYS: usize = 365;
/// Where a run starts without a measurement, degrees Celsius.
const START_C: f64 = 4.0;
/// The water is kept at this or above, degrees Celsius.
const FLOOR_C: f64 = 0.0;

/// How the equation is stepped over a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scheme {
    /// Runge and Kutta's of order 4, with air and discharge averaged at mid-step: that of the
    /// published figures. It blows up where water follows the air within less than half a day.
    RungeKutta4,
    /// Crank and Nicolson's, solved exactly since the equation is linear in Tw: stable for every
    /// parameter that draws the water back (Piccolroaz et al. 2016, Hydrol. Process. 30:3901; from memory).
    CrankNicolson,
}

/// The equation at one moment as `rise - pull * Tw`, degrees Celsius per day and per day.
#[derive(Debug, Clone, Copy)]
struct Linear {
    rise: f64,
    pull: f64,
}

impl Linear {
    fn at(p: &Parameters, day: ForcingDay) -> Self {
        let [a1, a2, a3, a4, a5, a6, a7, a8] = p.a;
        let wave = if a6 == 0.0 { 0.0 } else { a6 * (TAU * (day.year_share - a7)).cos() };
        let scale = if p.version.scales_the_wave() { day.theta } else { 1.0 };
        let depth = if a4 == 0.0 { 1.0 } else { day.theta.powf(-a4) };
        Self { rise: depth * (a1 + a2 * day.air_c + scale * (a5 + wave)), pull: depth * (a3 + scale * a8) }
    }

    fn slope(self, water_c: f64) -> f64 {
        self.rise - self.pull * water_c
    }
}

/// Water of `tomorrow` from `water_c` of `today`, degrees Celsius; 0 or above.
#[must_use]
pub fn advance(p: &Parameters, scheme: Scheme, today: ForcingDay, tomorrow: ForcingDay, water_c: f64) -> f64 {
    step(p, scheme, today, Linear::at(p, today), tomorrow, Linear::at(p, tomorrow), water_c)
}

fn step(
    p: &Parameters,
    scheme: Scheme,
    today: ForcingDay,
    start: Linear,
    tomorrow: ForcingDay,
    end: Linear,
    water_c: f64,
) -> f64 {
    let next = match scheme {
        Scheme::CrankNicolson => (water_c + 0.5 * start.slope(water_c) + 0.5 * end.rise) / (1.0 + 0.5 * end.pull),
        Scheme::RungeKutta4 => {
            // The published runs step the year by 1/365, over the end of the year as well.
            let at = |share: f64, air_c: f64, theta: f64| {
                Linear::at(p, ForcingDay { air_c, theta, year_share: today.year_share + share / 365.0 })
            };
            let middle =
                at(0.5, f64::midpoint(today.air_c, tomorrow.air_c), f64::midpoint(today.theta, tomorrow.theta));
            let last = at(1.0, tomorrow.air_c, tomorrow.theta);
            let k1 = start.slope(water_c);
            let k2 = middle.slope(water_c + 0.5 * k1);
            let k3 = middle.slope(water_c + 0.5 * k2);
            let k4 = last.slope(water_c + k3);
            water_c + (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0
        }
    };
    next.max(FLOOR_C)
}

/// Water temperature on every day of `forcing`, degrees Celsius, from `start_c` or 4 degrees. The
/// first year is run once more in front.
///
/// # Errors
/// [`Air2StreamError::NoDischarge`] when the version needs discharge and there is none.
pub fn run(
    p: &Parameters,
    forcing: &Forcing,
    scheme: Scheme,
    start_c: Option<f64>,
) -> Result<Vec<f64>, Air2StreamError> {
    forcing.serves(p.version)?;
    let mut water = Vec::with_capacity(forcing.days.len());
    run_into(p, forcing, scheme, start_c, &mut water);
    Ok(water)
}

/// As [`run`], into `water`, for a version that the forcing serves.
pub(super) fn run_into(p: &Parameters, forcing: &Forcing, scheme: Scheme, start_c: Option<f64>, water: &mut Vec<f64>) {
    water.clear();
    let days = &forcing.days;
    let Some(first) = days.first() else { return };
    let warm_up = &days[..WARM_UP_DAYS.min(days.len())];
    let mut state = start_c.unwrap_or(START_C).max(FLOOR_C);
    let (mut today, mut linear) = (*first, Linear::at(p, *first));
    let rest = warm_up.iter().skip(1).chain(days);
    for (index, tomorrow) in rest.enumerate() {
        let end = Linear::at(p, *tomorrow);
        state = step(p, scheme, today, linear, *tomorrow, end, state);
        if index + 1 >= warm_up.len() {
            water.push(state);
        }
        (today, linear) = (*tomorrow, end);
    }
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::super::Version;
    use super::*;

    fn forcing(air: impl Fn(usize) -> f64, days: usize) -> Forcing {
        let air: Vec<f64> = (0..days).map(air).collect();
        Forcing::new(NaiveDate::from_ymd_opt(2001, 1, 1).expect("a date"), &air, None).expect("days")
    }

    fn three(a1: f64, a2: f64, a3: f64) -> Parameters {
        Parameters { version: Version::Three, a: [a1, a2, a3, 0.0, 0.0, 0.0, 0.0, 0.0] }
    }

    #[test]
    fn steady_air_brings_the_water_to_its_balance() {
        // a1 + a2 Ta - a3 Tw = 0: Tw = (1 + 0.5 * 12) / 0.7 = 10.
        for scheme in [Scheme::RungeKutta4, Scheme::CrankNicolson] {
            let water = run(&three(1.0, 0.5, 0.7), &forcing(|_| 12.0, 500), scheme, None).expect("three");
            assert_eq!(water.len(), 500);
            assert!(water.iter().all(|w| (w - 10.0).abs() < 1e-9), "{scheme:?}");
        }
    }

    #[test]
    fn a_step_in_the_air_is_followed_exponentially() {
        // From 10 towards 20 with 0.1 per day: 20 - 10 exp(-0.1 h), from a day whose forcing has changed.
        let p = three(0.0, 0.1, 0.1);
        let day = ForcingDay { air_c: 20.0, theta: 1.0, year_share: 0.5 };
        for (scheme, tolerance) in [(Scheme::RungeKutta4, 1e-5), (Scheme::CrankNicolson, 1e-2)] {
            let mut water = 10.0;
            for h in 1..=30 {
                water = advance(&p, scheme, day, day, water);
                let exact = 20.0 - 10.0 * (-0.1 * f64::from(h)).exp();
                assert!((water - exact).abs() < tolerance, "{scheme:?} after {h} d: {water} for {exact}");
            }
        }
    }

    #[test]
    fn water_that_follows_at_once_stays_in_bounds_only_with_the_implicit_scheme() {
        let p = three(0.0, 4.0, 4.0);
        let air = |day: usize| if day.is_multiple_of(2) { 5.0 } else { 15.0 };
        let warmest =
            |scheme| run(&p, &forcing(air, 400), scheme, Some(9.0)).expect("three").into_iter().fold(0.0, f64::max);
        let (explicit, implicit) = (warmest(Scheme::RungeKutta4), warmest(Scheme::CrankNicolson));
        assert!(explicit > 20.0 && implicit < 15.0, "{explicit} {implicit}");
    }

    #[test]
    fn water_does_not_freeze_and_the_wave_peaks_at_its_share_of_the_year() {
        let frost = run(&three(0.0, 0.5, 0.5), &forcing(|_| -8.0, 40), Scheme::CrankNicolson, Some(3.0));
        assert_eq!(frost.expect("three").last(), Some(&0.0));
        let p = Parameters { version: Version::Five, a: [20.0, 0.0, 2.0, 0.0, 0.0, 1.0, 0.55, 0.0] };
        let year = run(&p, &forcing(|_| 0.0, 365), Scheme::CrankNicolson, None).expect("five");
        let peak = (0..365).max_by(|a, b| year[*a].total_cmp(&year[*b])).expect("days");
        // 0.55 of the year is day 201; water that follows with 2 per day lags by half a day.
        assert!(peak.abs_diff(200) <= 1, "{peak}");
    }

    #[test]
    fn discharge_is_asked_for_by_the_versions_that_use_it() {
        let wants = |version| {
            let p = Parameters { version, a: [1.0, 0.5, 0.7, 0.1, 1.0, 1.0, 0.5, 0.1] };
            run(&p, &forcing(|_| 10.0, 10), Scheme::CrankNicolson, None) == Err(Air2StreamError::NoDischarge)
        };
        assert_eq!(Version::ALL.map(wants), [false, true, false, true, true]);
    }
}
