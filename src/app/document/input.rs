//! Reading incoming documents so that one answer names every fault.
//!
//! serde stops at the first fault. [`read`] therefore notes it, takes the faulty member out of the
//! JSON value and tries again until the value reads; every member of an input type is optional to
//! serde, and what must be there is asked for by garde afterwards.

use std::marker::PhantomData;

use serde::de::DeserializeOwned;
use serde_json::Value;
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

use super::faults::MAX_FAULTS;
use super::{Faults, FeedsInput, GaugeInput, NoticeInput, ReachInput, ReportInput, TaxonInput, WatershedInput};

/// Deepest nesting of a body that is read.
pub const MAX_DEPTH: usize = 32;

/// An incoming document and the domain value it stands for.
pub trait Input: DeserializeOwned + garde::Validate<Context = ()> {
    /// What it becomes.
    type Domain;

    /// Converts after the field rules hold; further faults go to `faults`, and then `None` returns.
    fn into_domain(self, faults: &mut Faults) -> Option<Self::Domain>;
}

/// Reads `value` as `T` and converts it.
///
/// # Errors
/// All faults found, each with its JSON Pointer.
pub fn read<T: Input>(mut value: Value) -> Result<T::Domain, Faults> {
    let mut faults = Faults::default();
    if !value.is_object() {
        return Err(Faults::one("#", "wrong_type", "must be a JSON object"));
    }
    if depth_exceeds(&value, MAX_DEPTH) {
        return Err(Faults::one("#", "too_deep", format!("must not nest deeper than {MAX_DEPTH} levels")));
    }
    let Some(parsed) = mend::<T>(&mut value, &mut faults) else { return Err(faults) };
    if let Err(report) = parsed.validate() {
        for (path, error) in report.iter() {
            let message = error.message();
            let (code, detail) =
                if message == "not set" { ("missing", "is required".to_owned()) } else { ("rule", rule(message)) };
            faults.add(pointer_of_garde(&path.to_string()), code, detail);
        }
    }
    let domain = parsed.into_domain(&mut faults);
    match domain {
        Some(domain) if faults.is_empty() => Ok(domain),
        _ if faults.is_empty() => Err(Faults::one("#", "incomplete", "is incomplete")),
        _ => Err(faults),
    }
}

/// Deserialises, taking out one faulty member at a time.
fn mend<T: DeserializeOwned>(value: &mut Value, faults: &mut Faults) -> Option<T> {
    for _ in 0..MAX_FAULTS {
        let error = match serde_path_to_error::deserialize::<_, T>(&*value) {
            Ok(parsed) => return Some(parsed),
            Err(error) => error,
        };
        let mut steps: Vec<String> = error.path().iter().filter_map(step).collect();
        let message = error.into_inner().to_string();
        let unknown = message.starts_with("unknown field");
        if let Some(name) = message.strip_prefix("unknown field `").and_then(|rest| rest.split('`').next())
            && steps.last().is_none_or(|last| last != name)
        {
            steps.push(name.to_owned());
        }
        let pointer = pointer_of(&steps);
        let (code, detail) = if unknown {
            ("unknown_field", "is not a member of this document".to_owned())
        } else {
            ("wrong_type", wanted(&message))
        };
        faults.add(pointer, code, detail);
        if !take_out(value, &steps) {
            return None;
        }
    }
    None
}

/// What was wanted, in plain words. Our own readers begin with "must"; the rest names types of the
/// programming language, which mean nothing to who sent the document.
fn wanted(message: &str) -> String {
    if message.starts_with("must ") {
        return message.to_owned();
    }
    let expected = message.rsplit_once("expected ").map_or("", |(_, expected)| expected);
    let words = match expected {
        "f32" | "f64" => "must be a number",
        "a string" | "str" | "string" => "must be text",
        "a boolean" | "bool" => "must be true or false",
        "a sequence" => "must be a list",
        "a map" => "must be a JSON object",
        other if other.starts_with("struct ") => "must be a JSON object",
        other if other.starts_with(['u', 'i']) && other[1..].bytes().all(|byte| byte.is_ascii_digit()) => {
            "must be a whole number"
        }
        _ => "has a form that is not read here",
    };
    words.to_owned()
}

/// A broken field rule in plain words.
fn rule(message: &str) -> String {
    let (of, bound) = message.strip_prefix("length is ").map_or(("be", message), |rest| ("have", rest));
    let unit = if of == "have" { " items or characters" } else { "" };
    if let Some(low) = bound.strip_prefix("lower than ") {
        format!("must {of} at least {low}{unit}")
    } else if let Some(high) = bound.strip_prefix("greater than ") {
        format!("must {of} at most {high}{unit}")
    } else {
        message.to_owned()
    }
}

