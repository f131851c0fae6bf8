//! The embed: the forecast on other sites, in a frame where it is allowed and as an image anywhere.

use subimago::http::{AppState, Settings, router};

use crate::support::{TestApp, on_both};

const HOSTS: &str = "frame-ancestors 'self' https://club.test https://*.angling.test";

async fn text(app: &TestApp, path: &str) -> String {
    app.get(path).send().await.expect(200).text()
}

on_both! {
    async fn only_the_embed_may_be_framed_and_only_by_the_sites_of_the_setting(app) {
        for path in ["/embed/ostrey", "/embed/ostrey.svg", "/embed/ostrey?theme=pink", "/embed/nowhere"] {
            let policy = app.get(path).send().await.header("content-security-policy").to_owned();
            assert!(policy.ends_with(HOSTS), "{path}: {policy}");
            assert!(policy.contains("default-src 'none'") && !policy.contains("connect-src") && !policy.contains("unsafe"));
        }
        let tag = app.get("/embed/ostrey").send().await.header("etag").to_owned();
        let again = app.get("/embed/ostrey").header("if-none-match", &tag).send().await.expect(304);
        assert!(again.header("content-security-policy").ends_with(HOSTS));
        for path in ["/", "/w/ostrey", "/report?w=ostrey", "/about", "/reference", "/assets/embed.js", "/embedded"] {
            let answer = app.get(path).send().await;
            assert!(answer.header("content-security-policy").ends_with("frame-ancestors 'none'"), "{path}");
        }
        let mut closed = app;
        closed.router = router(AppState::new(closed.service.clone(), Settings::default()));
        let policy = closed.get("/embed/ostrey").send().await.header("content-security-policy").to_owned();
        assert!(policy.ends_with("frame-ancestors 'self'"), "nobody else by default: {policy}");
    }
}

on_both! {
    async fn what_other_sites_load_may_be_loaded_there(app) {
        let html = text(&app, "/embed/ostrey").await;
        let files = html.split("=\"/assets/frame").skip(1).map(|rest| format!("/assets/frame{}", rest.split('"').next().expect("an address")));
        let mut paths: Vec<String> = files.collect();
        assert_eq!(paths.len(), 2, "{html}");
        paths.extend(["/assets/embed.js", "/embed/ostrey", "/embed/ostrey.svg"].map(str::to_owned));
        for path in &paths {
            assert_eq!(app.get(path).send().await.expect(200).header("cross-origin-resource-policy"), "cross-origin", "{path}");
        }
        for path in ["/w/ostrey", "/report?w=ostrey", "/assets/style.css", "/assets/report.js"] {
            assert_eq!(app.get(path).send().await.expect(200).header("cross-origin-resource-policy"), "same-origin", "{path}");
        }
    }
}

on_both! {
    async fn the_frame_says_what_comes_on_each_reach_as_the_interface_does(app) {
        let html = text(&app, "/embed/ostrey").await;
        assert!(html.contains("<html lang=\"en-GB\" class=\"auto\">"), "{html}");
        assert!(html.contains("href=\"http://water.test/w/ostrey\" target=\"_blank\" rel=\"noopener\""));
        assert!(html.contains("A forecast is not a safety statement."));
        let list = app.get("/v1/watersheds/ostrey/forecasts?days=3").send().await.expect(200).json();
        let mut named = 0;
        for forecast in list["items"].as_array().expect("items") {
            for day in forecast["days"].as_array().expect("days") {
                let chance = 1.0 - day["class_probabilities"]["none"].as_f64().expect("a chance");
                if chance < 0.25 { continue; }
                named += 1;
                let figure = format!("({:.0} in 100", 100.0 * chance);
                assert!(html.contains(&figure), "{figure} for {} in {html}", forecast["taxon"]);
            }
        }
        assert!(named > 3, "{named}");
        assert!(html.contains("Today: ") && html.contains("Tomorrow: ") && html.contains("Friday 22 May: "));
        assert!(html.contains("15:30 to 19:30"), "hours of the day they are for");
        for forbidden in ["style=\"", " onclick", "<form", "<img"] {
            assert!(!html.contains(forbidden), "{forbidden}");
        }
        assert_eq!(html.matches("<script").count(), 1);
        assert!(!app.get("/embed/ostrey").send().await.headers.contains_key("set-cookie"));
    }
}

on_both! {
    async fn parameters_choose_and_wrong_ones_are_refused(app) {
        let all = text(&app, "/embed/ostrey").await;
        let one = text(&app, "/embed/ostrey?reach=mill-meadow&theme=dark").await;
        assert!(one.contains("class=\"dark\"") && one.matches("<h2>").count() == 1 && all.matches("<h2>").count() > 1);
        let taxon = text(&app, "/embed/ostrey?taxon=serratella-ignita").await;
        assert!(!taxon.contains("Ephemera danica"), "{taxon}");
        let read = |path: &str| app.get(path).header("accept", "application/problem+json").send();
        for (query, name) in [
            ("?theme=pink", "theme"), ("?colour=red", "colour"), ("?reach=nowhere", "reach"), ("?taxon=nothing", "taxon"),
            (".svg?theme=auto", "theme"), (".svg?reach=nowhere", "reach"), ("?theme=dark&theme=light", "theme"),
        ] {
            let problem = read(&format!("/embed/ostrey{query}")).await.problem(400, "bad-query");
            assert_eq!(problem["errors"][0]["parameter"], name, "{problem}");
        }
        for path in ["/embed/nowhere", "/embed/nowhere.svg", "/embed/ostrey.png"] {
            read(path).await.problem(404, "not-found");
        }
    }
}

