//! The twelve taxa of the invented river and the truth about each brood.
//!
//! The taxa are real; the days, widths and abundances are invented within their usual season and
//! habits (common practice, no source), and differ from the priors of the trait table.

use crate::domain::{Invalid, Slug, Stage};

/// What drives a brood in truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Drive {
    /// Warmth above a threshold, degrees Celsius.
    Warmth(f64),
    /// Warmth above a threshold, counted only while the day is longer than so many hours.
    WarmthWhenLight(f64, f64),
    /// Days: day length sets the date, the weather does not.
    Days,
}

/// One brood's truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wave {
    /// The brood, from 1.
    pub brood: u8,
    /// Half of it is out by this day in an average year at the weir.
    pub half_day: f64,
    /// Spread of the main wave, days.
    pub spread_days: f64,
    /// What drives it.
    pub drive: Drive,
    /// Insects past one watcher in a season at an ordinary reach, thousands.
    pub thousands: f64,
}

/// One taxon's truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Life {
    /// Slug in the trait table.
    pub taxon: &'static str,
    /// What members see of it at emergence.
    pub stage: Stage,
    /// Clock hour of most emergence in ordinary water, and its spread.
    pub hour: (f64, f64),
    /// Hours earlier for each degree above 12 C.
    pub earlier_when_warm: f64,
    /// How common it is on the five reaches of [`super::club::STRETCHES`], 1 is ordinary.
    pub common: [f64; 5],
    /// Its broods.
    pub waves: &'static [Wave],
    /// How many times the bridge's light trap catches what a watcher sees; 0: not at all.
    pub trap: f64,
}

const fn wave(brood: u8, half_day: f64, spread_days: f64, drive: Drive, thousands: f64) -> Wave {
    Wave { brood, half_day, spread_days, drive, thousands }
}

/// The twelve, mayflies first, then caddis, then stoneflies.
pub const LIVES: [Life; 12] = [
    Life {
        taxon: "baetis-rhodani",
        stage: Stage::Dun,
        hour: (14.0, 1.6),
        earlier_when_warm: 0.1,
        common: [1.2, 1.4, 1.0, 0.4, 0.7],
        waves: &[
            wave(1, 110.0, 12.0, Drive::Warmth(0.0), 3.0),
            wave(2, 191.0, 14.0, Drive::Warmth(3.0), 2.0),
            wave(3, 268.0, 14.0, Drive::Days, 1.5),
        ],
        trap: 0.0,
    },
    Life {
        taxon: "rhithrogena-semicolorata",
        stage: Stage::Dun,
        hour: (14.5, 2.0),
        earlier_when_warm: 0.1,
        common: [1.6, 0.8, 1.0, 0.1, 0.4],
        waves: &[wave(1, 138.0, 9.0, Drive::Warmth(3.5), 3.0)],
        trap: 0.0,
    },
    Life {
        taxon: "ephemera-danica",
        stage: Stage::Dun,
        hour: (16.0, 2.4),
        earlier_when_warm: 0.0,
        common: [0.3, 0.5, 0.9, 1.2, 1.8],
        waves: &[wave(1, 148.0, 7.0, Drive::Warmth(2.5), 4.0)],
        trap: 0.0,
    },
    Life {
        taxon: "serratella-ignita",
        stage: Stage::Dun,
        hour: (19.0, 1.8),
        earlier_when_warm: -0.1,
        common: [0.9, 1.5, 1.2, 0.6, 1.0],
        waves: &[wave(1, 196.0, 17.0, Drive::WarmthWhenLight(4.0, 13.5), 5.0)],
        trap: 0.0,
    },
    Life {
        taxon: "heptagenia-sulphurea",
        stage: Stage::Dun,
        hour: (20.0, 1.3),
        earlier_when_warm: -0.1,
        common: [0.5, 0.4, 1.2, 0.8, 1.3],
        waves: &[wave(1, 176.0, 15.0, Drive::Warmth(4.5), 2.0)],
        trap: 0.0,
    },
    Life {
        taxon: "caenis",
        stage: Stage::Dun,
        hour: (21.0, 1.1),
        earlier_when_warm: -0.1,
        common: [0.2, 0.3, 0.8, 1.8, 1.6],
        waves: &[wave(1, 170.0, 11.0, Drive::Warmth(4.5), 6.0), wave(2, 231.0, 12.0, Drive::Warmth(4.5), 4.0)],
        trap: 0.6,
    },
    Life {
        taxon: "brachycentrus",
        stage: Stage::Adult,
        hour: (15.0, 1.8),
        earlier_when_warm: 0.1,
        common: [0.9, 1.3, 1.2, 0.3, 0.8],
        waves: &[wave(1, 122.0, 6.0, Drive::WarmthWhenLight(3.0, 12.0), 4.0)],
        trap: 0.3,
    },
    Life {
        taxon: "hydropsyche-cheumatopsyche",
        stage: Stage::Adult,
        hour: (20.5, 1.4),
        earlier_when_warm: -0.1,
        common: [1.1, 0.6, 1.2, 0.7, 0.9],
        waves: &[wave(1, 158.0, 13.0, Drive::Warmth(4.0), 3.0), wave(2, 236.0, 15.0, Drive::Warmth(4.0), 2.5)],
        trap: 1.0,
    },
    Life {
        taxon: "sericostoma-personatum",
        stage: Stage::Adult,
        hour: (17.0, 2.5),
        earlier_when_warm: 0.0,
        common: [0.8, 1.1, 0.9, 0.9, 0.9],
        waves: &[wave(1, 178.0, 12.0, Drive::Days, 1.5)],
        trap: 0.5,
    },
    Life {
        taxon: "limnephilidae-late-summer-and-autumn",
        stage: Stage::Adult,
        hour: (20.0, 1.6),
        earlier_when_warm: 0.0,
        common: [0.7, 0.9, 0.9, 1.2, 1.1],
        waves: &[wave(1, 262.0, 12.0, Drive::Days, 2.0)],
        trap: 0.8,
    },
    Life {
        taxon: "isoperla-perlodidae-small-yellow",
        stage: Stage::Adult,
        hour: (18.0, 2.2),
        earlier_when_warm: 0.0,
        common: [1.7, 1.0, 0.9, 0.2, 0.3],
        waves: &[wave(1, 160.0, 11.0, Drive::Warmth(3.0), 1.5)],
        trap: 0.0,
    },
    Life {
        taxon: "leuctra",
        stage: Stage::Adult,
        hour: (13.5, 2.5),
        earlier_when_warm: 0.0,
        common: [1.5, 1.3, 0.9, 0.4, 0.5],
        waves: &[wave(1, 118.0, 13.0, Drive::Warmth(2.0), 1.5), wave(2, 247.0, 16.0, Drive::Days, 2.5)],
        trap: 0.0,
    },
];

/// The slugs of the twelve.
pub(super) fn slugs() -> Result<Vec<Slug>, Invalid> {
    LIVES.iter().map(|life| Slug::new(life.taxon)).collect()
}
