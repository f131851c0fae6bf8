//! The skill document: how good forecasts would have been, with years left out.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};
use utoipa::ToSchema;

use crate::model::emergence::widen::COVER;
use crate::model::emergence::{Assessment, SkillRow};

/// The clock word of what is shown, beside the four clocks.
pub const SHIPPED: &str = "shipped";
/// Days ahead at which forecasts are judged in words.
pub const JUDGED_LEAD_DAYS: usize = 28;
/// Part of insects without any difference that chance alone makes look better, and that it makes look worse.
const BY_CHANCE: f64 = 0.1;

/// How forecasts compare with going by the date alone, in years left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Better.
    Better,
    /// Neither.
    NoDifference,
    /// Worse.
    Worse,
}

/// Scores of all taxa of a watershed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SkillDocument {
    /// Watershed slug.
    pub watershed: String,
    /// One row per taxon, brood, clock and lead; empty until they are computed.
    pub rows: Vec<SkillRowDocument>,
    /// Hours of emergence, one row per taxon and brood that could be scored.
    pub hours: Vec<HourSkillDocument>,
    /// Spinner flights, one row per taxon and brood that could be scored.
    pub flights: Vec<FlightSkillDocument>,
    /// How far intervals are widened, one row per taxon and brood whose latest fit tells it.
    pub ranges: Vec<RangeDocument>,
}

/// By how much the intervals of a taxon and brood are wider than the model draws them.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RangeDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// Factor on the distance of an interval's ends from its middle, at least 1, because years left out
    /// escaped it.
    pub widening: f64,
}

/// How often intervals held and how often they are meant to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct CoverDocument {
    /// Share of dates that an interval is meant to hold.
    pub nominal: f64,
    /// Share of observed 10 % dates that it held, over all days ahead.
    pub achieved: f64,
    /// Dates behind that share, once per day of issue.
    pub dates: usize,
}

/// How well the hours of left-out visits with at least moderate numbers were met.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct HourSkillDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// Visits scored.
    pub visits: usize,
    /// Years they lie in.
    pub years: usize,
    /// Mean distance of the visits' middle from the expected peak hour, hours.
    pub error_hours: f64,
    /// The same from the hour that traits alone tell, hours.
    pub error_by_traits_hours: f64,
}

/// How well classes of spinner flights in left-out years were met.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FlightSkillDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// Watches near the usual hours of a flight that were scored.
    pub watches: usize,
    /// Years they lie in.
    pub years: usize,
    /// Mean ranked probability score of the four classes, not divided by three.
    pub rps: f64,
    /// The same of the frequencies of the classes in other years.
    pub rps_of_frequencies: f64,
}

/// The scores of one taxon and brood as they are stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TaxonSkill {
    /// By clock and lead.
    pub rows: Vec<SkillRowDocument>,
    /// Hours.
    pub hours: Option<HourSkillDocument>,
    /// Flights.
    pub flights: Option<FlightSkillDocument>,
}

impl TaxonSkill {
    /// The scores of `taxon` and `brood`.
    #[must_use]
    pub fn new(taxon: &str, brood: u8, found: &Assessment) -> Self {
        Self {
            rows: found.rows.iter().map(|row| SkillRowDocument::new(taxon, brood, row)).collect(),
            hours: found.hours.map(|h| HourSkillDocument {
                taxon: taxon.to_owned(),
                brood,
                visits: h.visits,
                years: h.years,
                error_hours: h.error_hours,
                error_by_traits_hours: h.error_by_traits_hours,
            }),
            flights: found.flights.map(|f| FlightSkillDocument {
                taxon: taxon.to_owned(),
                brood,
                watches: f.watches,
                years: f.years,
                rps: f.rps,
                rps_of_frequencies: f.rps_of_frequencies,
            }),
        }
    }
}

impl TaxonSkill {
    /// How what is shown compares with going by the date alone, [`JUDGED_LEAD_DAYS`] ahead; `None` where too little could
    /// be scored.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        self.rows.iter().find(|row| row.is_judged()).and_then(SkillRowDocument::verdict)
    }

    /// How often the intervals of what is shown held; `None` where no date was scored.
    #[must_use]
    pub fn cover(&self) -> Option<CoverDocument> {
        let rows = || self.rows.iter().filter(|row| row.clock == SHIPPED);
        let dates: usize = rows().map(|row| row.dates).sum();
        let held: f64 = rows().filter_map(|row| Some(row.cover80? * row.dates as f64)).sum();
        (dates > 0).then(|| CoverDocument { nominal: COVER, achieved: held / dates as f64, dates })
    }
}

