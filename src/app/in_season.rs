//! What this season's reports and records say to a forecast beyond the stored fit, and publishing
//! it at once when a report comes in.

use std::sync::Arc;

use super::Service;
use super::fit::{Known, season_records};
use super::observations::brood_of;
use super::publish_season::{PublishError, publish_season};
use crate::domain::report::WingPads;
use crate::domain::season::Season;
use crate::domain::{Report, Slug, Stage, Taxon};
use crate::model::clock::Drivers;
use crate::model::emergence::{FittedTaxon, News};
use crate::model::posterior::{Hours, Observation, Outcome, Protocol};

/// Dark wing pads on a nymph: emergence within a day, often the same day (common practice, no
/// source). Odds of at least sparse are multiplied so on the day and on the next.
const DARK_PADS: [f64; 2] = [2.5, 1.5];
/// The peak hour of a recent good day moves today's by this part of its distance from the expected
/// one (common practice: yesterday's hour is the best single guide; the part has no source).
const HOUR_KEPT: f64 = 0.65;
/// Such a day lies at most so many days back; its visit was at most so long, hours.
const HOUR_DAYS: usize = 3;
const HOUR_LONGEST: f64 = 4.0;

/// What is known of the running season of one taxon and brood; nothing by default.
#[derive(Debug, Clone, Default)]
pub struct InSeason {
    /// What the fit has not seen, of all reaches.
    pub news: Vec<News>,
    sites: Vec<SiteSeason>,
}

/// What is known at one reach.
#[derive(Debug, Clone, Default)]
pub struct SiteSeason {
    /// Visits by day.
    pub visits: Vec<Observation>,
    /// Day numbers whose odds are raised, with the factor.
    pub raised: Vec<(usize, f64)>,
}

impl InSeason {
    /// Of `season`, `drivers` being its water by reach.
    #[must_use]
    pub fn new(
        known: &Known,
        taxon: &Taxon,
        brood: u8,
        season: Season,
        drivers: &[Arc<Drivers>],
        fitted: &FittedTaxon,
    ) -> Self {
        let records = season_records(known, taxon, brood, season.year, drivers);
        // Reaches may have come, gone or changed places since the fit: here they have its numbers.
        let reaches = known.reaches.iter().enumerate();
        let numbers: Vec<usize> = reaches.map(|(place, reach)| fitted.site(&reach.slug.key(), place)).collect();
        let all_seen: &[(usize, Observation)] = if fitted.latest.0 == season.year { &fitted.latest.1 } else { &[] };
        let seen: Vec<(usize, &Observation)> = all_seen
            .iter()
            .filter_map(|(site, o)| Some((numbers.iter().position(|number| number == site)?, o)))
            .collect();
        let one = |place: usize, observation: &Observation, gone: bool| News {
            site: numbers[place],
            observation: observation.clone(),
            drivers: Arc::clone(&drivers[place]),
            gone,
        };
        let stand: Vec<(usize, &Observation)> = records.iter().map(|(place, o)| (*place, o)).collect();
        let fresh = stand.iter().filter(|r| !seen.contains(r)).map(|(place, o)| one(*place, o, false));
        let gone = seen.iter().filter(|s| !stand.contains(s)).map(|(place, o)| one(*place, o, true));
        let news = fresh.chain(gone).collect();
        let sites = known
            .reaches
            .iter()
            .enumerate()
            .map(|(site, reach)| SiteSeason {
                visits: records
                    .iter()
                    .filter(|(at, o)| *at == site && o.protocol == Protocol::Visit)
                    .map(|(_, o)| o.clone())
                    .collect(),
                raised: raised(known, taxon, brood, &reach.slug, season),
            })
            .collect();
        Self { news, sites }
    }

    /// The same for a fit that has seen everything.
    #[must_use]
    pub fn without_news(self) -> Self {
        Self { news: Vec::new(), ..self }
    }

    /// What is known at the reach of index `site`.
    #[must_use]
    pub fn at(&self, site: usize) -> Option<&SiteSeason> {
        self.sites.get(site)
    }
}

