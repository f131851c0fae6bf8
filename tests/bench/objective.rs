//! Time of one value-and-gradient call on the reference data repeated to 84 site-years (some 850
//! records), per clock, and of one season forecast. Run with `cargo bench`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
#![allow(missing_docs, reason = "a bench")]

#[path = "../model/reference.rs"]
#[allow(dead_code, reason = "shared with the model's tests")]
mod reference;
#[path = "../model/table.rs"]
#[allow(dead_code, reason = "shared with the model's tests")]
mod table;

use divan::Bencher;
use subimago::domain::fit::ClockKind;
use subimago::model::posterior::layout::{Layout, TB};
use subimago::model::posterior::{Dataset, Objective, Workspace};

const SITE_YEARS: usize = 84;

fn repeated() -> Dataset {
    let golden = reference::golden().data;
    let mut data = Dataset { sites: 0, units: Vec::new(), ..golden.clone() };
    while data.units.len() < SITE_YEARS {
        for unit in &golden.units {
            let mut unit = unit.clone();
            unit.site += data.sites;
            data.units.push(unit);
        }
        data.sites += golden.sites;
    }
    data.units.truncate(SITE_YEARS);
    data
}

fn main() {
    divan::main();
}

#[divan::bench(args = ["calendar", "thermal", "photothermal", "gated"])]
fn value_and_gradient(bencher: Bencher<'_, '_>, clock: &str) {
    let data = repeated();
    let layout = Layout::of(&data);
    let priors = reference::reference_priors(layout, [0.05, 0.03, 0.6], 4.0, 135.0);
    let clock = ClockKind::parse(clock).unwrap();
    let objective = Objective { clock, data: &data, priors: &priors, two_parts: false };
    let mut theta = priors.means();
    let mut gradient = vec![0.0; layout.len()];
    let mut work = Workspace::default();
    let mut step = 0.0;
    bencher.bench_local(|| {
        // A new base temperature every time, so that no clock run is remembered.
        step += 1e-6;
        theta[TB] = 4.0 + step;
        objective.value_and_gradient(&theta, &mut gradient, &mut work)
    });
}