fn step(segment: &serde_path_to_error::Segment) -> Option<String> {
    match segment {
        serde_path_to_error::Segment::Seq { index } => Some(index.to_string()),
        serde_path_to_error::Segment::Map { key } => Some(key.clone()),
        serde_path_to_error::Segment::Enum { .. } | serde_path_to_error::Segment::Unknown => None,
    }
}

/// Removes the member at `steps`; an array element becomes an empty object so that indices keep.
fn take_out(value: &mut Value, steps: &[String]) -> bool {
    let Some((last, parents)) = steps.split_last() else { return false };
    let mut place = value;
    for name in parents {
        let next = match place {
            Value::Object(map) => map.get_mut(name),
            Value::Array(items) => name.parse::<usize>().ok().and_then(|index| items.get_mut(index)),
            _ => None,
        };
        let Some(next) = next else { return false };
        place = next;
    }
    match place {
        Value::Object(map) => map.remove(last).is_some(),
        Value::Array(items) => match last.parse::<usize>().ok().and_then(|index| items.get_mut(index)) {
            // An element of a list of words or numbers cannot be mended in place: drop the list's tail.
            Some(element) if !element.is_object() && *element != Value::Null => {
                let was_scalar_list = !items.iter().any(Value::is_object);
                let index = last.parse::<usize>().unwrap_or(0);
                if was_scalar_list {
                    items.remove(index);
                } else {
                    items[index] = Value::Object(serde_json::Map::new());
                }
                true
            }
            _ => false,
        },
        _ => false,
    }
}

fn pointer_of(steps: &[String]) -> String {
    let mut pointer = String::from("#");
    for name in steps {
        pointer.push('/');
        pointer.push_str(&name.replace('~', "~0").replace('/', "~1"));
    }
    pointer
}

/// `sightings[0].count` as `#/sightings/0/count`.
fn pointer_of_garde(path: &str) -> String {
    let flat = path.replace('[', ".").replace(']', "");
    let steps: Vec<String> = flat.split('.').filter(|part| !part.is_empty()).map(str::to_owned).collect();
    pointer_of(&steps)
}

fn depth_exceeds(value: &Value, left: usize) -> bool {
    match value {
        Value::Array(items) => left == 0 || items.iter().any(|item| depth_exceeds(item, left - 1)),
        Value::Object(map) => left == 0 || map.values().any(|item| depth_exceeds(item, left - 1)),
        _ => false,
    }
}

/// JSON Merge Patch (RFC 7396): members of `patch` replace those of `target`, null removes.
pub fn merge(target: &mut Value, patch: Value) {
    let Value::Object(changes) = patch else {
        *target = patch;
        return;
    };
    if !target.is_object() {
        *target = Value::Object(serde_json::Map::new());
    }
    if let Value::Object(map) = target {
        for (name, change) in changes {
            if change.is_null() {
                map.remove(&name);
            } else {
                merge(map.entry(name).or_insert(Value::Null), change);
            }
        }
    }
}

/// Schema of a merge patch for `T`: the same members, none required.
#[derive(Debug)]
pub struct Patch<T>(PhantomData<T>);

impl<T: PartialSchema> PartialSchema for Patch<T> {
    fn schema() -> RefOr<Schema> {
        match T::schema() {
            RefOr::T(Schema::Object(mut object)) => {
                object.required.clear();
                RefOr::T(Schema::Object(object))
            }
            other => other,
        }
    }
}

impl<T: ToSchema> ToSchema for Patch<T> {
    fn name() -> std::borrow::Cow<'static, str> {
        format!("{}Patch", T::name()).into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        T::schemas(schemas);
    }
}

/// Merge patch of a watershed.
pub type WatershedPatch = Patch<WatershedInput>;
/// Merge patch of a reach.
pub type ReachPatch = Patch<ReachInput>;
/// Merge patch of a gauge.
pub type GaugePatch = Patch<GaugeInput>;
/// Merge patch of a notice.
pub type NoticePatch = Patch<NoticeInput>;
/// Merge patch of how feeds are given.
pub type FeedsPatch = Patch<FeedsInput>;
/// Merge patch of a taxon.
pub type TaxonPatch = Patch<TaxonInput>;
/// Merge patch of a report.
pub type ReportPatch = Patch<ReportInput>;
