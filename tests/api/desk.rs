//! The keeper's desk: who gets in, what a form must carry, and what it does.

use axum::http::Method;
use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::support::{Answer, TestApp, on_both};

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
pub(crate) const ORIGIN: &str = "http://water.test";

/// A keeper at the desk.
pub(crate) struct Desk {
    app: TestApp,
    /// The cookie, as a browser sends it.
    pub(crate) cookie: String,
}

impl Desk {
    /// Signs in with `secret`.
    pub(crate) async fn open(app: &TestApp, secret: &str) -> Self {
        let answer = sign_in(app, secret).await.expect(303);
        let set = answer.header("set-cookie").to_owned();
        Self { app: app.clone(), cookie: set.split(';').next().expect("a pair").to_owned() }
    }

    pub(crate) async fn get(&self, path: &str) -> Answer {
        self.app.get(path).header("cookie", &self.cookie).header("accept", "text/html").send().await
    }

    /// The page at `path`, which is there.
    pub(crate) async fn page(&self, path: &str) -> String {
        let answer = self.get(path).await.expect(200);
        assert_eq!(answer.header("cache-control"), "private, no-store", "{path}");
        answer.text()
    }

    /// Sends the form at `path` as its page would: with the mark that stands in it.
    pub(crate) async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mark = mark_in(&self.page("/desk").await);
        let mut pairs = vec![("mark", mark.as_str())];
        pairs.extend(fields);
        self.send(path, &pairs).header("origin", ORIGIN).send().await
    }

    fn send(&self, path: &str, fields: &[(&str, &str)]) -> crate::support::TestRequest {
        let body = serde_html_form::to_string(fields).expect("a form");
        self.app
            .request(Method::POST, path)
            .header("cookie", &self.cookie)
            .header("accept", "text/html")
            .header("content-type", "application/x-www-form-urlencoded")
            .raw(body)
    }
}

async fn sign_in(app: &TestApp, secret: &str) -> Answer {
    let body = serde_html_form::to_string([("token", secret)]).expect("a form");
    app.request(Method::POST, "/desk/sign-in")
        .header("origin", ORIGIN)
        .header("accept", "text/html")
        .header("content-type", "application/x-www-form-urlencoded")
        .raw(body)
        .send()
        .await
}

/// The value of the first hidden field `name`.
pub(crate) fn hidden(html: &str, name: &str) -> String {
    let rest = html.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap_or_else(|| panic!("no {name} in {html}"));
    rest.split('"').next().expect("a value").to_owned()
}

fn mark_in(html: &str) -> String {
    hidden(html, "mark")
}

/// Every field has a label of its own, and every description is there.
pub(crate) fn well_formed(html: &str) {
    let values = |attribute: &str| -> Vec<String> {
        html.split(&format!(" {attribute}=\""))
            .skip(1)
            .map(|rest| rest.split('"').next().expect("a value").to_owned())
            .collect()
    };
    let (ids, labelled) = (values("id"), values("for"));
    for tag in ["<input", "<select", "<textarea"] {
        for field in html.split(tag).skip(1).map(|rest| rest.split('>').next().expect("a tag")) {
            let id = field.split(" id=\"").nth(1).map(|rest| rest.split('"').next().expect("an id"));
            assert!(
                field.contains("type=\"hidden\"") || id.is_some_and(|id| labelled.iter().any(|l| l == id)),
                "{tag}{field}"
            );
        }
    }
    for described in values("aria-describedby").iter().flat_map(|list| list.split(' ')) {
        assert!(ids.iter().any(|id| id == described), "{described} is nowhere");
    }
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id stands twice: {ids:?}");
    assert!(!html.contains("<script") && !html.contains("style=\"") && !html.contains(" onclick"));
}

async fn file(app: &TestApp) {
    app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
}

on_both! {
    async fn a_keeper_signs_in_and_out_and_nobody_else_does(app) {
        let page = app.get("/desk").send().await.expect(200).text();
        well_formed(&page);
        assert!(page.contains("action=\"/desk/sign-in\""));
        for (secret, status) in [("", 401), ("subimago_x", 401), (app.member.as_str(), 403)] {
            let refused = sign_in(&app, secret).await.expect(status);
            assert!(!refused.headers.contains_key("set-cookie"));
            let page = refused.text();
            well_formed(&page);
            assert!(page.contains("aria-invalid=\"true\"") && page.contains("id=\"sign-in-token-error\""), "{page}");
            assert!(secret.is_empty() || !page.contains(secret), "a secret is not shown again");
        }
        let answer = sign_in(&app, &app.keeper).await.expect(303);
        assert_eq!(answer.header("location"), "/desk");
        let set = answer.header("set-cookie");
        for part in ["HttpOnly", "SameSite=Strict", "Max-Age=43200", "Path=/desk"] {
            assert!(set.contains(part), "{set}");
        }
        assert!(!set.contains(&app.keeper) && !set.contains("Secure"), "{set}");
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page("/desk").await;
        assert!(page.contains("the keeper") && page.contains("href=\"/desk/ostrey\"") && !page.contains("elsewhere"), "{page}");
        let out = desk.post("/desk/sign-out", &[]).await.expect(303);
        assert!(out.header("set-cookie").contains("Max-Age=0"));
        assert_eq!(desk.get("/desk/ostrey").await.expect(303).header("location"), "/desk?said=ended", "the key is worth nothing now");
    }
}

