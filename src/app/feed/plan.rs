//! The entries that a forecast calls for.

use chrono::{Datelike, Days, NaiveDate, NaiveTime, Timelike};
use uuid::Uuid;

use super::{EntryContent, EntryStatus, LANGUAGE, SUMMARY_MAX, WindowKind, entry_uid};
use crate::app::document::ForecastDocument;
use crate::app::flights;
use crate::domain::called::Called;
use crate::domain::forecast::DateQuantiles;
use crate::domain::{AbundanceClass, Reach, Slug, Taxon};

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
                    summary: summary(forecast, kind, (first, last), taxon, reach),
                    description: description(forecast, kind, dates, class, taxon),
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

fn summary(
    forecast: &ForecastDocument,
    kind: WindowKind,
    (first, last): (NaiveDate, NaiveDate),
    taxon: &Taxon,
    reach: &Reach,
) -> String {
    let what = match (kind, flight_times(forecast)) {
        (WindowKind::Onset, _) => format!("starts {}", day_range(first, last)),
        (WindowKind::Flight, Some([from, middle, to])) => {
            format!("spinners, {} {}\u{2013}{}", part_of_day(middle), half_hour(from), half_hour(to))
        }
        (WindowKind::Flight, None) => "spinners".to_owned(),
        (WindowKind::Peak, _) => format!("peaks {}", day_range(first, last)),
    };
    let called = Called::of_brood(taxon, forecast.brood, LANGUAGE);
    let (short, many) = (called.short(), taxon.broods.len());
    let named = match &called.generation {
        Some(generation) => vec![
            format!("{}, {generation},", taxon.title(LANGUAGE)),
            format!("{short}, {generation},"),
            format!("{short} ({} of {many})", forecast.brood),
        ],
        None => vec![taxon.title(LANGUAGE), short.to_owned()],
    };
    // The fullest that fits; the description has both names.
    let mut told: Vec<String> = named.iter().map(|name| one_line(&format!("{name} {what}, {}", reach.name))).collect();
    let last = told.pop().unwrap_or_default();
    told.into_iter().find(|text| text.chars().count() <= SUMMARY_MAX).unwrap_or_else(|| shorten(&last, SUMMARY_MAX))
}

/// `text` with every run of white space and control characters as one space.
pub(super) fn one_line(text: &str) -> String {
    let words: Vec<&str> =
        text.split(|c: char| c.is_whitespace() || c.is_control()).filter(|word| !word.is_empty()).collect();
    words.join(" ")
}

/// Start, likeliest time and end of the flight; `None` without one.
fn flight_times(forecast: &ForecastDocument) -> Option<[NaiveTime; 3]> {
    let flight = forecast.spinner.as_ref()?;
    let read = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").ok();
    Some([read(&flight.from)?, read(&flight.peak)?, read(&flight.to)?])
}

/// To the nearest half hour: the sun moves by minutes a day, and a summary that followed it would disturb people.
fn half_hour(time: NaiveTime) -> String {
    let halves = (time.num_seconds_from_midnight() + 900) / 1800 % 48;
    format!("{:02}:{:02}", halves / 2, halves % 2 * 30)
}

fn part_of_day(middle: NaiveTime) -> &'static str {
    match middle.hour() {
        4..=10 => "morning",
        11..=16 => "afternoon",
        17..=22 => "evening",
        _ => "night",
    }
}

/// `6–14 May`, `28 May–3 Jun`, or one day.
#[must_use]
pub fn day_range(first: NaiveDate, last: NaiveDate) -> String {
    let day = |date: NaiveDate| date.format("%-d %b").to_string();
    if first == last {
        day(first)
    } else if (first.year(), first.month()) == (last.year(), last.month()) {
        format!("{}\u{2013}{}", first.day(), day(last))
    } else {
        format!("{}\u{2013}{}", day(first), day(last))
    }
}

