//! Pages of the season, of one insect, of skill, and the sheet to print.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::json;
use subimago::app::document::skill::{FlightSkillDocument, SkillRowDocument, TaxonSkill};
use subimago::app::publish;
use subimago::domain::Fit;
use subimago::domain::taxon::EmergenceMode;
use subimago::store::fit::{insert_fit, latest_fit};
use subimago::store::skill::{StoredSkill, put_skill};
use subimago::store::taxon::{find_taxon, upsert_taxon};
use uuid::Uuid;

use crate::support::{TestApp, now, on_both, slug};
use crate::water;

async fn page(app: &TestApp, path: &str) -> String {
    app.get(path).send().await.expect(200).text()
}

fn row(clock: &str, lead_days: usize, mae_days: f64, skill: (f64, f64)) -> SkillRowDocument {
    SkillRowDocument {
        taxon: "ephemera-danica".to_owned(),
        brood: 1,
        clock: clock.to_owned(),
        lead_days,
        years: 6,
        records: 90,
        dates: 24,
        mae_days: Some(mae_days),
        crps_days: Some(0.7 * mae_days),
        rps: None,
        rps_in_season: None,
        brier: None,
        reliability: None,
        resolution: None,
        cover80: Some(0.75),
        pit: None,
        skill_crps: Some(skill.0),
        skill_se: Some(skill.1),
    }
}

async fn score(app: &TestApp, gain: (f64, f64)) {
    score_at(app, gain, now()).await;
}

async fn score_at(app: &TestApp, gain: (f64, f64), computed_at: DateTime<Utc>) {
    let rows =
        vec![row("shipped", 28, 4.2, gain), row("calendar", 28, 6.5, (0.0, 0.0)), row("shipped", 0, 1.9, (0.6, 0.1))];
    let flights = FlightSkillDocument {
        taxon: "ephemera-danica".to_owned(),
        brood: 1,
        watches: 41,
        years: 6,
        rps: 0.31,
        rps_of_frequencies: 0.44,
    };
    let scores_json = serde_json::to_string(&TaxonSkill { rows, hours: None, flights: Some(flights) }).expect("text");
    let stored = StoredSkill { taxon: slug("ephemera-danica"), brood: 1, computed_at, scores_json };
    let mut tx = app.service.db().write().await.expect("writes");
    put_skill(&mut tx, &slug("ostrey"), &stored).await.expect("stores");
    tx.commit().await.expect("commits");
}

on_both! {
    async fn the_season_page_tells_how_starts_follow_from_reach_to_reach(app) {
        let html = page(&app, "/w/ostrey/season").await;
        let matrix = html.split("Reach after reach").nth(1).expect("the table");
        let head = matrix.split("</thead>").next().expect("a head");
        let reaches: Vec<&str> = head.split("<th scope=\"col\">").skip(2).filter_map(|c| c.split('<').next()).collect();
        let published = app.get("/v1/watersheds/ostrey/forecasts?taxon=ephemera-danica").send().await.expect(200).json();
        let mut by_start: Vec<(String, String)> = published["items"].as_array().expect("a list").iter().map(|f| {
            let text = |value: &serde_json::Value| value.as_str().expect("text").to_owned();
            (text(&f["milestones"][0]["p50"]), text(&f["reach"]))
        }).collect();
        by_start.sort();
        assert_ne!(by_start[0].0, by_start[1].0, "the test needs reaches that differ");
        let names = app.get("/v1/watersheds/ostrey/reaches").send().await.expect(200).json();
        let name = |slug: &str| names["items"].as_array().expect("a list").iter().find(|r| r["slug"] == slug).expect("known")["name"].clone();
        assert_eq!(reaches, by_start.iter().map(|(_, slug)| name(slug)).collect::<Vec<_>>(), "the earliest first");
    }
}

on_both! {
    async fn an_insects_page_tells_each_reach_its_life_and_where_its_traits_come_from(app) {
        let mut tx = app.service.db().write().await.expect("writes");
        let mut known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        known.emergence_mode = Some(EmergenceMode::Surface);
        (known.body_mm, known.provenance.size) = (Some((15.0, 25.0)), "a handbook".to_owned());
        upsert_taxon(&mut tx, &known).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let html = page(&app, "/w/ostrey/taxa/ephemera-danica").await;
        assert!(html.contains("<td>15 to 25 mm</td><td class=\"source\">a handbook</td>"), "{html}");
        assert!(html.contains(" more than by the same date of a usual year: about "), "{html}");
        let order = ["<h1><i>Ephemera danica</i>", "Heat that counts", "<figure", "<th scope=\"col\">Reach</th>",
            "What the forecast rests on", "How good it has been", "Its stages at the water", "What is known of it"];
        let places: Vec<usize> = order.iter().map(|mark| html.find(mark).unwrap_or_else(|| panic!("{mark} in {html}"))).collect();
        assert!(places.is_sorted(), "{places:?}");
        assert!(html.contains("No scores yet: they need"));
        score(&app, (0.35, 0.10)).await;
        let html = page(&app, "/w/ostrey/taxa/ephemera-danica").await;
        assert!(html.contains("<th scope=\"row\">28</th><td>4.2</td><td>75</td><td>0.35 \u{b1} 0.10</td>"), "{html}");
        app.get("/w/ostrey/taxa/unheard-of").header("accept", "text/html").send().await.expect(404);
    }
}

