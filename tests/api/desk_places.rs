//! The desk's places and insects: changed by the rules of the interface, held to the version that was read.

use serde_json::{Value, json};

use crate::desk::{Desk, hidden, well_formed};
use crate::support::{TestApp, on_both};

const PLACES: &str = "/desk/ostrey/places";
const REACH: &str = "/desk/ostrey/places/reaches/mill-meadow";
const TAXON: &str = "/desk/ostrey/places/taxa/ephemera-danica";

/// The fields of the form on an edit page, with what stands in them.
fn fields(html: &str) -> Vec<(String, String)> {
    let form = html.split("<form class=\"filled\"").nth(1).expect("a form").split("</form>").next().expect("its end");
    let attribute = |tag: &str, name: &str| {
        tag.split(&format!(" {name}=\""))
            .nth(1)
            .map(|rest| rest.split('"').next().expect("a value").replace("&quot;", "\""))
    };
    let mut found = Vec::new();
    for tag in form.split("<input").skip(1).map(|rest| rest.split('>').next().expect("a tag")) {
        let name = attribute(tag, "name").expect("a name");
        if name != "mark" {
            found.push((name, attribute(tag, "value").unwrap_or_default()));
        }
    }
    for rest in form.split("<select").skip(1) {
        let chosen = rest.split("</select>").next().expect("its end").split(" selected>").next().expect("options");
        let value = if rest.contains(" selected>") {
            chosen.rsplit("value=\"").next().expect("a value").split('"').next()
        } else {
            None
        };
        found.push((attribute(rest, "name").expect("a name"), value.unwrap_or_default().to_owned()));
    }
    for rest in form.split("<textarea").skip(1) {
        let text = rest.split('>').nth(1).expect("its text").split("</textarea").next().expect("its end");
        found.push((attribute(rest, "name").expect("a name"), text.to_owned()));
    }
    found
}

/// Sends the form of the page at `path` with some fields changed.
async fn send(desk: &Desk, path: &str, changes: &[(&str, &str)]) -> crate::support::Answer {
    let mut all = fields(&desk.page(path).await);
    for (name, value) in changes {
        let field = all.iter_mut().find(|(known, _)| known == name).unwrap_or_else(|| panic!("no field {name}"));
        field.1 = (*value).to_owned();
    }
    let pairs: Vec<(&str, &str)> = all.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    desk.post(path, &pairs).await
}

async fn stored(app: &TestApp, path: &str) -> Value {
    app.get(path).send().await.expect(200).json()
}

on_both! {
    async fn every_thing_can_be_saved_as_it_is_and_nothing_changes(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(PLACES).await;
        well_formed(&page);
        // A taxon with every kind of field.
        let path = "/v1/taxa/ephemera-danica";
        let full = json!({ "order": "Ephemeroptera", "window_early": "05-10", "window_late": "06-15", "base_temp_c": 2.5,
            "base_temp_sd": 1, "peak_hour": 17.25, "emergence_mode": "surface", "oviposition_mode": "dips", "nymph_habit": "burrows",
            "body_mm_min": 16, "body_mm_max": 24, "hook_large": 8, "hook_small": 12, "note": "two\nlines & <more>",
            "broods": [{ "median_day_of_year": 142.5, "sd_days": 12, "provenance": "our; records" }, { "median_day_of_year": 240, "sd_days": 9 }] });
        let tag = app.get(path).send().await.header("etag").to_owned();
        app.patch(path, &full).token(&app.keeper).header("if-match", tag).send().await.expect(200);
        for (place, document) in [
            ("water/ostrey", "/v1/watersheds/ostrey"),
            ("reaches/mill-meadow", "/v1/watersheds/ostrey/reaches/mill-meadow"),
            ("gauges/bridge", "/v1/watersheds/ostrey/gauges/bridge"),
            ("taxa/ephemera-danica", path),
        ] {
            let (page, before) = (format!("{PLACES}/{place}"), stored(&app, document).await);
            well_formed(&desk.page(&page).await);
            assert!(desk.page(PLACES).await.contains(&format!("href=\"{page}\"")), "{page}");
            let done = send(&desk, &page, &[]).await;
            assert_eq!(done.status.as_u16(), 303, "{page}: {}", done.text());
            let mut after = stored(&app, document).await;
            // Text of a page says & as an entity; the test does not read them back.
            if place.starts_with("taxa") {
                assert_eq!(after["note"], "two\nlines &amp; &lt;more&gt;");
                after["note"] = before["note"].clone();
            }
            assert_eq!(after, before, "{page}");
        }
    }
}

