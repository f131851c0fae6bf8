//! One club judged: years left out with the water known by the day of issue, and what its people are told.

use rayon::prelude::*;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::{Candidates, SkillRow, assess_candidates, doubts};

use crate::club::{Club, Kind};
use crate::combine;

/// Years of records per club.
pub(crate) const YEARS: usize = 8;
/// Seeds from which claims about means are tested.
pub(crate) const ENOUGH_SEEDS: u64 = 20;

/// Place of what is shipped among [`lines`].
pub(crate) const SHIPPED: usize = 4;

/// The four clocks in their order, then what is shipped.
pub(crate) fn lines() -> Vec<Option<ClockKind>> {
    ClockKind::WORDS.iter().map(|(clock, _)| Some(*clock)).chain([None]).collect()
}

/// Number of clubs per world.
#[expect(clippy::disallowed_methods, reason = "how long the test may take is a matter of the one who runs it")]
pub(crate) fn seeds() -> u64 {
    std::env::var("SUBIMAGO_WORLD_SEEDS").map_or(3, |s| s.parse().expect("SUBIMAGO_WORLD_SEEDS is a number"))
}

/// One forecaster's scores in one club; dates over all days of issue.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scores {
    /// Mean log probability of a left-out record, its year's water known.
    pub(crate) log_score: f64,
    pub(crate) mae: f64,
    pub(crate) crps: f64,
    pub(crate) rps: f64,
    pub(crate) cover: f64,
    pub(crate) dates: usize,
}

/// One club's verdict.
pub(crate) struct Verdict {
    /// By line of [`lines`].
    pub(crate) scores: Vec<Scores>,
    /// What the service tells, without dates.
    pub(crate) told: Vec<String>,
    pub(crate) beats_calendar: bool,
}

impl Verdict {
    pub(crate) fn of(kind: Kind, seed: u64) -> Self {
        let club = Club::new(kind, seed, YEARS);
        let candidates = Candidates::fit(&club.input).expect("a club with records");
        let found =
            assess_candidates(&candidates, &club.input, &|site, year, issue| club.water_known(site, year, issue));
        let found = found.expect("years to leave out");
        let choice = candidates.choice(None);
        let told = doubts(&candidates, &club.input, &choice);
        Self {
            scores: lines().into_iter().map(|clock| Scores::of(clock, &found.rows, &candidates)).collect(),
            told: told.iter().map(|text| text.split(':').next().unwrap_or(text).to_owned()).collect(),
            beats_calendar: choice.beats_calendar,
        }
    }

    /// CRPS of what is shipped against the calendar's.
    pub(crate) fn shipped_to_calendar(&self) -> f64 {
        self.scores[SHIPPED].crps / self.scores[ClockKind::Calendar.index()].crps
    }

    /// Something stands on the page that makes a reader doubt.
    pub(crate) fn doubted(&self) -> bool {
        !self.told.is_empty() || !self.beats_calendar
    }
}

impl Scores {
    fn of(clock: Option<ClockKind>, rows: &[SkillRow], candidates: &Candidates) -> Self {
        let rows: Vec<&SkillRow> = rows.iter().filter(|row| row.clock == clock).collect();
        let mean = |n: fn(&SkillRow) -> usize, value: fn(&SkillRow) -> Option<f64>| {
            let all: f64 = rows.iter().map(|row| n(row) as f64).sum();
            rows.iter().filter_map(|row| Some(n(row) as f64 * value(row)?)).sum::<f64>() / all
        };
        let folds = candidates.folds.len();
        let log_scores = (0..folds).map(|fold| {
            let weights = match clock {
                Some(clock) => {
                    let mut weights = [0.0; 4];
                    weights[clock.index()] = 1.0;
                    weights
                }
                None => candidates.choice(Some(fold)).weights,
            };
            combine::score(&candidates.by_year, fold, &weights)
        });
        let records: usize = candidates.by_year[0].folds.iter().map(Vec::len).sum();
        Self {
            log_score: log_scores.sum::<f64>() / records as f64,
            mae: mean(|row| row.dates, |row| row.mae_days),
            crps: mean(|row| row.dates, |row| row.crps_days),
            rps: mean(|row| row.records, |row| row.rps),
            cover: mean(|row| row.dates, |row| row.cover80),
            dates: rows.iter().map(|row| row.dates).sum(),
        }
    }
}

/// All clubs of a world.
pub(crate) fn verdicts(kind: Kind) -> Vec<Verdict> {
    (1..=seeds()).into_par_iter().map(|seed| Verdict::of(kind, seed)).collect()
}
