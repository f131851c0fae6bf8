//! The interface to read: every operation and document of the OpenAPI document.

use std::collections::BTreeMap;

use maud::{Markup, html};
use serde_json::{Map, Value};

use super::layout;
use crate::words::Language;

/// The page of `document`, the OpenAPI document as served.
pub(crate) fn reference(document: &Value) -> Markup {
    let groups = groups(document);
    let empty = Map::new();
    let schemas = document.pointer("/components/schemas").and_then(Value::as_object).unwrap_or(&empty);
    let body = html! {
        (layout::trail(Language::English, &[]))
        h1 { "Interface" }
        p.lead { (prose(text(&document["info"]["description"]))) }
        p { "The same for machines: " a href="/openapi.json" { "OpenAPI document" } ". What refusals mean: "
            a href="/problems/" { "kinds of problem" } "." }
        p { "Where a token is needed, send it as " code { "Authorization: Bearer subimago_..." } "." }
        nav.contents aria-label="Contents" {
            ul {
                @for (group, operations) in &groups {
                    li {
                        a href=(format!("#{group}")) { (group) } ": "
                        @for (index, operation) in operations.iter().enumerate() {
                            @if index > 0 { ", " }
                            a href=(format!("#{}", operation.id)) { (operation.id) }
                        }
                    }
                }
                li { a href="#documents" { "documents" } }
            }
        }
        @for (group, operations) in &groups {
            section aria-labelledby=(group) {
                h2 id=(group) { (capital(group)) }
                @for operation in operations { (operation.markup()) }
            }
        }
        section aria-labelledby="documents" {
            h2 id="documents" { "Documents" }
            @for (name, schema) in schemas { (schema_section(name, schema)) }
        }
    };
    layout::page(
        Language::English,
        "Interface \u{b7} Subimago",
        "Every operation and document of the interface.",
        &body,
    )
}

/// One operation.
#[derive(Debug)]
struct Operation<'a> {
    id: &'a str,
    method: String,
    path: &'a str,
    said: &'a Value,
}

/// Operations by tag, in the order of their addresses.
fn groups(document: &Value) -> BTreeMap<&str, Vec<Operation<'_>>> {
    let mut groups: BTreeMap<&str, Vec<Operation<'_>>> = BTreeMap::new();
    for (path, item) in document["paths"].as_object().into_iter().flatten() {
        for (method, said) in item.as_object().into_iter().flatten() {
            let operation = Operation { id: text(&said["operationId"]), method: method.to_uppercase(), path, said };
            groups.entry(text(&said["tags"][0])).or_default().push(operation);
        }
    }
    groups
}

impl Operation<'_> {
    fn markup(&self) -> Markup {
        let parameters = self.said["parameters"].as_array().map_or(&[] as &[Value], Vec::as_slice);
        let responses: Vec<(&String, &Value)> = self.said["responses"].as_object().into_iter().flatten().collect();
        let (done, refused): (Vec<_>, Vec<_>) = responses.into_iter().partition(|(status, _)| status.starts_with('2'));
        html! {
            section.operation aria-labelledby=(self.id) {
                h3 id=(self.id) { code { (self.method) " " (self.path) } }
                p {
                    (prose(text(&self.said["summary"])))
                    @let more = text(&self.said["description"]);
                    @if !more.is_empty() { " " (prose(more)) }
                    @if self.said.get("security").is_some() { " " strong { "Needs a token." } }
                }
                @if !parameters.is_empty() {
                    div.scroll tabindex="0" role="region" aria-label=(format!("Parameters of {}", self.id)) {
                        table {
                            caption { "Parameters" }
                            thead { tr {
                                th scope="col" { "Name" } th scope="col" { "Where" } th scope="col" { "Form" }
                                th scope="col" { "Meaning" }
                            } }
                            tbody {
                                @for parameter in parameters {
                                    tr {
                                        th scope="row" { code { (text(&parameter["name"])) } }
                                        td {
                                            (text(&parameter["in"]))
                                            @if parameter["required"] == true { ", required" }
                                        }
                                        td { (form(&parameter["schema"])) }
                                        td { (prose(text(&parameter["description"]))) }
                                    }
                                }
                            }
                        }
                    }
                }
                @if let Some(content) = self.said.pointer("/requestBody/content").and_then(Value::as_object) {
                    @for (media, body) in content { p { "Body: " (form(&body["schema"])) " as " code { (media) } "." } }
                }
                ul {
                    @for (status, response) in done {
                        li {
                            strong { (status) } ": " (prose(text(&response["description"])))
                            @for (media, body) in response["content"].as_object().into_iter().flatten() {
                                " " (form(&body["schema"])) " as " code { (media) } "."
                            }
                            @for (name, header) in response["headers"].as_object().into_iter().flatten() {
                                " " code { (name) } ": " (prose(text(&header["description"]))) "."
                            }
                        }
                    }
                    @if !refused.is_empty() {
                        li {
                            "Refused with "
                            @for (index, (status, _)) in refused.iter().enumerate() { @if index > 0 { ", " } (status) }
                            "."
                        }
                    }
                }
            }
        }
    }
}

