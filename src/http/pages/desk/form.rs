//! Forms of the desk: what was sent, and fields drawn with what is wrong beside them.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use maud::{Markup, html};
use serde_json::{Map, Value};

use crate::app::AppError;
use crate::app::document::{Fault, Faults};

/// The fields of a form as sent.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Form(BTreeMap<String, Vec<String>>);

impl Form {
    /// Reads form-encoded bytes; `None` when they are not.
    pub(super) fn read(bytes: &[u8]) -> Option<Self> {
        let pairs: Vec<(String, String)> = serde_html_form::from_bytes(bytes).ok()?;
        Some(Self::of(pairs))
    }

    /// The fields `pairs`.
    pub(super) fn of(pairs: impl IntoIterator<Item = (String, String)>) -> Self {
        let mut fields: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for (name, value) in pairs {
            fields.entry(name).or_default().push(value);
        }
        Self(fields)
    }

    /// What stands in field `name`, without spaces around it; nothing when there is no such field.
    pub(super) fn text(&self, name: &str) -> &str {
        self.0.get(name).and_then(|values| values.first()).map_or("", |value| value.trim())
    }

    /// Everything that stands in field `name`.
    pub(super) fn all(&self, name: &str) -> &[String] {
        self.0.get(name).map_or(&[], Vec::as_slice)
    }

    /// True for a box that is ticked.
    pub(super) fn ticked(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    /// The fields as members of a document: empty ones are null; `numbers` names those that are read as numbers. What
    /// is no number stays text, so that the reader of the document tells its fault.
    pub(super) fn document(&self, texts: &[&str], numbers: &[&str]) -> Map<String, Value> {
        let mut members = Map::new();
        for name in texts {
            let text = self.text(name);
            members.insert((*name).to_owned(), if text.is_empty() { Value::Null } else { Value::from(text) });
        }
        for name in numbers {
            members.insert((*name).to_owned(), number(self.text(name)));
        }
        members
    }
}

/// `text` as a number; what is none stays text.
pub(super) fn number(text: &str) -> Value {
    if text.is_empty() {
        return Value::Null;
    }
    // A comma is what half of Europe types for a point.
    text.replace(',', ".")
        .parse::<f64>()
        .ok()
        .and_then(serde_json::Number::from_f64)
        .map_or_else(|| Value::from(text), Value::Number)
}

/// A form that was refused: which, why, and what stood in it.
#[derive(Debug, Clone)]
pub(crate) struct Refused {
    /// Name of the form on its page.
    pub(super) of: String,
    /// Status of the answer.
    pub(super) status: StatusCode,
    /// What is wrong with the form as a whole.
    pub(super) words: Option<String>,
    /// What is wrong with fields.
    faults: Vec<Fault>,
    form: Form,
}

impl Refused {
    /// Why `form`, the form `of` its page, was refused; an error that is not its sender's to mend goes on.
    pub(super) fn new(of: &str, form: Form, error: AppError) -> Result<Self, AppError> {
        let (status, words, faults) = match error {
            AppError::Faults(faults) | AppError::Query(faults) => (422, None, faults.into_vec()),
            AppError::Forbidden { detail } => (403, Some(detail.to_owned()), Vec::new()),
            AppError::Conflict { detail } => (409, Some(detail), Vec::new()),
            AppError::PreconditionFailed => {
                let words = "Somebody changed it since this page was opened. Look at it as it is now and decide again.";
                (412, Some(words.to_owned()), Vec::new())
            }
            AppError::TooMany { detail, .. } => (429, Some(detail.to_owned()), Vec::new()),
            other => return Err(other),
        };
        let status = StatusCode::from_u16(status).unwrap_or(StatusCode::BAD_REQUEST);
        Ok(Self { of: of.to_owned(), status, words, faults, form })
    }

    /// The same for faults that were found already.
    pub(super) fn with(of: &str, form: Form, faults: Vec<Fault>) -> Self {
        Self { faults, ..Self::faults(of, form, Faults::default()) }
    }

    /// The same for faults alone.
    pub(super) fn faults(of: &str, form: Form, faults: Faults) -> Self {
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        Self { of: of.to_owned(), status, words: None, faults: faults.into_vec(), form }
    }
}

/// Whether a fault speaks of field `name`, or of something in it.
fn is_about(fault: &Fault, name: &str) -> bool {
    let inside = |place: &str| {
        let rest = place.strip_prefix("#/").and_then(|place| place.strip_prefix(name));
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
    };
    fault.parameter.as_deref() == Some(name) || fault.pointer.as_deref().is_some_and(inside)
}

/// Draws the fields of one form.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fields<'a> {
    /// Name of the form, unique on its page.
    of: &'a str,
    refused: Option<&'a Refused>,
}

impl<'a> Fields<'a> {
    /// Of the form `of`, which may be the one that was refused.
    pub(super) fn new(of: &'a str, refused: Option<&'a Refused>) -> Self {
        Self { of, refused: refused.filter(|refused| refused.of == of) }
    }

    /// True when it is this form that was refused: what it hides is then shown.
    pub(super) fn is_refused(self) -> bool {
        self.refused.is_some()
    }

