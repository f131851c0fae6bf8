//! What the records of one season show, and the dates they tell.
//!
//! A trap's catches are sums over the days it stood: they add up as they are. A visit sees a rate:
//! between visits the rate is joined by straight lines, so that many visits in one week weigh no
//! more than one. Where traps and visits look at one reach, the traps tell the dates.

use crate::domain::forecast::MILESTONE_SHARES;
use crate::model::posterior::objective::Common;
use crate::model::posterior::{Observation, Outcome, Protocol, Unit};

use super::dates::day_of_share;
use super::fit_clock::FittedClock;

/// A season whose records show fewer insects than this tells no dates (the definition used for
/// observed dates).
pub const LEAST_CATCH: f64 = 15.0;
/// Records of one protocol needed to tell a season's dates.
pub const LEAST_RECORDS: usize = 4;
/// Share of a season's catch at its first record from which its dates are not believed: nobody saw
/// the season begin.
const FIRST_RECORD_SHARE: f64 = 0.1;

/// Blank visits, and days, that set a positive visit apart from the season's main run (common
/// practice, no source).
const APART_BLANKS: usize = 2;
const APART_DAYS: f64 = 21.0;

/// What may be there unseen on a blank visit next to one that saw something, as a part of the least
/// seen: rates rise and fall by factors, so that between the two they are joined on the log scale.
const UNSEEN: f64 = 0.2;

/// How classes and counts of visits stand for numbers of insects, under one fit.
///
/// The middle of a class on the fitted scale is an intensity: exp(threshold / b). A heavy visit lies
/// as far above its threshold as the middle of moderate lies below it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Relative intensity of each class; none is zero.
    pub classes: [f64; 4],
    /// Relative intensity of one insect counted on a visit.
    pub counted: f64,
}

impl Scale {
    /// The scale at the posterior mean of `fit`.
    #[must_use]
    pub fn of(fit: &FittedClock) -> Self {
        let theta = &fit.mean;
        let common = Common::new(theta, fit.layout, 0.0);
        let [t1, t2, t3] = common.tau;
        let middle = |a: f64, b: f64| (0.5 * (a + b) / common.b).exp();
        Self {
            classes: [0.0, middle(t1, t2), middle(t2, t3), middle(t3, 2.0 * t3 - t2)],
            counted: (-theta[fit.layout.alpha()]).exp(),
        }
    }

    /// The relative intensity that `outcome` shows; `None` for first sightings.
    #[must_use]
    pub fn value(&self, outcome: Outcome, protocol: Protocol, log_effort: f64) -> Option<f64> {
        match (outcome, protocol) {
            (Outcome::Count(count), Protocol::Trap) => Some(f64::from(count) / log_effort.exp()),
            (Outcome::Count(count), Protocol::Visit) => Some(f64::from(count) * self.counted / log_effort.exp()),
            (Outcome::Class(class), _) => Some(self.classes[class]),
            (Outcome::Seen, _) => Some(self.classes[1]),
            (Outcome::First { .. }, _) => None,
        }
    }
}

/// Insects that an outcome proves, as far as [`LEAST_CATCH`] is concerned: a class noted is enough.
#[must_use]
pub fn insects(outcome: Outcome) -> f64 {
    match outcome {
        Outcome::Count(count) => f64::from(count),
        Outcome::Class(0) | Outcome::First { .. } => 0.0,
        Outcome::Class(_) | Outcome::Seen => LEAST_CATCH,
    }
}

/// The records of a site-year that tell its dates, all of one protocol and within the brood's
/// `window`; `None` with too few.
#[must_use]
pub fn telling(unit: &Unit, window: (usize, usize)) -> Option<(Protocol, Vec<&Observation>)> {
    [Protocol::Trap, Protocol::Visit].into_iter().find_map(|protocol| {
        let list: Vec<&Observation> = unit
            .observations
            .iter()
            .filter(|o| (window.0..=window.1).contains(&o.to_day))
            .filter(|o| o.protocol == protocol && !matches!(o.outcome, Outcome::First { .. }))
            .collect();
        let enough = protocol == Protocol::Visit || list.iter().map(|o| insects(o.outcome)).sum::<f64>() >= LEAST_CATCH;
        (list.len() >= LEAST_RECORDS && enough).then_some((protocol, list))
    })
}

/// A season as its records show it.
#[derive(Debug, Clone)]
pub struct Shown {
    /// How it was looked at.
    pub protocol: Protocol,
    /// Day and relative number (trap) or intensity (visit), in order of day, one a day.
    pub values: Vec<(f64, f64)>,
    /// Insects behind it, see [`insects`].
    pub insects: f64,
}

