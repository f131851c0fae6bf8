//! The table over worlds, and the claims that it must bear out.

use std::collections::BTreeMap;

use subimago::domain::fit::ClockKind;

use crate::club::Kind;
use crate::lab::{ENOUGH_SEEDS, SHIPPED, Scores, Verdict, YEARS, lines, seeds, verdicts};
use crate::stats::Mean;

/// Most that what is shipped may lose to the calendar, as a part of its CRPS.
const MOST_LOST: f64 = 0.05;
/// Most that a drifting logger may add to that part: it misleads every year alike.
const MOST_BY_DRIFT: f64 = 0.05;
/// Most that the mean cover of 80 % intervals may fall short or exceed, besides two standard errors.
const COVER_OFF: f64 = 0.06;
/// Largest share of clubs without a gain by warmth that may be told of one.
const FALSE_CLAIMS: f64 = 0.15;
/// Largest share of clubs that may hear a doubt without reason.
const FALSE_ALARMS: f64 = 0.1;

/// The share of `clubs` for which `test` holds.
fn share(clubs: &[Verdict], test: impl Fn(&Verdict) -> bool) -> f64 {
    clubs.iter().filter(|c| test(c)).count() as f64 / clubs.len() as f64
}

fn mean_ratio(clubs: &[Verdict]) -> Mean {
    Mean::of(&clubs.iter().map(Verdict::shipped_to_calendar).collect::<Vec<_>>())
}

/// What is wrong with what clubs of a world are told.
fn faults_in_telling(kind: Kind, clubs: &[Verdict]) -> Vec<String> {
    let of_warmth = |text: &String| text.contains("warmth") || text.contains("base temperature");
    // Where the calendar is the truth, doubts about warmth are right.
    let false_alarm = share(clubs, |c| c.told.iter().any(|text| kind != Kind::Calendar || !of_warmth(text)));
    let silent = match kind {
        Kind::TwoBroods => share(clubs, |c| !c.told.iter().any(|text| text.contains("two generations"))),
        Kind::Discharge | Kind::Calendar => share(clubs, |c| !c.doubted()),
        Kind::Thermal | Kind::Gated | Kind::Drift => 0.0,
    };
    let mut faults = Vec::new();
    // A drift that is the same every year cannot be told from records, see the notes in `doubts`.
    if (kind.is_sound() || kind == Kind::Drift) && false_alarm > FALSE_ALARMS {
        faults.push(format!("{kind:?}: {false_alarm} of the clubs hear a doubt without reason"));
    }
    let claimed = share(clubs, |club| club.beats_calendar);
    if kind == Kind::Calendar && claimed > FALSE_CLAIMS {
        faults.push(format!("{claimed} of the clubs are told that warmth gains where the calendar is the truth"));
    }
    if silent >= 0.5 {
        faults.push(format!("{kind:?}: {silent} of the clubs hear nothing"));
    }
    faults
}

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
    let mut ratios: Vec<(Kind, Mean)> = Vec::new();
    for kind in Kind::ALL {
        let clubs = verdicts(kind);
        print_world(kind, &clubs);
        for club in &clubs {
            let dated = club.scores.iter().all(|s| s.dates > 0 && s.crps.is_finite() && s.log_score.is_finite());
            assert!(dated, "{kind:?}: every clock is scored on dates and records");
        }
        let ratio = mean_ratio(&clubs);
        ratios.push((kind, ratio));
        if seeds() < ENOUGH_SEEDS {
            continue;
        }
        if ratio.upper90() > 1.0 + MOST_LOST {
            let upper = ratio.upper90();
            faults
                .push(format!("{kind:?}: CRPS of what is shipped is {ratio:.3} of the calendar's, at most {upper:.3}"));
        }
        let cover = Mean::of(&clubs.iter().map(|club| club.scores[SHIPPED].cover).collect::<Vec<_>>());
        if (cover.mean - 0.8).abs() > COVER_OFF + 2.0 * cover.se {
            faults.push(format!("{kind:?}: 80 % intervals hold {cover:.2} of the dates"));
        }
        faults.extend(faults_in_telling(kind, &clubs));
    }
    let of = |kind: Kind| ratios.iter().find(|r| r.0 == kind).unwrap().1.mean;
    // The same clubs with and without drift: a few seeds tell.
    if of(Kind::Drift) > of(Kind::Thermal) + MOST_BY_DRIFT {
        faults.push(format!("a drifting logger costs {:.2}", of(Kind::Drift) - of(Kind::Thermal)));
    }
    // Where warmth drives, what is shipped must gain by it, even as known by the day of issue.
    if of(Kind::Thermal) > 0.9 {
        faults.push(format!("warmth gains too little: {:.2} of the calendar's CRPS", of(Kind::Thermal)));
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