    fn id(self, name: &str) -> String {
        format!("{}-{name}", self.of)
    }

    /// What stood in field `name` when the form was refused, or else `fresh`. Who is told that somebody changed the thing
    /// sees it as it is now.
    fn value(self, name: &str, fresh: &str) -> String {
        let own = self.refused.filter(|refused| refused.status != StatusCode::PRECONDITION_FAILED);
        own.map_or_else(|| fresh.to_owned(), |refused| refused.form.text(name).to_owned())
    }

    fn fault(self, name: &str) -> Option<String> {
        let fault = self.refused?.faults.iter().find(|fault| is_about(fault, name))?;
        Some(format!("It {}.", fault.detail.trim_end_matches('.')))
    }

    /// What is wrong with the form as a whole, and with fields that it does not show (`shown` names those it does).
    pub(super) fn complaint(self, shown: &[&str]) -> Markup {
        let Some(refused) = self.refused else { return html! {} };
        let elsewhere = |fault: &&Fault| !shown.iter().any(|name| is_about(fault, name));
        let others: Vec<String> = refused
            .faults
            .iter()
            .filter(elsewhere)
            .map(|fault| {
                let place = fault.pointer.as_deref().or(fault.parameter.as_deref()).unwrap_or_default();
                format!("{} {}", place.trim_start_matches("#/").replace('_', " "), fault.detail)
            })
            .collect();
        let at_fields = refused.faults.len() - others.len();
        html! {
            div.error role="alert" id=(self.id("complaint")) {
                @if let Some(words) = &refused.words { p { (words) } }
                @if at_fields > 0 { p { "Not done: look at the fields marked below." } }
                @for other in &others { p { (other) } }
            }
        }
    }

    fn described(self, name: &str, hint: &str, fault: Option<&str>) -> Option<String> {
        let mut ids = Vec::new();
        if !hint.is_empty() {
            ids.push(self.id(&format!("{name}-hint")));
        }
        if fault.is_some() {
            ids.push(self.id(&format!("{name}-error")));
        }
        (!ids.is_empty()).then(|| ids.join(" "))
    }

    fn around(self, name: &str, label: &str, hint: &str, fault: Option<&str>, control: &Markup) -> Markup {
        html! {
            div.field {
                label for=(self.id(name)) { (label) }
                @if !hint.is_empty() { p.quiet id=(self.id(&format!("{name}-hint"))) { (hint) } }
                (control)
                @if let Some(fault) = fault { p.error id=(self.id(&format!("{name}-error"))) { (fault) } }
            }
        }
    }

    /// A line of text; `kind` is the type of the input.
    pub(super) fn line(self, kind: &str, name: &str, label: &str, fresh: &str, hint: &str) -> Markup {
        let fault = self.fault(name);
        let decimal = (kind == "decimal").then_some("decimal");
        let whole = (kind == "whole").then_some("numeric");
        let html_kind = if decimal.is_some() || whole.is_some() { "text" } else { kind };
        let value = if kind == "password" { String::new() } else { self.value(name, fresh) };
        let control = html! {
            input id=(self.id(name)) type=(html_kind) name=(name) value=(value) inputmode=[decimal.or(whole)] autocomplete="off"
                aria-describedby=[self.described(name, hint, fault.as_deref())] aria-invalid=[fault.as_ref().map(|_| "true")];
        };
        self.around(name, label, hint, fault.as_deref(), &control)
    }

    /// Some lines of text.
    pub(super) fn lines(self, name: &str, label: &str, fresh: &str, hint: &str) -> Markup {
        let fault = self.fault(name);
        let control = html! {
            textarea id=(self.id(name)) name=(name) rows="3"
                aria-describedby=[self.described(name, hint, fault.as_deref())] aria-invalid=[fault.as_ref().map(|_| "true")] {
                (self.value(name, fresh))
            }
        };
        self.around(name, label, hint, fault.as_deref(), &control)
    }

    /// One of some words, each with what is shown for it.
    pub(super) fn choice(self, name: &str, label: &str, fresh: &str, hint: &str, words: &[(String, String)]) -> Markup {
        let fault = self.fault(name);
        let chosen = self.value(name, fresh);
        let control = html! {
            select id=(self.id(name)) name=(name) aria-describedby=[self.described(name, hint, fault.as_deref())]
                aria-invalid=[fault.as_ref().map(|_| "true")] {
                @for (word, shown) in words { option value=(word) selected[*word == chosen] { (shown) } }
            }
        };
        self.around(name, label, hint, fault.as_deref(), &control)
    }

    /// A box to tick.
    pub(super) fn tick(self, name: &str, label: &str, fresh: bool) -> Markup {
        let ticked = self.refused.map_or(fresh, |refused| refused.form.ticked(name));
        let fault = self.fault(name);
        html! {
            label.check for=(self.id(name)) {
                input id=(self.id(name)) type="checkbox" name=(name) value="yes" checked[ticked]
                    aria-describedby=[self.described(name, "", fault.as_deref())] aria-invalid=[fault.as_ref().map(|_| "true")];
                span { (label) }
            }
            @if let Some(fault) = &fault { p.error id=(self.id(&format!("{name}-error"))) { (fault) } }
        }
    }
}