impl SkillRowDocument {
    /// True for the row that words about an insect go by.
    #[must_use]
    pub fn is_judged(&self) -> bool {
        self.clock == SHIPPED && self.lead_days == JUDGED_LEAD_DAYS && self.dates > 0
    }

    /// How it compares with going by the date alone: a difference is one that chance alone shows either way for one in ten.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        let (gain, error) = (self.skill_crps?, self.skill_se?);
        // The error is estimated from as few years as there are: of three, one standard error is passed by one in five.
        let years = StudentsT::new(0.0, 1.0, self.years.checked_sub(1)? as f64).ok()?;
        let clear = error * years.inverse_cdf(1.0 - BY_CHANCE);
        Some(match gain {
            gain if gain > clear => Verdict::Better,
            gain if gain < -clear => Verdict::Worse,
            _ => Verdict::NoDifference,
        })
    }
}

impl SkillDocument {
    /// Of a watershed that nothing was scored of yet.
    #[must_use]
    pub fn empty(watershed: &str) -> Self {
        Self {
            watershed: watershed.to_owned(),
            rows: Vec::new(),
            hours: Vec::new(),
            flights: Vec::new(),
            ranges: Vec::new(),
        }
    }

    /// Adds one taxon and brood.
    pub fn add(&mut self, one: TaxonSkill) {
        self.rows.extend(one.rows);
        self.hours.extend(one.hours);
        self.flights.extend(one.flights);
    }
}

/// Scores of one clock at one lead, years left out. Skill and errors speak of the 10 % date as
/// records show it; classes are scored record by record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SkillRowDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// One of the four clocks, or `shipped` for what is shown.
    pub clock: String,
    /// Days ahead, with temperatures known to the day of issue: 0, 3, 7, 14, 28 or 56, standing for
    /// the days up to the next.
    pub lead_days: usize,
    /// Years left out that had something to score.
    pub years: usize,
    /// Records scored, once per day of issue.
    pub records: usize,
    /// Observed dates scored, once per day of issue.
    pub dates: usize,
    /// Mean absolute error of the 10 % date, days.
    #[schema(required)]
    pub mae_days: Option<f64>,
    /// Mean continuous ranked probability score of the 10 % date, days.
    #[schema(required)]
    pub crps_days: Option<f64>,
    /// Mean ranked probability score of the four classes, not divided by three.
    #[schema(required)]
    pub rps: Option<f64>,
    /// The same within five weeks of the usual middle of the season.
    #[schema(required)]
    pub rps_in_season: Option<f64>,
    /// Mean Brier score of "at least sparse".
    #[schema(required)]
    pub brier: Option<f64>,
    /// Its reliability: 0 is best.
    #[schema(required)]
    pub reliability: Option<f64>,
    /// Its resolution: large is best.
    #[schema(required)]
    pub resolution: Option<f64>,
    /// Share of observed 10 % dates inside the 80 % interval.
    #[schema(required)]
    pub cover80: Option<f64>,
    /// Share of observed 10 % dates in each tenth of the forecast distribution.
    #[schema(required)]
    pub pit: Option<[f64; 10]>,
    /// 1 - CRPS/CRPS of the best calendar at the same lead: 0 no better, 1 perfect.
    #[schema(required)]
    pub skill_crps: Option<f64>,
    /// Its standard error over years.
    #[schema(required)]
    pub skill_se: Option<f64>,
}

impl SkillRowDocument {
    /// The row of `taxon` and `brood`.
    #[must_use]
    pub fn new(taxon: &str, brood: u8, row: &SkillRow) -> Self {
        Self {
            taxon: taxon.to_owned(),
            brood,
            clock: row.clock.map_or(SHIPPED, |clock| clock.as_str()).to_owned(),
            lead_days: row.lead_days,
            years: row.years,
            records: row.records,
            dates: row.dates,
            mae_days: row.mae_days,
            crps_days: row.crps_days,
            rps: row.rps,
            rps_in_season: row.rps_in_season,
            brier: row.brier,
            reliability: row.reliability,
            resolution: row.resolution,
            cover80: row.cover80,
            pit: row.pit,
            skill_crps: row.skill_crps,
            skill_se: row.skill_se,
        }
    }
}
