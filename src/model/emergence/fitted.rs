//! A fitted taxon: its clocks with their weights, and what forecasting needs to know of its records.

use serde::{Deserialize, Serialize};

use crate::domain::fit::ClockKind;
use crate::domain::season::Cycle;
use crate::model::clock::Drivers;
use crate::model::posterior::{Layout, Observation, Prior, Priors};

use super::classes::CountClasses;
use super::effects::EffectSds;
use super::fit_clock::FittedClock;
use super::flight::FlightFit;
use super::kernel::ClassKernel;
use super::laplace_form::LaplaceForm;
use super::schedule::Schedule;

/// How a calendar looks at the year to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CalendarForm {
    /// The mean of all years.
    Fixed,
    /// The mean of the ten years before.
    Rolling,
    /// A straight line through the years.
    Trend,
}

/// One clock of a fitted taxon.
#[derive(Debug, Clone)]
pub struct Member {
    /// The fit.
    pub fit: FittedClock,
    /// Days added to each milestone so that training dates are met on average.
    pub calibration_days: [f64; 5],
    /// How new years are expected (calendar clock; fixed for the others).
    pub form: CalendarForm,
}

/// A fitted taxon and brood: what [`super::season`] forecasts from.
#[derive(Debug, Clone)]
#[expect(clippy::struct_excessive_bools, reason = "four independent facts about the records")]
pub struct FittedTaxon {
    /// Clocks that could be fitted; at least one.
    pub members: Vec<Member>,
    /// Weights of the four clocks for reaches with records, sum 1.
    pub weights: [f64; 4],
    /// Weights for reaches without records: a bare date is not carried there if heat can be.
    pub weights_elsewhere: [f64; 4],
    /// Factor on the intervals of milestones, at least 1, from years left out.
    pub widening: f64,
    /// Left-out log score better than the best calendar's by more than one standard error.
    pub beats_calendar: bool,
    /// How the year of the taxon and brood was cut.
    pub cycle: Cycle,
    /// Mean climate of the fit.
    pub climate: Drivers,
    /// Usual visits.
    pub schedules: Vec<Schedule>,
    /// Class limits when only counts exist.
    pub count_classes: Option<CountClasses>,
    /// Classes of catches around the same day in other years, where classes rest on counts.
    pub kernel: Option<ClassKernel>,
    /// True when classes are those of visits; otherwise catches tell them, where there are any.
    pub has_classes: bool,
    /// True when traits or records tell an hour of the day.
    pub hours_known: bool,
    /// Spinner flights, where traits tell their time.
    pub flight: Option<FlightFit>,
    /// Names of the sites by index.
    pub sites: Vec<String>,
    /// Site-years of the fit: (site, year index).
    pub units: Vec<(usize, usize)>,
    /// Seasons by year index.
    pub years: Vec<i32>,
    /// Season of the newest records, and those records by site: what the fit has seen of it.
    pub latest: (i32, Vec<(usize, Observation)>),
    /// Records used.
    pub records: usize,
    /// Years with records used.
    pub years_used: usize,
    /// Too few records to leave the prior.
    pub prior_driven: bool,
    /// Doubts, in words.
    pub warnings: Vec<String>,
}

impl FittedTaxon {
    /// The member on `clock`.
    #[must_use]
    pub fn member(&self, clock: ClockKind) -> Option<&Member> {
        self.members.iter().find(|m| m.fit.clock == clock)
    }

    /// Index of the site of that name; beyond all others, by its `place`, for one that the fit does not know.
    #[must_use]
    pub fn site(&self, name: &str, place: usize) -> usize {
        self.sites.iter().position(|site| site == name).unwrap_or(self.sites.len() + place)
    }
}

/// Version of [`FittedForm`].
const FORM: u32 = 10;

