//! Pages of a gauge's readings: what stands on one is read, not the years around it.

use chrono::{DateTime, Days, NaiveDate, Utc};

use super::reading::{Step, list};
use super::{AppError, Service};
use crate::domain::{Quantity, Reading, Slug, Watershed};
use crate::store::Span;
use crate::store::reading::instant_readings_at;

pub use crate::store::reading::End;

/// Days that are read at once to make some from readings at instants, least and most.
const AT_ONCE: (usize, usize) = (32, 128);

/// Readings at instants `from` through `to` of `quantity` at a gauge: the `most` that lie nearest to `end`, in order
/// of time.
///
/// # Errors
/// [`AppError::Store`].
pub async fn instants(
    service: &Service,
    watershed: &Watershed,
    gauge: &Slug,
    quantity: Quantity,
    (from, to): (DateTime<Utc>, DateTime<Utc>),
    (most, end): (usize, End),
) -> Result<Vec<Reading>, AppError> {
    let mut tx = service.db().read().await?;
    let span = Span { from: Some(from), to: Some(to) };
    Ok(instant_readings_at(&mut tx, &watershed.slug, gauge, quantity, span, (most, end)).await?)
}

/// Days `from` through `to` of `quantity` at a gauge: the `most` that lie nearest to `end`, in order of time.
///
/// # Errors
/// [`AppError::Store`].
pub async fn days(
    service: &Service,
    watershed: &Watershed,
    gauge: &Slug,
    quantity: Quantity,
    (mut from, mut to): (NaiveDate, NaiveDate),
    (most, end): (usize, End),
) -> Result<Vec<Reading>, AppError> {
    let further = Days::new(most.clamp(AT_ONCE.0, AT_ONCE.1) as u64 - 1);
    let mut found: Vec<Reading> = Vec::new();
    while from <= to && found.len() < most {
        let span = match end {
            End::First => (from, to.min(from + further)),
            End::Last => (from.max(to - further), to),
        };
        let some = list(service, watershed, gauge, quantity, span, Step::Day).await?;
        match end {
            End::First => {
                found.extend(some);
                from = span.1 + Days::new(1);
            }
            End::Last => {
                found.splice(0..0, some);
                to = span.0 - Days::new(1);
            }
        }
    }
    let more = found.len().saturating_sub(most);
    match end {
        End::First => found.truncate(most),
        End::Last => drop(found.drain(..more)),
    }
    Ok(found)
}