fn schema_section(name: &str, schema: &Value) -> Markup {
    let required: Vec<&str> = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let id = format!("document-{name}");
    html! {
        section.operation aria-labelledby=(id) {
            h3 id=(id) { (name) }
            p { (prose(text(&schema["description"]))) }
            // A document that adds members to another one.
            @for part in schema["allOf"].as_array().into_iter().flatten() {
                @if part.get("$ref").is_some() { p { "All of " (form(part)) ", and:" } } @else { (members(name, part, &required)) }
            }
            (members(name, schema, &required))
        }
    }
}

fn members(name: &str, schema: &Value, outer: &[&str]) -> Markup {
    let Some(properties) = schema["properties"].as_object() else { return html! {} };
    let own: Vec<&str> = schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let always = |member: &str| own.contains(&member) || outer.contains(&member);
    html! {
        div.scroll tabindex="0" role="region" aria-label=(format!("Members of {name}")) {
            table {
                thead { tr { th scope="col" { "Member" } th scope="col" { "Form" } th scope="col" { "Meaning" } } }
                tbody {
                    @for (member, said) in properties {
                        tr {
                            th scope="row" { code { (member) } @if !always(member) { span.small { " may be left out" } } }
                            td { (form(said)) }
                            td { (prose(meaning(said))) }
                        }
                    }
                }
            }
        }
    }
}

/// What a member means: said by itself, or by the document it may be.
fn meaning(said: &Value) -> &str {
    let own = text(&said["description"]);
    let inner = || {
        said["oneOf"].as_array().into_iter().flatten().map(|part| text(&part["description"])).find(|t| !t.is_empty())
    };
    if own.is_empty() { inner().unwrap_or_default() } else { own }
}

/// The form of a value in words, with links to documents.
fn form(schema: &Value) -> Markup {
    if let Some(target) = schema["$ref"].as_str() {
        let name = target.rsplit('/').next().unwrap_or_default();
        return html! { a href=(format!("#document-{name}")) { (name) } };
    }
    for choice in ["oneOf", "anyOf", "allOf"] {
        if let Some(parts) = schema[choice].as_array() {
            return html! { @for (index, part) in parts.iter().enumerate() { @if index > 0 { " or " } (form(part)) } };
        }
    }
    let kinds: Vec<&str> = match &schema["type"] {
        Value::String(one) => vec![one],
        Value::Array(several) => several.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    let limits = limits(schema);
    html! {
        @for (index, kind) in kinds.iter().enumerate() {
            @if index > 0 { " or " }
            @match *kind {
                "array" => { "list of " (form(&schema["items"])) }
                "integer" => "whole number",
                "string" => (schema["format"].as_str().unwrap_or("text")),
                other => (other),
            }
        }
        @for limit in limits { ", " (limit) }
        @if let Some(pattern) = schema["pattern"].as_str() { ", as " code { (pattern) } }
        @if let Some(usual) = schema.get("default") { ", " (usual) " when left out" }
    }
}

fn limits(schema: &Value) -> Vec<String> {
    [
        ("minimum", "at least ", ""),
        ("maximum", "at most ", ""),
        ("minLength", "at least ", " characters"),
        ("maxLength", "at most ", " characters"),
        ("minItems", "at least ", " items"),
        ("maxItems", "at most ", " items"),
    ]
    .into_iter()
    .filter_map(|(name, before, after)| schema.get(name).map(|value| format!("{before}{value}{after}")))
    .collect()
}

/// Text with what stands between backticks set as code.
fn prose(text: &str) -> Markup {
    html! {
        @for (index, part) in text.split('`').enumerate() {
            @if index % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
