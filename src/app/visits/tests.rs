use chrono_tz::Europe::London;
use uuid::Uuid;

use super::*;
use crate::app::observations::{Placed, place};
use crate::domain::units::Units;
use crate::domain::{Sighting, Stage, Watershed};
use crate::model::posterior::{Hours, Outcome};

fn slug(text: &str) -> Slug {
    Slug::new(text).expect("a short name")
}

fn at(text: &str) -> DateTime<Utc> {
    format!("2026-{text}:00Z").parse().expect("an instant")
}

/// Somebody alone at the weir from `from` to `to` (UTC), who saw duns of class `class`.
fn report(from: &str, to: &str, class: AbundanceClass) -> Report {
    let seen = Sighting {
        taxon: Some(slug("march-brown")),
        described: None,
        stage: Stage::Dun,
        abundance_class: Some(class),
        count: None,
        wing_pads: None,
        behaviour: None,
    };
    Report {
        id: Uuid::new_v4(),
        watershed: slug("ostrey"),
        reach: slug("weir"),
        started_at: at(from),
        ended_at: at(to),
        people: 1,
        looked_for: None,
        water_c: None,
        sky: None,
        note: None,
        sightings: if class == AbundanceClass::None { Vec::new() } else { vec![seen] },
        state: ReportState::Accepted,
        received_at: at(to),
        token_id: Uuid::from_u128(1),
        version: 1,
    }
}

/// What the model is given of `reports`, in order of time.
fn given(reports: &[Report]) -> Vec<Placed> {
    let watershed =
        Watershed { slug: slug("ostrey"), name: "Ostrey".to_owned(), time_zone: London, units: Units::Celsius };
    // On the meridian, where mean solar time is UTC.
    let reach = Reach {
        slug: slug("weir"),
        name: "Weir".to_owned(),
        latitude: 52.0,
        longitude: 0.0,
        elevation_m: None,
        water_type: None,
        gauges: Vec::new(),
    };
    let taxon = Taxon::bare(slug("march-brown"), "Rhithrogena germanica", "species");
    let mut placed = place(&watershed, &[reach], &taxon, 1, &[], reports);
    placed.sort_by(|a, b| {
        let key = |p: &Placed| (p.observation.to_day as f64, p.observation.hours.map_or(0.0, |h| h.start));
        key(a).partial_cmp(&key(b)).expect("numbers")
    });
    placed
}

fn hours(one: &Placed) -> (f64, f64) {
    let Hours { start, end, .. } = one.observation.hours.expect("hours");
    (start, end)
}

fn people(one: &Placed) -> f64 {
    (2.0 * one.observation.log_effort).exp()
}

#[test]
fn two_reports_of_one_evening_last_until_the_later_one_ends() {
    use AbundanceClass::{Heavy, Sparse};
    let placed = given(&[report("05-19T20:00", "05-19T23:30", Sparse), report("05-19T22:00", "05-20T00:30", Heavy)]);
    assert_eq!(placed.len(), 1);
    assert_eq!(hours(&placed[0]), (20.0, 24.5));
    assert_eq!(placed[0].observation.outcome, Outcome::Class(3));
    assert!((people(&placed[0]) - 6.0 / 4.5).abs() < 1e-12, "six hours of watching in four and a half");
    assert_eq!(placed[0].observation.weight, 1.0);
    // 19 May is the 139th day of the year; the night belongs to its evening.
    assert_eq!(placed[0].observation.to_day, 139);
}

#[test]
fn three_reports_of_one_evening_are_one_visit_in_any_order() {
    let three: Vec<Report> = ["13", "14", "15"]
        .map(|hour| report(&format!("05-19T{hour}:00"), &format!("05-19T{hour}:50"), AbundanceClass::Heavy))
        .to_vec();
    let placed = given(&three);
    assert_eq!(placed.len(), 1);
    assert!((people(&placed[0]) - 2.5 / (17.0 / 6.0)).abs() < 1e-12, "never more than one of them was there");
    let backwards: Vec<Report> = three.iter().rev().cloned().collect();
    assert_eq!(given(&backwards)[0].observation.log_effort, placed[0].observation.log_effort);
    // Who stands side by side is more company.
    let beside = [three[0].clone(), three[0].clone(), three[0].clone()];
    assert!((people(&given(&beside)[0]) - 3.0).abs() < 1e-12);
}

#[test]
fn a_blank_morning_leaves_a_heavy_evening_its_hour_and_the_day_is_not_two() {
    use AbundanceClass::{Heavy, None};
    let evening = report("05-19T19:00", "05-19T21:00", Heavy);
    let placed = given(&[evening.clone(), report("05-19T08:00", "05-19T10:00", None)]);
    assert_eq!(placed.iter().map(hours).collect::<Vec<_>>(), [(8.0, 10.0), (19.0, 21.0)]);
    assert_eq!(
        placed.iter().map(|p| p.observation.outcome).collect::<Vec<_>>(),
        [Outcome::Class(0), Outcome::Class(3)]
    );
    let worth: f64 = placed.iter().map(|p| p.observation.weight).sum();
    assert!(worth > 1.0 && worth < 1.5, "{worth}");
    // Another day, and another reach, is another matter.
    let far = given(&[evening.clone(), report("05-20T08:00", "05-20T10:00", None)]);
    assert!(far.iter().all(|p| p.observation.weight == 1.0));
    // Across midnight: what came at 23 h says nothing of 18 h.
    let late = given(&[report("05-19T18:00", "05-19T19:00", None), report("05-19T23:00", "05-20T00:30", Heavy)]);
    assert_eq!(late.iter().map(hours).collect::<Vec<_>>(), [(18.0, 19.0), (23.0, 24.5)]);
}

#[test]
fn a_visit_of_more_than_a_day_tells_of_the_whole_day_that_it_mostly_lay_in() {
    use AbundanceClass::Moderate;
    let placed = given(&[report("05-19T20:00", "05-20T22:00", Moderate)]);
    assert_eq!(placed.len(), 1);
    assert_eq!((placed[0].observation.hours, placed[0].observation.to_day), (None, 140));
    let almost = given(&[report("05-19T20:00", "05-20T19:00", Moderate)]);
    assert_eq!((hours(&almost[0]), almost[0].observation.to_day), ((20.0, 43.0), 139));
}

#[test]
fn hours_do_not_change_with_the_clocks() {
    // London puts clocks forward at 01:00 UTC on 29 March 2026.
    let placed = given(&[report("03-29T00:30", "03-29T02:30", AbundanceClass::Sparse)]);
    assert_eq!(hours(&placed[0]), (0.5, 2.5));
}
