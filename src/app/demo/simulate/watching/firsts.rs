//! First sightings from the keeper's walks in the earliest two seasons.

use chrono::Datelike;
use rand::RngExt;

use super::super::club::STRETCHES;
use super::super::taxa::LIVES;
use super::super::{PAST_SEASONS, chance, date_of, days_in};
use super::{Scene, count};
use crate::domain::{Invalid, Record, RecordKind};

/// What the keeper waited for.
const AWAITED: [&str; 3] = ["ephemera-danica", "brachycentrus", "limnephilidae-late-summer-and-autumn"];
/// Share of the day's insects that a walk along the bank meets.
const MET: f64 = 0.02;

/// The first sightings of the season at the lowest two reaches.
pub(super) fn records(scene: &Scene<'_>) -> Result<Vec<Record>, Invalid> {
    if scene.season >= scene.today.year() - PAST_SEASONS + 2 {
        return Ok(Vec::new());
    }
    let mut rng = chance(scene.seed, "first sightings", scene.season);
    let mut records = Vec::new();
    for life in LIVES.iter().filter(|life| AWAITED.contains(&life.taxon)) {
        let expected = life.waves.first().map_or(180.0, |w| w.half_day - 3.0 * w.spread_days);
        for (index, stretch) in STRETCHES.iter().enumerate().skip(3) {
            let mut walked = None;
            let mut day = (expected as usize).saturating_sub(rng.random_range(10..20)).max(1);
            while day <= days_in(scene.season) {
                let insects = scene.insects_on(life, stretch, life.common[index], day);
                if count(&mut rng, MET * insects) > 0 {
                    let mut record =
                        scene.blank(stretch, life, RecordKind::FirstSighting, date_of(scene.season, day)?)?;
                    record.date_from = walked.map(|d| date_of(scene.season, d)).transpose()?;
                    record.stage = Some(life.stage);
                    record.external_id = Some(format!("demo-first-{}-{}-{}", scene.season, stretch.slug, life.taxon));
                    records.push(record);
                    break;
                }
                walked = Some(day);
                day += rng.random_range(2..6);
            }
        }
    }
    Ok(records)
}
