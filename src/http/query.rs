//! Query parameters: each known, each once unless it is a list, all faults at once.

use std::collections::BTreeMap;
use std::str::FromStr;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use chrono::NaiveDate;

use super::occurrence::Usual;
use super::problem::{Kind, Problem};
use crate::app::document::{Faults, Rule, time};
use crate::domain::{Invalid, Slug};

/// The parameters of one request while they are read.
#[derive(Debug)]
pub(crate) struct QueryReader {
    values: BTreeMap<String, Vec<String>>,
    faults: Faults,
}

/// A set of query parameters.
pub(crate) trait FromQuery: Sized {
    /// Takes what it knows from `reader`; whatever is left over is a fault.
    fn read(reader: &mut QueryReader) -> Self;
}

/// No parameters at all.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NoQuery;

impl FromQuery for NoQuery {
    fn read(_: &mut QueryReader) -> Self {
        Self
    }
}

/// Reads and checks the query of a request.
#[derive(Debug)]
pub(crate) struct Query<T>(pub(crate) T);

impl<T: FromQuery, S: Send + Sync> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        parse(parts.uri.query().unwrap_or_default()).map(Self)
    }
}

/// The pairs of `text`.
fn pairs_of(text: &str) -> Result<Vec<(String, String)>, Problem> {
    serde_html_form::from_str(text).map_err(|_| Problem::new(Kind::BadQuery, Usual::QueryUnreadable))
}

/// Reads `text` as the parameters of `T`.
pub(crate) fn parse<T: FromQuery>(text: &str) -> Result<T, Problem> {
    read(pairs_of(text)?)
}

/// What a form of a page sent, as it was sent, and as `T`: a field left empty is one not given.
pub(crate) type Sent<T> = (Vec<(String, String)>, Result<T, Problem>);

/// Reads `text` as what a form of a page sent.
///
/// # Errors
/// When it cannot be read at all.
pub(crate) fn parse_form<T: FromQuery>(text: &str) -> Result<Sent<T>, Problem> {
    let mut pairs = pairs_of(text)?;
    pairs.retain(|(_, value)| !value.trim().is_empty());
    let read = read(pairs.clone());
    Ok((pairs, read))
}

fn read<T: FromQuery>(pairs: Vec<(String, String)>) -> Result<T, Problem> {
    let mut reader = QueryReader { values: BTreeMap::new(), faults: Faults::default() };
    for (name, value) in pairs {
        reader.values.entry(name).or_default().push(value);
    }
    let read = T::read(&mut reader);
    for name in reader.values.keys() {
        let shown: String = name.chars().take(64).collect();
        reader.faults.add_broken(shown, Rule::Known);
    }
    if reader.faults.is_empty() { Ok(read) } else { Err(Problem::with_faults(Kind::BadQuery, reader.faults)) }
}

impl QueryReader {
    /// Notes a fault of parameter `name`.
    pub(crate) fn fault(&mut self, name: &str, code: &'static str, detail: impl Into<String>) {
        self.faults.add_parameter(name, code, detail);
    }

    /// The only value of `name`.
    pub(crate) fn one(&mut self, name: &str) -> Option<String> {
        let mut values = self.values.remove(name)?;
        if values.len() > 1 {
            self.faults.add_broken(name, Rule::Once);
        }
        values.pop()
    }

    /// All values of `name`, as they are.
    pub(crate) fn each(&mut self, name: &str) -> Vec<String> {
        self.values.remove(name).unwrap_or_default()
    }

    /// The only value of `name`, `true` or `false`; `false` when it is left out.
    pub(crate) fn yes(&mut self, name: &str) -> bool {
        self.parsed(name, Rule::YesOrNo, |text| text.parse().ok()).unwrap_or(false)
    }

    /// The only value of `name`, read by `read`.
    pub(crate) fn parsed<T>(
        &mut self,
        name: &str,
        rule: impl Into<Rule>,
        read: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        let text = self.one(name)?;
        let value = read(&text);
        if value.is_none() {
            self.faults.add_broken(name, rule.into());
        }
        value
    }

    /// The slugs under `name`, repeated or separated by commas; empty means no limit.
    pub(crate) fn slugs(&mut self, name: &str) -> Vec<Slug> {
        self.words(name, &Rule::Slug, Slug::new)
    }

    /// The values under `name`, repeated or separated by commas, each read by `read`, which holds them to `rule`.
    pub(crate) fn words<T>(&mut self, name: &str, rule: &Rule, read: impl Fn(&str) -> Result<T, Invalid>) -> Vec<T> {
        let mut values = Vec::new();
        for text in self.values.remove(name).unwrap_or_default() {
            for part in text.split(',') {
                match read(part) {
                    Ok(value) => values.push(value),
                    Err(_) => self.faults.add_broken(name, rule.clone()),
                }
            }
        }
        values
    }

    /// A civil date.
    pub(crate) fn date(&mut self, name: &str) -> Option<NaiveDate> {
        let (first, last) = (1800, 2999);
        self.parsed(name, Rule::Date { first, last }, |text| {
            let date = time::date(text)?;
            (first..=last).contains(&chrono::Datelike::year(&date)).then_some(date)
        })
    }

    /// A whole number within `low..=high`.
    pub(crate) fn whole<T: FromStr + PartialOrd + std::fmt::Display + Copy>(
        &mut self,
        name: &str,
        low: T,
        high: T,
    ) -> Option<T> {
        self.parsed(name, Rule::Whole { low: low.to_string(), high: high.to_string() }, |text| {
            text.parse::<T>().ok().filter(|value| (low..=high).contains(value))
        })
    }
}
