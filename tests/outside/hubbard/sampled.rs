//! Mode, curvature and estimated effects' sds against a sampler of the whole posterior, on the catches
//! of stoneflies (to day 230: autumn species follow) and a curve of one part.
//!
//! An order has no base temperature of its own: it is held at 0 C. Traps tell nothing of the class slope
//! and of the hour, whose posteriors are their priors; the test says both.

use chrono::Datelike;
use subimago::app::fit::input;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::fit_clock;

use super::brook::file;
use super::dates::LAST_STONEFLY_DAY;
use super::skill::known;
use crate::chains::hold;
use crate::hierarchy::{Sds, compare};

#[test]
fn catches_of_traps() {
    if file("emergence.csv").is_none() {
        return;
    }
    let mut known = known();
    known.records.retain(|r| r.date_to.ordinal() <= LAST_STONEFLY_DAY);
    let stonefly = known.taxa.iter().find(|t| t.slug.as_str() == "stonefly").unwrap().clone();
    let input = input(&known, &stonefly, 1);
    let fit = fit_clock(ClockKind::Thermal, &input.data, &input.prior, false).unwrap();
    for sds in [Sds::Sampled, Sds::Held] {
        let rows = compare(&fit, &input.data, &input.prior, sds, 1);
        let [tb, d50, log_sigma, log_b, h0] = &rows[..5] else { panic!("five parameters") };
        assert!(tb.held() && log_b.prior_only && h0.prior_only && !d50.prior_only && !log_sigma.prior_only);
        hold(&rows);
    }
}
