//! Recorded answers of the water services, sent again by a server on this machine (Hub'Eau's are in
//! `weather_replay`; legacy USGS tables come as files, see `responses`).

use subimago::app::document::sync::SyncState;
use subimago::domain::Quality;

use crate::local_server::{Reply, Seen};
use crate::shared;
use crate::weather_replay::Replay;

fn recorded(name: &str) -> Option<String> {
    Some(std::fs::read_to_string(shared::path(&format!("data/responses/{name}"))?).unwrap())
}

#[tokio::test]
async fn smhis_six_days_of_july_1993_are_stored_and_its_inner_links_left_alone() {
    let Some(body) = recorded("smhi/parameter4_station80107_corrected-archive.json") else { return };
    let path = "/api/version/latest/parameter/4/station/80107/period/corrected-archive/data.json";
    let script = move |seen: &Seen| {
        if seen.path == path { Reply::json(body.clone()) } else { Reply::status(404, &[]) }
    };
    let replay = Replay::new("smhi:80107", "Europe/Stockholm", "1993-08-02T06:00:00Z", script).await;
    let done = replay.sync().await;
    assert_eq!((done.state, done.created, done.refused.len()), (SyncState::Done, 6, 0), "{:?}", done.reason);
    let stored = replay.days().await;
    let means: Vec<f64> = stored.iter().map(|day| day.1).collect();
    assert_eq!(means, [20.0, 19.0, 19.0, 18.0, 19.0, 19.0]);
    assert_eq!((stored[0].0.to_string(), stored[5].0.to_string()), ("1993-07-26".to_owned(), "1993-07-31".to_owned()));
    assert!(stored.iter().all(|day| day.2 == ["O"] && day.3 == Quality::Good));
    assert!(replay.server.paths().iter().all(|asked| asked == path), "{:?}", replay.server.paths());
    assert_eq!(replay.sync().await.created, 0);
    assert_eq!(replay.days().await.len(), 6);
}

#[tokio::test]
async fn the_surveys_pages_of_discharge_are_followed_and_nothing_of_them_is_kept() {
    let (Some(first), Some(collections)) = (
        recorded("usgs-ogc/daily_items_limit2_page1.v0.2025-08-31.json"),
        recorded("usgs-ogc/collections_two_features_each.v0.2026-08.json"),
    ) else {
        return;
    };
    let collections: serde_json::Value = serde_json::from_str(&collections).unwrap();
    let (last, water) = (collections["daily"].to_string(), first.replace("00060", "00010").replace("ft^3/s", "degC"));
    // As recorded, all four rows are of discharge. Told as temperature, the first row is one; the second is of another
    // station, and the last page's two are discharge still.
    for (page, kept, discharge, elsewhere) in [(first, 0, 4, 0), (water.replace("\"489\"", "\"24.9\""), 1, 2, 1)] {
        let last = last.clone();
        let script = move |seen: &Seen| {
            let here = format!("http://{}", seen.header("host").unwrap());
            // The link is made to lead to the server that was asked; what was recorded is of 1949 and 2020.
            match seen.path.as_str() {
                path if path.contains("cursor=MDAwMDAwMGMtN2VmNC00N2U0LWE1NzctNjc3ZmU5NzNjZmIw") => {
                    Reply::json(last.clone())
                }
                path if path.starts_with("/ogcapi/v0/collections/daily/items") => {
                    Reply::json(page.replace("https://api.waterdata.usgs.gov", &here))
                }
                _ => Reply::status(404, &[]),
            }
        };
        let source = "usgs:USGS-02289019 since=1949-01-01";
        let replay = Replay::new(source, "America/New_York", "2020-10-26T12:00:00Z", script).await;
        let done = replay.sync().await;
        let followed = replay.server.paths().iter().filter(|path| path.contains("cursor=")).count();
        assert_eq!(followed, 1, "{:?}", replay.server.paths());
        let told = |reason: &str| done.refused.get(reason).copied().unwrap_or(0);
        assert_eq!((replay.days().await.len() as u64, done.created), (kept, kept), "{done:?}");
        assert_eq!((told("other-quantity"), told("other-station")), (discharge, elsewhere), "{:?}", done.refused);
    }
}

#[tokio::test]
async fn air_pressure_of_a_things_server_is_no_water() {
    let Some(body) = recorded("sensorthings/observations_page1.excerpt3of500.json") else { return };
    for (unit, state) in [("degC", SyncState::Done), ("hPa", SyncState::Failed)] {
        let body = body.clone();
        let script = move |seen: &Seen| {
            let here = format!("http://{}", seen.header("host").unwrap());
            match seen.path.as_str() {
                "/FROST-Server/v1.1/Datastreams(1)" => Reply::json(format!(
                    "{{\"name\":\"x\",\"unitOfMeasurement\":{{\"name\":\"x\",\"symbol\":\"{unit}\",\"definition\":\"\"}}}}"
                )),
                path if path.contains("$skip=500") => Reply::json(r#"{"value":[]}"#),
                path if path.starts_with("/FROST-Server/v1.1/Datastreams(1)/Observations") => {
                    Reply::json(body.replace("https://sensors.bgs.ac.uk", &here))
                }
                _ => Reply::status(404, &[]),
            }
        };
        let source = "sensorthings:SERVER/FROST-Server/v1.1/Datastreams(1)";
        let replay = Replay::new(source, "Europe/London", "2023-04-01T12:00:00Z", script).await;
        let done = replay.sync().await;
        assert_eq!((done.state, done.created), (state, 0), "{:?}", done.reason);
        // The three rows are asked for in two spans.
        let refused = done.refused.get("out-of-range").copied().unwrap_or(0);
        assert!(if state == SyncState::Done { refused >= 3 } else { refused == 0 }, "{:?}", done.refused);
        assert_eq!(replay.readings().await.len(), 0);
        let followed = replay.server.paths().iter().filter(|path| path.contains("$skip=500")).count();
        assert!((followed > 0) == (state == SyncState::Done), "{:?}", replay.server.paths());
    }
}
