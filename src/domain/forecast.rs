//! The forecast of one taxon and brood on one reach for one season.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use uuid::Uuid;

use super::Slug;
use super::air::EveningWeather;
use super::said::Said;
use super::water_hours::WaterHours;

/// The shares of the season's emergence whose dates are forecast.
pub const MILESTONE_SHARES: [f64; 5] = [0.05, 0.10, 0.50, 0.90, 0.95];

/// 10, 50 and 90 % quantiles of a date; `None` where the share is not reached before the season ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DateQuantiles {
    /// 10 %.
    pub p10: Option<NaiveDate>,
    /// 50 %.
    pub p50: Option<NaiveDate>,
    /// 90 %.
    pub p90: Option<NaiveDate>,
}

/// 10, 50 and 90 % quantiles of a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantiles {
    /// 10 %.
    pub p10: f64,
    /// 50 %.
    pub p50: f64,
    /// 90 %.
    pub p90: f64,
}

/// The date on which records would show `share` of the season's emergence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Milestone {
    /// One of [`MILESTONE_SHARES`].
    pub share: f64,
    /// Predictive quantiles.
    pub dates: DateQuantiles,
}

/// What the class probabilities of a forecast are based on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Abundance classes of visits.
    Visits,
    /// Catches: classes are tertiles of positive catch per trap and interval.
    Counts,
    /// No records: priors alone.
    Prior,
}

impl Basis {
    /// The word as sent.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Visits => "visits",
            Self::Counts => "counts",
            Self::Prior => "prior",
        }
    }
}

/// One day of a forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct ForecastDay {
    /// Local civil date.
    pub date: NaiveDate,
    /// Posterior mean share of the season's emergence on this day.
    pub share: f64,
    /// Posterior mean share completed by the end of this day.
    pub cumulative: f64,
    /// Probabilities of none, sparse, moderate, heavy; sum 1.
    pub class_probabilities: [f64; 4],
    /// What they rest on.
    pub basis: Basis,
    /// Water temperature of the day, degrees Celsius; `None` without any temperature.
    pub water_c: Option<Quantiles>,
    /// How that came about; `None` without any temperature.
    pub water_from: Option<WaterFrom>,
    /// Chance of at least a sparse spinner flight, as in [`Flight::chance`]; `None` where nothing is known of flights.
    pub flight_chance: Option<f64>,
}

/// How a day's water temperature came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WaterBasis {
    /// Measured on the reach.
    Measured,
    /// Estimated on a line across a short gap.
    Gap,
    /// Estimated from one other gauge.
    Gauge,
    /// Estimated from the other gauges together.
    Gauges,
    /// Estimated between the gauge above and the gauge below.
    Between,
    /// Estimated from the air that was measured.
    Air,
    /// Still unknown: what past years make likely.
    Ahead,
    /// Still unknown: what a forecast of the air makes likely.
    AheadWithAir,
}

impl WaterBasis {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 8] = [
        (Self::Measured, "measured"),
        (Self::Gap, "gap"),
        (Self::Gauge, "gauge"),
        (Self::Gauges, "gauges"),
        (Self::Between, "between"),
        (Self::Air, "air"),
        (Self::Ahead, "ahead"),
        (Self::AheadWithAir, "ahead-with-air"),
    ];

    /// The word as sent.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        super::place::word_for(&Self::WORDS, self)
    }
}

/// How a day's water temperature came about, and how far off it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterFrom {
    /// By which way.
    pub basis: WaterBasis,
    /// Standard error of the day's mean, degrees Celsius; 0 for a measured day.
    pub error_c: f64,
}

/// Hours of emergence on one date, local clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HourWindow {
    /// The date spoken of: today when the season runs, otherwise the expected peak day.
    pub date: NaiveDate,
    /// Start of the likely hours.
    pub from: NaiveTime,
    /// Likeliest hour.
    pub peak: NaiveTime,
    /// End of the likely hours.
    pub to: NaiveTime,
}

/// Spinner flight on one date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flight {
    /// Its hours; the date is today while flights may occur, otherwise that of the expected peak.
    pub hours: HourWindow,
    /// Chance of at least a sparse flight, for one person watching the two hours around its middle in usual
    /// weather.
    pub chance: f64,
}

/// Thermal progress of the season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Clock units so far (degree-days, or days for the calendar).
    pub units_so_far: f64,
    /// The same on this date in the mean climate.
    pub long_run_mean: f64,
    /// Days ahead (positive) or behind the mean climate.
    pub thermal_lead_days: f64,
}

/// A caution shown where the decision is made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// Stable short code.
    pub code: &'static str,
    /// What to mind.
    pub text: Said,
    /// Where it comes from, or "common practice, no source".
    pub source: &'static str,
}

/// The forecast of one taxon and brood on one reach for one season.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Watershed.
    pub watershed: Slug,
    /// Reach.
    pub reach: Slug,
    /// Taxon.
    pub taxon: Slug,
    /// Brood, from 1.
    pub brood: u8,
    /// Season.
    pub season: i32,
    /// Time zone of all its dates and hours.
    pub time_zone: Tz,
    /// When it was computed.
    pub issued_at: DateTime<Utc>,
    /// The last day whose data it used.
    pub data_as_of: NaiveDate,
    /// True when the newest reading is older than allowed.
    pub stale: bool,
    /// Weights of the four clocks.
    pub weights: [f64; 4],
    /// See [`super::Fit::beats_calendar`].
    pub beats_calendar: bool,
    /// The five milestones in the order of [`MILESTONE_SHARES`].
    pub milestones: [Milestone; 5],
    /// Day of largest expected share.
    pub peak: DateQuantiles,
    /// Progress on the clock that carries most weight.
    pub progress: Progress,
    /// Days of the season, or the part of it asked for.
    pub days: Vec<ForecastDay>,
    /// Hours of emergence; `None` without any hour knowledge.
    pub hours: Option<HourWindow>,
    /// Spinner flight; `None` where nothing is known of it.
    pub spinner: Option<Flight>,
    /// The fit behind it.
    pub fit_id: Uuid,
    /// Records the fit saw.
    pub fit_records: u32,
    /// Years the fit saw.
    pub fit_years: u32,
    /// True when the fit is the prior's.
    pub prior_driven: bool,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Where the water temperatures come from, in words; `None` without any.
    pub water_words: Option<Said>,
    /// The weather of this evening, where a service forecasts it.
    pub evening: Option<EveningWeather>,
    /// The water by the hour, today and the next days; `None` without any water, or outside the season.
    pub water_hours: Option<WaterHours>,
}

impl Forecast {
    /// The word for `clock.chosen`: the clock with all the weight, or `stack`.
    #[must_use]
    pub fn chosen_clock(&self) -> &'static str {
        super::fit::ClockKind::WORDS
            .iter()
            .find(|(clock, _)| self.weights[clock.index()] > 1.0 - 1e-9)
            .map_or("stack", |(_, word)| word)
    }
}
