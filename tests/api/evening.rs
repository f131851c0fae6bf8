//! Spinner flights in the calendar, the evening card, the weekly digest, and what a reach's page says of its water.

use chrono::{NaiveTime, TimeDelta};
use subimago::app::feed::{WindowKind, entry_uid};
use subimago::app::publish;
use subimago::domain::air::{EveningWeather, WeatherHour};
use subimago::domain::forecast::{Caution, Flight, HourWindow, WaterBasis, WaterFrom};
use subimago::domain::water_hours::{HoursBasis, WaterDay, WaterHour, WaterHours};
use subimago::domain::{Forecast, Gauge};
use subimago::store::sync::{GaugeSync, put_gauge_sync};
use subimago::store::{place, taxon};

use crate::lint::lint;
use crate::support::{TestApp, date, now, on_both, slug};
use crate::water;

fn at(hour: u32, minute: u32) -> NaiveTime {
    NaiveTime::from_hms_opt(hour, minute, 0).expect("valid time")
}

/// Publishes Ephemera danica anew for Mill Meadow, changed by `change`.
async fn publish(app: &TestApp, hours: i64, change: impl FnOnce(&mut Forecast)) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
    let known = taxon::find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
    let mut forecast = water::forecast(&water::reaches()[0], "ephemera-danica", fit_id, 0);
    change(&mut forecast);
    let (w, when) = (slug("ostrey"), now() + TimeDelta::hours(hours));
    publish::publish(&mut tx, &w, &known, &[forecast], when).await.expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

fn with_flight(forecast: &mut Forecast, minutes: i64, chance: f64) {
    let later = |time: NaiveTime| time + TimeDelta::minutes(minutes);
    let (from, peak, to) = (later(at(20, 35)), later(at(21, 15)), later(at(21, 55)));
    // Likely from 25 to 31 May but for a windy 28 May: not on the days of the peak, which falls on day 142 give or take 4.
    for day in &mut forecast.days {
        let away = (day.date - date(2026, 5, 28)).num_days().abs();
        day.flight_chance = Some(if away == 0 { 0.3 } else { 0.94 - 0.14 * away as f64 }.max(0.0));
    }
    forecast.spinner = Some(Flight { hours: HourWindow { date: date(2026, 5, 20), from, peak, to }, chance });
}

async fn event(app: &TestApp, uid: &str) -> String {
    let answer = app.get("/calendars/ostrey.ics?kind=flight").send().await.expect(200);
    assert!(lint(&answer.bytes).is_empty(), "{:?}\n{}", lint(&answer.bytes), answer.text());
    let text = answer.text().replace("\r\n ", "");
    text.split("BEGIN:VEVENT").find(|event| event.contains(uid)).expect("the event").to_owned()
}

on_both! {
    async fn flights_stand_in_the_calendar_and_do_not_move_with_every_minute(app) {
        let uid = entry_uid(&slug("ostrey"), &slug("mill-meadow"), &slug("ephemera-danica"), 1, 2026, WindowKind::Flight).to_string();
        publish(&app, 1, |forecast| with_flight(forecast, 0, 0.62)).await;
        let first = event(&app, &uid).await;
        // Its last day is the one before its end.
        assert!(first.contains("DTSTART;VALUE=DATE:20260525") && first.contains("DTEND;VALUE=DATE:20260601"), "{first}");
        assert!(first.contains("From the first of these days to the last\\, a spinner flight is at least as likely as none."));
        assert!(first.contains("SUMMARY:Ephemera danica spinners\\, evening 20:30\u{2013}22:00\\, Mill Meadow"), "{first}");
        assert!(first.contains("On 20 May 2026: likeliest 20:35 to 21:55\\, local time"));
        assert!(first.contains("in calm weather: 62 in 100.") && first.contains("As of 19 May 2026.") && first.contains("go with company"));
        assert!(first.contains("SEQUENCE:0") && first.contains("CATEGORIES:Emergence,flight"));
        publish(&app, 2, |forecast| with_flight(forecast, 5, 0.62)).await;
        let later = event(&app, &uid).await;
        assert!(later.contains("SEQUENCE:0") && later.contains("20:40 to 22:00") && later.contains("DTSTAMP:20260520T140000Z"));
        publish(&app, 3, |forecast| with_flight(forecast, 20, 0.62)).await;
        assert!(event(&app, &uid).await.contains("SEQUENCE:1"));
        publish(&app, 4, |forecast| forecast.stale = true).await;
        let gone = event(&app, &uid).await;
        assert!(gone.contains("STATUS:CANCELLED") && gone.contains("SEQUENCE:2"));
        let text = app.get("/calendars/ostrey.ics").send().await.expect(200).text().replace("\r\n ", "");
        let head = text.split("BEGIN:VEVENT").next().expect("a head");
        assert!(head.contains("As of 19 May 2026. Out of date: no water temperature has come in lately."), "{head}");
        assert_eq!(text.matches("Out of date").count(), 4, "twice in the head, and in the start and the peak");
    }
}