on_both! {
    async fn the_database_knows_neither_the_key_nor_the_token(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let key = desk.cookie.split_once('=').expect("a pair").1;
        assert!(key.starts_with("desk_") && key.len() == 5 + 43 + 6, "{key}");
        app.get("/v1/tokens").token(key).send().await.problem(401, "unauthenticated");
        let session = format!("subimago_desk={}", app.keeper);
        app.get("/desk/ostrey").header("cookie", session).send().await.expect(303);
        for wrong in ["subimago_desk=", "subimago_desk=desk_x", "other=1"] {
            app.get("/desk/ostrey").header("cookie", wrong).send().await.expect(303);
        }
    }
}

on_both! {
    async fn a_session_ends_with_its_token_and_with_its_hours(app) {
        let wish = json!({ "name": "second keeper", "role": "keeper", "watersheds": ["ostrey"] });
        let made = app.post("/v1/tokens", &wish).token(&app.keeper).send().await.expect(201).json();
        let desk = Desk::open(&app, made["secret"].as_str().expect("a secret")).await;
        desk.page("/desk/ostrey").await;
        let path = format!("/v1/tokens/{}", made["id"].as_str().expect("an id"));
        app.request(Method::DELETE, &path).token(&app.keeper).send().await.expect(204);
        desk.get("/desk/ostrey").await.expect(303);
        let desk = Desk::open(&app, &app.keeper).await;
        let key = desk.cookie.split_once('=').expect("a pair").1.to_owned();
        let later = |hours| crate::support::now() + chrono::TimeDelta::hours(hours);
        let hash: [u8; 32] = sha2::Digest::finalize(sha2::Digest::chain_update(<sha2::Sha256 as sha2::Digest>::new(), &key)).into();
        let mut tx = app.service.db().read().await.expect("reads");
        use subimago::store::desk_session::session_token;
        assert!(session_token(&mut tx, &hash, later(11)).await.expect("reads").is_some());
        assert!(session_token(&mut tx, &hash, later(12)).await.expect("reads").is_none());
    }
}

on_both! {
    async fn forms_of_other_sites_and_of_other_sessions_are_refused(app) {
        file(&app).await;
        let desk = Desk::open(&app, &app.keeper).await;
        let path = format!("/desk/ostrey/reports/{ID}");
        let page = desk.page(&path).await;
        let (mark, version) = (mark_in(&page), hidden(&page, "version"));
        let wish = [("state", "rejected"), ("reason", "x"), ("version", version.as_str())];
        let with = |mark: &str| -> Vec<(&str, String)> {
            wish.iter().map(|(n, v)| (*n, (*v).to_owned())).chain([("mark", mark.to_owned())]).collect()
        };
        let send = |mark: &str| {
            let owned = with(mark);
            let pairs: Vec<(&str, &str)> = owned.iter().map(|(n, v)| (*n, v.as_str())).collect();
            desk.send(&path, &pairs)
        };
        send(&mark).send().await.expect(403);
        for origin in ["https://club.test", "null", "http://water.test.evil.test", "http://evil.test"] {
            send(&mark).header("origin", origin).header("host", "water.test").send().await.expect(403);
        }
        send(&mark).header("sec-fetch-site", "cross-site").send().await.expect(403);
        let other = Desk::open(&app, &app.keeper).await;
        let foreign = mark_in(&other.page("/desk").await);
        assert_ne!(foreign, mark);
        for wrong in ["", "x", foreign.as_str()] {
            send(wrong).header("origin", ORIGIN).send().await.expect(403);
        }
        let body = serde_html_form::to_string([("token", app.keeper.as_str())]).expect("a form");
        app.request(Method::POST, "/desk/sign-in").header("origin", "https://club.test")
            .header("content-type", "application/x-www-form-urlencoded").raw(body).send().await.expect(403);
        let json = app.request(Method::POST, &path).header("cookie", &desk.cookie).header("origin", ORIGIN);
        json.json(&json!({ "mark": mark })).send().await.expect(415);
        let state = app.get(&format!("/v1/reports/{ID}")).token(&app.keeper).send().await.json();
        assert_eq!(state["state"], "accepted", "nothing was done");
        // Reached under another name, as behind a proxy or from the machine itself.
        send(&mark).header("origin", "http://127.0.0.1:8080").header("host", "127.0.0.1:8080").send().await.expect(303);
    }
}

