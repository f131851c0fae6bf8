//! `forecast`: print whole-season forecasts from the latest fits.

use chrono::NaiveDate;

use super::args::ForecastArgs;
use super::failure::{Failure, Mend as _};
use super::{open, output};
use crate::app::document::{ForecastDocument, List};
use crate::app::forecast::{FitChoice, ForecastRequest, forecast};
use crate::clock::{Clock as _, SystemClock};
use crate::config::Settings;
use crate::domain::forecast::{DateQuantiles, ForecastDay};
use crate::domain::season::WhichSeason;
use crate::domain::{AbundanceClass, Forecast};

/// Forecasts and prints.
pub(super) async fn run(args: &ForecastArgs, settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    let request = ForecastRequest {
        watershed: args.watershed.clone(),
        reach: args.reach.clone(),
        taxa: args.taxon.iter().cloned().collect(),
        season: WhichSeason::Named(args.season),
        as_of: args.as_of,
        today: args.as_of.unwrap_or_else(|| SystemClock.now().date_naive()),
        fits: FitChoice::Latest,
        in_season: false,
        weigh_visits: false,
    };
    let forecasts = forecast(&db, &SystemClock, &request).await;
    db.close().await;
    let forecasts = forecasts
        .mend("Check the names of watershed, reach and taxon; `subimago fit --watershed W` makes the fits.")?;
    print(&forecasts, args.json)
}

/// Prints forecasts as one JSON document or as lines.
pub(super) fn print(forecasts: &[Forecast], json: bool) -> Result<(), Failure> {
    if json {
        let items: Vec<ForecastDocument> = forecasts.iter().map(ForecastDocument::from).collect();
        return output::json(&List::whole(items));
    }
    let mut reach = None;
    for forecast in forecasts {
        if reach != Some(&forecast.reach) {
            reach = Some(&forecast.reach);
            output::result(&format!("\n{}, {}", forecast.reach, forecast.season))?;
        }
        output::result(&line(forecast))?;
    }
    let mut told = Vec::new();
    for caution in forecasts.iter().flat_map(|f| &f.cautions) {
        if !told.contains(&caution) {
            told.push(caution);
            output::result(&format!("! {} ({})", caution.text.english, caution.source))?;
        }
    }
    Ok(())
}

/// One forecast in one line: dates, hours and the best day among those shown.
fn line(forecast: &Forecast) -> String {
    let name = format!("{} brood {}", forecast.taxon, forecast.brood);
    let dates = |share: f64| forecast.milestones.iter().find(|m| m.share == share).map(|m| range(&m.dates));
    let mut parts = vec![format!("  {name:<44} starts {}", dates(0.05).unwrap_or_default())];
    parts.push(format!("half by {}", dates(0.5).unwrap_or_default()));
    if let Some(hours) = forecast.hours {
        parts.push(format!("{} to {}", hours.from.format("%H:%M"), hours.to.format("%H:%M")));
    }
    if let Some(flight) = forecast.spinner {
        let (from, to) = (flight.hours.from.format("%H:%M"), flight.hours.to.format("%H:%M"));
        parts.push(format!("spinners {from} to {to} on {}: {:.0} %", short(flight.hours.date), 100.0 * flight.chance));
    }
    let any = |day: &ForecastDay| 1.0 - day.class_probabilities[AbundanceClass::None.index()];
    if let Some(day) = forecast.days.iter().max_by(|a, b| any(a).total_cmp(&any(b))) {
        let heavy = day.class_probabilities[AbundanceClass::Heavy.index()];
        parts.push(format!("best {}: {:.0} % any, {:.0} % heavy", short(day.date), 100.0 * any(day), 100.0 * heavy));
    }
    if forecast.prior_driven {
        parts.push("from priors: too few records".to_owned());
    }
    parts.join("; ")
}

/// `p50 (p10 to p90)`; a date past the season's end is a dash.
fn range(dates: &DateQuantiles) -> String {
    let show =
        |date: Option<chrono::NaiveDate>| date.map_or_else(|| "-".to_owned(), |d| d.format("%-d %b").to_string());
    format!("{} ({} to {})", show(dates.p50), show(dates.p10), show(dates.p90))
}

fn short(date: NaiveDate) -> String {
    date.format("%-d %b").to_string()
}
