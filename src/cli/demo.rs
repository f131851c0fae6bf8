//! `demo`: the invented club, without any file or setting.

use std::path::{Path, PathBuf};

use super::args::DemoArgs;
use super::failure::{Failure, Mend as _};
use super::{fit, forecast, output};
use crate::app::database::{self, Db};
use crate::app::demo::{self, Demo, Wish};
use crate::app::fit::FitRequest;
use crate::app::forecast::{ForecastRequest, cut_days};
use crate::clock::SystemClock;
use crate::config::Settings;
use chrono::Datelike as _;

/// Name of the demo's database in its folder.
const FILE: &str = "subimago.db";
/// Days that `--once` shows.
const DAYS: u64 = 7;

/// Runs the demo.
pub(super) async fn run(args: &DemoArgs, _settings: &Settings) -> Result<(), Failure> {
    let (folder, _kept) = folder(args.data.as_deref())?;
    let db = open(&folder).await?;
    let wish = Wish { today: args.today, seed: args.seed };
    let demo = demo::prepare(&db, &SystemClock, wish)
        .await
        .doing(format!("cannot make a demo in {}", folder.display()))
        .mend("Name an empty folder with --data, or leave --data out.")?;
    let result = once(&db, &demo, args.json).await;
    db.close().await;
    result
}

/// The folder asked for, made if need be, or a fresh one that lasts as long as the second value.
fn folder(asked: Option<&Path>) -> Result<(PathBuf, Option<tempfile::TempDir>), Failure> {
    if let Some(path) = asked {
        std::fs::create_dir_all(path)
            .doing(format!("cannot make the folder {}", path.display()))
            .mend("Name a folder that you may write to.")?;
        return Ok((path.to_owned(), None));
    }
    let fresh = tempfile::Builder::new()
        .prefix("subimago-demo-")
        .tempdir()
        .doing("cannot make a temporary folder")
        .mend("Name a folder with --data.")?;
    Ok((fresh.path().to_owned(), Some(fresh)))
}

async fn open(folder: &Path) -> Result<Db, Failure> {
    let path = folder.join(FILE);
    // A database address is a URL: these characters would end or escape its path.
    let text = path.display().to_string().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    database::open(&format!("sqlite://{text}"))
        .await
        .doing(format!("cannot open {}", path.display()))
        .mend("Name another folder with --data.")
}

/// Fits, and prints the coming week for every reach and taxon.
async fn once(db: &Db, demo: &Demo, json: bool) -> Result<(), Failure> {
    output::note(&format!("Everything here is invented. Today is {}, seed {}.", demo.today, demo.seed));
    let request = FitRequest { watershed: demo.watershed.clone(), taxon: None, through: Some(demo.today) };
    fit::with_progress(db, &request).await?;
    let request = ForecastRequest {
        watershed: demo.watershed.clone(),
        reach: None,
        taxon: None,
        season: demo.today.year(),
        as_of: Some(demo.today),
        today: demo.today,
    };
    let mut forecasts = crate::app::forecast::forecast(db, &SystemClock, &request).await?;
    for one in &mut forecasts {
        cut_days(one, demo.today, DAYS);
    }
    forecast::print(&forecasts, json)
}