impl SiteSeason {
    /// Hours by which today's peak is moved, from the last visit that met heavy numbers before day number
    /// `today`; `expected` gives the peak hour of a day with such water, mean solar time.
    #[must_use]
    pub fn hour_shift(&self, today: usize, expected: impl Fn(f64) -> f64) -> f64 {
        // Only heavy numbers place the peak: fewer are seen at any hour when many fly.
        let useful = |o: &&Observation| {
            let recent = o.to_day < today && o.to_day + HOUR_DAYS >= today;
            let heavy = matches!(o.outcome, Outcome::Class(3));
            recent && heavy && o.hours.is_some_and(|h| h.end - h.start <= HOUR_LONGEST)
        };
        let best = self.visits.iter().filter(useful).max_by_key(|o| o.to_day);
        best.and_then(|o| o.hours).map_or(0.0, |Hours { start, end, water_c }| {
            let off = 0.5 * (start + end) - expected(water_c);
            // The shorter way round the clock.
            HOUR_KEPT * (off - 24.0 * (off / 24.0).round())
        })
    }
}

/// Days raised by nymphs with dark wing pads.
fn raised(known: &Known, taxon: &Taxon, brood: u8, reach: &Slug, season: Season) -> Vec<(usize, f64)> {
    let mut days: Vec<usize> = known
        .reports
        .iter()
        .filter(|report| report.reach == *reach && shows_dark_pads(report, taxon))
        .map(|report| report.started_at.with_timezone(&known.watershed.time_zone).date_naive())
        .filter(|date| season.cycle.containing(*date) == season && brood_of(taxon, *date) == brood)
        .filter_map(|date| usize::try_from(season.day_number(date)).ok())
        .collect();
    // Several reports of one day say it once.
    days.sort_unstable();
    days.dedup();
    days.into_iter().flat_map(|day| [(day, DARK_PADS[0]), (day + 1, DARK_PADS[1])]).collect()
}

fn shows_dark_pads(report: &Report, taxon: &Taxon) -> bool {
    let dark = |s: &crate::domain::Sighting| {
        s.taxon.as_ref() == Some(&taxon.slug) && s.stage == Stage::Nymph && s.wing_pads == Some(WingPads::Dark)
    };
    report.sightings.iter().any(dark)
}

/// The taxa that a report speaks of; `None` for all of the watershed.
#[must_use]
pub fn spoken_of(report: &Report) -> Option<Vec<Slug>> {
    let mut taxa = report.looked_for.clone()?;
    taxa.extend(report.sightings.iter().filter_map(|s| s.taxon.clone()));
    taxa.sort_by_key(Slug::key);
    taxa.dedup();
    Some(taxa)
}

/// Publishes `taxa` (all when `None`) of a watershed from the fits there are and serves the result.
///
/// # Errors
/// [`PublishError`]; what was published before stays.
pub async fn publish_now(service: &Service, watershed: &Slug, taxa: Option<&[Slug]>) -> Result<(), PublishError> {
    let today = service.today(service.watershed(watershed)?.watershed.time_zone);
    publish_season(service.db(), service.clock(), watershed, taxa.unwrap_or_default(), today).await?;
    Ok(service.refresh().await?)
}

/// [`publish_now`] behind the caller's back, together with what else is asked for while it works; a failure is
/// logged, and the fit that is queued anyway will publish again.
pub fn publish_soon(service: &Service, watershed: &Slug, taxa: Option<Vec<Slug>>) {
    let Some(mut turn) = service.turns().begin(watershed, taxa) else { return };
    let (service, watershed) = (service.clone(), watershed.clone());
    tokio::spawn(async move {
        while let Some(taxa) = turn.next() {
            if let Err(error) = publish_now(&service, &watershed, taxa.as_deref()).await {
                let error = &error as &dyn std::error::Error;
                tracing::warn!(error, %watershed, "a report has not moved the forecast yet");
            }
        }
    });
}