on_both! {
    async fn guessing_a_token_at_the_desk_waits_like_everywhere(app) {
        for _ in 0..10 {
            sign_in(&app, "subimago_x").await.expect(401);
        }
        sign_in(&app, &app.keeper).await.expect(429);
    }
}

on_both! {
    async fn a_keeper_of_another_water_sees_nothing_of_this_one(app) {
        file(&app).await;
        let desk = Desk::open(&app, &app.stranger).await;
        for path in ["/desk/ostrey", &format!("/desk/ostrey/reports/{ID}"), "/desk/ostrey/access"] {
            desk.get(path).await.expect(403);
        }
        desk.get(&format!("/desk/elsewhere/reports/{ID}")).await.expect(404);
        desk.get("/desk/nowhere").await.expect(404);
        desk.post(&format!("/desk/elsewhere/reports/{ID}"), &[("state", "accepted"), ("version", "1")]).await.expect(404);
    }
}

on_both! {
    async fn the_desk_may_load_no_more_than_other_pages_and_says_where_it_stands_to_itself_alone(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let answer = desk.get("/desk/ostrey").await.expect(200);
        assert_eq!(answer.header("referrer-policy"), "same-origin");
        let policy = answer.header("content-security-policy");
        assert!(policy.contains("default-src 'none'") && policy.contains("form-action 'self'") && !policy.contains("script-src"), "{policy}");
        assert_eq!(app.get("/desktop").send().await.header("referrer-policy"), "no-referrer");
        assert!(answer.text().contains("href=\"/assets/desk.css?v="));
        let style = app.get("/assets/desk.css").send().await.expect(200);
        assert!(style.header("content-type").starts_with("text/css"));
    }
}

on_both! {
    async fn what_waits_is_decided_with_reasons_and_taken_back(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        assert!(desk.page("/desk/ostrey").await.contains("Nothing here."));
        file(&app).await;
        assert!(desk.page("/desk").await.contains("1 report waits for you."));
        let list = desk.page("/desk/ostrey").await;
        well_formed(&list);
        let path = format!("/desk/ostrey/reports/{ID}");
        assert!(list.contains(&format!("href=\"{path}\"")) && list.contains("Ephemera danica") && list.contains("From a member"), "{list}");
        let page = desk.page(&path).await;
        well_formed(&page);
        let version = hidden(&page, "version");
        let refused = desk.post(&path, &[("state", "rejected"), ("reason", " "), ("version", &version)]).await.expect(422);
        assert_eq!(refused.header("cache-control"), "private, no-store");
        let refused = refused.text();
        well_formed(&refused);
        assert!(refused.contains("id=\"decision-reason-error\"") && refused.contains("<option value=\"rejected\" selected>"), "{refused}");
        let done = desk.post(&path, &[("state", "rejected"), ("reason", "another <b>river</b>"), ("version", &version)]).await.expect(303);
        assert_eq!(done.header("location"), format!("{path}?said=rejected#said"));
        let page = desk.page(&format!("{path}?said=rejected")).await;
        assert!(page.contains("another &lt;b&gt;river&lt;/b&gt;") && page.contains("role=\"status\""), "{page}");
        assert!(desk.page("/desk/ostrey").await.contains("Nothing here."));
        assert!(desk.page("/desk/ostrey?list=aside").await.contains(ID));
        // A page that was opened before decides nothing.
        let late = desk.post(&path, &[("state", "accepted"), ("reason", ""), ("version", &version)]).await.expect(412).text();
        assert!(late.contains("Somebody changed it"), "{late}");
        let version = hidden(&page, "version");
        desk.post(&path, &[("undo", "yes"), ("version", &version)]).await.expect(303);
        let told: Value = app.get(&format!("/v1/reports/{ID}/moderation")).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(told["report"]["state"], "accepted");
        assert_eq!(told["history"][2]["action"], "undo");
        let version = hidden(&desk.page(&path).await, "version");
        desk.post(&path, &[("undo", "yes"), ("version", &version)]).await.expect(409);
        desk.post(&path, &[("state", "accepted"), ("version", &version)]).await.expect(303);
        assert!(desk.page("/desk/ostrey?list=accepted").await.contains(ID));
    }
}