/// `text` on one line of at most `most` characters, cut between words.
#[must_use]
pub fn one_line_within(text: &str, most: usize) -> String {
    shorten(&one_line(text), most)
}

/// `text` in at most `most` characters, cut between words; a first word that is longer is cut inside.
fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let head: String = text.chars().take(most - 1).collect();
    let whole = text[head.len()..].starts_with(char::is_whitespace);
    let end = if whole { head.len() } else { head.rfind(char::is_whitespace).unwrap_or(head.len()) };
    format!("{}\u{2026}", head[..end].trim_end().trim_end_matches([',', '(']).trim_end())
}

fn description(
    forecast: &ForecastDocument,
    kind: WindowKind,
    dates: DateQuantiles,
    class: AbundanceClass,
    taxon: &Taxon,
) -> String {
    let mut lines = Vec::new();
    let called = Called::of_brood(taxon, forecast.brood, LANGUAGE);
    if called.usual.is_some() || called.generation.is_some() {
        lines.push(format!("{}.", one_line(&called.to_string())));
    }
    match kind {
        WindowKind::Onset => {
            lines.push("Start of the season: one in twenty of the year's insects out.".to_owned());
            lines.extend(middle(dates));
            lines.push("Four chances in five that it falls within the days shown.".to_owned());
        }
        WindowKind::Peak => {
            lines.push("The fullest day of the season is expected within these days.".to_owned());
            lines.extend(middle(dates));
            lines.push("Four chances in five that it falls within the days shown.".to_owned());
        }
        WindowKind::Flight => {
            lines.push("Spinners fly around these days, after the fullest emergence.".to_owned());
            if let Some(flight) = &forecast.spinner {
                lines.push(format!(
                    "On {}: likeliest {} to {}, local time; the hour moves with the sun.",
                    flight.date.format("%-d %B %Y"),
                    flight.from,
                    flight.to
                ));
                lines.push(format!(
                    "Chance of a flight then, {}: {:.0} in 100.",
                    forecast.weather_of_flight(),
                    100.0 * flight.chance
                ));
            }
        }
    }
    lines.push(format!("Expected around the peak: {}.", class.as_str()));
    if forecast.fit.prior_driven {
        lines.push("Too few local records: this rests on general knowledge of the insect.".to_owned());
    }
    lines.push(as_of(forecast.data_as_of));
    if forecast.stale {
        lines.push(OUT_OF_DATE.to_owned());
    }
    if kind == WindowKind::Flight
        && flight_times(forecast).is_some_and(|[_, middle, _]| part_of_day(middle) != "afternoon")
    {
        lines.push("At dusk and in the dark go with company, and tell someone where you are.".to_owned());
    }
    lines.push(NOT_A_SAFETY_STATEMENT.to_owned());
    lines.join("\n")
}

fn middle(dates: DateQuantiles) -> Option<String> {
    Some(format!("As likely before as after {}.", dates.p50?.format("%-d %B %Y")))
}

/// Said where water temperatures are missing for long.
pub(super) const OUT_OF_DATE: &str =
    "Out of date: no water temperature has come in lately. Trust dates near the ends as much as the middle.";
/// Said of every forecast.
pub(super) const NOT_A_SAFETY_STATEMENT: &str =
    "A forecast is not a safety statement. Look at the water before you wade.";

/// From when the data are.
pub(super) fn as_of(date: NaiveDate) -> String {
    format!("As of {}.", date.format("%-d %B %Y"))
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

    #[test]
    fn hours_of_a_summary_keep_to_half_hours() {
        let at = |h, m| NaiveTime::from_hms_opt(h, m, 0).unwrap();
        assert_eq!(half_hour(at(20, 44)), "20:30");
        assert_eq!(half_hour(at(20, 45)), "21:00");
        assert_eq!(half_hour(at(23, 50)), "00:00");
        assert_eq!(part_of_day(at(21, 10)), "evening");
        assert_eq!(part_of_day(at(5, 0)), "morning");
    }
}