on_both! {
    async fn days_of_the_calendar_are_not_told_as_heat(app) {
        let told = async |weights: [f64; 4]| {
            let mut tx = app.service.db().write().await.expect("writes");
            let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
            let known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
            let forecasts = water::reaches().map(|reach| {
                subimago::domain::Forecast { weights, ..water::forecast(&reach, "ephemera-danica", fit_id, 0) }
            });
            publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
            tx.commit().await.expect("commits");
            app.service.refresh().await.expect("loads");
            let html = page(&app, "/w/ostrey/taxa/ephemera-danica").await;
            let heat = html.split("<p>Heat that counts").nth(1).and_then(|rest| rest.split("</ul>").next());
            heat.map(str::to_owned)
        };
        assert!(told([0.4, 0.6, 0.0, 0.0]).await.expect("heat").contains("degree-days"));
        let gated = told([0.4, 0.0, 0.0, 0.6]).await.expect("heat");
        assert!(!gated.contains("degree-days") && gated.contains("counted by warmth once the days are long enough"), "{gated}");
        let weighed = told([0.4, 0.0, 0.6, 0.0]).await.expect("heat");
        assert!(!weighed.contains("degree-days") && weighed.contains("counted by warmth weighed by"), "{weighed}");
        assert_eq!(told([0.6, 0.4, 0.0, 0.0]).await, None, "its progress is told in days of the year");
    }
}

on_both! {
    async fn each_generation_has_its_own_footing_and_its_own_doubts(app) {
        const DOUBTS: [&str; 2] = [
            "the base temperature runs below 0 C: warmth may not drive this taxon here",
            "warmth does not drive this taxon here: in years left out the plain calendar did better",
        ];
        let mut tx = app.service.db().write().await.expect("writes");
        let mut known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        let first = known.broods[0].clone();
        known.broods = vec![first.clone(), subimago::domain::taxon::Brood { number: 2, median_day_of_year: 230.0, ..first }];
        upsert_taxon(&mut tx, &known).await.expect("stores");
        let mut forecasts = Vec::new();
        for (brood, weights) in [(1, [0.0, 1.0, 0.0, 0.0]), (2, [1.0, 0.0, 0.0, 0.0])] {
            let doubts = vec![DOUBTS[usize::from(brood) - 1].to_owned()];
            let fit_id = water::store_fit_of(&mut tx, "ephemera-danica", brood, doubts).await;
            forecasts.extend(water::reaches().map(|reach| {
                subimago::domain::Forecast { brood, weights, ..water::forecast(&reach, "ephemera-danica", fit_id, 0) }
            }));
        }
        publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let html = page(&app, "/w/ostrey/taxa/ephemera-danica").await;
        let footing = html.split("id=\"footing\"").nth(1).expect("a section").split("</section>").next().expect("its end");
        let (clocks, doubts) = footing.split_once("Doubts").expect("doubts");
        for (part, first, second) in
            [(clocks, "It goes by warmth of the water (", "It goes by the date ("), (doubts, DOUBTS[0], DOUBTS[1])]
        {
            let (one, two) = part.split_once("second generation:").expect("two generations");
            assert!(one.contains("first generation:") && one.contains(first) && !one.contains(second), "{part}");
            assert!(two.contains(second) && !two.contains(first), "{part}");
        }
    }
}

