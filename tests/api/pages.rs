//! Pages: whole without scripts, words before pictures, numbers equal to the forecasts.

use subimago::app::FittingProgress;

use crate::support::{TestApp, on_both, slug};

async fn page(app: &TestApp, path: &str) -> String {
    let answer = app.get(path).send().await.expect(200);
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    answer.text()
}

on_both! {
    async fn every_page_is_whole_by_itself(app) {
        for path in ["/", "/w/ostrey", "/w/elsewhere", "/w/ostrey/reaches/mill-meadow", "/about", "/problems/"] {
            let html = page(&app, path).await;
            assert!(html.starts_with("<!DOCTYPE html><html lang=\"en"), "{path}");
            for forbidden in ["<script", "style=\"", "<iframe", "onclick", "https://fonts", "<link rel=\"preconnect"] {
                assert!(!html.contains(forbidden), "{forbidden} on {path}");
            }
            assert!(html.contains("name=\"viewport\"") && html.contains("rel=\"icon\""));
            assert!(html.contains("A forecast is not a safety statement"), "{path}");
            assert_eq!(html.matches("<h1>").count(), 1, "{path}");
            let way = html.split("<nav class=\"trail\"").nth(1).and_then(|rest| rest.split("</nav>").next());
            assert!(way.is_none_or(|way| way.ends_with("</a>")), "a way up ends with a place: {path} {way:?}");
            for part in html.split("href=\"").skip(1) {
                let target = part.split('"').next().expect("a target").split('#').next().expect("a path");
                if target.starts_with('/') {
                    app.get(&target.replace("&amp;", "&")).send().await.expect(200);
                }
            }
        }
    }
}

on_both! {
    async fn words_come_first_then_the_picture_then_the_table(app) {
        let html = page(&app, "/w/ostrey").await;
        let order = ["Data up to", "On the water today", "Ephemera danica", "Before you go", "<figure", "<table"];
        let places: Vec<usize> = order.iter().map(|mark| html.find(mark).unwrap_or_else(|| panic!("{mark}"))).collect();
        assert!(places.is_sorted(), "{places:?}");
        // 1 - none at the taxon's fullest reach: a bell of strength 0.9 two days before its top.
        let chance = 0.9 * (-0.5 * (2.0_f64 / 7.0).powi(2)).exp() * 100.0;
        assert!(html.contains(&format!("<strong>{chance:.0} in 100</strong>")), "{chance}");
        // How sure stands in the words, before the picture and the table.
        let now = html.split("On the water today:").nth(1).expect("words").split("</ul>").next().expect("their end");
        assert!(now.contains("How sure: 120 records from 6 years; with the water of the whole year known, better"), "{now}");
        assert!(page(&app, "/w/ostrey?lang=de").await.contains("Wie sicher: 120 Funde aus 6 Jahren; wenn das Wasser"));
        assert!(html.contains("Over for the year: <i>Baetis rhodani</i>"));
        assert!(html.contains("Next to start: <i>Serratella ignita</i>"));
        assert!(html.contains("General knowledge of the insect"), "what is prior-driven says so");
        assert!(html.contains("; with the water of the whole year known, better than going by the date alone"));
        assert!(html.contains("even with the water of the whole year known, not shown to be better than going by the date alone"));
        assert!(html.contains("Wade with care."));
    }
}

on_both! {
    async fn pictures_have_titles_descriptions_and_letters_that_do_not_scale(app) {
        for path in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow"] {
            let html = page(&app, path).await;
            assert_eq!(html.matches("role=\"img\"").count(), html.matches("<title id=").count(), "{path}");
            for svg in html.split("<svg").skip(1) {
                let scaled = svg.split('>').next().expect("a tag").contains("viewBox");
                let own = svg.split("</svg>").next().expect("a drawing");
                assert!(!(scaled && own.contains("<text")), "letters inside a scaled drawing: {own}");
            }
            for size in html.split("font-size=\"").skip(1) {
                let px: u32 = size.split('"').next().expect("a size").parse().expect("a number");
                assert!(px >= 12, "{px} px");
            }
        }
    }
}

on_both! {
    async fn the_reach_page_shows_the_day_by_the_clock_and_the_days_ahead(app) {
        let html = page(&app, "/w/ostrey/reaches/mill-meadow").await;
        assert!(html.contains("15:30 to 19:30, likeliest about 17:30"));
        assert!(html.contains("12.2 \u{b0}C") || html.contains("12.3 \u{b0}C"));
        assert_eq!(html.matches("<th scope=\"row\">").count(), 16 + 2 * 3, "sixteen days, and three insects with dates and heights");
    }
}

on_both! {
    async fn a_page_is_there_while_models_are_fitted(app) {
        let progress = FittingProgress { done: 2, total: 5, pending: vec![slug("ephemera-danica")] };
        app.service.set_fitting(&slug("elsewhere"), Some(progress.clone()));
        app.service.set_fitting(&slug("ostrey"), Some(progress));
        let html = page(&app, "/w/elsewhere").await;
        assert!(html.contains("Fitting 2 of 5") && html.contains("first forecasts appear here"), "{html}");
        assert!(page(&app, "/w/ostrey").await.contains("do not yet count the newest records"));
        assert!(page(&app, "/").await.contains("Fitting 2 of 5"));
        app.get("/readyz").send().await.problem(503, "unavailable");
        app.service.set_fitting(&slug("elsewhere"), None);
        app.get("/readyz").send().await.expect(200);
        assert!(page(&app, "/w/elsewhere").await.contains("No forecast yet"));
    }
}

