//! `[[taxon]]` tables.

use std::collections::BTreeMap;

use toml::Spanned;
use toml::de::DeValue;

use super::faults::FaultKind;
use super::setup::{NAME_MAX, TEXT_MAX};
use super::setup_looks::{looks, names};
use super::setup_table::Keys;
use crate::domain::flight::FlightHabit;
use crate::domain::taxon::{EmergenceMode, MonthDay};
use crate::domain::{Brood, Slug, Taxon, WindowReference};

/// Where a trait of the file comes from, unless the file says more.
pub(super) const FROM_SETUP: &str = "from the setup file";
/// Most broods of a year.
const MAX_BROODS: u8 = 9;
/// Smallest sd of a brood that is placed by the window, days (as in the tables that come with us).
const MIN_SD_DAYS: f64 = 12.0;

/// Reads one taxon over what is `known` of it.
pub(super) fn read_taxon(keys: &mut Keys<'_>, known: &BTreeMap<Slug, Taxon>) -> Option<Taxon> {
    let slug = keys.slug();
    let name = keys.need_text("scientific_name", NAME_MAX);
    let rank = keys.need_text("rank", 40);
    let mut taxon = match (&slug, &name, &rank) {
        (Some(slug), Some(name), Some(rank)) => match known.get(slug) {
            Some(known) => Taxon { scientific_name: name.clone(), rank: rank.clone(), ..known.clone() },
            None => Taxon::bare(slug.clone(), name, rank),
        },
        // The other keys are still checked, for their faults.
        _ => Taxon::bare(Slug::new("unnamed").ok()?, "", ""),
    };
    set(&mut taxon.order, keys.text("order", NAME_MAX));
    set(&mut taxon.region, keys.text("region", NAME_MAX));
    thermal(keys, &mut taxon);
    window(keys, &mut taxon);
    behaviour(keys, &mut taxon);
    size(keys, &mut taxon);
    looks(keys, &mut taxon);
    if keys.has("names") {
        taxon.names = names(keys);
    }
    set(&mut taxon.note, keys.text("note", TEXT_MAX));
    if keys.has("broods") {
        taxon.broods = broods(keys, taxon.window);
        if !keys.has("window_reference") {
            taxon.window_reference = None;
        }
    }
    (slug.is_some() && name.is_some() && rank.is_some()).then_some(taxon)
}

/// Sets `field` where the file says something; true when it does.
fn set<T>(field: &mut Option<T>, value: Option<T>) -> bool {
    let given = value.is_some();
    if given {
        *field = value;
    }
    given
}

fn thermal(keys: &mut Keys<'_>, taxon: &mut Taxon) {
    let base = keys.number("base_temp_c", -5.0, 25.0, "degrees Celsius between -5 and 25");
    let sd = keys.number("base_temp_sd", 0.01, 10.0, "between 0.01 and 10 degrees Celsius");
    if set(&mut taxon.base_temp_c, base) | set(&mut taxon.base_temp_sd, sd) {
        FROM_SETUP.clone_into(&mut taxon.provenance.thermal);
    }
}

fn window(keys: &mut Keys<'_>, taxon: &mut Taxon) {
    let early = keys.word("window_early", |text| MonthDay::parse("window_early", text));
    let late = keys.word("window_late", |text| MonthDay::parse("window_late", text));
    let window = keys.both(["window_early", "window_late"], [early, late]);
    if set(&mut taxon.window, window) {
        FROM_SETUP.clone_into(&mut taxon.provenance.window);
        // Broods that were placed elsewhere no longer hold, and who tells a window tells it of the own water.
        taxon.broods.clear();
        taxon.window_reference = None;
    }
    set(&mut taxon.window_reference, keys.word("window_reference", WindowReference::parse));
}

fn behaviour(keys: &mut Keys<'_>, taxon: &mut Taxon) {
    let hour = keys.number("peak_hour", 0.0, 24.0, "an hour of the day, solar time, between 0 and 24");
    let sd = keys.number("peak_hour_sd", 0.1, 12.0, "between 0.1 and 12 hours");
    let spinners = keys.text("spinner_time", TEXT_MAX);
    if let Some(words) = spinners.as_deref().filter(|words| FlightHabit::from_words(words).is_none()) {
        let reason =
            "names no time of day; say for instance \"evening\", \"dawn, same morning\" or \"afternoon to dusk\"";
        keys.fault("spinner_time", words, FaultKind::BadValue, reason);
    }
    let mode = keys.word("emergence_mode", EmergenceMode::parse);
    let oviposition = keys.text("oviposition_mode", NAME_MAX);
    let habit = keys.text("nymph_habit", NAME_MAX);
    let given = set(&mut taxon.peak_hour, hour)
        | set(&mut taxon.peak_hour_sd, sd)
        | set(&mut taxon.spinner_time, spinners)
        | set(&mut taxon.emergence_mode, mode)
        | set(&mut taxon.oviposition_mode, oviposition)
        | set(&mut taxon.nymph_habit, habit);
    if given {
        FROM_SETUP.clone_into(&mut taxon.provenance.behaviour);
    }
}

