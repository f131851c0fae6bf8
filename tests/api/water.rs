//! An invented water: the River Ostrey with two reaches, one gauge, three taxa and their forecasts.

use chrono::NaiveTime;
use subimago::app::publish;
use subimago::domain::forecast::{
    Basis, Caution, DateQuantiles, ForecastDay, HourWindow, MILESTONE_SHARES, Milestone, Progress, Quantiles,
    WaterBasis, WaterFrom,
};
use subimago::domain::season::Season;
use subimago::domain::{Brood, Fit, Forecast, Gauge, Reach, Taxon, WaterType, Watershed};
use subimago::store::{Db, fit, place, taxon};
use uuid::Uuid;

use crate::support::{date, now, slug};

/// The taxa: slug, name, median day, spread of the season and of its start, strength.
pub(crate) const TAXA: [(&str, &str, f64, f64, f64); 3] = [
    ("baetis-rhodani", "Baetis rhodani", 112.0, 9.0, 0.5),
    ("ephemera-danica", "Ephemera danica", 142.0, 7.0, 0.9),
    ("serratella-ignita", "Serratella ignita", 185.0, 14.0, 0.7),
];

pub(crate) fn watershed() -> Watershed {
    Watershed {
        slug: slug("ostrey"),
        name: "River Ostrey".to_owned(),
        time_zone: chrono_tz::Europe::London,
        units: subimago::domain::Units::Celsius,
    }
}

pub(crate) fn other_watershed() -> Watershed {
    Watershed {
        slug: slug("elsewhere"),
        name: "River Elsewhere".to_owned(),
        time_zone: chrono_tz::Europe::London,
        units: subimago::domain::Units::Celsius,
    }
}

pub(crate) fn reaches() -> [Reach; 2] {
    let reach = |text: &str, name: &str, water_type| Reach {
        slug: slug(text),
        name: name.to_owned(),
        latitude: 51.5,
        longitude: -1.5,
        elevation_m: Some(90.0),
        water_type: Some(water_type),
        gauges: vec![slug("bridge")],
    };
    [reach("mill-meadow", "Mill Meadow", WaterType::Riffle), reach("alder-fold", "Alder Fold", WaterType::SlowMargin)]
}

/// Stores the water with published forecasts of 2026.
pub(crate) async fn fill(db: &Db) {
    let mut tx = db.write().await.expect("writes");
    let w = watershed();
    place::upsert_watershed(&mut tx, &w).await.expect("stores");
    let gauge = Gauge {
        slug: slug("bridge"),
        name: "Ostrey Bridge".to_owned(),
        latitude: None,
        longitude: None,
        source: Some("invented".to_owned()),
        rights: subimago::domain::Rights::default(),
    };
    place::upsert_gauge(&mut tx, &w.slug, &gauge).await.expect("stores");
    for reach in reaches() {
        place::upsert_reach(&mut tx, &w.slug, &reach).await.expect("stores");
    }
    for (text, name, median, _, _) in TAXA {
        let mut known = Taxon::bare(slug(text), name, "species");
        known.broods =
            vec![Brood { number: 1, median_day_of_year: median, sd_days: 12.0, provenance: "invented".to_owned() }];
        taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
        taxon::set_resident(&mut tx, &w.slug, &known.slug, true).await.expect("stores");
        let fit_id = store_fit(&mut tx, text).await;
        let forecasts: Vec<Forecast> = reaches().iter().map(|reach| forecast(reach, text, fit_id, 0)).collect();
        publish::publish(&mut tx, &w.slug, &known, &forecasts, now()).await.expect("publishes");
    }
    tx.commit().await.expect("commits");
}

pub(crate) async fn store_fit(tx: &mut subimago::store::Tx, taxon: &str) -> Uuid {
    store_fit_of(tx, taxon, 1, Vec::new()).await
}

