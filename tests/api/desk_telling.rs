//! The desk's notices and secret feed addresses, the photo of a report, and names as people use them.

use axum::http::Method;

use crate::desk::{Desk, hidden, well_formed};
use crate::documents::{KEY, report};
use crate::photos::picture;
use crate::support::on_both;

const NOTICES: &str = "/desk/ostrey/notices";
const FEEDS: &str = "/desk/ostrey/feeds";

on_both! {
    async fn a_notice_is_told_changed_and_taken_back(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(NOTICES).await;
        well_formed(&page);
        assert!(page.contains("Nothing.") && page.contains("type=\"date\""), "{page}");
        let key = hidden(&page, "key");
        let wish = [
            ("form", "new"), ("key", key.as_str()), ("reach", "mill-meadow"), ("text", "Weed is cut & water coloured."),
            ("from_date", "2026-05-20"), ("until_date", "2026-05-22"), ("audience", "everyone"),
        ];
        let told = desk.post(NOTICES, &wish).await.expect(303);
        assert!(told.header("location").starts_with("/desk/ostrey/notices?said=told"));
        // The page sent again tells it once.
        desk.post(NOTICES, &wish).await.expect(303);
        let page = desk.page(NOTICES).await;
        assert_eq!(page.matches("Weed is cut &amp; water coloured.").count(), 1, "{page}");
        assert!(app.get("/w/ostrey/reaches/mill-meadow").send().await.text().contains("Weed is cut &amp; water coloured."));
        let public = app.get("/v1/watersheds/ostrey/notices").send().await.expect(200).json();
        let path = format!("{NOTICES}/{}", public["items"][0]["id"].as_str().expect("an id"));
        let page = desk.page(&path).await;
        well_formed(&page);
        let (version, id) = (hidden(&page, "version"), path.rsplit('/').next().expect("an id"));
        let change = |until: &'static str, version: &str| {
            let fields = [
                ("version", version.to_owned()), ("reach", String::new()), ("text", "Coloured water.".to_owned()),
                ("from_date", "2026-05-20".to_owned()), ("until_date", until.to_owned()), ("audience", "members".to_owned()),
            ];
            let (desk, path) = (&desk, &path);
            async move {
                let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
                desk.post(path, &fields).await
            }
        };
        let refused = change("2026-05-01", &version).await.expect(422).text();
        assert!(refused.contains("id=\"notice-until_date-error\""), "the fault stands at its field: {refused}");
        change("2026-05-21", &version).await.expect(303);
        change("2026-05-21", &version).await.expect(412);
        let public = app.get("/v1/watersheds/ostrey/notices").send().await.expect(200).json();
        assert_eq!(public["items"].as_array().map(Vec::len), Some(0), "it is for members now: {public}");
        desk.post(NOTICES, &[("form", "end"), ("id", id)]).await.expect(303);
        assert!(desk.page(NOTICES).await.contains("Nothing."));
        desk.get(&path).await.expect(404);
    }
}

on_both! {
    async fn secret_addresses_are_made_shown_once_and_taken_back(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(FEEDS).await;
        well_formed(&page);
        let key = hidden(&page, "key");
        let made = desk.post(FEEDS, &[("form", "address"), ("key", &key), ("name", "Committee")]).await.expect(200).text();
        let calendar = made.split("<code>http://water.test").nth(1).expect("an address").split('<').next().expect("a path").to_owned();
        assert!(calendar.starts_with("/calendars/feed_") && made.contains("/ostrey.atom</code>"), "{made}");
        assert!(app.get(&calendar).send().await.expect(200).text().starts_with("BEGIN:VCALENDAR"));
        let page = desk.page(FEEDS).await;
        assert!(!page.contains("feed_") && page.contains("Committee"), "{page}");
        // Sent again it makes nothing and shows nothing.
        let again = desk.post(FEEDS, &[("form", "address"), ("key", &key), ("name", "Committee")]).await.expect(409).text();
        assert!(!again.contains("/calendars/feed_"), "{again}");
        let version = hidden(&page, "version");
        desk.post(FEEDS, &[("form", "given"), ("version", &version), ("private", "yes")]).await.expect(303);
        app.get("/calendars/ostrey.ics").send().await.expect(404);
        app.get(&calendar).send().await.expect(200);
        let id = hidden(&desk.page(FEEDS).await, "id");
        desk.post(FEEDS, &[("form", "end"), ("id", &id)]).await.expect(303);
        app.get(&calendar).send().await.expect(404);
        assert!(desk.page(FEEDS).await.contains("taken back"));
        desk.post(FEEDS, &[("form", "address"), ("name", "")]).await.expect(422);
    }
}

on_both! {
    async fn a_photo_is_seen_at_the_desk_of_its_water_alone(app) {
        const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
        app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
        let path = format!("/desk/ostrey/reports/{ID}");
        let file = format!("{path}/photo.jpg");
        let desk = Desk::open(&app, &app.keeper).await;
        assert!(!desk.page(&path).await.contains("photo.jpg"));
        desk.get(&file).await.expect(404);
        let put = app.request(Method::PUT, &format!("/v1/reports/{ID}/photo")).token(&app.member);
        put.header("content-type", "image/jpeg").raw(picture(40, 30)).send().await.expect(200);
        assert!(desk.page(&path).await.contains(&format!("src=\"{file}\"")));
        let answer = desk.get(&file).await.expect(200);
        assert_eq!(answer.header("content-type"), "image/jpeg");
        assert_eq!(answer.header("cache-control"), "private, no-store");
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert!(answer.header("content-disposition").starts_with("attachment"));
        assert!(answer.bytes.starts_with(&[0xFF, 0xD8, 0xFF]));
        // Who keeps another water, or nobody who is signed in.
        Desk::open(&app, &app.stranger).await.get(&file).await.expect(403);
        app.get(&file).header("accept", "text/html").send().await.expect(303);
        desk.post(&path, &[("photo", "remove")]).await.expect(303);
        desk.get(&file).await.expect(404);
    }
}
