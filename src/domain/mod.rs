//! Plain types with checked constructors. No wire format, no SQL, no I/O, no wall clock.
//!
//! Everything that crosses a layer boundary is one of these types. The words are those of the
//! glossary in `DEVELOPERS.md`.

pub mod air;
pub mod called;
pub mod civil;
pub mod condition;
pub mod error;
pub mod fit;
pub mod flight;
pub mod forecast;
pub mod grid;
pub mod guidance;
pub mod ids;
pub mod job;
pub mod join_code;
pub mod looks;
pub mod notice;
pub mod photo;
pub mod place;
pub mod quantity;
pub mod reading;
pub mod record;
pub mod report;
pub mod rights;
pub mod said;
pub mod season;
pub mod secret;
pub mod source;
pub mod taxon;
pub mod token;
pub mod units;
pub mod water_hours;
pub mod window_reference;

pub use condition::Condition;
pub use error::Invalid;
pub use fit::Fit;
pub use forecast::Forecast;
pub use guidance::Sign;
pub use ids::Slug;
pub use join_code::JoinCode;
pub use looks::{Colour, Looks, Seen, VernacularName, WingsHeld};
pub use notice::{Audience, Notice};
pub use place::{Gauge, Reach, WaterType, Watershed};
pub use quantity::Quantity;
pub use reading::{Quality, Reading, ReadingTime};
pub use record::{AbundanceClass, Record, RecordKind};
pub use report::{Report, ReportState, Sighting, Stage};
pub use rights::Rights;
pub use secret::Secret;
pub use taxon::{Brood, Taxon};
pub use units::Units;
pub use window_reference::WindowReference;