/// A fitted taxon as text.
#[derive(Debug, Serialize, Deserialize)]
#[expect(clippy::struct_excessive_bools, reason = "four independent facts about the records")]
pub struct FittedForm {
    form: u32,
    members: Vec<MemberForm>,
    weights: [f64; 4],
    weights_elsewhere: [f64; 4],
    widening: f64,
    beats_calendar: bool,
    cycle: String,
    climate: [Vec<f64>; 3],
    idle_days: usize,
    schedules: Vec<Schedule>,
    count_classes: Option<CountClasses>,
    kernel: Option<ClassKernel>,
    has_classes: bool,
    hours_known: bool,
    flight: Option<FlightForm>,
    sites: Vec<String>,
    units: Vec<(usize, usize)>,
    years: Vec<i32>,
    latest: (i32, Vec<(usize, Observation)>),
    records: usize,
    years_used: usize,
    prior_driven: bool,
    warnings: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
struct FlightForm {
    lag_days: usize,
    laplace: LaplaceForm,
    records: usize,
}

#[derive(Debug, Serialize, Deserialize)]
struct MemberForm {
    clock: usize,
    two_parts: bool,
    layout: [usize; 3],
    effects: EffectSds,
    laplace: LaplaceForm,
    mean: Vec<f64>,
    calibration_days: [f64; 5],
    form: CalendarForm,
}

impl From<&FittedTaxon> for FittedForm {
    fn from(t: &FittedTaxon) -> Self {
        Self {
            form: FORM,
            members: t.members.iter().map(MemberForm::from).collect(),
            weights: t.weights,
            weights_elsewhere: t.weights_elsewhere,
            widening: t.widening,
            beats_calendar: t.beats_calendar,
            cycle: t.cycle.as_str().to_owned(),
            idle_days: t.climate.idle_days,
            climate: [t.climate.tmin_c.clone(), t.climate.tmax_c.clone(), t.climate.day_length_hours.clone()],
            schedules: t.schedules.clone(),
            count_classes: t.count_classes,
            kernel: t.kernel.clone(),
            has_classes: t.has_classes,
            hours_known: t.hours_known,
            flight: t.flight.as_ref().map(|flight| FlightForm {
                lag_days: flight.lag_days,
                laplace: LaplaceForm::from(&flight.laplace),
                records: flight.records,
            }),
            sites: t.sites.clone(),
            units: t.units.clone(),
            years: t.years.clone(),
            latest: t.latest.clone(),
            records: t.records,
            years_used: t.years_used,
            prior_driven: t.prior_driven,
            warnings: t.warnings.clone(),
        }
    }
}

impl From<&Member> for MemberForm {
    fn from(m: &Member) -> Self {
        let layout = m.fit.layout;
        Self {
            clock: m.fit.clock.index(),
            two_parts: m.fit.two_parts,
            layout: [layout.sites, layout.years, layout.units],
            effects: m.fit.effects,
            laplace: LaplaceForm::from(&m.fit.laplace),
            mean: m.fit.mean.clone(),
            calibration_days: m.calibration_days,
            form: m.form,
        }
    }
}

/// What alone of a stored fit tells whether it can be used.
#[derive(Deserialize)]
struct Version {
    form: u32,
    #[serde(default)]
    cycle: String,
}

impl FittedForm {
    /// Whether the stored text is of this version and of a brood whose year is cut as `cycle` says.
    #[must_use]
    pub fn is_current(text: &str, cycle: Cycle) -> bool {
        serde_json::from_str(text).is_ok_and(|version: Version| version.form == FORM && version.cycle == cycle.as_str())
    }

    /// The fitted taxon again; `None` when the text is of another version or does not hold together.
    #[must_use]
    pub fn into_fitted(self) -> Option<FittedTaxon> {
        if self.form != FORM {
            return None;
        }
        let [tmin_c, tmax_c, day_length_hours] = self.climate;
        Some(FittedTaxon {
            members: self.members.into_iter().map(MemberForm::into_member).collect::<Option<_>>()?,
            weights: self.weights,
            weights_elsewhere: self.weights_elsewhere,
            widening: self.widening,
            beats_calendar: self.beats_calendar,
            cycle: Cycle::parse(&self.cycle).ok()?,
            climate: Drivers { tmin_c, tmax_c, day_length_hours, idle_days: self.idle_days },
            schedules: self.schedules,
            count_classes: self.count_classes,
            kernel: self.kernel,
            has_classes: self.has_classes,
            hours_known: self.hours_known,
            flight: match self.flight {
                Some(flight) => Some(flight.into_flight()?),
                None => None,
            },
            sites: self.sites,
            units: self.units,
            years: self.years,
            latest: self.latest,
            records: self.records,
            years_used: self.years_used,
            prior_driven: self.prior_driven,
            warnings: self.warnings,
        })
    }
}

impl FlightForm {
    fn into_flight(self) -> Option<FlightFit> {
        Some(FlightFit { lag_days: self.lag_days, laplace: self.laplace.into_laplace()?, records: self.records })
    }
}

impl MemberForm {
    fn into_member(self) -> Option<Member> {
        let laplace = self.laplace.into_laplace()?;
        if self.mean.len() != laplace.mode.len() {
            return None;
        }
        let [sites, years, units] = self.layout;
        let (clock, _) = *ClockKind::WORDS.get(self.clock)?;
        // The priors served the fit; a stored fit keeps only which parameters were free.
        let priors = Priors(
            (0..laplace.mode.len())
                .map(|i| Prior { free: laplace.free.contains(&i), ..Prior::fixed(laplace.mode[i]) })
                .collect(),
        );
        Some(Member {
            fit: FittedClock {
                clock,
                two_parts: self.two_parts,
                layout: Layout { sites, years, units },
                effects: self.effects,
                priors,
                laplace,
                mean: self.mean,
            },
            calibration_days: self.calibration_days,
            form: self.form,
        })
    }
}