on_both! {
    async fn the_evening_card_names_what_hour_stage_size_surety_and_cautions(app) {
        let card = async || app.get("/w/ostrey/reaches/mill-meadow/card").send().await.expect(200).text();
        publish(&app, 1, |forecast| with_flight(forecast, 0, 0.62)).await;
        let page = card().await;
        for words in [
            "Mill Meadow, evening of 20 May 2026",
            "<i>Ephemera danica</i>",
            "15:30\u{2013}19:30, ",
            "20:35\u{2013}21:55, 62",
            "Stage</strong> about ",
            "Put on: ",
            "Most likely taken: <i>Ephemera danica</i> (",
            "Its size is not in the table: measure one.",
            "120 records from 6 years; with the water of the whole year known, better",
            "Wade with care.",
            "At dusk and on ice go with company",
            "Lightning: put the rod down",
            "Warm water: from 18",
            "A forecast is not a safety statement.",
        ] {
            assert!(page.contains(words), "{words}: {page}");
        }
        assert!(!page.contains("Rising or coloured water"), "the forecast's own caution stands in its place");
        // What is likeliest in the afternoon is left out, though it lasts into the evening.
        publish(&app, 2, |forecast| forecast.hours = Some(HourWindow { date: date(2026, 5, 20), from: at(14, 0), peak: at(15, 35), to: at(17, 5) })).await;
        assert!(!card().await.contains("<i>Ephemera danica</i>"));
        // At noon nothing of the evening is told.
        publish(&app, 3, |forecast| forecast.hours = Some(HourWindow { date: date(2026, 5, 20), from: at(10, 0), peak: at(12, 0), to: at(14, 0) })).await;
        let page = card().await;
        assert!(!page.contains("<i>Ephemera danica</i>"), "{page}");
        app.get("/w/ostrey/reaches/nowhere/card").send().await.expect(404);
        app.get("/w/elsewhere/reaches/nowhere/card").send().await.expect(404);
    }
}

on_both! {
    async fn the_digest_is_plain_text_in_short_lines(app) {
        publish(&app, 1, |forecast| with_flight(forecast, 0, 0.62)).await;
        let answer = app.get("/w/ostrey/digest.txt").send().await.expect(200);
        assert_eq!(answer.header("content-type"), "text/plain; charset=utf-8");
        let text = answer.text();
        assert!(text.lines().all(|line| line.chars().count() <= 76), "{text}");
        let joined = text.replace("\n  ", " ");
        for words in [
            "River Ostrey: the week from Wednesday, 20 May 2026\nData up to 19 May 2026.", "\nON THE WATER UNTIL TUESDAY, 26 MAY\n",
            "\nMill Meadow\n- Ephemera danica: 90 on Friday; 15:30 to 19:30; spinners 20:35 to 21:55, 62 in calm weather",
            "\nNEXT TO START\n- Serratella ignita: ", "General knowledge of the insect; too few records here yet.", "\nBEFORE YOU GO\n- Wade with care.",
            "- Lightning: put the rod down", "- A forecast is not a safety statement.", "http://water.test/w/ostrey\n",
        ] {
            assert!(joined.contains(words), "{words}: {text}");
        }
        assert!(!text.contains('<') && !text.contains("Out of date"));
        publish(&app, 2, |forecast| forecast.stale = true).await;
        assert!(app.get("/w/ostrey/digest.txt").send().await.expect(200).text().contains("Out of date"));
        // Hours and flights of the fullest day, weeks ahead, are not this week's.
        publish(&app, 3, |forecast| {
            with_flight(forecast, 0, 0.62);
            let later = date(2026, 6, 20);
            forecast.spinner.as_mut().expect("a flight").hours.date = later;
            forecast.hours.as_mut().expect("hours").date = later;
        }).await;
        let text = app.get("/w/ostrey/digest.txt").send().await.expect(200).text();
        assert!(text.contains("\nMill Meadow\n- Ephemera danica: 90 on Friday\n"), "{text}");
        let empty = app.get("/w/elsewhere/digest.txt").send().await.expect(200).text();
        assert!(empty.contains("NO FORECAST YET"));
        assert_eq!(subimago::http::digest(&app.service, &slug("elsewhere"), "http://water.test", subimago::words::Language::English).await.expect("a digest"), empty);
    }
}

