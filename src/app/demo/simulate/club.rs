//! The invented club's river: five reaches and three gauges.

use chrono_tz::Tz;

use crate::domain::{Gauge, Invalid, Reach, Rights, Slug, Units, WaterType, Watershed};

/// Slug of the demo's watershed.
pub const WATERSHED: &str = "river-ostrey";
/// Latitude of the valley, degrees north.
pub const LATITUDE: f64 = 52.3;
/// The reach with the trap.
pub const TRAP_REACH: &str = "ostrey-long-bridge";

/// How the water of one gauge runs through the year.
#[derive(Debug, Clone, Copy)]
pub struct Water {
    /// The gauge.
    pub gauge: &'static str,
    /// Display name.
    pub name: &'static str,
    /// Mean over the year, degrees Celsius.
    pub mean_c: f64,
    /// Half the way from winter to summer, degrees Celsius.
    pub swing_c: f64,
    /// Warmest day of the year.
    pub warmest_day: f64,
    /// Share of the air's anomaly that the water follows.
    pub follows: f64,
    /// How much of yesterday's followed anomaly stays, 0 to 1.
    pub memory: f64,
    /// Daily range in summer, degrees Celsius; half of it in winter.
    pub range_c: f64,
}

/// The three gauges: the river, its cold spring-fed beck, its small warm brook.
pub const WATERS: [Water; 3] = [
    Water {
        gauge: "ostrey-weir",
        name: "Ostrey at the weir (invented)",
        mean_c: 10.3,
        swing_c: 5.8,
        warmest_day: 207.0,
        follows: 0.55,
        memory: 0.75,
        range_c: 2.8,
    },
    Water {
        gauge: "linnet-spring",
        name: "Linnet Beck below the springs (invented)",
        mean_c: 9.7,
        swing_c: 3.6,
        warmest_day: 216.0,
        follows: 0.18,
        memory: 0.9,
        range_c: 1.3,
    },
    Water {
        gauge: "fallow-ford",
        name: "Fallow Brook at the ford (invented)",
        mean_c: 11.2,
        swing_c: 7.2,
        warmest_day: 202.0,
        follows: 0.8,
        memory: 0.5,
        range_c: 4.6,
    },
];

/// A reach of the invented river.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    /// Slug.
    pub slug: &'static str,
    /// Display name.
    pub name: &'static str,
    /// Degrees north and east.
    pub place: (f64, f64),
    /// Metres above the sea.
    pub elevation_m: f64,
    /// Kind of water.
    pub water_type: WaterType,
    /// Its gauge.
    pub gauge: &'static str,
    /// How much warmer the reach is than its gauge, degrees Celsius. The service is not told.
    pub warmer_c: f64,
    /// How often members choose it, relative.
    pub visits: f64,
}

/// The five reaches, upstream first.
pub const STRETCHES: [Stretch; 5] = [
    Stretch {
        slug: "ostrey-high-meadow",
        name: "Ostrey, High Meadow (invented)",
        place: (52.36, -3.18),
        elevation_m: 214.0,
        water_type: WaterType::Riffle,
        gauge: "ostrey-weir",
        warmer_c: -0.7,
        visits: 0.9,
    },
    Stretch {
        slug: "linnet-beck",
        name: "Linnet Beck (invented)",
        place: (52.33, -3.12),
        elevation_m: 176.0,
        water_type: WaterType::Run,
        gauge: "linnet-spring",
        warmer_c: 0.0,
        visits: 0.8,
    },
    Stretch {
        slug: TRAP_REACH,
        name: "Ostrey, Long Bridge (invented)",
        place: (52.30, -3.08),
        elevation_m: 148.0,
        water_type: WaterType::Run,
        gauge: "ostrey-weir",
        warmer_c: 0.0,
        visits: 1.4,
    },
    Stretch {
        slug: "fallow-brook",
        name: "Fallow Brook (invented)",
        place: (52.28, -3.02),
        elevation_m: 131.0,
        water_type: WaterType::SlowMargin,
        gauge: "fallow-ford",
        warmer_c: 0.0,
        visits: 0.8,
    },
    Stretch {
        slug: "ostrey-alder-fold",
        name: "Ostrey, Alder Fold (invented)",
        place: (52.26, -2.99),
        elevation_m: 112.0,
        water_type: WaterType::Pool,
        gauge: "ostrey-weir",
        warmer_c: 0.6,
        visits: 1.1,
    },
];

/// The watershed, its reaches and its gauges as domain values.
pub(super) fn describe() -> Result<(Watershed, Vec<Reach>, Vec<Gauge>), Invalid> {
    let watershed = Watershed {
        slug: Slug::new(WATERSHED)?,
        name: "River Ostrey of the Alder Fold Fly Fishers (invented)".to_owned(),
        time_zone: Tz::Europe__London,
        units: Units::Celsius,
    };
    let reaches = STRETCHES
        .iter()
        .map(|s| {
            Ok(Reach {
                slug: Slug::new(s.slug)?,
                name: s.name.to_owned(),
                latitude: s.place.0,
                longitude: s.place.1,
                elevation_m: Some(s.elevation_m),
                water_type: Some(s.water_type),
                gauges: vec![Slug::new(s.gauge)?],
            })
        })
        .collect::<Result<_, Invalid>>()?;
    let gauges = WATERS
        .iter()
        .map(|w| {
            Ok(Gauge {
                slug: Slug::new(w.gauge)?,
                name: w.name.to_owned(),
                latitude: None,
                longitude: None,
                source: Some(super::SOURCE.to_owned()),
                rights: Rights::default(),
            })
        })
        .collect::<Result<_, Invalid>>()?;
    Ok((watershed, reaches, gauges))
}
