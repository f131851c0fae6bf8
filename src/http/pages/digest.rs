//! The coming week of a watershed as plain text, to be mailed or pinned up.

use std::fmt::Write as _;

use chrono::{Days, NaiveDate};

use super::embed::wrapped;
use super::season::{Line, Phase, lines, when};
use super::table::percent;
use super::{PageView, about, told};
use crate::app::document::ForecastDocument;
use crate::domain::Reach;

/// Letters of a line.
const LETTERS: usize = 76;
/// Days spoken of, today first.
const DAYS: u64 = 7;
/// Chance of seeing any from which an insect is named.
const NAMED_FROM: f64 = 0.25;
/// Most insects that come next.
const MOST_NEXT: usize = 6;

/// The text, in lines of at most [`LETTERS`] letters.
pub(crate) fn digest(page: &PageView, public_url: &str) -> String {
    let view = &page.view;
    let lines = lines(&view.taxa, &page.forecasts);
    let mut out = Text::default();
    out.line(&format!("{}: the week from {}", view.watershed.name, page.today.format("%A, %-d %B %Y")));
    if let Some(newest) = page.forecasts.iter().map(|forecast| forecast.data_as_of).max() {
        let zone = view.watershed.time_zone.name();
        out.line(&format!("Data up to {}. Days and hours are local ({zone}).", newest.format("%-d %B %Y")));
    }
    if page.forecasts.iter().any(|forecast| forecast.stale) {
        out.line("Out of date: no water temperature has come in lately. Trust all dates less.");
    }
    let notices = told::lines(page, &[]);
    if !notices.is_empty() {
        out.head("From the keepers");
        for notice in &notices {
            out.item(notice);
        }
    }
    if page.forecasts.is_empty() {
        out.head("No forecast yet");
        out.line("A keeper has to import records and temperatures and start a fit.");
    } else {
        week(&mut out, page, &lines);
        next(&mut out, page, &lines);
    }
    cautions(&mut out, page);
    out.head("More");
    out.line(&format!("{public_url}/w/{}", view.watershed.slug));
    out.0
}

fn week(out: &mut Text, page: &PageView, lines: &[Line]) {
    let to = page.today + Days::new(DAYS - 1);
    out.head(&format!("On the water until {}", to.format("%A, %-d %B")));
    out.line("The chance in 100 that one person, watching two hours at the likeliest time, sees any, on its best day.");
    let mut anything = false;
    for reach in &page.view.reaches {
        let told = of_reach(reach, lines, page.today);
        if told.is_empty() {
            continue;
        }
        anything = true;
        out.line("");
        out.line(&reach.name);
        for insect in &told {
            out.item(insect);
        }
    }
    if !anything {
        out.line("Nothing is likely.");
    }
}

/// The insects of a reach in the coming days, likeliest first.
fn of_reach(reach: &Reach, lines: &[Line], today: NaiveDate) -> Vec<String> {
    let here = lines.iter().filter_map(|line| {
        let own =
            |forecast: &&std::sync::Arc<ForecastDocument>| reach.slug.as_str().eq_ignore_ascii_case(&forecast.reach);
        let forecast = line.forecasts.iter().find(own)?;
        let days = (0..DAYS).filter_map(|ahead| forecast.day(today + Days::new(ahead)));
        let best = days.min_by(|a, b| a.class_probabilities.none.total_cmp(&b.class_probabilities.none))?;
        let chance = 1.0 - best.class_probabilities.none;
        (chance >= NAMED_FROM).then(|| (chance, insect(line, forecast, best.date, chance)))
    });
    let mut told: Vec<(f64, String)> = here.collect();
    told.sort_by(|a, b| b.0.total_cmp(&a.0));
    told.into_iter().map(|(_, words)| words).collect()
}

fn insect(line: &Line, forecast: &ForecastDocument, best: NaiveDate, chance: f64) -> String {
    let mut words = format!("{}: {} on {}", line.name(), percent(chance), best.format("%A"));
    if let Some(hours) = &forecast.hours {
        let _ = write!(words, "; {} to {}", hours.from, hours.to);
    }
    if let Some(flight) = &forecast.spinner {
        let (chance, weather) = (percent(flight.chance), forecast.weather_of_flight());
        let _ = write!(words, "; spinners {} to {}, {chance} {weather}", flight.from, flight.to);
    }
    words
}

fn next(out: &mut Text, page: &PageView, lines: &[Line]) {
    let coming = lines.iter().filter(|line| line.phase(page.today) == Phase::Coming && line.onset().p50.is_some());
    let coming: Vec<String> = coming
        .take(MOST_NEXT)
        .map(|line| format!("{}: {}. {}", line.name(), when(line.onset()), line.footing()))
        .collect();
    if !coming.is_empty() {
        out.head("Next to start");
        for words in &coming {
            out.item(words);
        }
    }
}

/// The cautions of the forecasts, then those that always hold and are not said better.
fn cautions(out: &mut Text, page: &PageView) {
    out.head("Before you go");
    let mut codes: Vec<&str> = Vec::new();
    for caution in page.forecasts.iter().flat_map(|forecast| &forecast.cautions) {
        if !codes.contains(&&*caution.code) {
            codes.push(&caution.code);
            out.item(&page.units.words(&caution.text));
        }
    }
    for (code, text, _) in about::STANDING_CAUTIONS {
        if !codes.iter().any(|known| known.starts_with(code)) {
            out.item(&page.units.words(text));
        }
    }
    if !codes.contains(&"not-a-safety-statement") {
        out.item("A forecast is not a safety statement.");
    }
}

/// Lines of text.
#[derive(Debug, Default)]
struct Text(String);

impl Text {
    fn line(&mut self, text: &str) {
        for line in wrapped(text, LETTERS) {
            self.0.push_str(&line);
            self.0.push('\n');
        }
    }

    fn head(&mut self, text: &str) {
        self.0.push('\n');
        self.line(&text.to_uppercase());
    }

    fn item(&mut self, text: &str) {
        for (index, line) in wrapped(text, LETTERS - 2).iter().enumerate() {
            self.0.push_str(if index == 0 { "- " } else { "  " });
            self.0.push_str(line);
            self.0.push('\n');
        }
    }
}