on_both! {
    async fn the_image_holds_the_words_of_the_frame_in_letters_that_can_be_read(app) {
        let answer = app.get("/embed/ostrey.svg").send().await.expect(200);
        assert_eq!(answer.header("content-type"), "image/svg+xml");
        let svg = answer.text();
        assert!(svg.contains("<title id=\"title\">") && svg.contains("<desc id=\"words\">"), "{svg}");
        for forbidden in ["<style", "style=\"", "class=\"", "<script", "href=", "<foreignObject"] {
            assert!(!svg.contains(forbidden), "{forbidden}");
        }
        let sizes: Vec<u32> = svg.split("font-size=\"").skip(1).map(|rest| rest.split('"').next().expect("a size").parse().expect("a number")).collect();
        assert!(sizes.len() > 6 && sizes.iter().all(|px| *px >= 12), "{sizes:?}");
        let words = svg.split("<desc id=\"words\">").nth(1).expect("words").split("</desc>").next().expect("their end");
        assert!(words.contains("Today: ") && words.contains("Ephemera danica (") && words.contains("15:30 to 19:30"), "{words}");
        assert!(text(&app, "/embed/ostrey.svg?theme=dark").await.contains("fill=\"#10191b\""));
        assert!(text(&app, "/embed/elsewhere.svg").await.contains("No forecast yet."));
    }
}

on_both! {
    async fn water_that_is_too_warm_is_told_on_other_sites_with_its_reach(app) {
        use subimago::domain::forecast::Caution;
        use subimago::store::taxon::find_taxon;
        use crate::support::{now, slug};
        let words = "The water may reach 21 \u{b0}C in the coming week: do not fish.";
        for path in ["/embed/ostrey", "/embed/ostrey.svg"] {
            assert!(!text(&app, path).await.contains("may reach"), "{path}");
        }
        let mut tx = app.service.db().write().await.expect("writes");
        let fit_id = crate::water::store_fit(&mut tx, "ephemera-danica").await;
        let known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        let mut forecast = crate::water::forecast(&crate::water::reaches()[0], "ephemera-danica", fit_id, 0);
        let reach = crate::water::reaches()[0].clone();
        forecast.cautions.insert(0, Caution { code: "water-too-warm", text: words.into(), source: "a study" });
        subimago::app::publish::publish(&mut tx, &slug("ostrey"), &known, &[forecast], now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let told = format!("{}: {words}", reach.name);
        let frame = text(&app, "/embed/ostrey").await;
        assert!(frame.contains(&told), "{frame}");
        assert!(!frame.contains("Wade with care."), "what is not of warm water stays on the page");
        let image = text(&app, "/embed/ostrey.svg").await;
        let said = image.split("<desc id=\"words\">").nth(1).and_then(|rest| rest.split("</desc>").next()).expect("words");
        assert!(said.contains(&told), "{said}");
        assert!(text(&app, "/embed/ostrey?units=f").await.contains("may reach 70 \u{b0}F"));
    }
}

on_both! {
    async fn names_break_neither_frame_nor_image(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let mut water = crate::water::watershed();
        water.name = "<b onmouseover=alert(1)>\"'&\r\n\u{7}\u{fffe}".to_owned();
        subimago::store::place::upsert_watershed(&mut tx, &water).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        for path in ["/embed/ostrey", "/embed/ostrey.svg", "/report?w=ostrey"] {
            assert!(!text(&app, path).await.contains("<b onmouseover"), "{path}");
        }
        let svg = text(&app, "/embed/ostrey.svg").await;
        assert!(!svg.contains('\u{7}') && !svg.contains('\u{fffe}'), "XML cannot hold these");
    }
}

on_both! {
    async fn the_water_page_shows_what_to_paste(app) {
        let html = text(&app, "/w/ostrey").await;
        assert!(html.contains("&lt;iframe src=&quot;http://water.test/embed/ostrey&quot;"), "{html}");
        assert!(html.contains("&lt;script src=&quot;http://water.test/assets/embed.js&quot; async&gt;"));
        assert!(html.contains("&lt;img src=&quot;http://water.test/embed/ostrey.svg&quot;"));
        assert!(html.contains("https://club.test, https://*.angling.test"), "who may frame it is told");
        let mut closed = app;
        closed.router = router(AppState::new(closed.service.clone(), Settings::default()));
        let html = text(&closed, "/w/ostrey").await;
        assert!(!html.contains("&lt;iframe") && html.contains("server.embed_hosts"), "no line that would not work");
    }
}
