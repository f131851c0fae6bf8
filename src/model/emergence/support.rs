//! Whether records can carry a fit.

use crate::model::posterior::{Dataset, Outcome};

use super::effects::Present;

/// Fewest years, records in season and positives for a fit to leave its prior.
const LEAST_YEARS: usize = 3;
const LEAST_IN_SEASON: usize = 25;
/// Fewest records that found something.
pub const LEAST_POSITIVE: usize = 8;
/// Fewest empty visits before the first positive of their season: without them onset is unknown.
const LEAST_ZEROS_BEFORE: usize = 5;
/// Counts carry onset in their rise: visits before 20 % of the catch.
const LEAST_BEFORE_FIFTH: usize = 3;

/// Whether records can carry a fit.
#[derive(Debug, Clone, Copy)]
pub struct Support {
    /// Enough years, records in season and positives to leave the prior.
    pub enough: bool,
    /// Enough of the time before the first insects was watched.
    pub knows_onset: bool,
}

impl Support {
    /// Of `data`.
    #[must_use]
    pub fn of(data: &Dataset) -> Self {
        let years = Present::of(data).years.len();
        let (mut zeros_before, mut before_fifth, mut first_sightings) = (0, 0, 0);
        let mut positive_days: Vec<usize> = Vec::new();
        for unit in &data.units {
            let mut records: Vec<(usize, f64, bool)> = Vec::new();
            for o in &unit.observations {
                match o.outcome {
                    Outcome::Count(n) => records.push((o.to_day, f64::from(n), true)),
                    Outcome::Class(class) => records.push((o.to_day, class as f64, false)),
                    Outcome::Seen => records.push((o.to_day, 1.0, false)),
                    Outcome::First { .. } => first_sightings += 1,
                }
            }
            records.sort_by_key(|r| r.0);
            positive_days.extend(records.iter().filter(|r| r.1 > 0.0).map(|r| r.0));
            if records.iter().any(|r| r.1 > 0.0) {
                zeros_before += records.iter().take_while(|r| r.1 == 0.0).filter(|r| !r.2).count();
            }
            let catch: f64 = records.iter().filter(|r| r.2).map(|r| r.1).sum();
            let mut sum = 0.0;
            for record in records.iter().filter(|r| r.2) {
                sum += record.1;
                if catch > 0.0 && sum < 0.2 * catch {
                    before_fifth += 1;
                }
            }
        }
        positive_days.sort_unstable();
        let in_season = match (positive_days.first(), positive_days.last()) {
            (Some(&first), Some(&last)) => data
                .units
                .iter()
                .flat_map(|u| &u.observations)
                .filter(|o| o.to_day + 14 >= first && o.to_day <= last + 14)
                .count(),
            _ => 0,
        };
        let sightings_alone = first_sightings >= LEAST_POSITIVE;
        Self {
            enough: years >= LEAST_YEARS
                && ((in_season >= LEAST_IN_SEASON && positive_days.len() >= LEAST_POSITIVE) || sightings_alone),
            knows_onset: zeros_before >= LEAST_ZEROS_BEFORE
                || before_fifth >= LEAST_BEFORE_FIFTH
                || first_sightings > 0
                // Nothing but zeros tells that nothing was there when people looked.
                || (positive_days.is_empty() && !data.is_empty()),
        }
    }
}

/// Records that found something.
#[must_use]
pub fn positive_records(data: &Dataset) -> usize {
    data.units
        .iter()
        .flat_map(|u| &u.observations)
        .filter(|o| match o.outcome {
            Outcome::Count(n) => n > 0,
            Outcome::Class(class) => class > 0,
            Outcome::Seen | Outcome::First { .. } => true,
        })
        .count()
}
