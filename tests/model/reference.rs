//! The reference data set: three sites, five years, 151 records, and the priors of the published form.

use std::collections::HashMap;
use std::sync::Arc;

use serde_json::Value;
use subimago::model::clock::Drivers;
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::layout::{BETA, D50, DC, H0, H1, LOG_B, LOG_GAPS, LOG_SH, LOG_SIGMA, Layout, TAU1, TB};
use subimago::model::posterior::{Dataset, Hours, Observation, Outcome, Prior, Priors, Protocol, Unit, WHOLE_SEASON};

use crate::table::{number, path, rows};

pub(crate) struct Golden {
    pub(crate) data: Dataset,
    pub(crate) seasons: Vec<Arc<Drivers>>,
    pub(crate) expected: Value,
}

pub(crate) fn golden() -> Golden {
    let expected: Value =
        serde_json::from_str(&std::fs::read_to_string(path("model_golden/expected.json")).unwrap()).unwrap();
    let day_length_hours: Vec<f64> = rows("model_golden/day_length.csv").iter().map(|r| number(r, "hours")).collect();
    let mut drivers: HashMap<(usize, usize), Drivers> = HashMap::new();
    for row in rows("model_golden/temperature.csv") {
        let key = (number(&row, "site") as usize, number(&row, "year") as usize);
        let season = drivers.entry(key).or_default();
        season.tmin_c.push(number(&row, "tmin_c"));
        season.tmax_c.push(number(&row, "tmax_c"));
        assert_eq!(season.tmin_c.len(), number(&row, "doy") as usize);
    }
    let mut units: Vec<Unit> = Vec::new();
    let mut keys: Vec<(usize, usize)> = drivers.keys().copied().collect();
    keys.sort_unstable();
    for key in &keys {
        let mut season = drivers.remove(key).unwrap();
        season.day_length_hours.clone_from(&day_length_hours);
        units.push(Unit { site: key.0, year: key.1, drivers: Arc::new(season), observations: Vec::new() });
    }
    for row in rows("model_golden/records.csv") {
        let key = (number(&row, "site") as usize, number(&row, "year") as usize);
        let day = number(&row, "doy") as usize;
        let unit = units.iter_mut().find(|u| (u.site, u.year) == key).unwrap();
        unit.observations.push(Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(number(&row, "abundance_class") as usize),
            protocol: Protocol::Visit,
            log_effort: number(&row, "log_effort_term"),
            hours: Some(Hours {
                start: number(&row, "hour_start"),
                end: number(&row, "hour_end"),
                water_c: number(&row, "water_temp_mean_c"),
            }),
            x: [number(&row, "cloud"), number(&row, "flow_z"), 0.0],
            weight: 1.0,
        });
    }
    let seasons: Vec<Arc<Drivers>> = units.iter().map(|u| u.drivers.clone()).collect();
    let climate = Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref()));
    Golden {
        data: Dataset { sites: 3, years: 5, units, climate, midnight: Midnight::Ends, window: WHOLE_SEASON },
        seasons,
        expected,
    }
}

/// The priors of the reference form: normals as printed, everything of other data kinds held.
pub(crate) fn reference_priors(layout: Layout, effects: [f64; 3], tb: f64, d50: f64) -> Priors {
    let mut priors = vec![Prior::fixed(0.0); layout.len()];
    priors[TB] = Prior::normal(tb, 2.0);
    priors[DC] = Prior::normal(12.5, 1.0);
    priors[D50] = Prior::normal(d50, 20.0);
    priors[LOG_SIGMA] = Prior::normal(0.08_f64.ln(), 0.5);
    priors[LOG_B] = Prior::normal(0.0, 0.3);
    priors[TAU1] = Prior::normal(-2.5, 3.0);
    priors[LOG_GAPS] = Prior::normal(0.5, 0.7);
    priors[LOG_GAPS + 1] = Prior::normal(0.5, 0.7);
    priors[H0] = Prior::normal(14.0, 3.0);
    priors[H1] = Prior::normal(0.0, 0.3);
    priors[LOG_SH] = Prior::normal(1.5_f64.ln(), 0.5);
    priors[BETA] = Prior::normal(0.0, 1.0);
    priors[BETA + 1] = Prior::normal(0.0, 1.0);
    (0..layout.sites).for_each(|i| priors[layout.u(i)] = Prior::effect(effects[0]));
    (0..layout.years).for_each(|i| priors[layout.v(i)] = Prior::effect(effects[1]));
    (0..layout.sites).for_each(|i| priors[layout.a(i)] = Prior::effect(effects[2]));
    Priors(priors)
}
