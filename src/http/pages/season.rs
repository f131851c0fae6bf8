//! What the pages say about a season: one line per taxon and brood, over one reach or several.

use std::cmp::Reverse;
use std::fmt;
use std::sync::Arc;

use chrono::{Days, NaiveDate};
use maud::{Markup, Render, html};

use super::PageView;
use super::called::called_brood;
use crate::app::document::ForecastDocument;
use crate::app::document::skill::Verdict;
use crate::domain::Taxon;
use crate::domain::called::Called;
use crate::domain::forecast::DateQuantiles;
use crate::say;
use crate::words::Language;

/// Chance of seeing any from which a taxon is not called over.
const STILL_ABOUT: f64 = 0.5;

/// Where a taxon stands in its season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Phase {
    /// Between its start and its end on at least one reach.
    Running,
    /// Not yet started.
    Coming,
    /// Ended everywhere.
    Over,
    /// No dates can be given.
    Unknown,
}

/// What a line is called on a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Label {
    /// By its insect.
    Insect(Called),
    /// By its reach, where all lines are of one insect.
    Place(String),
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Insect(called) => called.fmt(f),
            Self::Place(words) => f.write_str(words),
        }
    }
}

impl Render for Label {
    fn render(&self) -> Markup {
        match self {
            Self::Insect(called) => called.render(),
            Self::Place(words) => html! { (words) },
        }
    }
}

/// One taxon and brood with its forecasts, one per reach.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    /// What it is called.
    pub(crate) label: Label,
    /// The taxon.
    pub(crate) taxon: Arc<Taxon>,
    /// The brood.
    pub(crate) brood: u8,
    /// Forecasts, one per reach.
    pub(crate) forecasts: Vec<Arc<ForecastDocument>>,
    /// How its forecasts have done, where that could be scored.
    pub(crate) verdict: Option<Verdict>,
}

/// The lines of a season, ordered by start.
pub(crate) fn lines(page: &PageView) -> Vec<Line> {
    let (language, view) = (page.language, &page.view);
    let mut lines: Vec<Line> = Vec::new();
    for forecast in &page.forecasts {
        let known = |line: &&mut Line| {
            line.taxon.slug.as_str().eq_ignore_ascii_case(&forecast.taxon) && line.brood == forecast.brood
        };
        if let Some(line) = lines.iter_mut().find(known) {
            line.forecasts.push(Arc::clone(forecast));
        } else if let Some(taxon) =
            view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(&forecast.taxon))
        {
            lines.push(Line {
                label: Label::Insect(called_brood(language, taxon, forecast.brood)),
                taxon: Arc::clone(taxon),
                brood: forecast.brood,
                forecasts: vec![Arc::clone(forecast)],
                verdict: view.verdict(&taxon.slug, forecast.brood),
            });
        }
    }
    lines.sort_by_key(|line| {
        let start = line.onset().p50.or(line.onset().p10).unwrap_or(NaiveDate::MAX);
        (start, line.taxon.slug.key(), line.brood)
    });
    lines
}

/// One line per reach and brood of `taxon`, named by the reach, in the order of the watershed's reaches.
pub(crate) fn lines_by_reach(page: &PageView, taxon: &Arc<Taxon>) -> Vec<Line> {
    let (language, view) = (page.language, &page.view);
    let own = |forecast: &&Arc<ForecastDocument>| taxon.slug.as_str().eq_ignore_ascii_case(&forecast.taxon);
    let mut lines: Vec<Line> = Vec::new();
    for reach in &view.reaches {
        let here = page.forecasts.iter().filter(own).filter(|f| reach.slug.as_str().eq_ignore_ascii_case(&f.reach));
        lines.extend(here.map(|forecast| Line {
            label: Label::Place(match called_brood(language, taxon, forecast.brood).generation {
                None => reach.name.clone(),
                Some(generation) => format!("{}, {generation}", reach.name),
            }),
            taxon: Arc::clone(taxon),
            brood: forecast.brood,
            forecasts: vec![Arc::clone(forecast)],
            verdict: view.verdict(&taxon.slug, forecast.brood),
        }));
    }
    lines.sort_by_key(|line| line.brood);
    lines
}

impl Line {
    /// What it is called, in words.
    pub(crate) fn name(&self) -> String {
        self.label.to_string()
    }

    /// Start over the reaches: earliest 10 %, middle of the medians, latest 90 %.
    pub(crate) fn onset(&self) -> DateQuantiles {
        self.span(ForecastDocument::onset)
    }

    /// Fullest day over the reaches.
    pub(crate) fn peak(&self) -> DateQuantiles {
        self.span(|forecast| forecast.peak.into())
    }

    /// End over the reaches.
    pub(crate) fn end(&self) -> DateQuantiles {
        self.span(ForecastDocument::end)
    }

    fn span(&self, dates: impl Fn(&ForecastDocument) -> DateQuantiles) -> DateQuantiles {
        let all: Vec<DateQuantiles> = self.forecasts.iter().map(|forecast| dates(forecast)).collect();
        let mut middles: Vec<NaiveDate> = all.iter().filter_map(|q| q.p50).collect();
        middles.sort_unstable();
        DateQuantiles {
            p10: all.iter().filter_map(|q| q.p10).min(),
            p50: middles.get(middles.len().saturating_sub(1) / 2).copied(),
            // One reach without a latest date leaves the whole line without one.
            p90: all.iter().map(|q| q.p90).collect::<Option<Vec<_>>>().and_then(|dates| dates.into_iter().max()),
        }
    }

