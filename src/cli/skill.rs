//! `skill`: how good forecasts would have been, with years left out.

use super::args::SkillArgs;
use super::failure::{Failure, Mend as _};
use super::open;
use super::output::{self, Progress};
use crate::app::document::SkillRowDocument;
use crate::app::skill::compute_skill;
use crate::clock::SystemClock;
use crate::config::Settings;

/// Computes, stores and prints.
pub(super) async fn run(args: &SkillArgs, settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    let progress = Progress::start(&format!("leaving out each year of {}", args.watershed));
    let told = |taxon: &crate::domain::Slug, brood: u8, rows: usize| {
        let what = if rows == 0 { "too few years to leave any out" } else { "scored" };
        progress.step(&format!("{taxon} brood {brood}: {what}"));
    };
    let document = compute_skill(&db, &SystemClock, &args.watershed, args.taxon.as_ref(), &told).await;
    progress.finish();
    db.close().await;
    let document = document.mend("Check the names of watershed and taxon; `subimago import setup` declares them.")?;
    if args.json {
        return output::json(&document);
    }
    let mut name = String::new();
    for row in &document.rows {
        let next = format!("{} brood {}", row.taxon, row.brood);
        if next != name {
            name = next;
            output::result(&format!(
                "\n{name}\n  {:<13} {:>5} {:>6} {:>6} {:>6} {:>7} {:>7}  {}",
                "clock", "ahead", "MAE", "CRPS", "in 80%", "RPS", "season", "skill against the calendar"
            ))?;
        }
        output::result(&line(row))?;
    }
    Ok(())
}

/// One clock at one lead: days and scores.
fn line(row: &SkillRowDocument) -> String {
    let number = |value: Option<f64>, digits: usize| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.digits$}"));
    let skill = match (row.skill_crps, row.skill_se) {
        (Some(skill), Some(se)) => format!("{skill:+.2} +/- {se:.2} over {} years", row.years),
        (Some(skill), None) => format!("{skill:+.2}"),
        _ => "-".to_owned(),
    };
    format!(
        "  {:<13} {:>5} {:>6} {:>6} {:>6} {:>7} {:>7}  {skill}",
        row.clock,
        format!("{} d", row.lead_days),
        number(row.mae_days, 1),
        number(row.crps_days, 1),
        number(row.cover80, 2),
        number(row.rps, 3),
        number(row.rps_in_season, 3),
    )
}
