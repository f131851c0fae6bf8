//! What a change of places and taxa means for what is computed from them.

use chrono::{DateTime, Utc};

use super::document::fit::FitRequest;
use super::{AppError, jobs};
use crate::domain::{Gauge, Reach, Slug, Taxon, Watershed};
use crate::store::Tx;

/// What has to be made anew; what comes later takes in what comes before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Anew {
    /// Nothing: what changed is read from the place itself whenever it is told.
    Nothing,
    /// Forecasts and calendar entries, from the fits there are.
    Published,
    /// Fits, and then forecasts.
    Fitted,
}

impl Anew {
    /// After a change of a watershed.
    pub(super) fn after_watershed(was: &Watershed, is: &Watershed) -> Self {
        // Local days part readings, visits and catches.
        if was.time_zone == is.time_zone { Self::Nothing } else { Self::Fitted }
    }

    /// After a change of a reach, or its making.
    pub(super) fn after_reach(was: Option<&Reach>, is: &Reach) -> Self {
        // No fit knows a new one yet: until then it is told like any water without records.
        let Some(was) = was else { return Self::Fitted };
        let driven_by = |reach: &Reach| (reach.gauges.clone(), reach.latitude, reach.longitude, reach.elevation_m);
        match () {
            () if driven_by(was) != driven_by(is) => Self::Fitted,
            // Calendar entries name it.
            () if was.name != is.name => Self::Published,
            () => Self::Nothing,
        }
    }

    /// After a change of a gauge. A new one has no readings yet.
    pub(super) fn after_gauge(was: &Gauge, is: &Gauge) -> Self {
        // Where it stands decides whose air and whose usual day it lends.
        let stands = |gauge: &Gauge| (gauge.latitude, gauge.longitude);
        match () {
            () if stands(was) != stands(is) => Self::Fitted,
            // Forecasts say where the water is measured.
            () if was.name != is.name => Self::Published,
            () => Self::Nothing,
        }
    }

    /// After a change of a taxon, where it lives.
    pub(super) fn after_taxon(was: &Taxon, is: &Taxon) -> Self {
        let learned_from = |taxon: &Taxon| {
            let heat = (taxon.base_temp_c, taxon.base_temp_sd, taxon.provenance.thermal.clone());
            let season = (taxon.broods.clone(), taxon.window, taxon.window_reference);
            let hours = (taxon.peak_hour, taxon.peak_hour_sd, taxon.spinner_time.clone());
            (taxon.rank.clone(), taxon.order.clone(), heat, season, hours)
        };
        let called = |taxon: &Taxon| (taxon.scientific_name.clone(), taxon.names.clone());
        match () {
            () if learned_from(was) != learned_from(is) => Self::Fitted,
            () if called(was) != called(is) => Self::Published,
            () => Self::Nothing,
        }
    }

    /// Queues it for `taxon` (all taxa when `None`) of `watershed`, in the transaction that stores the change.
    ///
    /// # Errors
    /// [`AppError::Store`], for example for an unknown watershed.
    pub(super) async fn queue(
        self,
        tx: &mut Tx,
        watershed: &Slug,
        taxon: Option<&Slug>,
        now: DateTime<Utc>,
    ) -> Result<(), AppError> {
        match self {
            Self::Nothing => Ok(()),
            Self::Published => jobs::enqueue_publish(tx, watershed, now).await,
            Self::Fitted => {
                jobs::enqueue_fit(tx, watershed, &FitRequest { taxon: taxon.cloned() }, now).await.map(drop)
            }
        }
    }
}
