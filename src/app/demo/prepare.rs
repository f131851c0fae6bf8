//! Putting the invented club into a database, once, and finding it again.

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::simulate::{PAST_SEASONS, club, simulate};
use crate::clock::Clock;
use crate::domain::{Invalid, Slug};
use crate::ingest::seed_taxa::{SeedError, seed_taxa};
use crate::store::{Db, StoreError, Tx, meta, place, reading, record, taxon};

/// The key under which a database says that it holds a demo.
const META_KEY: &str = "demo";
/// Seed of the demo unless another is asked for.
pub const DEFAULT_SEED: u64 = 1;
/// Month and day that the demo takes for today unless another is asked for: on the River Ostrey some
/// insects are over by then, some are out, and most are still to come.
const DEFAULT_DAY: (u32, u32) = (5, 20);

/// What is asked of the demo; what is `None` is the stored demo's or the default.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wish {
    /// The civil date to take for today.
    pub today: Option<NaiveDate>,
    /// Seed of everything invented.
    pub seed: Option<u64>,
}

/// A demo ready in a database.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demo {
    /// Its watershed.
    pub watershed: Slug,
    /// The civil date that it takes for today.
    pub today: NaiveDate,
    /// Seed of everything invented.
    pub seed: u64,
    /// True when it was there before.
    pub continued: bool,
}

/// Why there is no demo.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The database holds something else.
    #[error("the database holds other data, and a demo is never mixed with them")]
    NotADemo,
    /// The stored demo cannot become the one asked for.
    #[error("the demo found there has seed {seed} and today {today}; it can only go on to a later day of {year}")]
    OtherDemo {
        /// Its seed.
        seed: u64,
        /// Its today.
        today: NaiveDate,
        /// Its running season.
        year: i32,
    },
    /// The date leaves no room for the seasons before it.
    #[error("the demo's today must lie between 1910 and 2190, not {0}")]
    Date(NaiveDate),
    /// The note about the demo cannot be read or written.
    #[error("the database's note about its demo is damaged")]
    Note(#[from] serde_json::Error),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// The trait table is damaged.
    #[error("the trait table cannot be read")]
    Traits(#[from] SeedError),
    /// The simulator made an impossible value.
    #[error("the simulator made an impossible value")]
    Simulated(#[from] Invalid),
    /// The simulation was cut off.
    #[error("the simulation was cut off")]
    CutOff,
}

/// What the database keeps about its demo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
struct Note {
    today: NaiveDate,
    seed: u64,
}

/// The last 20 May on or before `now`: a day with the season in progress, on any real date.
#[must_use]
pub fn default_today(now: NaiveDate) -> NaiveDate {
    let of_year = |year| NaiveDate::from_ymd_opt(year, DEFAULT_DAY.0, DEFAULT_DAY.1).unwrap_or(now);
    let this_year = of_year(now.year());
    if this_year <= now { this_year } else { of_year(now.year() - 1) }
}

/// Makes sure that `db` holds the demo that is wished for: an empty database is filled, a demo found
/// there is continued (up to a later day of the same season if one is wished), anything else is
/// refused. All or nothing.
///
/// # Errors
/// [`DemoError`].
pub async fn prepare(db: &Db, clock: &dyn Clock, wish: Wish) -> Result<Demo, DemoError> {
    let mut tx = db.write().await?;
    let stored: Option<Note> =
        meta::get_meta(&mut tx, META_KEY).await?.map(|text| serde_json::from_str(&text)).transpose()?;
    if stored.is_none() && !place::watersheds(&mut tx).await?.is_empty() {
        return Err(DemoError::NotADemo);
    }
    let wanted = match stored {
        None => Note {
            today: wish.today.unwrap_or_else(|| default_today(clock.now().date_naive())),
            seed: wish.seed.unwrap_or(DEFAULT_SEED),
        },
        Some(found) => {
            let wanted = Note { today: wish.today.unwrap_or(found.today), seed: wish.seed.unwrap_or(found.seed) };
            let goes_on = wanted.today >= found.today && wanted.today.year() == found.today.year();
            if wanted.seed != found.seed || !goes_on {
                return Err(DemoError::OtherDemo { seed: found.seed, today: found.today, year: found.today.year() });
            }
            wanted
        }
    };
    if !(1910..=2190).contains(&wanted.today.year()) {
        return Err(DemoError::Date(wanted.today));
    }
    if stored != Some(wanted) {
        fill(&mut tx, clock, wanted).await?;
        tx.commit().await?;
    }
    Ok(Demo {
        watershed: Slug::new(club::WATERSHED)?,
        today: wanted.today,
        seed: wanted.seed,
        continued: stored.is_some(),
    })
}

async fn fill(tx: &mut Tx, clock: &dyn Clock, wanted: Note) -> Result<(), DemoError> {
    let made = tokio::task::spawn_blocking(move || simulate(wanted.seed, wanted.today))
        .await
        .map_err(|_| DemoError::CutOff)??;
    let watershed = &made.watershed.slug;
    place::upsert_watershed(tx, &made.watershed).await?;
    for gauge in &made.gauges {
        place::upsert_gauge(tx, watershed, gauge).await?;
    }
    for reach in &made.reaches {
        place::upsert_reach(tx, watershed, reach).await?;
    }
    for known in seed_taxa()?.iter().filter(|t| made.taxa.contains(&t.slug)) {
        taxon::upsert_taxon(tx, known).await?;
    }
    for slug in &made.taxa {
        taxon::set_resident(tx, watershed, slug, true).await?;
    }
    reading::put_readings(tx, watershed, &made.readings, clock.now()).await?;
    record::put_records(tx, watershed, &made.records, clock.now()).await?;
    meta::set_meta(tx, META_KEY, &serde_json::to_string(&wanted)?).await?;
    tracing::info!(
        readings = made.readings.len(),
        records = made.records.len(),
        seasons = PAST_SEASONS + 1,
        "the invented river is in the database"
    );
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn some_season_is_in_progress_on_any_real_date() {
        for (now, today) in [("2026-11-25", "2026-05-20"), ("2027-01-01", "2026-05-20"), ("2027-05-20", "2027-05-20")] {
            let day = |text: &str| text.parse::<NaiveDate>().expect("a date");
            assert_eq!(default_today(day(now)), day(today));
        }
    }
}
