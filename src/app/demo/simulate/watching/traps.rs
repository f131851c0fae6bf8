//! One light trap at the bridge, emptied about once a week.

use chrono::Datelike;
use rand::RngExt;

use super::super::club::{STRETCHES, TRAP_REACH};
use super::super::taxa::LIVES;
use super::super::{PAST_SEASONS, chance, date_of};
use super::{Scene, count};
use crate::domain::{Invalid, Record, RecordKind};

/// Days of the year on which the trap is set and taken in.
const OUT: (usize, usize) = (95, 300);
/// Insects trapped for each that a watcher at the bridge could see in the season.
const CATCH: f64 = 0.08;

/// The catches of the season. The trap came to the bridge two seasons after the first notebooks.
pub(super) fn records(scene: &Scene<'_>) -> Result<Vec<Record>, Invalid> {
    if scene.season < scene.today.year() - PAST_SEASONS + 2 {
        return Ok(Vec::new());
    }
    let Some((index, stretch)) = STRETCHES.iter().enumerate().find(|(_, s)| s.slug == TRAP_REACH) else {
        return Ok(Vec::new());
    };
    let mut rng = chance(scene.seed, "trap", scene.season);
    let mut records = Vec::new();
    let mut emptied = OUT.0;
    while emptied < OUT.1 {
        let next = (emptied + [6, 7, 7, 7, 8, 14][rng.random_range(0..6)]).min(OUT.1);
        let (from, to) = (date_of(scene.season, emptied)?, date_of(scene.season, next)?);
        for life in LIVES.iter().filter(|life| life.trap > 0.0) {
            let insects: f64 =
                (emptied + 1..=next).map(|day| scene.insects_on(life, stretch, life.common[index], day)).sum();
            let mut record = scene.blank(stretch, life, RecordKind::Trap, to)?;
            record.date_from = Some(from);
            record.count = Some(count(&mut rng, CATCH * life.trap * insects));
            record.external_id = Some(format!("demo-trap-{}-{next}-{}", scene.season, life.taxon));
            records.push(record);
        }
        emptied = next;
    }
    Ok(records)
}
