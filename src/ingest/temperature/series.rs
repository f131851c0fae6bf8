//! From values of several series to readings of one gauge.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use super::page::{Measured, Refused, Statistic, When, Why};
use crate::domain::{Quality, ReadingTime};

/// Share of shared days on which extremes of another series may contradict the mean before that series
/// is held to be of another place and left out.
const MOST_CONTRADICTIONS: f64 = 0.02;

/// Days before the newest value within which series are compared: one that ended long ago may hold more
/// values and will never hold another.
const RECENT_DAYS: u64 = 365;

/// A reading that came together.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// What it states.
    pub time: ReadingTime,
    /// The worst of its parts.
    pub quality: Quality,
    /// The service's marks of its parts, each once.
    pub qualifiers: Vec<String>,
}

/// Which series are taken, and what was to be said about it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Choice {
    /// Identifiers: means or instants first, then least and greatest values.
    pub series: Vec<String>,
    /// In words, where there was something to choose.
    pub notes: Vec<String>,
}

/// What a series states.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Instant,
    Day(Statistic),
}

fn kind(when: When) -> Kind {
    match when {
        When::Instant(_) => Kind::Instant,
        When::Day(_, statistic) => Kind::Day(statistic),
    }
}

/// The day of a value; of an instant that of UTC, near enough for comparing years.
fn date(when: When) -> NaiveDate {
    match when {
        When::Instant(at) => at.date_naive(),
        When::Day(date, _) => date,
    }
}

/// Chooses among the series of `rows`: those of `wanted` that are there; else of instants or daily means
/// the fullest of the last year, and with a mean the fullest of least and of greatest values.
#[must_use]
pub fn choose(rows: &[Measured], wanted: &[String]) -> Choice {
    let mut sizes: BTreeMap<(Kind, &str), usize> = BTreeMap::new();
    let newest = rows.iter().map(|row| date(row.when)).max();
    let since = newest.and_then(|newest| newest.checked_sub_days(Days::new(RECENT_DAYS)));
    for row in rows {
        let size = sizes.entry((kind(row.when), &row.series)).or_default();
        *size += usize::from(since.is_none_or(|since| date(row.when) > since));
    }
    let mut choice = Choice::default();
    if !wanted.is_empty() {
        for series in wanted {
            if sizes.keys().any(|(_, known)| known == series) {
                choice.series.push(series.clone());
            } else {
                choice.notes.push(format!("series {series} has no usable value in what was fetched"));
            }
        }
        return choice;
    }
    let means = sizes.keys().any(|(kind, _)| *kind == Kind::Day(Statistic::Mean));
    let instants = sizes.keys().any(|(kind, _)| *kind == Kind::Instant);
    let kinds: &[(Kind, &str)] = match (instants, means) {
        // Instants carry the course of the day, so nothing else is needed beside them.
        (true, false) => &[(Kind::Instant, "instants")],
        (_, true) => &[
            (Kind::Day(Statistic::Mean), "daily means"),
            (Kind::Day(Statistic::Min), "daily minima"),
            (Kind::Day(Statistic::Max), "daily maxima"),
        ],
        (false, false) => {
            if !sizes.is_empty() {
                choice.notes.push("there are daily extremes but no daily means; no day can be made of them".to_owned());
            }
            &[]
        }
    };
    for (wanted, name) in kinds {
        let mut found: Vec<(&str, usize)> =
            sizes.iter().filter(|((kind, _), _)| kind == wanted).map(|((_, series), size)| (*series, *size)).collect();
        found.sort_by_key(|(series, size)| (std::cmp::Reverse(*size), *series));
        let Some((taken, size)) = found.first() else { continue };
        if found.len() > 1 {
            let others: Vec<String> = found[1..].iter().map(|(series, size)| format!("{series} ({size})")).collect();
            choice.notes.push(format!(
                "several series of {name}: took the fullest of the last year, {taken} ({size} values), not {}; name another with series=",
                others.join(", ")
            ));
        }
        if !choice.series.iter().any(|known| known == taken) {
            choice.series.push((*taken).to_owned());
        }
    }
    choice
}

/// Readings of the chosen series in order of time. A day needs a mean; its extremes are optional. A day
/// whose extremes do not enclose the mean is refused; where that happens often the extremes belong to
/// another place, and are left out with a note.
#[must_use]
pub fn join(rows: &[Measured], choice: &mut Choice, refused: &mut Refused) -> Vec<Joined> {
    let chosen = |row: &&Measured| choice.series.contains(&row.series);
    let mut days: BTreeMap<NaiveDate, [Option<&Measured>; 3]> = BTreeMap::new();
    let mut readings = Vec::new();
    for row in rows.iter().filter(chosen) {
        match row.when {
            When::Instant(at) => match ReadingTime::instant(at, row.value_c) {
                Ok(time) => readings.push((time, vec![row])),
                Err(_) => refused.add(Why::OutOfRange),
            },
            When::Day(date, statistic) => {
                let place = statistic as usize;
                let slot = &mut days.entry(date).or_default()[place];
                if slot.replace(row).is_some() {
                    // Two chosen series state the same of one day; the later in order of names stands.
                    refused.add(Why::Repeated);
                }
            }
        }
    }
    let contradicts = |day: &[Option<&Measured>; 3], place: usize| match (day[0], day[place]) {
        (Some(mean), Some(low)) if place == Statistic::Min as usize => low.value_c > mean.value_c,
        (Some(mean), Some(high)) => high.value_c < mean.value_c,
        _ => false,
    };
    for (place, name) in [(Statistic::Min as usize, "minima"), (Statistic::Max as usize, "maxima")] {
        let shared = days.values().filter(|day| day[0].is_some() && day[place].is_some()).count();
        let against = days.values().filter(|day| contradicts(day, place)).count();
        if against as f64 > MOST_CONTRADICTIONS * shared as f64 && against > 1 {
            choice.notes.push(format!("the daily {name} contradict the means on {against} of {shared} days: left out"));
            for day in days.values_mut() {
                day[place] = None;
            }
        }
    }
    for (date, [mean, low, high]) in days {
        let Some(mean) = mean else {
            refused.add(Why::Statistic);
            continue;
        };
        match ReadingTime::day(date, mean.value_c, low.map(|row| row.value_c), high.map(|row| row.value_c)) {
            Ok(time) => readings.push((time, [Some(mean), low, high].into_iter().flatten().collect())),
            Err(_) => refused.add(Why::Extremes),
        }
    }
    readings.into_iter().map(|(time, parts)| joined(time, &parts)).collect()
}

fn joined(time: ReadingTime, parts: &[&Measured]) -> Joined {
    let worst = |quality: Quality| parts.iter().any(|part| part.quality == quality);
    let quality = match (worst(Quality::Bad), worst(Quality::Suspect)) {
        (true, _) => Quality::Bad,
        (false, true) => Quality::Suspect,
        (false, false) => Quality::Good,
    };
    let mut qualifiers: Vec<String> = Vec::new();
    for mark in parts.iter().flat_map(|part| &part.qualifiers) {
        if !qualifiers.contains(mark) {
            qualifiers.push(mark.clone());
        }
    }
    Joined { time, quality, qualifiers }
}
