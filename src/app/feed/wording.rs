//! What an entry says of its window, in one language.

use chrono::{NaiveDate, NaiveTime, Timelike};

use super::plan::{one_line, shorten};
use super::{SUMMARY_MAX, Saying, WindowKind};
use crate::app::called::{called, called_brood};
use crate::app::document::ForecastDocument;
use crate::domain::{AbundanceClass, Reach, Taxon};
use crate::say;
use crate::words::Language;

/// A window of a forecast.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window<'a> {
    /// The forecast.
    pub(super) forecast: &'a ForecastDocument,
    /// What the window is of.
    pub(super) kind: WindowKind,
    /// The day that it is as likely before as after; `None` for windows that have none.
    pub(super) middle: Option<NaiveDate>,
    /// First and last day.
    pub(super) days: (NaiveDate, NaiveDate),
    /// The class expected around the peak.
    pub(super) class: AbundanceClass,
    /// The insect.
    pub(super) taxon: &'a Taxon,
    /// The reach.
    pub(super) reach: &'a Reach,
}

impl Window<'_> {
    /// Its words.
    pub(super) fn said(&self, language: Language) -> Saying {
        Saying { summary: self.summary(language), description: self.description(language) }
    }

    fn summary(&self, language: Language) -> String {
        let (forecast, taxon) = (self.forecast, self.taxon);
        let range = language.day_range(self.days.0, self.days.1);
        let what = match (self.kind, flight_times(forecast)) {
            (WindowKind::Onset, _) => say!(language, "feed-starts", days = range),
            (WindowKind::Flight, Some([from, middle, to])) => {
                let part = language.word("part-of-day", part_of_day(middle));
                say!(language, "feed-spinners-at", part = part, from = half_hour(from), to = half_hour(to))
            }
            (WindowKind::Flight, None) => say!(language, "feed-spinners"),
            (WindowKind::Peak, _) => say!(language, "feed-peaks", days = range),
        };
        let name = called_brood(language, taxon, forecast.brood);
        let (whole, short) = (called(language, taxon).to_string(), name.short());
        let named = match &name.generation {
            Some(generation) => vec![
                format!("{whole}, {generation},"),
                format!("{short}, {generation},"),
                say!(language, "feed-brood-of", insect = short, brood = forecast.brood, many = taxon.broods.len()),
            ],
            None => vec![whole, short.to_owned()],
        };
        // The fullest that fits; the description has both names.
        let mut told: Vec<String> =
            named.iter().map(|name| one_line(&format!("{name} {what}, {}", self.reach.name))).collect();
        let last = told.pop().unwrap_or_default();
        told.into_iter().find(|text| text.chars().count() <= SUMMARY_MAX).unwrap_or_else(|| shorten(&last, SUMMARY_MAX))
    }

    fn description(&self, language: Language) -> String {
        let (forecast, kind) = (self.forecast, self.kind);
        let mut lines = Vec::new();
        let name = called_brood(language, self.taxon, forecast.brood);
        if name.usual.is_some() || name.generation.is_some() {
            lines.push(format!("{}.", one_line(&name.to_string())));
        }
        let middle = self.middle.map(|day| say!(language, "feed-middle", date = language.date(day)));
        match kind {
            WindowKind::Onset => {
                lines.push(say!(language, "feed-onset"));
                lines.extend(middle);
                lines.push(say!(language, "feed-four-in-five"));
            }
            WindowKind::Peak => {
                lines.push(say!(language, "feed-peak"));
                lines.extend(middle);
                lines.push(say!(language, "feed-four-in-five"));
            }
            WindowKind::Flight => {
                lines.push(say!(language, "feed-flight"));
                if let Some(flight) = &forecast.spinner {
                    let date = language.date(flight.date);
                    lines.push(say!(language, "feed-flight-hours", date = date, from = &flight.from, to = &flight.to));
                    let (weather, chance) =
                        (forecast.weather_of_flight(language), format!("{:.0}", 100.0 * flight.chance));
                    lines.push(say!(language, "feed-flight-chance", weather = weather, chance = chance));
                }
            }
        }
        lines.push(say!(language, "feed-class", class = language.word("class", self.class.as_str())));
        if forecast.fit.prior_driven {
            lines.push(say!(language, "feed-prior"));
        }
        lines.push(as_of(language, forecast.data_as_of));
        if forecast.stale {
            lines.push(say!(language, "feed-stale"));
        }
        if kind == WindowKind::Flight
            && flight_times(forecast).is_some_and(|[_, middle, _]| part_of_day(middle) != "afternoon")
        {
            lines.push(say!(language, "feed-in-the-dark"));
        }
        lines.push(say!(language, "feed-safety"));
        lines.join("\n")
    }
}

/// From when the data are.
pub(super) fn as_of(language: Language, date: NaiveDate) -> String {
    say!(language, "feed-as-of", date = language.date(date))
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

#[cfg(test)]
mod tests {
    use super::*;

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
