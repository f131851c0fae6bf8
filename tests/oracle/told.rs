//! Forecasts of left-out years, case by case, and the rows of scores that the service tells of them.
//!
//! Two sets: invented cases fed to the tally, among them ones that must not count, and what the
//! assessment of a simulated club scores, with the rows that the assessment itself tells.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_pcg::Pcg64;
use serde_json::{Value, json};
use subimago::app::document::SkillRowDocument;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::assess::{Drawn, Scored, scored};
use subimago::model::emergence::tally::{Case, ClassForecast, Tally};
use subimago::model::emergence::{Candidates, SkillRow, assess_candidates};

use crate::club::{Club, Kind};
use crate::dump;

const FIRST_SEASON: i32 = 2011;
const SEASONS: i32 = 6;
const MIDDLE: i64 = 136;
/// Years of records of the simulated club.
const CLUB_YEARS: usize = 5;

#[test]
fn told_scores_of_left_out_forecasts() {
    let Some(mut table) = dump::table("told.csv", &["set", "kind", "json"]) else { return };
    let mut write = |set: &str, kind: &str, value: &Value| {
        table.write_record([set, kind, &value.to_string()]).expect("a row");
    };
    let invented = invented();
    let mut tally = Tally::default();
    for one in &invented {
        tally.add(&one.case, one.observed, &one.drawn);
        write("invented", "case", &case(one, 0));
    }
    for row in tally.rows() {
        write("invented", "told", &told(&row));
    }
    let club = Club::new(Kind::Calendar, 2, CLUB_YEARS);
    let candidates = Candidates::fit(&club.input).expect("a club with records");
    let water = |site: usize, season: i32, issue: i64| club.water_known(site, season, issue);
    // The shipped forecast closes each group: what the clocks say comes before it.
    let mut group = 0;
    for (fold, list) in scored(&candidates, &club.input, &water).iter().enumerate() {
        let season = club.input.years[candidates.folds[fold].year];
        write("club", "weights", &json!({ "season": season, "weights": candidates.choice(Some(fold)).weights }));
        for one in list {
            write("club", "case", &case(one, group));
            group += usize::from(one.case.clock.is_none());
        }
    }
    for row in assess_candidates(&candidates, &club.input, &water).expect("years to leave out").rows {
        write("club", "told", &told(&row));
    }
    table.flush().expect("the file is whole");
}

/// Forecasts that differ by clock in error and spread. Some have too few draws, some seasons no date.
fn invented() -> Vec<Scored> {
    let mut rng = Pcg64::seed_from_u64(13);
    let clocks: Vec<Option<ClockKind>> = ClockKind::WORDS.iter().map(|(clock, _)| Some(*clock)).chain([None]).collect();
    let mut cases = Vec::new();
    for season in FIRST_SEASON..FIRST_SEASON + SEASONS {
        let start = 120.0 + rng.random_range(-12.0..12.0);
        for issue in (MIDDLE - 98..=MIDDLE + 42).step_by(7) {
            let observed = (season != FIRST_SEASON && rng.random_bool(0.8)).then(|| {
                let day: f64 = start + rng.random_range(-4.0..4.0);
                // Whole days now and then, so that draws tie with them.
                if rng.random_bool(0.5) { day.round() } else { day }
            });
            let records: Vec<(i64, usize)> =
                (0..rng.random_range(0..5)).map(|_| (rng.random_range(60..230), rng.random_range(0..4))).collect();
            for clock in &clocks {
                let spread = 2.0 + clock.map_or(0.0, |c| 2.0 * c.index() as f64);
                let near = Normal::new(start + rng.random_range(-spread..spread), spread).expect("a spread");
                let size = rng.random_range(5..70);
                let onset = (0..size).map(|_| near.sample(&mut rng)).map(|d| if size % 2 == 0 { d.round() } else { d });
                let onset = onset.collect();
                let classes = records.iter().map(|(day, class)| {
                    let raw: [f64; 4] = std::array::from_fn(|_| rng.random_range(0.001_f64..1.0).powi(3));
                    let sum: f64 = raw.iter().sum();
                    ClassForecast { day: *day, class: *class, probabilities: raw.map(|p| p / sum) }
                });
                let classes = classes.collect();
                let widening = if clock.is_none() { rng.random_range(1.0..2.0) } else { 1.0 };
                let case = Case { clock: *clock, season, issue, middle: MIDDLE, widening };
                cases.push(Scored { case, observed, drawn: Drawn { onset, classes } });
            }
        }
    }
    cases
}

fn case(one: &Scored, group: usize) -> Value {
    let Scored { case, observed, drawn } = one;
    let classes: Vec<Value> = drawn
        .classes
        .iter()
        .map(|c| json!({ "day": c.day, "class": c.class, "probabilities": c.probabilities }))
        .collect();
    json!({
        "group": group,
        "clock": case.clock.map_or("shipped", ClockKind::as_str),
        "season": case.season,
        "issue": case.issue,
        "middle": case.middle,
        "widening": case.widening,
        "observed": observed,
        "draws": drawn.onset,
        "classes": classes,
    })
}

/// The row as the document tells it.
fn told(row: &SkillRow) -> Value {
    serde_json::to_value(SkillRowDocument::new("an-insect", 1, row)).expect("a document")
}
