//! Missing days from the air: the run, its usual error, and between two known days the residual that
//! an autoregression has there, so that a filled stretch joins them and errs little beside them.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::super::autoregression::{bridge_mean, bridge_variance};
use super::super::climatology::Climatology;
use super::super::gaps::{Completed, DayBasis};
use super::super::traces::SMALLEST_SD_C;
use super::WaterFromAir;

impl WaterFromAir {
    /// Adds the days of the air that `completed` lacks, with the ranges of `climatology`.
    pub(in super::super) fn fill(&self, completed: &mut Completed, climatology: &Climatology) {
        let sd_c = |date: NaiveDate| self.residual.sd_c(date).max(SMALLEST_SD_C);
        let said = |date: NaiveDate| Some(self.run.get(&date)? + self.residual.mean_c(date));
        let known: BTreeMap<NaiveDate, f64> = completed
            .days
            .iter()
            .filter_map(|(date, day)| Some((*date, (day.temp.tmean_c - said(*date)?) / sd_c(*date))))
            .collect();
        let phi = self.residual.phi();
        let through = completed.through;
        for date in self.run.keys().filter(|date| **date <= through && !known.contains_key(*date)) {
            let Some(usual) = said(*date) else { continue };
            let before = known.range(..*date).next_back();
            let after = known.range(*date..).next();
            let k = before.map_or(0.0, |(then, _)| (*date - *then).num_days() as f64);
            let span = after.map_or(f64::INFINITY, |(then, _)| k + (*then - *date).num_days() as f64);
            let z = bridge_mean(phi, k, span, before.map(|b| *b.1), after.map(|a| *a.1));
            let spread = bridge_variance(phi, k, span, before.is_some(), after.is_some()).sqrt();
            let temp = climatology.with_range(*date, usual + sd_c(*date) * z);
            completed.insert_estimate(*date, temp, sd_c(*date) * spread, DayBasis::Air);
        }
    }
}
