//! The entries that a forecast calls for.

use chrono::NaiveDate;
use uuid::Uuid;

use super::wording::Window;
use super::{EntryContent, EntryStatus, WindowKind, entry_uid};
use crate::app::document::ForecastDocument;
use crate::domain::forecast::DateQuantiles;
use crate::domain::{AbundanceClass, Reach, Slug, Taxon};
use crate::words::Language;

/// Chance of a spinner flight from which its day stands in the calendar.
const LIKELY_FLIGHT_FROM: f64 = 0.5;

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
    let of_dates = |kind, dates: DateQuantiles| Some((kind, dates.p50, window(dates, forecast)?));
    let flight = forecast.spinner.as_ref().and_then(|_| Some((WindowKind::Flight, None, flight_days(forecast)?)));
    [of_dates(WindowKind::Onset, forecast.onset()), of_dates(WindowKind::Peak, forecast.peak.into()), flight]
        .into_iter()
        .flatten()
        .map(|(kind, middle, (first, last))| {
            let window = Window { forecast, kind, middle, days: (first, last), class, taxon, reach };
            let english = window.said(Language::English);
            let others = Language::ALL.into_iter().filter(|language| *language != Language::English);
            let translations = others.map(|language| (language.tag().to_owned(), window.said(language))).collect();
            let uid = entry_uid(watershed, &reach.slug, &taxon.slug, forecast.brood, forecast.season, kind);
            (
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
            )
        })
        .collect()
}

/// From the first to the last day on which a spinner flight is at least as likely as none; `None` where there is no such
/// day, or where the forecast tells no chances by day. A day between them that wind or rain makes less likely is within.
fn flight_days(forecast: &ForecastDocument) -> Option<(NaiveDate, NaiveDate)> {
    let likely = |chance: f64| chance >= LIKELY_FLIGHT_FROM;
    let mut days = forecast.days.iter().filter(|day| day.spinner_chance.is_some_and(likely)).map(|day| day.date);
    let first = days.next()?;
    Some((first, days.next_back().unwrap_or(first)))
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
