//! From records to an emergence forecast: priors in days, one fit per clock, choice of clock,
//! predictive draws.

pub mod assess;
pub mod calibrate;
pub mod catch_grid;
pub mod classes;
pub mod dates;
pub mod doubts;
pub mod draws;
pub mod effects;
pub mod evening;
pub mod fit_clock;
pub mod fit_taxon;
pub mod fitted;
pub mod flight;
pub mod folds;
pub mod hindcast;
pub mod hour_scores;
pub mod kernel;
mod laplace_form;
pub mod neighbour;
pub mod news;
pub mod plan;
pub mod prior;
pub mod refresh;
pub mod review;
pub mod schedule;
pub mod season;
pub mod select;
pub mod shown;
pub mod simulate;
pub mod support;
pub mod tally;
pub mod widen;

pub use assess::{Assessment, LEADS, assess, assess_candidates};
pub use doubts::doubts;
pub use draws::{DrawnSeason, NewYear, Target};
pub use effects::EffectSds;
pub use fit_clock::{FittedClock, fit_clock};
pub use fit_taxon::{Candidates, FitInput, fit_taxon};
pub use fitted::{FittedForm, FittedTaxon, Member};
pub use neighbour::carried_over;
pub use news::News;
pub use prior::TaxonPrior;
pub use season::{SeasonForecast, SeasonRequest, forecast_season};
pub use tally::SkillRow;