on_both! {
    async fn the_skill_page_claims_no_more_than_the_scores(app) {
        assert!(page(&app, "/w/ostrey/skill").await.contains("No scores yet"));
        for (gain, words) in [
            ((0.35, 0.10), "Better than going by the date alone: <i>Ephemera danica"),
            ((0.14, 0.10), "No clear difference from going by the date: <i>Ephemera danica"),
            ((-0.35, 0.10), "Worse than going by the date: <i>Ephemera danica"),
        ] {
            score(&app, gain).await;
            let html = page(&app, "/w/ostrey/skill").await;
            assert!(html.contains(words), "{words} in {html}");
            assert_eq!(html.matches("going by the date alone: <i>").count() + html.matches("by the date: <i>").count(), 1);
            assert!(html.contains("<td>0.31</td><td>0.44</td><td>41</td>"), "flights: {html}");
            assert!(html.contains("missed that day by 4 days") && html.contains("75 in 100 held"), "{html}");
            assert!(html.contains(&format!("<td>4.2</td><td>6.5</td><td>{:.2} \u{b1} 0.10</td><td>75</td><td>6</td>", gain.0)), "{html}");
        }
    }
}

/// A newer fit of the insect with that factor on its intervals.
async fn refit(app: &TestApp, widening: Option<f64>) {
    let mut tx = app.service.db().write().await.expect("writes");
    let (ostrey, danica) = (slug("ostrey"), slug("ephemera-danica"));
    let last = latest_fit(&mut tx, &ostrey, &danica, 1).await.expect("reads").expect("a fit");
    insert_fit(&mut tx, &Fit { id: Uuid::now_v7(), widening, ..last }).await.expect("stores");
    tx.commit().await.expect("commits");
}

on_both! {
    async fn how_far_intervals_are_widened_and_how_often_they_held_is_published(app) {
        let fits = async || {
            let listed = app.get("/v1/watersheds/ostrey/fits").send().await.expect(200).json();
            listed["items"].as_array().expect("items").iter()
                .map(|fit| (fit["taxon"].clone(), (fit["widening"].clone(), fit["cover"].clone())))
                .collect::<std::collections::HashMap<_, _>>()
        };
        let danica = json!("ephemera-danica");
        assert_eq!(fits().await[&danica], (json!(1.34), json!(null)), "nothing is scored yet");
        score_at(&app, (0.35, 0.10), now() - TimeDelta::days(1)).await;
        assert_eq!(fits().await[&danica].1, json!(null), "the scores are older than the fit");
        score(&app, (0.35, 0.10)).await;
        let told = fits().await;
        // Two rows of 24 dates of what is shown, the calendar's left out.
        assert_eq!(told[&danica].1, json!({ "nominal": 0.8, "achieved": 0.75, "dates": 48 }));
        assert_eq!(told[&json!("serratella-ignita")], (json!(1.0), json!(null)));

        let path = "/w/ostrey/skill";
        let english = page(&app, path).await;
        assert!(english.contains("wider than the model alone has them, by these factors: <i>Ephemera danica</i> 1.3."), "{english}");
        let german = page(&app, &format!("{path}?lang=de")).await;
        assert!(german.contains("und zwar um diese Faktoren: <i>Ephemera danica</i> 1,3."), "{german}");
        let ranges = app.get("/v1/watersheds/ostrey/skill").send().await.expect(200).json()["ranges"].clone();
        assert!(ranges.as_array().expect("rows").contains(&json!({ "taxon": "ephemera-danica", "brood": 1, "widening": 1.34 })), "{ranges}");

        refit(&app, Some(1.04)).await;
        let html = page(&app, path).await;
        assert!(html.contains("No range has to be drawn wider") && !html.contains("by these factors"), "{html}");
        refit(&app, None).await;
        assert_eq!(fits().await[&danica].0, json!(null));
        let html = page(&app, path).await;
        assert!(!html.contains("No range has to be drawn wider") && !html.contains("by these factors"), "nothing is known: {html}");
    }
}

on_both! {
    async fn no_page_claims_more_of_an_insect_than_the_skill_page(app) {
        const PAGES: [&str; 4] =
            ["/w/ostrey", "/w/ostrey/season", "/w/ostrey/taxa/ephemera-danica", "/w/ostrey/reaches/mill-meadow"];
        for path in PAGES {
            let html = page(&app, path).await;
            assert!(html.contains("; with the water of the whole year known, better than going by the date alone."), "{path}: {html}");
            assert!(!html.contains("Four weeks ahead:"), "nothing was scored yet: {path}");
        }
        for (gain, skill, words, in_german, in_short) in [
            ((0.35, 0.10), "Better than going by the date alone: <i>E", "better than going by the date alone.", "besser als das Datum", "better than the date alone."),
            ((0.05, 0.10), "No clear difference from going by the date: <i>E", "no clear difference from going by the date alone.", "kein klarer", "about as good as the date alone."),
            ((-0.35, 0.10), "Worse than going by the date: <i>E", "worse than going by the date alone.", "schlechter als das Datum", "worse than the date alone."),
        ] {
            score(&app, gain).await;
            app.service.refresh().await.expect("loads");
            assert!(page(&app, "/w/ostrey/skill").await.contains(skill));
            let now = page(&app, PAGES[0]).await;
            assert!(now.contains(&format!("How sure: 120 records from 6 years; four weeks ahead {in_short}")), "{now}");
            for path in PAGES {
                let html = page(&app, path).await;
                let told: Vec<&str> = html.split("Four weeks ahead: ").skip(1).collect();
                assert!(!told.is_empty() && told.iter().all(|rest| rest.starts_with(words)), "{words} on {path}: {html}");
                let german = page(&app, &format!("{path}?lang=de")).await;
                assert!(german.contains(&format!("Vier Wochen voraus: {in_german}")), "{path}: {german}");
            }
        }
    }
}

