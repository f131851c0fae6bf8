//! The table over worlds, and the claims that it must bear out.

use std::collections::BTreeMap;

use subimago::domain::fit::ClockKind;

use crate::club::Kind;
use crate::lab::{ENOUGH_SEEDS, Scores, Verdict, YEARS, lines, seeds, verdicts};
use crate::stats::Mean;

/// Most that what is shipped may lose to the calendar, as a part of its CRPS.
const MOST_LOST: f64 = 0.05;

fn print_world(kind: Kind, clubs: &[Verdict]) {
    println!("\n{kind:?}");
    println!(
        "  {:<13} {:>16} {:>14} {:>14} {:>16} {:>14} {:>14}",
        "", "log score", "MAE d", "CRPS d", "RPS", "cover 80 %", "CRPS/calendar"
    );
    for (line, clock) in lines().into_iter().enumerate() {
        let mean =
            |value: fn(&Scores) -> f64| Mean::of(&clubs.iter().map(|c| value(&c.scores[line])).collect::<Vec<_>>());
        let calendar = ClockKind::Calendar.index();
        let ratio = Mean::of(&clubs.iter().map(|c| c.scores[line].crps / c.scores[calendar].crps).collect::<Vec<_>>());
        println!(
            "  {:<13} {:>16} {:>14} {:>14} {:>16} {:>14} {:>14}",
            clock.map_or("shipped".to_owned(), |clock| format!("{clock:?}").to_lowercase()),
            format!("{:.3}", mean(|s| s.log_score)),
            format!("{:.1}", mean(|s| s.mae)),
            format!("{:.1}", mean(|s| s.crps)),
            format!("{:.3}", mean(|s| s.rps)),
            format!("{:.2}", mean(|s| s.cover)),
            format!("{ratio:.2}"),
        );
    }
    let mut told: BTreeMap<&str, usize> = BTreeMap::new();
    for club in clubs {
        club.told.iter().for_each(|text| *told.entry(text).or_default() += 1);
        if !club.beats_calendar {
            *told.entry("(does not beat the calendar)").or_default() += 1;
        }
    }
    for (text, n) in told {
        println!("  told in {:>3.0} %: {text}", 100.0 * n as f64 / clubs.len() as f64);
    }
}

#[test]
fn what_is_shipped_holds_up_in_every_world() {
    println!("Mean over {} clubs (standard error); {YEARS} years, three reaches, eight visits a year.", seeds());
    let mut faults = Vec::new();
    for kind in Kind::ALL {
        let clubs = verdicts(kind);
        print_world(kind, &clubs);
        for club in &clubs {
            let dated = club.scores.iter().all(|s| s.dates > 0 && s.crps.is_finite() && s.log_score < 0.0);
            assert!(dated, "{kind:?}: every clock is scored on dates and records");
        }
        if seeds() < ENOUGH_SEEDS {
            continue;
        }
        let ratio = Mean::of(&clubs.iter().map(Verdict::shipped_to_calendar).collect::<Vec<_>>());
        if ratio.upper90() > 1.0 + MOST_LOST {
            faults.push(format!("{kind:?}: CRPS of what is shipped is {ratio} of the calendar's"));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
