//! The OpenAPI document: committed as generated, and true.

use std::path::Path;

use serde_json::Value;
use subimago::http::openapi_text;

use crate::support::on_both;

fn document() -> Value {
    serde_json::from_str(&openapi_text().expect("a document")).expect("JSON")
}

/// Regenerate with `SUBIMAGO_WRITE_OPENAPI=1 cargo test --test api openapi`.
#[test]
fn the_committed_document_is_the_generated_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi/openapi.json");
    let generated = openapi_text().expect("a document");
    if std::env::var_os("SUBIMAGO_WRITE_OPENAPI").is_some() {
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        std::fs::write(&path, &generated).expect("writes");
    }
    let committed = std::fs::read_to_string(&path).expect("openapi/openapi.json is committed");
    assert!(committed == generated, "openapi/openapi.json is not what the program generates");
}

#[test]
fn every_operation_is_named_once_and_documents_its_refusals() {
    let document = document();
    assert_eq!(document["openapi"], "3.1.0");
    let mut names = Vec::new();
    for (path, item) in document["paths"].as_object().expect("paths") {
        for (method, operation) in item.as_object().expect("an item") {
            let place = format!("{method} {path}");
            names.push(operation["operationId"].as_str().unwrap_or_else(|| panic!("{place} has no name")).to_owned());
            let responses = operation["responses"].as_object().expect("responses");
            assert!(responses.keys().any(|status| status.starts_with('2')), "{place}");
            for status in ["400", "404", "500", "503"] {
                let refused = &responses[status]["content"]["application/problem+json"]["schema"]["$ref"];
                assert_eq!(refused, "#/components/schemas/ProblemDocument", "{place} {status}");
            }
            let secured = operation.get("security").is_some();
            assert_eq!(secured, responses.contains_key("401"), "{place}");
            assert_eq!(
                operation.get("requestBody").is_some(),
                responses.contains_key("415") && method != "delete",
                "{place}"
            );
            for response in responses.values() {
                assert!(response["description"].as_str().is_some_and(|text| !text.is_empty()), "{place}");
            }
        }
    }
    let count = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), count, "names are unique");
}

#[test]
fn every_reference_resolves() {
    fn walk(value: &Value, root: &Value) {
        match value {
            Value::Object(map) => {
                if let Some(Value::String(target)) = map.get("$ref") {
                    let pointer = target.strip_prefix('#').expect("a local reference");
                    assert!(root.pointer(pointer).is_some(), "{target}");
                }
                map.values().for_each(|inner| walk(inner, root));
            }
            Value::Array(items) => items.iter().for_each(|inner| walk(inner, root)),
            _ => {}
        }
    }
    let document = document();
    walk(&document, &document);
}

on_both! {
    async fn answers_match_their_schemas(app) {
        let document = document();
        for (path, template) in [
            ("/v1/watersheds", "/v1/watersheds"),
            ("/v1/watersheds/ostrey", "/v1/watersheds/{w}"),
            ("/v1/watersheds/ostrey/reaches", "/v1/watersheds/{w}/reaches"),
            ("/v1/watersheds/ostrey/forecasts", "/v1/watersheds/{w}/forecasts"),
            ("/v1/watersheds/ostrey/reaches/mill-meadow/guidance", "/v1/watersheds/{w}/reaches/{r}/guidance"),
            ("/v1/watersheds/ostrey/gauges/bridge/readings", "/v1/watersheds/{w}/gauges/{g}/readings"),
            ("/v1/watersheds/ostrey/season-review", "/v1/watersheds/{w}/season-review"),
            ("/v1/watersheds/ostrey/skill", "/v1/watersheds/{w}/skill"),
            ("/v1/watersheds/ostrey/fits", "/v1/watersheds/{w}/fits"),
            ("/v1/watersheds/ostrey/notices", "/v1/watersheds/{w}/notices"),
            ("/v1/watersheds/ostrey/reports", "/v1/watersheds/{w}/reports"),
            ("/v1/taxa/ephemera-danica", "/v1/taxa/{t}"),
            ("/healthz", "/healthz"),
        ] {
            let body = app.get(path).send().await.expect(200).json();
            check(&document, &format!("/paths/{}/get/responses/200/content/application~1json/schema", escape(template)), &body);
        }
        let problem = app.get("/nowhere").send().await.json();
        check(&document, "/components/schemas/ProblemDocument", &problem);
    }
}

fn escape(path: &str) -> String {
    path.replace('~', "~0").replace('/', "~1")
}

fn check(document: &Value, pointer: &str, body: &Value) {
    let schema = document.pointer(pointer).unwrap_or_else(|| panic!("no schema at {pointer}"));
    let whole = serde_json::json!({ "allOf": [schema], "components": document["components"] });
    let validator = jsonschema::draft202012::new(&whole).expect("a schema");
    let faults: Vec<String> = validator.iter_errors(body).map(|fault| fault.to_string()).collect();
    assert!(faults.is_empty(), "{pointer}: {faults:?}\n{body}");
}

on_both! {
    async fn the_document_and_its_reference_are_served_from_inside(app) {
        let served = app.get("/openapi.json").send().await.expect(200);
        assert_eq!(served.text(), openapi_text().expect("a document"));
        let answer = app.get("/reference").send().await.expect(200);
        assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
        app.get("/reference").header("if-none-match", answer.header("etag")).send().await.expect(304);
        assert_eq!(app.get("/reference/").send().await.expect(308).header("location"), "/reference");
        let page = answer.text();
        assert!(page.contains("<meta charset=\"utf-8\">") && page.contains("href=\"/\""), "a way back to the waters");
        assert!(!page.contains("<script") && !page.contains("href=\"http") && !page.contains("src=\"http"), "nothing from elsewhere");
        let ids: std::collections::BTreeSet<&str> =
            page.split(" id=\"").skip(1).map(|part| part.split('"').next().expect("an id")).collect();
        assert_eq!(ids.len(), page.matches(" id=\"").count(), "ids are unique");
        for target in page.split("href=\"#").skip(1).map(|part| part.split('"').next().expect("a target")) {
            assert!(ids.contains(target), "#{target} leads nowhere");
        }
        let document = document();
        for (path, item) in document["paths"].as_object().expect("paths") {
            for (method, operation) in item.as_object().expect("an item") {
                assert!(ids.contains(operation["operationId"].as_str().expect("a name")));
                assert!(page.contains(&format!("<code>{} {path}</code>", method.to_uppercase())), "{method} {path}");
                for parameter in operation["parameters"].as_array().into_iter().flatten() {
                    assert!(page.contains(&format!("<code>{}</code>", parameter["name"].as_str().expect("a name"))));
                }
            }
        }
        for (name, schema) in document["components"]["schemas"].as_object().expect("schemas") {
            assert!(ids.contains(format!("document-{name}").as_str()), "{name}");
            for member in schema["properties"].as_object().into_iter().flatten().map(|(member, _)| member) {
                assert!(page.contains(&format!("<code>{member}</code>")), "{name}.{member}");
            }
        }
    }
}
