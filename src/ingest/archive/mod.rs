//! Darwin Core archives in: events, occurrences and facts of other people, or of ourselves, become rows of our own
//! form, each on the line of its occurrence, and go the way of every import.
//!
//! Read are archives whose core is events with occurrences beside them, or occurrences alone. What a row says counts
//! before what its event says. `occurrenceStatus` may be `present` or `detected`, `absent` or `notDetected`; an
//! absence without a count is the class none. A sighting without count or class is sparse on a visit, as in reports.
//! The amount, effort and stage must be in words that are understood, or be mapped (`--map`); nothing is guessed.
//!
//! | of a record | in an archive |
//! |---|---|
//! | reach | `locationID`, `watershed:reach`, else `locality` |
//! | taxon | `taxonID` or `scientificName` |
//! | kind | `samplingProtocol`: `visit`, `trap`, `first-sighting` |
//! | days | `eventDate`, first and last day covered; the day before an interval as a fact |
//! | hours | `eventTime`, local clock |
//! | count, class | `individualCount`, `organismQuantity` with its type; none: `occurrenceStatus` |
//! | effort | `sampleSizeValue` with its unit |
//! | stage | `lifeStage`, and our word as a fact |
//! | brood, weather, `known_at` | facts |
//! | the recorder's identifier | `recordNumber` |
//!
//! Not carried: where a record came from (its file), doubts of the import checks and what follows for its exposure
//! (both are judged again), seconds of an hour, a class that contradicts its count. Of members' reports only what
//! everyone may see travels: no hours, people, counts, water, sky, notes, behaviour, wing pads, sender or insects
//! without a name; several sightings of one taxon and stage become one with the heaviest class, and one without a
//! class comes back as sparse.

mod convert;
mod facts;
mod meta;
mod moments;
mod rows;
mod said;
pub mod terms;
mod unpack;

pub use convert::{Converted, Known, KnownReach, KnownTaxon, convert};
pub use meta::NAME as DESCRIPTION;