on_both! {
    async fn a_caution_of_one_reach_names_it_where_several_are_told_of(app) {
        let too_warm = |forecast: &mut Forecast| {
            forecast.cautions.push(Caution { code: "water-too-warm", text: "Too warm.".into(), source: "a test" });
        };
        publish(&app, 1, too_warm).await;
        let get = async |path: &str| app.get(path).send().await.expect(200).text();
        let water = get("/w/ostrey").await;
        let list = water.split("Before you go").nth(1).expect("cautions");
        assert!(list.find("Mill Meadow: Too warm.").expect("told") < list.find("Wade with care.").expect("told"));
        assert!(!list.contains("Meadow: Wade with care."), "it holds for all");
        assert!(get("/w/ostrey/digest.txt").await.contains("- Mill Meadow: Too warm.\n"));
        let reach = get("/w/ostrey/reaches/mill-meadow").await;
        assert!(reach.contains("Too warm.") && !reach.contains("Mill Meadow: Too warm."));
        assert!(!get("/w/ostrey/reaches/alder-fold").await.contains("Too warm."));
    }
}

on_both! {
    async fn a_reach_says_when_its_water_is_not_measured_or_no_longer_comes_in(app) {
        let page = async || app.get("/w/ostrey/reaches/mill-meadow").send().await.expect(200).text();
        let text = page().await;
        assert!(text.contains("Water today about 12.2 \u{b0}C: not measured yet, expected from past years and the last days, give or take 1.4 \u{b0}C.")
            || text.contains("Water today about 12.3 \u{b0}C: not measured yet, expected from past years and the last days, give or take 1.4 \u{b0}C."), "{text}");
        assert!(text.contains("No day of this season was measured for this reach itself.") && text.contains("Measured at gauge bridge."));
        let basis = |until: u32, basis: WaterBasis, error_c: f64| move |forecast: &mut Forecast| {
            for day in &mut forecast.days {
                let from = if day.date <= date(2026, 5, until) { (WaterBasis::Measured, 0.0) } else { (basis, error_c) };
                day.water_from = Some(WaterFrom { basis: from.0, error_c: from.1 });
            }
        };
        publish_all(&app, 1, basis(20, WaterBasis::Ahead, 1.0)).await;
        let text = page().await;
        assert!(text.contains("\u{b0}C: measured.") && !text.contains("days ago"), "{text}");
        publish_all(&app, 2, basis(3, WaterBasis::Air, 0.9)).await;
        let text = page().await;
        assert!(text.contains("not measured, estimated from the air, give or take 0.9 \u{b0}C."), "{text}");
        assert!(text.contains("The last day measured for this reach is 3 May, 17 days ago."));
        assert!(!text.contains("Fetching from"));

        let mut tx = app.service.db().write().await.expect("writes");
        let source = "usgs:USGS-01420500";
        let gauge = Gauge { slug: slug("bridge"), name: "Ostrey Bridge".to_owned(), latitude: None, longitude: None, source: Some(source.to_owned()), rights: subimago::domain::Rights::default() };
        place::upsert_gauge(&mut tx, &slug("ostrey"), &gauge).await.expect("stores");
        let mut sync = GaugeSync::new(source.to_owned(), now());
        (sync.failure, sync.done_at) = (Some("the service does not answer".to_owned()), Some(now() - TimeDelta::days(4)));
        put_gauge_sync(&mut tx, &slug("ostrey"), &slug("bridge"), &sync).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let text = page().await;
        assert!(text.contains("Fetching from <strong>Ostrey Bridge</strong> fails (the service does not answer). It last went well on 16 May 2026."), "{text}");
        // What was said of another source says nothing of this one.
        let mut tx = app.service.db().write().await.expect("writes");
        sync.source = "smhi:80107".to_owned();
        put_gauge_sync(&mut tx, &slug("ostrey"), &slug("bridge"), &sync).await.expect("stores");
        tx.commit().await.expect("commits");
        assert!(!page().await.contains("Fetching from"));
    }
}

