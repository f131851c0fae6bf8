//! Forms that ask by their address: what was sent stays in the fields, with what is wrong told at each.

use axum::body::Body;
use axum::http::{Response, StatusCode};
use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::faults::{told, told_by_name};
use crate::app::document::{Fault, Rule};
use crate::domain::civil::at_clock;
use crate::http::problem::OwnPage;
use crate::http::query::QueryReader;
use crate::words::Language;

/// What was sent, as it was sent.
#[derive(Debug)]
pub(super) struct Given {
    /// Fields with something in them.
    pub(super) pairs: Vec<(String, String)>,
    /// Now at the water.
    pub(super) now: DateTime<Tz>,
    /// The reader's language.
    pub(super) language: Language,
    /// What is wrong with it.
    pub(super) faults: Vec<Fault>,
}

impl Given {
    /// What stands in field `name`.
    pub(super) fn value(&self, name: &str) -> Option<&str> {
        self.pairs.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// Whether `value` was chosen for `name`.
    pub(super) fn is(&self, name: &str, value: &str) -> bool {
        self.pairs.iter().any(|(known, given)| known == name && given.split(',').any(|one| one == value))
    }

    /// What is wrong with field `name`.
    pub(super) fn fault(&self, name: &str) -> Option<&Fault> {
        self.faults.iter().find(|fault| fault.parameter.as_deref() == Some(name))
    }
}

/// A moment in fields `date` and `time`, as the clock at the water shows it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    date: Option<NaiveDate>,
    time: Option<NaiveTime>,
}

impl Moment {
    /// Reads both fields.
    pub(super) fn read(reader: &mut QueryReader) -> Self {
        let date = reader.date("date");
        let time = reader.parsed("time", Rule::TimeOfDay, |text| {
            ["%H:%M", "%H:%M:%S"].iter().find_map(|form| NaiveTime::parse_from_str(text, form).ok())
        });
        Self { date, time }
    }

    /// The moment meant, where one is given: what is left out is taken from `now`.
    pub(super) fn at(self, now: DateTime<Utc>, zone: Tz) -> Option<DateTime<Utc>> {
        if self.date.is_none() && self.time.is_none() {
            return None;
        }
        let here = now.with_timezone(&zone);
        let wall = self.date.unwrap_or_else(|| here.date_naive()).and_time(self.time.unwrap_or_else(|| here.time()));
        Some(at_clock(zone, wall))
    }
}

/// What is wrong with field `name`, at it.
pub(super) fn wrong(given: &Given, name: &str) -> Markup {
    html! {
        @if let Some(fault) = given.fault(name) { p.error id=(format!("{name}-error")) { (told(given.language, fault)) } }
    }
}

/// What is wrong with what none of `fields` holds, by its name in the address.
pub(super) fn wrong_elsewhere(given: &Given, fields: &[&str]) -> Markup {
    let at_field = |fault: &&Fault| fault.parameter.as_deref().is_some_and(|name| fields.contains(&name));
    html! { @for fault in given.faults.iter().filter(|fault| !at_field(fault)) { p.error { (told_by_name(given.language, fault)) } } }
}

/// The attribute that ties a field to its fault.
pub(super) fn tied(given: &Given, name: &str) -> Option<String> {
    given.fault(name).map(|_| format!("{name}-error"))
}

/// A field for a few letters.
pub(super) fn typed(given: &Given, name: &str, label: &str, mode: &str, value: Option<&str>) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            input id=(name) name=(name) type="text" inputmode=(mode) maxlength="6" autocomplete="off" value=[value]
                aria-invalid=[given.fault(name).map(|_| "true")] aria-describedby=[tied(given, name)];
            (wrong(given, name))
        }
    }
}

/// A field for a date or a time, filled with `default`.
pub(super) fn dated(given: &Given, name: &str, label: &str, default: &str) -> Markup {
    html! {
        div.field {
            label for=(name) { (label) }
            input id=(name) name=(name) type=(name) value=(given.value(name).unwrap_or(default))
                aria-invalid=[given.fault(name).map(|_| "true")] aria-describedby=[tied(given, name)];
            (wrong(given, name))
        }
    }
}

/// The form as it came, answered as a mistake of the reader's, with the page of its own.
pub(super) fn refused(mut page: Response<Body>) -> Response<Body> {
    *page.status_mut() = StatusCode::BAD_REQUEST;
    page.extensions_mut().insert(OwnPage);
    page
}

/// The reader's scale and language, which a form would else forget.
pub(super) fn carried(given: &Given) -> Markup {
    html! {
        @for name in ["units", "lang"] {
            @if let Some(chosen) = given.value(name) { input type="hidden" name=(name) value=(chosen); }
        }
    }
}
