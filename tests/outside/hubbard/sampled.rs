//! Mode, curvature and estimated effects' sds against a sampler of the whole posterior, on the catches
//! of stoneflies (to day 230: autumn species follow).

use chrono::Datelike;
use subimago::app::fit::input;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::fit_clock;

use super::brook::file;
use super::dates::LAST_STONEFLY_DAY;
use super::skill::known;
use crate::hierarchy::{Sds, compare};

#[test]
fn catches_of_traps() {
    if file("emergence.csv").is_none() {
        return;
    }
    let mut known = known();
    known.records.retain(|r| r.date_to.ordinal() <= LAST_STONEFLY_DAY);
    for (name, two) in [("stonefly", false), ("caddisfly", false), ("caddisfly", true)] {
    let subject = known.taxa.iter().find(|t| t.slug.as_str() == name).unwrap().clone();
    let input = input(&known, &subject, 1);
    println!("== {name} {two} {:?}", input.prior);
    let began = std::time::Instant::now();
    let fit = fit_clock(ClockKind::Thermal, &input.data, &input.prior, two).unwrap();
    println!("evidence {} {:?}", fit.laplace.log_evidence, began.elapsed());
    let _ = compare(&fit, &input.data, &input.prior, Sds::Sampled, 1);
    compare(&fit, &input.data, &input.prior, Sds::Held, 1);
    println!("{:?}", began.elapsed());
    }
}