on_both! {
    async fn a_change_is_stored_or_refused_at_its_fields(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        send(&desk, REACH, &[("name", "Mill Pool"), ("elevation_m", "91,5"), ("water_type", "pool")]).await.expect(303);
        let reach = stored(&app, "/v1/watersheds/ostrey/reaches/mill-meadow").await;
        assert_eq!((&reach["name"], &reach["elevation_m"], &reach["water_type"]), (&json!("Mill Pool"), &json!(91.5), &json!("pool")));
        let wrong = [("name", ""), ("latitude", "north"), ("longitude", "200"), ("gauges", "bridge, nowhere")];
        let refused = send(&desk, REACH, &wrong[..3]).await.expect(422).text();
        well_formed(&refused);
        for field in ["name", "latitude", "longitude"] {
            assert!(refused.contains(&format!("id=\"thing-{field}-error\"")), "{field}: {refused}");
        }
        assert!(refused.contains("value=\"north\""), "what was typed stays");
        let refused = send(&desk, REACH, &wrong[3..]).await.expect(422).text();
        assert!(refused.contains("id=\"thing-gauges-error\""), "{refused}");
        assert_eq!(stored(&app, "/v1/watersheds/ostrey/reaches/mill-meadow").await, reach);
        let refused = send(&desk, TAXON, &[("broods", "x; 12"), ("window_early", "13-40")]).await.expect(422).text();
        assert!(refused.contains("id=\"thing-broods-error\"") && refused.contains("id=\"thing-window_early-error\""), "{refused}");
        send(&desk, TAXON, &[("broods", "140; 8; our records\n\n230; 9")]).await.expect(303);
        let broods = stored(&app, "/v1/taxa/ephemera-danica").await["broods"].clone();
        assert_eq!((broods[0]["median_day_of_year"].as_f64(), broods[1]["number"].as_u64()), (Some(140.0), Some(2)));
        assert_eq!(broods[0]["provenance"], "our records");
    }
}

on_both! {
    async fn two_keepers_do_not_overwrite_each_other(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let read = hidden(&desk.page(REACH).await, "version");
        send(&desk, REACH, &[("name", "Mill Pool")]).await.expect(303);
        let late = desk.post(REACH, &[("version", &read), ("name", "Mill Race"), ("latitude", "51.5"), ("longitude", "-1.5")]).await;
        let late = late.expect(412).text();
        well_formed(&late);
        assert!(late.contains("Somebody changed it") && late.contains("value=\"Mill Pool\"") && !late.contains("Mill Race"), "{late}");
        assert_eq!(stored(&app, "/v1/watersheds/ostrey/reaches/mill-meadow").await["name"], "Mill Pool");
    }
}

on_both! {
    async fn new_things_are_made_once(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let reach = [("form", "reaches"), ("slug", "willow-run"), ("name", "Willow Run"), ("latitude", "51.6"), ("longitude", "-1.4")];
        desk.post(PLACES, &reach).await.expect(303);
        let again = desk.post(PLACES, &reach).await.expect(409).text();
        well_formed(&again);
        assert!(again.contains("id=\"reaches-complaint\""), "{again}");
        desk.post(PLACES, &[("form", "gauges"), ("slug", "weir"), ("name", "Weir")]).await.expect(303);
        let fly = [("form", "taxa"), ("slug", "nova-nova"), ("scientific_name", "Nova nova"), ("rank", "species")];
        desk.post(PLACES, &fly).await.expect(303);
        let water = stored(&app, "/v1/watersheds/ostrey").await.to_string();
        for made in ["willow-run", "\"weir\"", "nova-nova"] {
            assert!(water.contains(made), "{made}: {water}");
        }
        let refused = desk.post(PLACES, &[("form", "taxa"), ("slug", "a b"), ("rank", "")]).await.expect(422).text();
        for field in ["slug", "scientific_name", "rank"] {
            assert!(refused.contains(&format!("id=\"taxa-{field}-error\"")), "{field}: {refused}");
        }
        app.post("/v1/taxa", &json!({ "slug": "other-fly", "scientific_name": "Altera altera", "rank": "species" }))
            .token(&app.keeper).send().await.expect(201);
        assert!(desk.page(PLACES).await.contains("<option value=\"other-fly\">"));
        desk.post(PLACES, &[("form", "resident"), ("taxon", "")]).await.expect(422);
        desk.post(PLACES, &[("form", "resident"), ("taxon", "other-fly")]).await.expect(303);
        assert!(stored(&app, "/v1/watersheds/ostrey").await["taxa"].to_string().contains("other-fly"));
        desk.post(PLACES, &[("form", "odd")]).await.expect(404);
        desk.get("/desk/ostrey/places/taxa/nowhere").await.expect(404);
        desk.get("/desk/ostrey/places/odd/x").await.expect(404);
        desk.get("/desk/ostrey/places/water/elsewhere").await.expect(404);
    }
}

on_both! {
    async fn an_insect_that_lives_in_another_keepers_water_too_is_not_changed(app) {
        app.post("/v1/watersheds/elsewhere/taxa", &json!({ "taxon": "ephemera-danica" })).token(&app.stranger).send().await.expect(201);
        let desk = Desk::open(&app, &app.keeper).await;
        let refused = send(&desk, TAXON, &[("order", "Ephemeroptera")]).await.expect(403).text();
        well_formed(&refused);
        assert!(refused.contains("lives in a watershed you do not keep"), "{refused}");
    }
}