/// A fit of one generation with its doubts.
pub(crate) async fn store_fit_of(tx: &mut subimago::store::Tx, taxon: &str, brood: u8, warnings: Vec<String>) -> Uuid {
    let made = Fit {
        id: Uuid::now_v7(),
        watershed: slug("ostrey"),
        taxon: slug(taxon),
        brood,
        created_at: now(),
        through: None,
        records: 120,
        years: 6,
        prior_driven: taxon == "serratella-ignita",
        weights: [0.25, 0.5, 0.25, 0.0],
        beats_calendar: taxon == "ephemera-danica",
        widening: Some(if taxon == "ephemera-danica" { 1.34 } else { 1.0 }),
        warnings,
        model_json: "{}".to_owned(),
    };
    fit::insert_fit(tx, &made).await.expect("stores");
    made.id
}

/// An invented forecast: a bell around the taxon's median, `shift` days later than usual.
pub(crate) fn forecast(reach: &Reach, taxon: &str, fit_id: Uuid, shift: i64) -> Forecast {
    let (_, _, median, spread, strength) = TAXA.into_iter().find(|row| row.0 == taxon).expect("a known taxon");
    let late = if reach.slug == slug("alder-fold") { 4.0 } else { 0.0 };
    let median = median + late + shift as f64;
    let season = Season::of_year(2026);
    let bell = |day: f64| (-0.5 * ((day - median) / spread).powi(2)).exp();
    let total: f64 = (1..=season.len()).map(|day| bell(day as f64)).sum();
    let mut cumulative = 0.0;
    let days = (1..=season.len())
        .map(|number| {
            let share = bell(number as f64) / total;
            cumulative += share;
            let plenty = bell(number as f64) * strength;
            ForecastDay {
                date: season.date(number),
                share,
                cumulative,
                class_probabilities: [1.0 - plenty, 0.4 * plenty, 0.4 * plenty, plenty - 0.4 * plenty - 0.4 * plenty],
                basis: Basis::Visits,
                water_c: Some(Quantiles { p10: 10.5, p50: 12.25, p90: 14.0 }),
                water_from: Some(WaterFrom { basis: WaterBasis::Ahead, error_c: 1.4 }),
                flight_chance: None,
            }
        })
        .collect();
    let at = |sds: f64, half_width: f64| {
        let day = |offset: f64| Some(season.date((median + sds * spread + offset).round() as usize));
        DateQuantiles { p10: day(-half_width), p50: day(0.0), p90: day(half_width) }
    };
    // Normal quantiles of the five shares.
    let places = [-1.645, -1.282, 0.0, 1.282, 1.645];
    let hour = |h| NaiveTime::from_hms_opt(h, 30, 0).expect("valid time");
    Forecast {
        watershed: slug("ostrey"),
        reach: reach.slug.clone(),
        taxon: slug(taxon),
        brood: 1,
        season: 2026,
        time_zone: chrono_tz::Europe::London,
        issued_at: now(),
        data_as_of: date(2026, 5, 19),
        stale: false,
        weights: [0.25, 0.5, 0.25, 0.0],
        beats_calendar: taxon == "ephemera-danica",
        milestones: std::array::from_fn(|i| Milestone { share: MILESTONE_SHARES[i], dates: at(places[i], 5.0) }),
        peak: at(0.0, 4.0),
        progress: Progress { units_so_far: 812.5, long_run_mean: 800.0, thermal_lead_days: 1.5 },
        days,
        hours: Some(HourWindow { date: date(2026, 5, 20), from: hour(15), peak: hour(17), to: hour(19) }),
        spinner: None,
        water_words: Some("Measured at gauge bridge.".into()),
        evening: None,
        water_hours: None,
        fit_id,
        fit_records: 120,
        fit_years: 6,
        prior_driven: taxon == "serratella-ignita",
        cautions: vec![Caution {
            code: "wading",
            text: "Wade with care.".into(),
            source: "common practice, no source",
        }],
    }
}