/// Publishes every taxon anew for Mill Meadow, changed by `change`.
async fn publish_all(app: &TestApp, hours: i64, change: impl Fn(&mut Forecast)) {
    for (name, ..) in water::TAXA {
        let mut tx = app.service.db().write().await.expect("writes");
        let fit_id = water::store_fit(&mut tx, name).await;
        let known = taxon::find_taxon(&mut tx, &slug(name)).await.expect("reads").expect("known");
        let mut forecast = water::forecast(&water::reaches()[0], name, fit_id, 0);
        change(&mut forecast);
        publish::publish(&mut tx, &slug("ostrey"), &known, &[forecast], now() + TimeDelta::hours(hours))
            .await
            .expect("publishes");
        tx.commit().await.expect("commits");
    }
    app.service.refresh().await.expect("loads");
}

on_both! {
    async fn the_weather_of_the_evening_is_told_where_a_service_forecasts_it(app) {
        let get = async |path: &str| app.get(path).send().await.expect(200).text();
        assert!(!get("/w/ostrey/reaches/mill-meadow").await.contains("At sunset"));
        let weather = |wind_kmh, cloud, rain_mm| move |forecast: &mut Forecast| {
            with_flight(forecast, 0, 0.62);
            let hour = WeatherHour { at: now(), air_c: 13.6, wind_kmh, cloud, rain_mm };
            forecast.evening = Some(EveningWeather { date: date(2026, 5, 20), made_at: now(), hour });
        };
        publish(&app, 1, weather(Some(21.6), Some(0.9), Some(0.42))).await;
        let page = get("/w/ostrey/reaches/mill-meadow").await;
        let said = "At sunset: air 14 \u{b0}C, wind 22 km/h, clouds all over, 0.4 mm of rain an hour (forecast of 20 May, 13:00).";
        assert!(page.contains(said), "{page}");
        assert!(page.contains("62 in 100 in the weather forecast") && !page.contains("in calm weather"));
        assert!(get("/w/ostrey/reaches/mill-meadow?units=f").await.contains("At sunset: air 56 \u{b0}F"));
        // Its lines are broken where they are full.
        let digest = get("/w/ostrey/digest.txt").await.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(digest.contains("62 in the weather forecast"), "{digest}");
        let documents = app.get("/v1/watersheds/ostrey/forecasts?reach=mill-meadow&taxon=ephemera-danica").send().await.expect(200).json();
        assert_eq!(documents["items"][0]["evening"]["wind_kmh"], 21.6);
        // What the service does not say is not told, and the chance is that of calm weather.
        publish(&app, 2, weather(None, Some(0.1), Some(0.0))).await;
        let page = get("/w/ostrey/reaches/mill-meadow").await;
        assert!(page.contains("At sunset: air 14 \u{b0}C, clear sky, no rain (forecast of") && page.contains("in calm weather"));
    }
}

/// A course of the day from 12 C at 06 h to `warmest_c` at 16 h, with an error of half a degree; the first two hours measured.
fn hourly(warmest_c: f64) -> WaterHours {
    let hour = |hour: usize| {
        let far = (hour as f64 - 16.0).abs().min(10.0) / 10.0;
        let early = hour.abs_diff(6) as f64 * if hour < 6 { 0.1 } else { 0.0 };
        let water_c = warmest_c - (warmest_c - 12.0) * far + early;
        WaterHour { water_c, error_c: if hour < 2 { 0.0 } else { 0.5 } }
    };
    let day = WaterDay { date: date(2026, 5, 20), basis: HoursBasis::OwnDays, hours: std::array::from_fn(hour) };
    WaterHours { words: "Hours by the usual day of May at gauge bridge.".into(), days: vec![day] }
}

