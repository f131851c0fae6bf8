//! Records of a simulated world as the model takes them.

use std::sync::Arc;

use subimago::model::clock::Drivers;
use subimago::model::emergence::TaxonPrior;
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::{Dataset, Hours, Observation, Outcome, Protocol, Unit, WHOLE_SEASON};

use crate::world::World;

/// What is known beforehand of the simulated insect.
pub(crate) const TRAITS: TaxonPrior = TaxonPrior {
    base_temp_c: (4.0, 2.0),
    median_day: Some((136.0, 20.0)),
    width_days: None,
    species: true,
    one_of_several: false,
    hour: Some((14.0, 3.0)),
};

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Records {
    Classes,
    CountedVisits,
    Traps,
}

pub(crate) fn dataset(world: &World, records: Records) -> Dataset {
    let mut units = Vec::new();
    for (site, years) in world.climate.iter().enumerate() {
        for (year, season) in years.iter().enumerate() {
            let drivers = Drivers {
                idle_days: 0,
                tmin_c: season.tmin_c.clone(),
                tmax_c: season.tmax_c.clone(),
                day_length_hours: world.day_length_hours.clone(),
            };
            let observations = match records {
                Records::Traps => traps(world, site, year),
                _ => visits(world, site, year, records),
            };
            units.push(Unit { site, year, drivers: Arc::new(drivers), observations });
        }
    }
    let climate = Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref()));
    Dataset {
        sites: world.climate.len(),
        years: world.climate[0].len(),
        units,
        climate,
        midnight: Midnight::Ends,
        window: WHOLE_SEASON,
    }
}

fn visits(world: &World, site: usize, year: usize, records: Records) -> Vec<Observation> {
    let here = world.visits.iter().filter(|v| (v.site, v.year) == (site, year));
    here.map(|v| Observation {
        from_day: v.day - 1,
        to_day: v.day,
        outcome: if records == Records::Classes { Outcome::Class(v.class) } else { Outcome::Count(v.count) },
        protocol: Protocol::Visit,
        log_effort: v.log_effort_term,
        hours: Some(Hours { start: v.hour_start, end: v.hour_end, water_c: v.water_c }),
        x: [v.cloud, v.flow, 0.0],
        weight: 1.0,
    })
    .collect()
}

fn traps(world: &World, site: usize, year: usize) -> Vec<Observation> {
    let here = world.traps.iter().filter(|t| (t.site, t.year) == (site, year));
    here.map(|t| Observation {
        from_day: t.day_from,
        to_day: t.day_to,
        outcome: Outcome::Count(t.count),
        protocol: Protocol::Trap,
        log_effort: t.traps.ln(),
        hours: None,
        x: [0.0; 3],
        weight: 1.0,
    })
    .collect()
}
