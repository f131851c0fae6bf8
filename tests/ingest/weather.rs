//! Forecasts of the air that arrive by themselves.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use subimago::app::document::sync::{GaugeSyncDocument, SyncState};
use subimago::domain::air::AirIssue;
use subimago::domain::job::JobState;
use subimago::store::{air, job};

use crate::fake_services::World;
use crate::local_server::Reply;
use crate::support::{at, day, slug};

/// A forecast of MET Norway made at `made`, from then on by the hour for `hours` hours, `base_c` plus a
/// tenth for every hour.
fn met(made: &str, hours: i64, base_c: f64) -> Value {
    let start: DateTime<Utc> = at(made);
    let step = |hour: i64| {
        json!({ "time": start + TimeDelta::hours(hour),
            "data": { "instant": { "details": { "air_temperature": base_c + hour as f64 / 10.0 } } } })
    };
    json!({ "type": "Feature", "properties": {
        "meta": { "updated_at": made, "units": { "air_temperature": "celsius" } },
        "timeseries": (0..hours).map(step).collect::<Vec<_>>() } })
}

fn reply(body: &Value, expires: &str) -> Reply {
    let headers = vec![("expires", expires.to_owned()), ("last-modified", "Mon, 15 Jun 2026 11:40:00 GMT".to_owned())];
    Reply::Full(200, headers, body.to_string().into_bytes())
}

impl World {
    async fn air(&self, known_by: Option<&str>) -> Vec<AirIssue> {
        let mut tx = self.club.db.read().await.unwrap();
        air::air_forecasts(&mut tx, &slug("ostrey"), &slug("mast"), known_by.map(at)).await.unwrap()
    }
}

#[tokio::test]
async fn met_norway_is_asked_as_it_asks_to_be() {
    let world = World::new(&[("mast", "met-norway:52.1,-3.2 altitude=180")]).await;
    let body = met("2026-06-15T11:00:00Z", 73, 10.0);
    world.change(|held| drop(held.instead.insert("/met", reply(&body, "Mon, 15 Jun 2026 12:30:00 GMT"))));
    let first = world.sync_one().await;
    // From noon of the 15th in London (summer time) to the noon of the 18th: the 16th and 17th are whole.
    assert_eq!((first.state, first.created), (SyncState::Done, 2), "{:?}", first.reason);
    let seen = &world.server.seen()[0];
    assert_eq!(seen.path, "/met/compact?lat=52.1&lon=-3.2&altitude=180");
    let agent = seen.header("user-agent").unwrap();
    assert!(agent.starts_with("Subimago/") && agent.contains("keeper@club.example"), "{agent}");
    let stored = world.air(None).await;
    assert_eq!(stored.len(), 1);
    assert_eq!((stored[0].made_at, stored[0].known_at), (at("2026-06-15T11:00:00Z"), at("2026-06-15T12:00:00Z")));
    let dates: Vec<_> = stored[0].days.iter().map(|day| day.date).collect();
    assert_eq!(dates, [day("2026-06-16"), day("2026-06-17")]);
    // The 16th runs from hour 12 to hour 36 of the forecast: 11.2 to 13.6, by a straight line.
    let first_day = stored[0].days[0];
    assert_eq!((first_day.tmin_c, first_day.tmean_c, first_day.tmax_c), (11.2, 12.4, 13.6));

    // Still fresh: nobody is asked. Later: only whether it changed.
    assert_eq!(world.sync_one().await.state, SyncState::Unchanged);
    assert_eq!(world.server.seen().len(), 1, "not before it expires");
    world.pace.pass(TimeDelta::hours(1));
    let unchanged = Reply::status(304, &[("expires", "Mon, 15 Jun 2026 19:00:00 GMT")]);
    world.change(|held| drop(held.instead.insert("/met", unchanged)));
    assert_eq!(world.sync_one().await.state, SyncState::Unchanged);
    let again = &world.server.seen()[1];
    assert_eq!(again.header("if-modified-since"), Some("Mon, 15 Jun 2026 11:40:00 GMT"));
    world.pace.pass(TimeDelta::hours(5));
    assert_eq!(world.sync_one().await.state, SyncState::Unchanged);
    assert_eq!(world.server.seen().len(), 2, "the answer that nothing changed said until when");

    // A new forecast stands beside the old one, each known when it was fetched.
    world.pace.pass(TimeDelta::hours(2));
    let newer = met("2026-06-15T19:00:00Z", 73, 20.0);
    world.change(|held| drop(held.instead.insert("/met", reply(&newer, "Mon, 15 Jun 2026 23:00:00 GMT"))));
    assert_eq!(world.sync_one().await.created, 2);
    assert_eq!(world.air(None).await.len(), 2);
    assert_eq!(world.air(Some("2026-06-15T18:00:00Z")).await.len(), 1, "what was known then");
    let mut tx = world.club.db.read().await.unwrap();
    let waiting = job::jobs(&mut tx, &slug("ostrey"), 10).await.unwrap();
    assert!(waiting.iter().any(|job| job.kind == "publish" && job.state == JobState::Queued), "news is published");
}

