//! The coming week of a watershed as plain text, to be mailed or pinned up.

use chrono::{Days, NaiveDate};

use super::embed::wrapped;
use super::season::{Line, Phase, lines, when};
use super::table::percent;
use super::words::{caution_at, cautions_by_place, standing};
use super::{PageView, about, told};
use crate::app::document::ForecastDocument;
use crate::app::said::in_language;
use crate::domain::Reach;
use crate::say;
use crate::words::Language;

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
    let (view, language) = (&page.view, page.language);
    let lines = lines(page);
    let mut out = Text::default();
    let from = language.weekday_and_date(page.today);
    out.line(&say!(language, "digest-title", water = &view.watershed.name, date = from));
    if let Some(newest) = page.forecasts.iter().map(|forecast| forecast.data_as_of).max() {
        let zone = view.watershed.time_zone.name();
        out.line(&say!(language, "digest-as-of", date = language.date(newest), zone = zone));
    }
    if page.forecasts.iter().any(|forecast| forecast.stale) {
        out.line(&say!(language, "digest-stale"));
    }
    let notices = told::lines(page, &[]);
    if !notices.is_empty() {
        out.head(&say!(language, "notices-title"));
        for notice in &notices {
            out.item(notice);
        }
    }
    if page.forecasts.is_empty() {
        out.head(&say!(language, "digest-no-forecast"));
        out.line(&say!(language, "no-forecast-words"));
    } else {
        week(&mut out, page, &lines);
        next(&mut out, page, &lines);
    }
    cautions(&mut out, page);
    out.head(&say!(language, "digest-more"));
    out.line(&in_language(language, format!("{public_url}/w/{}", view.watershed.slug)));
    out.0
}

fn week(out: &mut Text, page: &PageView, lines: &[Line]) {
    let language = page.language;
    let to = page.today + Days::new(DAYS - 1);
    out.head(&say!(language, "digest-week", date = language.weekday_and_day(to)));
    out.line(&say!(language, "digest-chance"));
    let mut anything = false;
    for reach in &page.view.reaches {
        let told = of_reach(language, reach, lines, page.today);
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
        out.line(&say!(language, "digest-nothing"));
    }
}

/// The insects of a reach in the coming days, likeliest first.
fn of_reach(language: Language, reach: &Reach, lines: &[Line], today: NaiveDate) -> Vec<String> {
    let here = lines.iter().filter_map(|line| {
        let own =
            |forecast: &&std::sync::Arc<ForecastDocument>| reach.slug.as_str().eq_ignore_ascii_case(&forecast.reach);
        let forecast = line.forecasts.iter().find(own)?;
        let days = (0..DAYS).filter_map(|ahead| forecast.day(today + Days::new(ahead)));
        let best = days.min_by(|a, b| a.class_probabilities.none.total_cmp(&b.class_probabilities.none))?;
        let chance = 1.0 - best.class_probabilities.none;
        (chance >= NAMED_FROM).then(|| (chance, insect(language, line, forecast, (today, best.date), chance)))
    });
    let mut told: Vec<(f64, String)> = here.collect();
    told.sort_by(|a, b| b.0.total_cmp(&a.0));
    told.into_iter().map(|(_, words)| words).collect()
}

fn insect(
    language: Language,
    line: &Line,
    forecast: &ForecastDocument,
    (today, best): (NaiveDate, NaiveDate),
    chance: f64,
) -> String {
    // Before an insect's time a forecast tells the hours and the flight of its fullest day, which are not this week's.
    let this_week = |date: NaiveDate| (today..today + Days::new(DAYS)).contains(&date);
    let hours = forecast
        .hours
        .as_ref()
        .filter(|hours| this_week(hours.date))
        .map_or_else(String::new, |hours| say!(language, "digest-hours", from = &hours.from, to = &hours.to));
    let flight = forecast.spinner.as_ref().filter(|flight| this_week(flight.date));
    let spinners = flight.map_or_else(String::new, |flight| {
        let (chance, weather) = (percent(language, flight.chance), forecast.weather_of_flight(language));
        say!(language, "digest-spinners", from = &flight.from, to = &flight.to, chance = chance, weather = weather)
    });
    say!(
        language,
        "digest-insect",
        insect = line.name(),
        chance = percent(language, chance),
        day = language.weekday(best),
        hours = hours,
        spinners = spinners,
    )
}

fn next(out: &mut Text, page: &PageView, lines: &[Line]) {
    let coming = lines.iter().filter(|line| line.phase(page.today) == Phase::Coming && line.onset().p50.is_some());
    let coming: Vec<String> = coming
        .take(MOST_NEXT)
        .map(|line| {
            let (when, footing) = (when(page.language, line.onset()), line.footing(page.language));
            say!(page.language, "digest-starts", insect = line.name(), when = when, footing = footing)
        })
        .collect();
    if !coming.is_empty() {
        out.head(&say!(page.language, "digest-next"));
        for words in &coming {
            out.item(words);
        }
    }
}

/// The cautions of the forecasts, then those that always hold and are not said better.
fn cautions(out: &mut Text, page: &PageView) {
    let language = page.language;
    out.head(&say!(language, "cautions-title"));
    let mut codes: Vec<&str> = Vec::new();
    for (caution, places) in cautions_by_place(&page.forecasts, &page.view.reaches) {
        codes.push(&caution.code);
        out.item(&caution_at(language, &places, page.units.words(caution.text_in(language))));
    }
    for (code, text, _) in about::STANDING_CAUTIONS {
        if !codes.iter().any(|known| known.starts_with(code)) {
            out.item(&page.units.words(&standing(language, code, text)));
        }
    }
    if !codes.contains(&"not-a-safety-statement") {
        out.item(&say!(language, "about-safety"));
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
