//! What comes on each reach in the next days, for the frame and the image alike.

use chrono::{Days, NaiveDate};

use crate::app::document::ForecastDocument;
use crate::domain::Slug;
use crate::http::pages::PageView;
use crate::http::pages::season::{Label, lines};
use crate::http::pages::table::percent;
use crate::say;
use crate::words::Language;

/// Days shown, today first.
const DAYS: u64 = 3;
/// Chance of seeing any from which an insect is named.
const NAMED_FROM: f64 = 0.25;
/// Chances from which it is called likely and very likely.
const LIKELY_FROM: f64 = 0.5;
const VERY_LIKELY_FROM: f64 = 0.8;
/// Most insects of a day.
const MOST: usize = 3;

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
    pub(super) fn likelihood_after(&self, language: Language, before: Option<&Self>) -> Option<String> {
        let word = self.likelihood();
        before.is_none_or(|before| before.likelihood() != word).then(|| language.word("likelihood", word))
    }

    fn likelihood(&self) -> &'static str {
        match self.chance {
            c if c >= VERY_LIKELY_FROM => "very likely",
            c if c >= LIKELY_FROM => "likely",
            _ => "perhaps",
        }
    }

    /// The chance as a number, and the hours.
    pub(super) fn figures(&self, language: Language) -> String {
        let chance = say!(language, "chance-in-list", chance = percent(language, self.chance));
        match &self.hours {
            Some((from, to)) => say!(language, "embed-hours", chance = chance, from = from, to = to),
            None => chance,
        }
    }
}

/// The reaches with forecasts, in the order of the water's page. An empty list of reaches or taxa
/// means all.
pub(super) fn ahead(page: &PageView, reaches: &[Slug], taxa: &[Slug]) -> Vec<ReachAhead> {
    let lines = lines(page);
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
pub(super) fn day_name(language: Language, date: NaiveDate, today: NaiveDate) -> String {
    match (date - today).num_days() {
        0 => say!(language, "embed-today"),
        1 => say!(language, "embed-tomorrow"),
        _ => language.weekday_with_day(date),
    }
}

/// What the chances mean, as of when.
pub(super) fn question(page: &PageView) -> String {
    say!(page.language, "embed-question", date = page.language.date(page.today))
}