on_both! {
    async fn new_scores_reach_the_pages_without_a_publication(app) {
        let before = app.service.snapshot().generation();
        score(&app, (0.35, 0.10)).await;
        app.service.refresh().await.expect("loads");
        assert_ne!(app.service.snapshot().generation(), before, "whoever serves is told");
    }
}

on_both! {
    async fn the_sheet_tells_the_hours_of_the_fullest_reach(app) {
        use chrono::NaiveTime;
        use subimago::domain::Reach;
        use subimago::domain::forecast::HourWindow;
        let [one, other, ..] = water::reaches();
        for (fullest, thin) in [(&one, &other), (&other, &one)] {
            let mut tx = app.service.db().write().await.expect("writes");
            let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
            let known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
            let made = |reach: &Reach, hour: u32, full: bool| {
                let mut forecast = water::forecast(reach, "ephemera-danica", fit_id, 0);
                let at = |hour| NaiveTime::from_hms_opt(hour, 0, 0).expect("a time");
                forecast.hours = forecast.hours.map(|hours| HourWindow { from: at(hour), peak: at(hour + 1), to: at(hour + 2), ..hours });
                for day in forecast.days.iter_mut().filter(|_| !full) {
                    day.class_probabilities = [0.9, 0.1, 0.0, 0.0];
                }
                forecast
            };
            let forecasts = [made(fullest, 18, true), made(thin, 9, false)];
            publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
            tx.commit().await.expect("commits");
            app.service.refresh().await.expect("loads");
            let html = page(&app, "/w/ostrey/print").await;
            assert!(html.contains("18:00\u{2013}20:00") && !html.contains("09:00\u{2013}11:00"), "{}: {html}", fullest.slug);
        }
    }
}

on_both! {
    async fn the_heights_of_the_picture_stand_in_a_table(app) {
        let html = page(&app, "/w/ostrey/reaches/mill-meadow").await;
        let table = html.split("<table class=\"heights\">").nth(1).expect("a table").split("</table>").next().expect("its end");
        let heads: Vec<&str> = table.split("<th scope=\"col\">").skip(1).filter_map(|rest| rest.split('<').next()).collect();
        let column = heads.iter().position(|head| head.contains("21 May")).expect("a day of the picture");
        let row = table.split("<i>Ephemera danica</i>").nth(1).expect("its row").split("</tr>").next().expect("an end");
        let cells: Vec<&str> = row.split("<td>").skip(1).filter_map(|rest| rest.split('<').next()).collect();
        assert_eq!(cells.len(), heads.len());
        let list = app.get("/v1/watersheds/ostrey/forecasts?taxon=ephemera-danica&reach=mill-meadow").send().await.expect(200).json();
        let days = list["items"][0]["days"].as_array().expect("days").clone();
        let day = days.iter().find(|day| day["date"] == "2026-05-21").expect("the day");
        let chance = |class: &str| day["class_probabilities"][class].as_f64().expect("a chance");
        let height = chance("sparse") + 2.0 * chance("moderate") + 3.0 * chance("heavy");
        assert!(height > 0.5, "the test needs a height");
        assert_eq!(cells[column], format!("{height:.1}"), "{table}");
    }
}

on_both! {
    async fn the_sheet_has_one_drawn_row_for_each_insect(app) {
        let html = page(&app, "/w/ostrey/print").await;
        let rows = html.split("<tbody>").nth(1).expect("a table").matches("<tr>").count();
        let table = page(&app, "/w/ostrey").await;
        let season = table.split("season-table").nth(1).expect("a table").split("</tbody>").next().expect("its end");
        assert!(rows > 0 && rows == season.matches("<th scope=\"row\">").count());
        assert_eq!(html.matches("class=\"ridge\"").count(), rows);
        assert!(html.contains("15:30\u{2013}19:30"), "{html}");
    }
}