#[tokio::test]
async fn a_deprecated_product_of_met_norway_is_taken_and_noted_until_it_is_none() {
    let world = World::new(&[("mast", "met-norway:52.1,-3.2")]).await;
    let body = met("2026-06-15T11:00:00Z", 73, 10.0);
    let marked = |status: u16, body: &Value, expires: &str| match reply(body, expires) {
        Reply::Full(_, headers, body) => Reply::Full(status, headers, body),
        other => other,
    };
    let noted = |done: &GaugeSyncDocument| done.notes.iter().filter(|note| note.contains("deprecated (203)")).count();
    world.change(|held| drop(held.instead.insert("/met", marked(203, &body, "Mon, 15 Jun 2026 12:30:00 GMT"))));
    let first = world.sync_one().await;
    assert_eq!((first.state, first.created, noted(&first)), (SyncState::Done, 2, 1), "{:?}", first.notes);
    // While nothing new is told, what was said holds: asked for or not.
    assert_eq!(noted(&world.sync_one().await), 1);
    world.pace.pass(TimeDelta::hours(1));
    let unchanged = Reply::status(304, &[("expires", "Mon, 15 Jun 2026 13:30:00 GMT")]);
    world.change(|held| drop(held.instead.insert("/met", unchanged)));
    let same = world.sync_one().await;
    assert_eq!((same.state, noted(&same)), (SyncState::Unchanged, 1));
    world.pace.pass(TimeDelta::hours(1));
    let newer = met("2026-06-15T13:00:00Z", 73, 12.0);
    world.change(|held| drop(held.instead.insert("/met", marked(200, &newer, "Mon, 15 Jun 2026 15:00:00 GMT"))));
    let last = world.sync_one().await;
    assert_eq!((last.state, noted(&last)), (SyncState::Done, 0), "{:?}", last.notes);
}

