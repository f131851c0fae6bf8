//! The report form: whole markup, one script under a strict policy, small enough for a poor signal.

use crate::support::{Answer, TestApp, on_both};

async fn form(app: &TestApp, path: &str) -> Answer {
    let answer = app.get(path).send().await.expect(200);
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    answer
}

/// Addresses of the files that `html` loads.
fn files(html: &str) -> Vec<String> {
    ["<link rel=\"stylesheet\" href=\"", "<script src=\""]
        .iter()
        .flat_map(|mark| html.split(mark).skip(1))
        .map(|rest| rest.split('"').next().expect("an address").to_owned())
        .collect()
}

on_both! {
    async fn the_form_names_the_water_its_reaches_and_its_insects(app) {
        let html = form(&app, "/report?w=ostrey").await.text();
        assert!(html.contains("data-water=\"ostrey\"") && html.contains("data-zone=\"Europe/London\""), "{html}");
        assert!(!html.contains("data-today"), "only a demo has a date of its own");
        for option in ["<option value=\"mill-meadow\">", "<option value=\"ephemera-danica\">Ephemera danica</option>", "<option value=\"?\">"] {
            assert!(html.contains(option), "{option}");
        }
        for stage in ["nymph", "pupa", "emerger", "dun", "adult", "spinner", "spent"] {
            assert!(html.contains(&format!("<option value=\"{stage}\">{stage}: ")), "{stage}");
        }
        for class in ["sparse", "moderate", "heavy"] {
            assert!(html.contains(&format!("name=\"class-N\" value=\"{class}\"")), "{class}");
        }
        assert!(html.contains("href=\"/about#cautions\""), "the cautions stand where people go out");
        assert!(html.contains("needs JavaScript") && html.contains("href=\"/reference\""), "another way is named");
        let chosen = form(&app, "/report?w=OSTREY&r=mill-meadow").await.text();
        assert!(chosen.contains("<option value=\"mill-meadow\" selected>"), "{chosen}");
    }
}

on_both! {
    async fn every_field_has_a_label_and_a_place_for_its_fault(app) {
        let html = form(&app, "/report?w=ostrey").await.text();
        let values = |attribute: &str| -> Vec<String> {
            html.split(&format!(" {attribute}=\"")).skip(1).map(|rest| rest.split('"').next().expect("a value").to_owned()).collect()
        };
        let (ids, labelled) = (values("id"), values("for"));
        let mut fields = 0;
        for tag in ["<input", "<select", "<textarea"] {
            for field in html.split(tag).skip(1).map(|rest| rest.split('>').next().expect("a tag")) {
                fields += 1;
                let id = field.split("id=\"").nth(1).map(|rest| rest.split('"').next().expect("an id"));
                // Radio buttons and the check box stand inside their labels.
                let inside = field.contains("type=\"radio\"") || field.contains("type=\"checkbox\"");
                assert!(inside || id.is_some_and(|id| labelled.iter().any(|label| label == id)), "{tag}{field}");
            }
        }
        assert!(fields > 15, "{fields}");
        for described in values("aria-describedby").iter().flat_map(|list| list.split(' ')) {
            assert!(ids.iter().any(|id| id == described), "{described} is nowhere");
        }
    }
}

on_both! {
    async fn several_waters_are_offered_and_unknown_ones_are_not_there(app) {
        let html = form(&app, "/report").await.text();
        assert!(html.contains("href=\"/report?w=ostrey\"") && html.contains("href=\"/report?w=elsewhere\""));
        assert!(html.contains("id=\"state\""), "what waits is sent from here too");
        assert!(form(&app, "/report?w=elsewhere").await.text().contains("no reaches yet"));
        let read = |path: &str| app.get(path).header("accept", "application/problem+json").send();
        read("/report?w=nowhere").await.problem(404, "not-found");
        read("/report?w=ostrey&r=nowhere").await.problem(404, "not-found");
        read("/report?w=a%20b").await.problem(400, "bad-query");
        read("/report?q=1").await.problem(400, "bad-query");
    }
}

on_both! {
    async fn the_policy_allows_our_own_scripts_and_nothing_inline(app) {
        for path in ["/report?w=ostrey", "/report", "/report-worker.js"] {
            let answer = app.get(path).send().await.expect(200);
            let policy = answer.header("content-security-policy");
            for part in [
                "default-src 'none'", "script-src 'self'", "connect-src 'self'", "worker-src 'self'", "style-src 'self'",
                "form-action 'none'", "base-uri 'none'", "object-src 'none'", "frame-ancestors 'none'",
            ] {
                assert!(policy.contains(part), "{part} in {policy}");
            }
            assert!(!policy.contains("unsafe"), "{policy}");
            // A copy kept by a browser takes its rules from the answer that renews it.
            let again = app.get(path).header("if-none-match", answer.header("etag")).send().await.expect(304);
            assert_eq!(again.header("content-security-policy"), policy);
        }
        let html = form(&app, "/report?w=ostrey").await.text();
        for tag in html.split("<script").skip(1) {
            assert!(tag.starts_with(" src=\"/assets/") && tag.contains("></script>"), "{tag}");
        }
        assert!(!html.contains("style=\"") && !html.contains(" onclick"));
        let plain = app.get("/w/ostrey").send().await;
        assert!(!plain.header("content-security-policy").contains("script-src"), "other pages run no script");
    }
}

on_both! {
    async fn page_script_and_styles_are_small_and_of_the_right_kind(app) {
        let html = form(&app, "/report?w=ostrey").await.text();
        let mut paths = files(&html);
        assert_eq!(paths.len(), 3, "{paths:?}");
        for file in &paths {
            let answer = app.get(file).send().await.expect(200);
            assert!(answer.header("cache-control").contains("immutable"), "{file}");
            assert!(answer.header("content-type").starts_with(if file.contains(".css") { "text/css" } else { "text/javascript" }));
        }
        let worker = app.get("/report-worker.js").send().await.expect(200);
        assert!(worker.header("content-type").starts_with("text/javascript"));
        assert!(worker.header("cache-control").contains("must-revalidate"), "a worker must be able to change");
        paths.extend(["/report?w=ostrey".to_owned(), "/report-worker.js".to_owned()]);
        let mut bytes = 0;
        for path in &paths {
            let travels = app.get(path).header("accept-encoding", "gzip").send().await.expect(200);
            assert_eq!(travels.header("content-encoding"), "gzip", "{path}");
            bytes += travels.bytes.len();
        }
        assert!((4 * 1024..30 * 1024).contains(&bytes), "{bytes} bytes");
    }
}

on_both! {
    async fn the_water_and_the_reach_lead_to_the_form(app) {
        assert!(form(&app, "/w/ostrey").await.text().contains("href=\"/report?w=ostrey\""));
        assert!(form(&app, "/w/ostrey/reaches/mill-meadow").await.text().contains("href=\"/report?w=ostrey&amp;r=mill-meadow\""));
        assert!(form(&app, "/about").await.text().contains("keeps your token"), "what is kept is told");
    }
}
