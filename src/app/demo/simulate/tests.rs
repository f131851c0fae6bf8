use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};

use super::*;
use crate::domain::{AbundanceClass, Quality, ReadingTime, RecordKind};

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}

fn made(today: &str) -> Simulated {
    simulate(7, day(today)).expect("valid values")
}

#[test]
fn the_same_seed_and_day_give_the_same_and_another_seed_another() {
    let (one, two) = (made("2026-05-20"), made("2026-05-20"));
    assert_eq!(one.readings, two.readings);
    assert_eq!(one.records, two.records);
    assert_ne!(one.records, simulate(8, day("2026-05-20")).expect("valid").records);
}

#[test]
fn a_later_today_only_adds_and_nothing_lies_in_the_future() {
    let (early, late) = (made("2026-05-20"), made("2026-08-01"));
    assert!(early.readings.iter().all(|r| late.readings.contains(r)));
    assert_eq!(early.truth, late.truth);
    let today = day("2026-05-20");
    let late_keys: std::collections::BTreeSet<_> = late.records.iter().map(|r| r.external_id.clone()).collect();
    for record in &early.records {
        assert!(late_keys.contains(&record.external_id));
        assert!(record.date_to <= today && record.known_at.date_naive() <= today);
    }
    assert!(early.readings.iter().all(|r| r.known_at.date_naive() <= today));
    assert!(late.records.len() > early.records.len());
}

#[test]
fn records_are_uneven_with_many_blanks_and_every_kind() {
    let made = made("2026-05-20");
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    let mut classes: BTreeMap<&str, usize> = BTreeMap::new();
    for record in &made.records {
        *kinds.entry(record.kind.as_str()).or_default() += 1;
        if let Some(class) = record.abundance_class {
            *classes.entry(class.as_str()).or_default() += 1;
        }
    }
    println!("{} readings, records by kind {kinds:?}, by class {classes:?}", made.readings.len());
    assert!(kinds[RecordKind::Visit.as_str()] > 1000);
    assert!(kinds[RecordKind::Trap.as_str()] > 300);
    assert!((6..=12).contains(&kinds[RecordKind::FirstSighting.as_str()]));
    let all: usize = classes.values().sum();
    let share = |class: AbundanceClass| classes[class.as_str()] as f64 / all as f64;
    assert!((0.3..0.75).contains(&share(AbundanceClass::None)), "{}", share(AbundanceClass::None));
    assert!(share(AbundanceClass::Heavy) > 0.02 && share(AbundanceClass::Heavy) < 0.2);
    for taxon in &made.taxa {
        assert!(made.records.iter().any(|r| r.taxon == *taxon && r.abundance_class == Some(AbundanceClass::Moderate)));
    }
    let keys: std::collections::BTreeSet<_> = made.records.iter().map(|r| r.external_id.clone()).collect();
    assert_eq!(keys.len(), made.records.len(), "the members' own numbers are unique");
}

#[test]
fn the_beck_is_steady_and_the_brook_swings() {
    let made = made("2026-05-20");
    let monthly = |gauge: &str, month: u32| {
        let values: Vec<f64> = made
            .readings
            .iter()
            .filter(|r| r.gauge.as_str() == gauge && r.quality == Quality::Good)
            .filter_map(|r| match r.time {
                ReadingTime::Day { date, mean: tmean_c, .. } if date.month() == month => Some(tmean_c),
                _ => None,
            })
            .collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let swing = |gauge: &str| monthly(gauge, 7) - monthly(gauge, 1);
    assert!(swing("linnet-spring") < 8.0 && swing("fallow-ford") > 12.0);
    assert!(monthly("fallow-ford", 7) > monthly("ostrey-weir", 7) + 1.0);
    let bad = made.readings.iter().filter(|r| r.quality == Quality::Bad).count();
    assert!((10..100).contains(&bad), "{bad} readings of dry loggers");
}

#[test]
fn the_truth_sums_to_a_season_and_runs_earlier_where_spring_is_warm() {
    let made = made("2026-05-20");
    for truth in &made.truth {
        assert!(truth.cumulative.windows(2).all(|w| w[0] <= w[1]));
        let last = truth.cumulative.last().copied().expect("days");
        assert!(last > 0.5, "{} {} {}: only {last}", truth.reach, truth.taxon, truth.brood);
    }
    let mean_half = |reach: &str, taxon: &str| {
        let days: Vec<f64> = made
            .truth
            .iter()
            .filter(|t| t.reach.as_str() == reach && t.taxon.as_str() == taxon && t.brood == 1)
            .filter_map(|t| t.date_of(0.5).map(|d| f64::from(d.ordinal())))
            .collect();
        assert_eq!(days.len(), 7);
        days.iter().sum::<f64>() / 7.0
    };
    // Warmth drives it: the warm brook well before the cold upper river.
    assert!(mean_half("fallow-brook", "ephemera-danica") + 6.0 < mean_half("ostrey-high-meadow", "ephemera-danica"));
    // Days drive it: the same date everywhere.
    let taxon = "limnephilidae-late-summer-and-autumn";
    assert!((mean_half("fallow-brook", taxon) - mean_half("linnet-beck", taxon)).abs() < 4.0);
}

#[test]
fn day_lengths_are_near_the_known_ones() {
    // At 52.3 N the solstice days are about 16.6 and 7.8 h by standard tables (from memory); the
    // simulator's formula leaves out refraction and the sun's radius, some 0.2 h.
    assert!((day_length_hours(172) - 16.5).abs() < 0.3, "{}", day_length_hours(172));
    assert!((day_length_hours(355) - 7.6).abs() < 0.3, "{}", day_length_hours(355));
}