#[tokio::test]
async fn the_weather_service_leads_to_a_grid_that_is_remembered() {
    let world = World::new(&[("mast", "nws:52.1,-3.2")]).await;
    let grid = world.server.url("/nws/gridpoints/TAE/58,65");
    let point = json!({ "properties": { "forecastGridData": grid } });
    let run = |hour: i64, air_c: f64| {
        let start = at("2026-06-15T11:00:00Z") + TimeDelta::hours(hour);
        json!({ "validTime": format!("{}/PT6H", start.to_rfc3339()), "value": air_c })
    };
    let values: Vec<Value> = (0..12).map(|n| run(6 * n, 50.0 + n as f64)).collect();
    let body = json!({ "properties": { "updateTime": "2026-06-15T11:30:00+00:00",
        "temperature": { "uom": "wmoUnit:degF", "values": values } } });
    world.change(|held| {
        held.instead.insert("/nws/points/52.1,-3.2", Reply::json(&point));
        held.instead.insert("/nws/gridpoints/TAE/58,65", Reply::json(&body));
    });
    let first = world.sync_one().await;
    assert_eq!((first.state, first.created), (SyncState::Done, 2), "{:?}", first.reason);
    assert!(world.air(None).await[0].days.iter().all(|day| (10.0..16.0).contains(&day.tmean_c)), "in Celsius");
    world.sync_one().await;
    assert_eq!(world.server.paths().iter().filter(|path| path.contains("points/52")).count(), 1, "places do not move");
    // A grid on another host is not followed; the old forecast stays.
    world.change(|held| {
        held.instead.insert("/nws/gridpoints/TAE/58,65", Reply::status(404, &[]));
        let away = json!({ "properties": { "forecastGridData": "https://grid.example/x" } });
        held.instead.insert("/nws/points/52.1,-3.2", Reply::json(&away));
    });
    assert_eq!(world.sync_one().await.state, SyncState::Failed);
    let moved = world.sync_one().await;
    assert_eq!(moved.state, SyncState::Failed);
    assert!(moved.reason.unwrap().contains("another host"), "after a failure the place is asked again");
    assert_eq!(world.air(None).await.len(), 1);
}

#[tokio::test]
async fn a_forecast_of_no_whole_day_or_no_form_is_refused() {
    let world = World::new(&[("mast", "met-norway:52.1,-3.2")]).await;
    for (body, said) in [
        (met("2026-06-15T11:00:00Z", 20, 10.0), "no whole day"),
        (met("2026-06-16T11:00:00Z", 73, 10.0), "no possible time"),
        (json!({ "properties": {} }), "no time series"),
        (json!({ "error": { "code": "X", "message": "busy" } }), "busy"),
    ] {
        world.change(|held| drop(held.instead.insert("/met", Reply::json(&body))));
        let done = world.sync_one().await;
        assert_eq!(done.state, SyncState::Failed, "{said}");
        assert!(done.reason.as_ref().unwrap().contains(said), "{:?}", done.reason);
        assert!(world.air(None).await.is_empty());
    }
}

#[tokio::test]
async fn wind_cloud_and_rain_are_kept_by_the_hour() {
    let world = World::new(&[("mast", "met-norway:52.1,-3.2")]).await;
    let mut body = met("2026-06-15T11:00:00Z", 73, 10.0);
    body["properties"]["meta"]["units"] = json!({ "air_temperature": "celsius", "wind_speed": "m/s",
        "cloud_area_fraction": "%", "precipitation_amount": "mm" });
    let steps = body["properties"]["timeseries"].as_array_mut().unwrap();
    let details = |step: &mut Value, name: &str, value: f64| step["data"]["instant"]["details"][name] = json!(value);
    details(&mut steps[0], "wind_speed", 5.0);
    details(&mut steps[0], "cloud_area_fraction", 62.5);
    steps[0]["data"]["next_1_hours"] = json!({ "details": { "precipitation_amount": 0.4 } });
    steps[1]["data"]["next_6_hours"] = json!({ "details": { "precipitation_amount": 3.0 } });
    // No wind blows so hard, and no sky is so full: left out, and the hour stays.
    details(&mut steps[2], "wind_speed", 500.0);
    details(&mut steps[2], "cloud_area_fraction", 101.0);
    world.change(|held| drop(held.instead.insert("/met", reply(&body, "Mon, 15 Jun 2026 12:30:00 GMT"))));
    assert_eq!(world.sync_one().await.state, SyncState::Done);
    let hours = world.air(None).await.remove(0).hours;
    let told = |k: usize| (hours[k].wind_kmh, hours[k].cloud, hours[k].rain_mm);
    assert_eq!((hours.len(), hours[0].at, hours[0].air_c), (73, at("2026-06-15T11:00:00Z"), 10.0));
    assert_eq!(told(0), (Some(18.0), Some(0.63), Some(0.4)));
    assert_eq!((told(1), told(2)), ((None, None, Some(0.5)), (None, None, None)));
}