    /// Where the taxon stands on `today`.
    pub(crate) fn phase(&self, today: NaiveDate) -> Phase {
        let standing = self.forecasts.iter().map(|forecast| {
            let Some(day) = forecast.day(today) else { return Phase::Unknown };
            match day.cumulative {
                // Before the first twentieth many insects can already be too many to overlook.
                done if done < 0.05 && 1.0 - day.class_probabilities.none < STILL_ABOUT => Phase::Coming,
                done if done < 0.95 => Phase::Running,
                // The last twentieth of many insects is still more than can be overlooked.
                _ if 1.0 - day.class_probabilities.none >= STILL_ABOUT => Phase::Running,
                _ => Phase::Over,
            }
        });
        standing.min().unwrap_or(Phase::Unknown)
    }

    /// The reach where most is expected on `date`, with the chance of moderate or heavy there.
    pub(crate) fn best_reach(&self, date: NaiveDate) -> Option<(&ForecastDocument, f64)> {
        self.forecasts
            .iter()
            .filter_map(|forecast| {
                let day = forecast.day(date)?;
                Some((&**forecast, day.class_probabilities.moderate + day.class_probabilities.heavy))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Chance of seeing any at the best reach on `date`.
    pub(crate) fn chance_of_any(&self, date: NaiveDate) -> Option<f64> {
        self.forecasts
            .iter()
            .filter_map(|forecast| forecast.day(date))
            .map(|day| 1.0 - day.class_probabilities.none)
            .reduce(f64::max)
    }

    /// Mean expected class index (0 none to 3 heavy) over the reaches on each day of the season.
    pub(crate) fn intensity(&self) -> Vec<(NaiveDate, f64)> {
        let Some(first) = self.forecasts.first() else { return Vec::new() };
        let count = self.forecasts.len() as f64;
        first
            .days
            .iter()
            .enumerate()
            .map(|(index, day)| {
                let sum: f64 = self
                    .forecasts
                    .iter()
                    .filter_map(|forecast| forecast.days.get(index))
                    .map(|day| day.class_probabilities.mean_index())
                    .sum();
                (day.date, sum / count)
            })
            .collect()
    }

    /// The same in few words: how its forecasts have done stands for what left-out years say.
    pub(crate) fn how_sure(&self, language: Language) -> String {
        match (self.verdict, self.records(language)) {
            (Some(Verdict::Better), Some(records)) => say!(language, "sure-better", records = records),
            (Some(Verdict::NoDifference), Some(records)) => say!(language, "sure-no-difference", records = records),
            (Some(Verdict::Worse), Some(records)) => say!(language, "sure-worse", records = records),
            _ => self.grounds(language),
        }
    }

    /// What the line rests on, in words, and how its forecasts have done.
    pub(crate) fn footing(&self, language: Language) -> String {
        let grounds = self.grounds(language);
        match self.verdict {
            None => grounds,
            Some(Verdict::Better) => say!(language, "footing-ahead-better", footing = grounds),
            Some(Verdict::NoDifference) => say!(language, "footing-ahead-no-difference", footing = grounds),
            Some(Verdict::Worse) => say!(language, "footing-ahead-worse", footing = grounds),
        }
    }

    /// How many records and years; `None` where they are too few to tell anything.
    fn records(&self, language: Language) -> Option<String> {
        let fit = &self.forecasts.first().filter(|forecast| !forecast.fit.prior_driven)?.fit;
        Some(say!(language, "footing-records", records = fit.records, years = fit.years))
    }

    fn grounds(&self, language: Language) -> String {
        let Some(forecast) = self.forecasts.first() else { return String::new() };
        let Some(records) = self.records(language) else { return say!(language, "footing-prior") };
        if forecast.clock.beats_calendar {
            say!(language, "footing-better", records = records)
        } else {
            say!(language, "footing-not-better", records = records)
        }
    }
}

/// Lines that run on `today`, fullest first.
pub(crate) fn running(lines: &[Line], today: NaiveDate) -> Vec<&Line> {
    let mut running: Vec<&Line> = lines.iter().filter(|line| line.phase(today) == Phase::Running).collect();
    running.sort_by_key(|line| Reverse((line.best_reach(today).map_or(0.0, |(_, p)| p) * 1e6) as u64));
    running
}

/// `6–20 May, most likely about 12 May`, or what can be said.
pub(crate) fn when(language: Language, dates: DateQuantiles) -> String {
    let day = |date: NaiveDate| language.short_day(date);
    match (dates.p10, dates.p50, dates.p90) {
        (Some(low), Some(middle), Some(high)) => {
            say!(language, "when-range", range = language.day_range(low, high), middle = day(middle))
        }
        (Some(low), Some(middle), None) => say!(language, "when-open", from = day(low), middle = day(middle)),
        (Some(low), None, _) => say!(language, "when-if-at-all", from = day(low)),
        _ => say!(language, "when-not"),
    }
}

/// First and last day a picture of `lines` must show: whole months around starts and ends.
pub(crate) fn picture_range(lines: &[Line], today: NaiveDate) -> Option<(NaiveDate, NaiveDate)> {
    use chrono::Datelike;
    let days = lines.iter().filter_map(|line| line.forecasts.first()).flat_map(|forecast| forecast.days.iter());
    let (season_first, season_last) = (days.clone().map(|d| d.date).min()?, days.map(|d| d.date).max()?);
    let first = lines.iter().filter_map(|line| line.onset().p10).min().unwrap_or(season_first);
    let last = lines.iter().map(|line| line.end().p90.unwrap_or(season_last)).max().unwrap_or(season_last);
    let inside = (season_first..=season_last).contains(&today);
    let first = if inside { first.min(today) } else { first };
    let last = if inside { last.max(today) } else { last };
    let first = first.with_day(1)?.max(season_first);
    let last = (last.with_day(1)? + Days::new(31)).with_day(1)?.pred_opt()?.min(season_last);
    (first < last).then_some((first, last))
}
