//! The entries that a forecast calls for.

use chrono::{Days, NaiveDate};
use uuid::Uuid;

use super::wording::Window;
use super::{EntryContent, EntryStatus, WindowKind, entry_uid};
use crate::app::document::ForecastDocument;
use crate::app::flights;
use crate::domain::forecast::DateQuantiles;
use crate::domain::{AbundanceClass, Reach, Slug, Taxon};
use crate::words::Language;

/// The class expected around the peak: the mean class index of the best day within the peak window
/// (from its 10 % to its 90 % date), rounded to the nearest class.
#[must_use]
pub fn expected_class(forecast: &ForecastDocument) -> AbundanceClass {
    let Some((first, last)) = window(forecast.peak.into(), forecast) else { return AbundanceClass::None };
    let best = forecast
        .days
        .iter()
        .filter(|day| (first..=last).contains(&day.date))
        .map(|day| day.class_probabilities.mean_index())
        .fold(0.0, f64::max);
    let index = best.round().clamp(0.0, 3.0) as usize;
    AbundanceClass::WORDS[index].0
}

/// From the 10 % to the 90 % date; the season's last day stands for a date beyond it.
fn window(dates: DateQuantiles, forecast: &ForecastDocument) -> Option<(NaiveDate, NaiveDate)> {
    let first = dates.p10?;
    let last = dates.p90.or_else(|| Some(forecast.days.last()?.date))?;
    (first <= last).then_some((first, last))
}

/// The entries that `forecast` calls for: none, or one for its start, its peak and its flights where they are known.
#[must_use]
pub fn plan(watershed: &Slug, forecast: &ForecastDocument, reach: &Reach, taxon: &Taxon) -> Vec<(Uuid, EntryContent)> {
    let class = expected_class(forecast);
    let peak: DateQuantiles = forecast.peak.into();
    let flight = forecast.spinner.as_ref().map(|_| (WindowKind::Flight, after(peak, taxon)));
    [Some((WindowKind::Onset, forecast.onset())), Some((WindowKind::Peak, peak)), flight]
        .into_iter()
        .flatten()
        .filter_map(|(kind, dates)| {
            let (first, last) = window(dates, forecast)?;
            let window = Window { forecast, kind, dates, days: (first, last), class, taxon, reach };
            let english = window.said(Language::English);
            let others = Language::ALL.into_iter().filter(|language| *language != Language::English);
            let translations = others.map(|language| (language.tag().to_owned(), window.said(language))).collect();
            let uid = entry_uid(watershed, &reach.slug, &taxon.slug, forecast.brood, forecast.season, kind);
            Some((
                uid,
                EntryContent {
                    reach: forecast.reach.clone(),
                    taxon: forecast.taxon.clone(),
                    brood: forecast.brood,
                    season: forecast.season,
                    kind,
                    first,
                    last,
                    summary: english.summary,
                    description: english.description,
                    translations,
                    status: EntryStatus::Tentative,
                    class_index: class.index() as u8,
                    as_of: Some(forecast.data_as_of),
                    stale: forecast.stale,
                    told: None,
                    seen: None,
                },
            ))
        })
        .collect()
}

/// The days of the flights: those of the peak, as many days later as spinners of the taxon fly after they emerge.
fn after(peak: DateQuantiles, taxon: &Taxon) -> DateQuantiles {
    let lag = Days::new(flights::habit(taxon).map_or(1, |habit| habit.lag_days) as u64);
    let later = |date: Option<NaiveDate>| date.map(|date| date + lag);
    DateQuantiles { p10: later(peak.p10), p50: later(peak.p50), p90: later(peak.p90) }
}

/// `text` with every run of white space and control characters as one space.
pub(super) fn one_line(text: &str) -> String {
    let words: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || c.is_control()).filter(|word| !word.is_empty()).collect();
    words.join(" ")
}

/// `text` on one line of at most `most` characters, cut between words.
#[must_use]
pub fn one_line_within(text: &str, most: usize) -> String {
    shorten(&one_line(text), most)
}

/// `text` in at most `most` characters, cut between words; a first word that is longer is cut inside.
pub(super) fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let head: String = text.chars().take(most - 1).collect();
    let whole = text[head.len()..].starts_with(char::is_whitespace);
    let end = if whole { head.len() } else { head.rfind(char::is_whitespace).unwrap_or(head.len()) };
    format!("{}\u{2026}", head[..end].trim_end().trim_end_matches([',', '(']).trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_summary_is_cut_between_words() {
        assert_eq!(shorten("two words", 9), "two words");
        assert_eq!(shorten("two longer words", 12), "two longer\u{2026}");
        assert_eq!(shorten("two longer words", 11), "two longer\u{2026}");
        assert_eq!(shorten("two longer words", 10), "two\u{2026}");
        assert_eq!(shorten("peaks 6 May, Upper Meadow", 13), "peaks 6 May\u{2026}");
        assert_eq!(shorten("\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}", 4), "\u{e9}\u{e9}\u{e9}\u{2026}");
    }
}