impl Shown {
    /// What the records of `unit` show on `scale`.
    #[must_use]
    pub fn observed(unit: &Unit, window: (usize, usize), scale: &Scale) -> Option<Self> {
        let (protocol, list) = telling(unit, window)?;
        let mut values: Vec<(f64, f64)> = list
            .iter()
            .filter_map(|o| Some((o.to_day as f64, scale.value(o.outcome, o.protocol, o.log_effort)?)))
            .collect();
        // One value a day, the largest.
        values.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)));
        values.dedup_by_key(|v| v.0);
        let shown = Self { protocol, values, insects: list.iter().map(|o| insects(o.outcome)).sum() };
        let amounts = shown.amounts();
        let total: f64 = amounts.iter().map(|(_, amount)| amount).sum();
        // A visit's rate has stood for about as long as the next visit took to come.
        let stood = match protocol {
            Protocol::Trap => 1.0,
            Protocol::Visit => shown.values.get(1).map_or(1.0, |next| next.0 - shown.values[0].0),
        };
        let first = shown.values.first().map_or(0.0, |(_, value)| value * stood);
        (first == 0.0 || first < FIRST_RECORD_SHARE * total).then_some(shown)
    }

    /// Amounts by day: as caught for traps, from the joined rate for visits.
    fn amounts(&self) -> Vec<(f64, f64)> {
        if self.protocol == Protocol::Trap {
            return self.values.clone();
        }
        let least = self.values.iter().map(|v| v.1).filter(|v| *v > 0.0).fold(f64::INFINITY, f64::min);
        if !least.is_finite() {
            return Vec::new();
        }
        let floor = UNSEEN * least;
        let values = self.without_strays();
        let mut amounts = vec![values[0]];
        for pair in values.windows(2) {
            let ((day0, rate0), (day1, rate1)) = (pair[0], pair[1]);
            let gap = day1 - day0;
            let grow = (rate1.max(floor) / rate0.max(floor)).ln() / gap;
            for k in 1..gap as usize {
                let rate = if rate0 == 0.0 && rate1 == 0.0 { 0.0 } else { rate0.max(floor) * (grow * k as f64).exp() };
                amounts.push((day0 + k as f64, rate));
            }
            amounts.push((day1, rate1));
        }
        amounts
    }

    /// The values with positives apart from the season's main run taken for blanks: those with at
    /// least [`APART_BLANKS`] blank visits over [`APART_DAYS`] between them and it. A stray insect in
    /// March does not make the season begin in March.
    fn without_strays(&self) -> Vec<(f64, f64)> {
        let mut runs: Vec<(Vec<usize>, f64)> = Vec::new();
        let (mut blanks, mut last) = (0, f64::NEG_INFINITY);
        for (index, &(day, rate)) in self.values.iter().enumerate() {
            if rate <= 0.0 {
                blanks += 1;
                continue;
            }
            if runs.is_empty() || (blanks >= APART_BLANKS && day - last >= APART_DAYS) {
                runs.push((Vec::new(), 0.0));
            }
            if let Some((members, sum)) = runs.last_mut() {
                members.push(index);
                *sum += rate;
            }
            (blanks, last) = (0, day);
        }
        let main = runs.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or_else(Vec::new, |(members, _)| members);
        self.values
            .iter()
            .enumerate()
            .map(|(index, &(day, rate))| (day, if main.contains(&index) { rate } else { 0.0 }))
            .collect()
    }

    /// Days on which the season reaches each of the milestones' shares; `None` with too few insects.
    #[must_use]
    pub fn dates(&self) -> Option<[f64; 5]> {
        if self.insects < LEAST_CATCH {
            return None;
        }
        let amounts = self.amounts();
        let mut days = [0.0; 5];
        for (day, &share) in days.iter_mut().zip(&MILESTONE_SHARES) {
            *day = day_of_share(&amounts, share)?;
        }
        Some(days)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(protocol: Protocol, values: &[(f64, f64)]) -> [f64; 5] {
        Shown { protocol, values: values.to_vec(), insects: 100.0 }.dates().expect("enough insects")
    }

    #[test]
    fn a_stray_long_before_the_season_tells_no_date() {
        let season = [(130.0, 0.0), (140.0, 1.0), (147.0, 5.0), (154.0, 5.0), (161.0, 1.0), (168.0, 0.0)];
        let mut with_stray = vec![(80.0, 0.0), (85.0, 1.0), (95.0, 0.0), (110.0, 0.0)];
        with_stray.extend(season);
        assert_eq!(shown(Protocol::Visit, &with_stray), shown(Protocol::Visit, &season));
        // One blank between is a quiet evening, not the end of the season.
        let near = [(125.0, 0.0), (130.0, 1.0), (135.0, 0.0), (140.0, 1.0), (147.0, 5.0), (161.0, 1.0), (168.0, 0.0)];
        assert!(shown(Protocol::Visit, &near)[0] < shown(Protocol::Visit, &season)[0]);
    }

    #[test]
    fn many_visits_in_one_week_do_not_pull_the_dates() {
        let once = shown(Protocol::Visit, &[(100.0, 0.0), (110.0, 2.0), (120.0, 2.0), (130.0, 0.0)]);
        let often = shown(
            Protocol::Visit,
            &[(100.0, 0.0), (110.0, 2.0), (111.0, 2.0), (112.0, 2.0), (113.0, 2.0), (120.0, 2.0), (130.0, 0.0)],
        );
        assert!((once[2] - 115.0).abs() < 1.0 && (often[2] - once[2]).abs() < 0.5, "{once:?} {often:?}");
        // The same as trap catches counts every emptying.
        let trapped = shown(
            Protocol::Trap,
            &[(100.0, 0.0), (110.0, 2.0), (111.0, 2.0), (112.0, 2.0), (113.0, 2.0), (120.0, 2.0), (130.0, 0.0)],
        );
        assert!(trapped[2] < 112.0, "{trapped:?}");
    }
}