on_both! {
    async fn the_water_of_the_hours_is_told_on_the_page_in_the_document_and_in_guidance(app) {
        let get = async |path: &str| app.get(path).send().await.expect(200).text();
        let page = "/w/ostrey/reaches/mill-meadow";
        let guidance = "/v1/watersheds/ostrey/reaches/mill-meadow/guidance?at=2026-05-20T";
        assert!(!get(page).await.contains("By the hour"));
        let advice = async |time: &str| app.get(&format!("{guidance}{time}")).send().await.expect(200).json();
        assert_eq!(advice("15:30:00Z").await["water"], serde_json::Value::Null);

        publish_all(&app, 1, |forecast| forecast.water_hours = Some(hourly(16.0))).await;
        let told = get(page).await;
        let said = "By the hour: coolest about 06:00 (12.0 \u{b0}C, give or take 0.5 \u{b0}C), warmest about 16:00 (16.0 \u{b0}C, give or take 0.5 \u{b0}C). Hours by the usual day of May at gauge bridge.";
        assert!(told.contains(said), "{told}");
        assert!(told.contains("<td>measured</td>") && !told.contains("or warmer between"));
        let fahrenheit = get(&format!("{page}?units=f")).await;
        assert!(fahrenheit.contains("coolest about 06:00 (53.6 \u{b0}F, give or take 0.9 \u{b0}F)"), "{fahrenheit}");
        let documents = app.get("/v1/watersheds/ostrey/forecasts?reach=mill-meadow&taxon=ephemera-danica").send().await.expect(200).json();
        let day = &documents["items"][0]["water_hours"]["days"][0];
        assert_eq!((&day["date"], &day["basis"]), (&"2026-05-20".into(), &"own-days".into()));
        assert_eq!((day["water_c"].as_array().expect("hours").len(), day["error_c"].as_array().expect("errors").len()), (24, 24));
        assert_eq!((&day["water_c"][16], &day["error_c"][16], &day["error_c"][1]), (&16.0.into(), &0.5.into(), &0.0.into()));
        // 16:30 on the clock of the river, which is an hour ahead of UTC in May.
        let now = advice("15:30:00Z").await;
        assert_eq!(now["water"], serde_json::json!({ "water_c": 16.0, "error_c": 0.5, "basis": "own-days" }));
        assert_eq!(advice("00:30:00Z").await["water"]["basis"], "measured");
        let codes = |advice: &serde_json::Value| advice["cautions"].as_array().expect("a list").iter().map(|caution| caution["code"].as_str().expect("a code").to_owned()).collect::<Vec<_>>();
        assert!(!codes(&now).iter().any(|code| code.ends_with("at-this-hour")));

        // Within one error of 18 and of 20 degrees it is said so, at these hours alone.
        publish_all(&app, 2, |forecast| forecast.water_hours = Some(hourly(19.6))).await;
        let told = get(page).await;
        assert!(told.contains("It may be 18 \u{b0}C or warmer between 14:00 and 19:00."), "{told}");
        assert!(get(&format!("{page}?units=f")).await.contains("It may be 64 \u{b0}F or warmer between"));
        let warm = advice("15:30:00Z").await;
        assert_eq!(codes(&warm)[0], "water-too-warm-at-this-hour");
        assert_eq!(warm["cautions"][0]["text"], "At this hour the water is about 20 \u{b0}C (estimated): do not fish for trout that are to be released. It is coolest about 06:00, 12 \u{b0}C. Local rules govern.");
        assert_eq!(codes(&advice("13:30:00Z").await)[0], "water-warm-at-this-hour");
        let morning = codes(&advice("05:30:00Z").await);
        assert!(!morning.iter().any(|code| code.ends_with("at-this-hour")), "{morning:?}");
        assert!(morning.iter().any(|code| code == "water"), "what always holds is told then: {morning:?}");
    }
}