fn size(keys: &mut Keys<'_>, taxon: &mut Taxon) {
    let rule = "mm above 0 and at most 200";
    let body = [keys.number("body_mm_min", 0.01, 200.0, rule), keys.number("body_mm_max", 0.01, 200.0, rule)];
    let body = keys.both(["body_mm_min", "body_mm_max"], body);
    if let Some((small, large)) = body
        && small > large
    {
        keys.fault("body_mm_min", &small.to_string(), FaultKind::BadValue, format!("is above body_mm_max ({large})"));
    }
    let hooks = [keys.whole("hook_large", 1, 36), keys.whole("hook_small", 1, 36)];
    let hooks = keys.both(["hook_large", "hook_small"], hooks);
    if let Some((large, small)) = hooks
        && large > small
    {
        let reason = format!("must not be above hook_small ({small}): larger hooks have smaller numbers");
        keys.fault("hook_large", &large.to_string(), FaultKind::BadValue, reason);
    }
    if set(&mut taxon.body_mm, body) | set(&mut taxon.hooks, hooks) {
        FROM_SETUP.clone_into(&mut taxon.provenance.size);
    }
}

/// `broods = 2` shares the window equally; `[[taxon.broods]]` gives `median_day_of_year` and `sd_days`.
fn broods(keys: &mut Keys<'_>, window: Option<(MonthDay, MonthDay)>) -> Vec<Brood> {
    if keys.value("broods").is_some_and(|value| value.get_ref().as_integer().is_some()) {
        let number = keys.whole("broods", 1, MAX_BROODS).unwrap_or(1);
        return match (number, window) {
            (1, _) => Vec::new(),
            (number, Some(window)) => shared(number, window),
            (number, None) => {
                let reason = "needs window_early and window_late to place the broods, or [[taxon.broods]]";
                keys.fault("broods", &number.to_string(), FaultKind::MissingValue, reason);
                Vec::new()
            }
        };
    }
    let mut found = Vec::new();
    let Some(array) = keys.array("broods") else { return found };
    let array: &[Spanned<DeValue<'_>>] = array;
    if array.len() > usize::from(MAX_BROODS) {
        keys.fault("broods", &array.len().to_string(), FaultKind::BadValue, format!("at most {MAX_BROODS} are taken"));
    }
    for (number, value) in (1..=MAX_BROODS).zip(array) {
        let Some(table) = value.get_ref().as_table() else {
            keys.fault("broods", "", FaultKind::BadValue, "must be a number or tables [[taxon.broods]]");
            continue;
        };
        let mut brood = Keys::new(table, keys.lines(), keys.line_at(value), "taxon.broods");
        brood.need("median_day_of_year");
        brood.need("sd_days");
        let median = brood.number("median_day_of_year", 1.0, 366.0, "a day of the year from 1 to 366");
        let sd = brood.number("sd_days", 0.5, 120.0, "between 0.5 and 120 days");
        let provenance = brood.text("provenance", TEXT_MAX).unwrap_or_else(|| FROM_SETUP.to_owned());
        brood.faults.kept().iter().cloned().for_each(|fault| keys.faults.push(fault));
        if let (Some(median_day_of_year), Some(sd_days)) = (median, sd) {
            found.push(Brood { number, median_day_of_year, sd_days, provenance });
        }
    }
    found
}

fn shared(number: u8, (early, late): (MonthDay, MonthDay)) -> Vec<Brood> {
    let (first, last) = (f64::from(early.day_of_year()), f64::from(late.day_of_year()));
    let length = if last < first { last + 365.0 - first } else { last - first };
    let part = length / f64::from(number);
    (1..=number)
        .map(|brood| Brood {
            number: brood,
            median_day_of_year: (first + part * (f64::from(brood) - 0.5) - 1.0).rem_euclid(365.0) + 1.0,
            sd_days: (part / 4.0).max(MIN_SD_DAYS),
            provenance: "an equal share of the window in the setup file; sd a quarter of it, at least 12 days"
                .to_owned(),
        })
        .collect()
}
