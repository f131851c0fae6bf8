//! `demo`: the invented club, without any file or setting.

use std::path::{Path, PathBuf};

use tokio::net::TcpListener;

use super::args::DemoArgs;
use super::failure::{Failure, Mend as _};
use super::{fit, forecast, output, serve};
use crate::app::demo::{self, Demo, Wish};
use crate::app::document::token::TokenRequest;
use crate::app::fit::FitRequest;
use crate::app::forecast::{FitChoice, ForecastRequest, cut_days};
use crate::app::operator;
use crate::app::{Db, database};
use crate::clock::{Clock as _, SystemClock};
use crate::config::{ServerSettings, Settings};
use crate::domain::season::WhichSeason;
use crate::domain::token::Role;

/// Name of the demo's database in its folder.
const FILE: &str = "subimago.db";
/// Days until the demo's tokens end.
const TOKEN_DAYS: u32 = 30;
/// Days that `--once` shows.
const DAYS: u64 = 7;

/// Runs the demo.
pub(super) async fn run(args: &DemoArgs, settings: &Settings) -> Result<(), Failure> {
    // Taken first, so that a taken port is told before anything is made.
    let listener = if args.once { None } else { Some(listen(args, settings).await?) };
    let (folder, _kept) = folder(args.data.as_deref())?;
    let db = open(&folder).await?;
    let wish = Wish { today: args.today, seed: args.seed };
    let demo = demo::prepare(&db, &SystemClock, wish)
        .await
        .doing(format!("cannot make a demo in {}", folder.display()))
        .mend("Name an empty folder with --data, or leave --data out.")?;
    let done = match listener {
        None => once(&db, &demo, args.json).await,
        Some(listener) => serve_demo(&db, &demo, listener, &settings.server).await,
    };
    db.close().await;
    done
}

async fn listen(args: &DemoArgs, settings: &Settings) -> Result<TcpListener, Failure> {
    let mut settings = settings.clone();
    if let Some(address) = args.listen {
        settings.server.listen = address;
    }
    settings.check().map_err(Failure::usage)?;
    serve::bind(settings.server.listen).await
}

/// Serves at once, fits and publishes meanwhile.
async fn serve_demo(db: &Db, demo: &Demo, listener: TcpListener, server: &ServerSettings) -> Result<(), Failure> {
    let service = serve::service(db, Some(demo.today)).await?;
    service.hold_readiness(true);
    demo::announce(&service, demo).await?;
    greet(db, demo, &listener).await?;
    let (fitting, shown) = (service.clone(), demo.clone());
    let fits = tokio::spawn(async move {
        let progress = output::Progress::start("fitting");
        let told = demo::fit_and_publish(&fitting, &SystemClock, &shown, &|outcome| {
            progress.step(&fit::line(outcome));
        })
        .await;
        progress.finish();
        match told {
            Ok(()) => output::note("All forecasts are served."),
            Err(error) => output::note(&Failure::from(error).to_string()),
        }
    });
    let served = serve::serve(&service, listener, server, Some(demo.today), None).await;
    fits.abort();
    served
}

/// Says where it is and prints the tokens, this once.
async fn greet(db: &Db, demo: &Demo, listener: &TcpListener) -> Result<(), Failure> {
    let mut lines = vec![
        "The Alder Fold Fly Fishers and their River Ostrey are invented; so is every reading and visit.".to_owned(),
        format!("Today is {} here, seed {}.", demo.today, demo.seed),
        format!("Open http://{}", listener.local_addr()?),
    ];
    for role in [Role::Keeper, Role::Member] {
        let request = TokenRequest {
            name: format!("demo {}", role.as_str()),
            role,
            watersheds: vec![demo.watershed.clone()],
            days: TOKEN_DAYS,
        };
        let (_, secret) = operator::create_token(db, SystemClock.now(), &request).await?;
        lines.push(format!("{:<6} token: {secret}", role.as_str()));
    }
    output::result(&lines.join("\n"))
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
    database::open(&format!("sqlite://{text}"), &SystemClock)
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
        taxa: Vec::new(),
        season: WhichSeason::On(demo.today),
        as_of: Some(demo.today),
        today: demo.today,
        fits: FitChoice::Published,
        in_season: false,
        weigh_visits: false,
    };
    let mut forecasts = crate::app::forecast::forecast(db, &SystemClock, &request).await?;
    for one in &mut forecasts {
        cut_days(one, demo.today, DAYS);
    }
    forecast::print(&forecasts, json)
}