on_both! {
    async fn stale_forecasts_say_so(app) {
        assert!(!page(&app, "/w/ostrey").await.contains("Out of date"));
        let mut tx = app.service.db().write().await.expect("writes");
        let fit_id = crate::water::store_fit(&mut tx, "ephemera-danica").await;
        let known = subimago::store::taxon::find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        let forecasts: Vec<_> = crate::water::reaches().iter().map(|reach| {
            let mut forecast = crate::water::forecast(reach, "ephemera-danica", fit_id, 0);
            forecast.stale = true;
            forecast
        }).collect();
        let at = crate::support::now();
        subimago::app::publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, at).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        assert!(page(&app, "/w/ostrey").await.contains("Out of date."));
        let feed = app.get("/calendars/ostrey.ics").send().await.expect(200).text().replace("\r\n ", "");
        assert!(feed.contains("Out of date: no water temperature has come in lately."));
    }
}

on_both! {
    async fn names_cannot_break_out_of_a_page_or_feed(app) {
        let nasty = "<b onmouseover=alert(1)>\"'&\r\nBEGIN:VEVENT\u{7}";
        let mut tx = app.service.db().write().await.expect("writes");
        let mut w = crate::water::watershed();
        w.name = nasty.to_owned();
        subimago::store::place::upsert_watershed(&mut tx, &w).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        for path in ["/", "/w/ostrey", "/w/ostrey/reaches/mill-meadow"] {
            assert!(!page(&app, path).await.contains("<b onmouseover"), "{path}");
        }
        let feed = app.get("/calendars/ostrey.ics").send().await.expect(200);
        assert_eq!(crate::lint::lint(&feed.bytes), Vec::<String>::new());
        assert_eq!(feed.text().matches("\r\nBEGIN:VEVENT\r\n").count(), 12);
    }
}

on_both! {
    async fn words_are_explained_and_sources_said_once(app) {
        for path in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow", "/about"] {
            let html = page(&app, path).await;
            assert_eq!(html.matches("common practice, no source").count(), 1, "{path}");
            assert!(html.contains("doi 10.1577/M09-107.1"), "a real source stays where it belongs: {path}");
            for meaning in ["some seen in ten minutes of watching", "always a few in view", "more than one can count"] {
                assert_eq!(html.matches(meaning).count(), 1, "{meaning} on {path}");
            }
        }
        let html = page(&app, "/w/ostrey").await;
        assert!(html.contains("<summary>What the words mean</summary>"));
        assert!(!html.contains("one generation of a year"), "no insect here has several broods");
        let mut tx = app.service.db().write().await.expect("writes");
        let found = subimago::store::taxon::find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads");
        let mut known = found.expect("known");
        let mut second = known.broods[0].clone();
        second.number = 2;
        known.broods.push(second);
        subimago::store::taxon::upsert_taxon(&mut tx, &known).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let html = page(&app, "/w/ostrey").await;
        assert!(html.contains("<i>Ephemera danica</i>, first generation") && html.contains("the broods of one year"), "{html}");
    }
}

on_both! {
    async fn a_water_without_reaches_shows_no_empty_heading(app) {
        assert!(page(&app, "/w/ostrey").await.contains("id=\"reaches\""));
        assert!(!page(&app, "/w/elsewhere").await.contains("Reaches"));
    }
}

on_both! {
    async fn the_banner_of_a_fit_names_insects_as_the_page_does(app) {
        let pending = vec![slug("ephemera-danica"), slug("no-longer-here")];
        app.service.set_fitting(&slug("ostrey"), Some(FittingProgress { done: 1, total: 3, pending }));
        for path in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow"] {
            let html = page(&app, path).await;
            assert!(html.contains("Still to come: <i>Ephemera danica</i>, <i>no-longer-here</i>"), "{path}");
        }
    }
}

on_both! {
    async fn a_reach_says_what_to_put_on_as_the_interface_does(app) {
        let html = page(&app, "/w/ostrey/reaches/mill-meadow").await;
        let section = html.split("<section aria-labelledby=\"put-on\">").nth(1).expect("the section");
        let section = section.split("</section>").next().expect("its end");
        // The fullest insect of the day peaks at 17:30 at the river.
        let path = "/v1/watersheds/ostrey/reaches/mill-meadow/guidance?at=2026-05-20T16:30:00Z";
        let advice = app.get(path).send().await.expect(200).json();
        assert!(section.contains("For 17:30, when most is expected today: "), "{section}");
        assert!(section.contains(advice["imitations"][0]["name"].as_str().expect("a name")));
        let likeliest = advice["stages"][0]["stage"].as_str().expect("a stage");
        assert!(section.contains(&format!("Fish are likeliest at the {likeliest} (")), "{section}");
        assert!(section.contains("<i>Ephemera danica</i>"));
        let places: Vec<usize> = ["<p class=\"lead\">", "<table>", "Look first", "Why"]
            .iter().map(|mark| section.find(mark).unwrap_or_else(|| panic!("{mark} in {section}"))).collect();
        assert!(places.is_sorted(), "words, table, hints, reasons");
        for row in advice["stages"].as_array().expect("stages").iter().filter(|row| row["weight"].as_f64() >= Some(0.03)) {
            let (stage, weight) = (row["stage"].as_str().expect("a stage"), row["weight"].as_f64().expect("a weight"));
            assert!(section.contains(&format!("{stage}</th><td>{:.0}</td>", 100.0 * weight)), "{stage} in {section}");
        }
        assert!(section.contains(advice["rules"][0]["because"].as_str().expect("a reason")));
        assert!(!page(&app, "/w/ostrey").await.contains("put-on"), "one reach at a time");
    }
}
