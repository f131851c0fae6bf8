//! A fit brought up to date: the same clocks, shapes, weights and calibration, with all records of
//! now. Quick enough to follow a report; the choice among clocks is left to the next full fit.

use rayon::prelude::*;

use super::classes::CountClasses;
use super::effects::Present;
use super::fit_clock::fit_on;
use super::fit_taxon::{FitInput, has_classes, kernel, latest};
use super::fitted::{FittedTaxon, Member};
use super::schedule::schedules;
use super::support::Support;

/// `old` with the records of `input`; `None` where only a full fit can tell (other sites, onset not
/// known, a clock that no longer runs).
#[must_use]
pub fn refresh(old: &FittedTaxon, input: &FitInput) -> Option<FittedTaxon> {
    let data = &input.data;
    let support = Support::of(data);
    if old.sites != input.sites || !support.knows_onset || data.is_empty() || old.units.is_empty() {
        return None;
    }
    let years: Vec<Option<usize>> =
        input.years.iter().map(|year| old.years.iter().position(|known| known == year)).collect();
    let members: Option<Vec<Member>> = old
        .members
        .par_iter()
        .map(|member| {
            let fit = fit_on(&member.fit, &old.units, &years, data, &input.prior)?;
            Some(Member { fit, ..member.clone() })
        })
        .collect();
    Some(FittedTaxon {
        members: members?,
        climate: data.climate.clone(),
        schedules: schedules(data),
        count_classes: CountClasses::learn(data),
        kernel: kernel(data),
        has_classes: has_classes(data),
        hours_known: input.hours_known,
        units: data.units.iter().map(|u| (u.site, u.year)).collect(),
        years: input.years.clone(),
        latest: latest(data, &input.years),
        records: data.len(),
        years_used: Present::of(data).years.len(),
        prior_driven: !support.enough,
        ..old.clone()
    })
}
