//! What comes on each reach in the next days, for the frame and the image alike.

use chrono::{Days, NaiveDate};

use crate::app::document::ForecastDocument;
use crate::domain::Slug;
use crate::http::pages::PageView;
use crate::http::pages::season::{Label, lines};
use crate::http::pages::table::percent;

/// Days shown, today first.
const DAYS: u64 = 3;
/// Chance of seeing any from which an insect is named.
const NAMED_FROM: f64 = 0.25;
/// Chances from which it is called likely and very likely.
const LIKELY_FROM: f64 = 0.5;
const VERY_LIKELY_FROM: f64 = 0.8;
/// Most insects of a day.
const MOST: usize = 3;

/// Said of a day without a likely insect.
pub(super) const NOTHING: &str = "nothing is likely";
/// Said of a water without forecasts.
pub(super) const NO_FORECAST: &str = "No forecast yet.";

/// One reach.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ReachAhead {
    /// Its name.
    pub(super) name: String,
    /// Its next days.
    pub(super) days: Vec<DayAhead>,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DayAhead {
    /// Local civil day.
    pub(super) date: NaiveDate,
    /// Likeliest first.
    pub(super) insects: Vec<Expected>,
}

/// One insect on one day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Expected {
    /// How it is called.
    pub(super) name: Label,
    /// Chance of seeing any.
    pub(super) chance: f64,
    /// Local hours, where they are known for this day.
    pub(super) hours: Option<(String, String)>,
}

impl Expected {
    /// The chance as a word, unless it is that of the insect `before`.
    pub(super) fn likelihood_after(&self, before: Option<&Self>) -> Option<&'static str> {
        let word = self.likelihood();
        before.is_none_or(|before| before.likelihood() != word).then_some(word)
    }

    fn likelihood(&self) -> &'static str {
        match self.chance {
            c if c >= VERY_LIKELY_FROM => "very likely",
            c if c >= LIKELY_FROM => "likely",
            _ => "perhaps",
        }
    }

    /// The chance as a number, and the hours.
    pub(super) fn figures(&self) -> String {
        let chance = percent(self.chance);
        match &self.hours {
            Some((from, to)) => format!("{chance} in 100, {from} to {to}"),
            None => format!("{chance} in 100"),
        }
    }
}

/// The reaches with forecasts, in the order of the water's page. An empty list of reaches or taxa
/// means all.
pub(super) fn ahead(page: &PageView, reaches: &[Slug], taxa: &[Slug]) -> Vec<ReachAhead> {
    let lines = lines(&page.view.taxa, &page.forecasts);
    let wanted = |list: &[Slug], slug: &Slug| list.is_empty() || list.contains(slug);
    let lines: Vec<_> = lines.iter().filter(|line| wanted(taxa, &line.taxon.slug)).collect();
    let dates: Vec<NaiveDate> = (0..DAYS).map(|ahead| page.today + Days::new(ahead)).collect();
    let mut all = Vec::new();
    for reach in page.view.reaches.iter().filter(|reach| wanted(reaches, &reach.slug)) {
        let here: Vec<(&Label, &ForecastDocument)> = lines
            .iter()
            .flat_map(|line| line.forecasts.iter().map(|forecast| (&line.label, &**forecast)))
            .filter(|(_, forecast)| reach.slug.as_str().eq_ignore_ascii_case(&forecast.reach))
            .collect();
        if here.is_empty() {
            continue;
        }
        let days = dates.iter().map(|date| DayAhead { date: *date, insects: expected(&here, *date) }).collect();
        all.push(ReachAhead { name: reach.name.clone(), days });
    }
    all
}

fn expected(here: &[(&Label, &ForecastDocument)], date: NaiveDate) -> Vec<Expected> {
    let mut insects: Vec<Expected> = here
        .iter()
        .filter_map(|(name, forecast)| {
            let chance = 1.0 - forecast.day(date)?.class_probabilities.none;
            let hours = forecast.hours.as_ref().filter(|hours| hours.date == date);
            let hours = hours.map(|hours| (hours.from.clone(), hours.to.clone()));
            (chance >= NAMED_FROM).then(|| Expected { name: (*name).clone(), chance, hours })
        })
        .collect();
    insects.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    insects.truncate(MOST);
    insects
}

/// `Today`, `Tomorrow`, `Friday 22 May`.
pub(super) fn day_name(date: NaiveDate, today: NaiveDate) -> String {
    match (date - today).num_days() {
        0 => "Today".to_owned(),
        1 => "Tomorrow".to_owned(),
        _ => date.format("%A %-d %B").to_string(),
    }
}

/// What the chances mean, as of when.
pub(super) fn question(page: &PageView) -> String {
    format!(
        "As of {}: the chance that one person, watching two hours at the likeliest time, sees any. A forecast is not a \
         safety statement.",
        page.today.format("%-d %B %Y")
    )
}