on_both! {
    async fn tokens_and_codes_are_made_shown_once_and_revoked(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let path = "/desk/ostrey/access";
        let page = desk.page(path).await;
        well_formed(&page);
        let key = hidden(&page, "key");
        let wish = [("form", "code"), ("key", key.as_str()), ("name", "Spring meeting"), ("most_uses", "2"), ("days", "7")];
        let made = desk.post(path, &wish).await.expect(200).text();
        let code = made.split("<code>").nth(1).expect("a code").split('<').next().expect("its end").to_owned();
        assert_eq!(code.len(), 19);
        // The page sent again makes nothing, and shows nothing again.
        let again = desk.post(path, &wish).await.expect(409).text();
        assert!(!again.contains(&code) && again.contains("shown that once"));
        assert!(!desk.page(path).await.contains(&code));
        let join = json!({ "id": "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e99", "code": code, "name": "Robin" });
        app.post("/v1/join", &join).send().await.expect(201);
        let page = desk.page(path).await;
        assert!(page.contains("1 of 2") && page.contains("Robin"), "{page}");
        let wrong = [("form", "token"), ("name", ""), ("role", "operator"), ("days", "many")];
        let refused = desk.post(path, &wrong).await.expect(422).text();
        well_formed(&refused);
        for field in ["name", "role", "days"] {
            assert!(refused.contains(&format!("id=\"token-{field}-error\"")), "{field}: {refused}");
        }
        assert!(!refused.contains("id=\"code-name-error\""), "only the form that was sent");
        let made = desk.post(path, &[("form", "token"), ("name", "Logger"), ("role", "member"), ("days", "30")]).await.expect(200).text();
        let secret = made.split("<code>").nth(1).expect("a secret").split('<').next().expect("its end").to_owned();
        app.get(&format!("/v1/reports/{ID}")).token(&secret).send().await.problem(404, "not-found");
        let all = app.get("/v1/tokens").token(&app.keeper).send().await.json();
        let of = |name: &str| all["items"].as_array().expect("items").iter().find(|t| t["name"] == name).expect("there")["id"]
            .as_str().expect("an id").to_owned();
        desk.post(path, &[("form", "revoke-token"), ("id", &of("Logger"))]).await.expect(303);
        app.get(&format!("/v1/reports/{ID}")).token(&secret).send().await.problem(401, "unauthenticated");
        desk.post(path, &[("form", "erase"), ("id", &of("Robin"))]).await.expect(422);
        desk.post(path, &[("form", "erase"), ("id", &of("Robin")), ("sure", "yes")]).await.expect(303);
        assert!(!desk.page(path).await.contains("Robin"));
        let code = app.get("/v1/watersheds/ostrey/join-codes").token(&app.keeper).send().await.json()["items"][0]["id"].clone();
        desk.post(path, &[("form", "revoke-code"), ("id", code.as_str().expect("an id"))]).await.expect(303);
        desk.post(path, &[("form", "revoke-code"), ("id", "x")]).await.expect(404);
        desk.post(path, &[("form", "odd")]).await.expect(404);
    }
}

on_both! {
    async fn a_keeper_names_what_a_member_could_not(app) {
        let mut body = report(ID);
        body["looked_for"] = Value::Null;
        body["sightings"] = json!([
            { "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "moderate" },
            { "described": { "length_mm": 6.5, "colour": "olive" }, "stage": "dun", "abundance_class": "sparse" },
        ]);
        app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
        let desk = Desk::open(&app, &app.keeper).await;
        let path = format!("/desk/ostrey/reports/{ID}");
        let page = desk.page(&path).await;
        well_formed(&page);
        assert!(page.contains("6.5 mm, olive, dun") && page.contains("name=\"name\" value=\"1\""), "{page}");
        let version = hidden(&page, "version");
        let refused = desk.post(&path, &[("name", "1"), ("taxon", ""), ("version", &version)]).await.expect(422).text();
        well_formed(&refused);
        assert!(refused.contains("id=\"name-taxon-error\""), "{refused}");
        desk.post(&path, &[("name", "0"), ("taxon", "baetis-rhodani"), ("version", &version)]).await.expect(422);
        desk.post(&path, &[("name", "1"), ("taxon", "baetis-rhodani"), ("version", &version)]).await.expect(303);
        let told = app.get(&format!("/v1/reports/{ID}/moderation")).token(&app.keeper).send().await.expect(200).json();
        let [first, second] = [0, 1].map(|n| &told["report"]["sightings"][n]);
        assert_eq!((&first["taxon"], &second["taxon"]), (&json!("ephemera-danica"), &json!("baetis-rhodani")));
        assert_eq!((&second["described"], &second["abundance_class"]), (&Value::Null, &json!("sparse")));
        assert_eq!(told["history"][1]["action"], "edit");
        assert!(!desk.page(&path).await.contains("Name an insect"));
        assert!(desk.page("/desk/ostrey").await.contains("Nothing here."), "who names has looked at it");
    }
}
