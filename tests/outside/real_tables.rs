//! How good left-out years of real catches would have been forecast: the tables of DEVELOPERS.md.
//!
//! Hubbard Brook: weekly sticky traps at headwater streams, 2018 to 2021. Grand Canyon: nightly light traps
//! below a dam, 2012 to 2016, where the dam steadies the water.

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use chrono::TimeZone;
use statrs::distribution::{Binomial, DiscreteCDF};
use subimago::app::Db;
use subimago::app::document::skill::{SkillDocument, SkillRowDocument};
use subimago::app::fit::{Known, input, load};
use subimago::app::skill::compute_skill;
use subimago::clock::FixedClock;
use subimago::domain::Slug;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::Candidates;

use crate::hubbard::brook::{Brook, WATERSHED, file};
use crate::shared;

const CANYON: &str = "grand-canyon";
const LIGHTS: &str = "data/emergence/grand-canyon-lights";

fn skill(database_url: &str, watershed: &str) -> SkillDocument {
    let clock = FixedClock(chrono::Utc.with_ymd_and_hms(2026, 11, 25, 12, 0, 0).unwrap());
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let db = Db::connect(database_url).await.unwrap();
        let found = compute_skill(&db, &clock, &Slug::new(watershed).unwrap(), None, &|_, _, _| ()).await.unwrap();
        db.close().await;
        found
    })
}

/// The table, one line per taxon, lead and clock.
fn table(title: &str, found: &SkillDocument) -> String {
    let mut text = format!("{title}\n");
    let number = |value: Option<f64>, digits: usize| value.map_or("-".to_owned(), |v| format!("{v:.digits$}"));
    for row in &found.rows {
        let skill = match (row.skill_crps, row.skill_se) {
            (Some(skill), Some(se)) => format!("{skill:.2} +/- {se:.2}"),
            (skill, _) => number(skill, 2),
        };
        let _ = writeln!(
            text,
            "{:<12} lead {:>2} {:<9} years {} dates {:>3} MAE {:>5} CRPS {:>5} cover {:>5} skill {skill:<14} records {:>5} RPS {}",
            row.taxon,
            row.lead_days,
            row.clock,
            row.years,
            row.dates,
            number(row.mae_days, 1),
            number(row.crps_days, 1),
            number(row.cover80, 2),
            row.records,
            number(row.rps, 3),
        );
    }
    text
}

fn shipped(found: &SkillDocument) -> impl Iterator<Item = &SkillRowDocument> {
    found.rows.iter().filter(|row| row.clock == "shipped")
}

/// Share of dates inside the 80 % interval over all taxa and leads, and the years behind it.
fn pooled_cover(found: &SkillDocument) -> (f64, usize) {
    let (mut inside, mut dates, mut years) = (0.0, 0.0, 0);
    for row in shipped(found).filter(|row| row.dates > 0) {
        inside += row.cover80.unwrap() * row.dates as f64;
        dates += row.dates as f64;
        years = years.max(row.years);
    }
    (inside / dates, years)
}

/// Whether a cover of `share` over so many years is one that a true cover of 0.8 gives: between the 2.5 and
/// 97.5 % points of the binomial distribution, taking each taxon's year as one trial, since dates of one year
/// are not independent.
fn is_four_fifths(share: f64, trials: usize) -> bool {
    let binomial = Binomial::new(0.8, trials as u64).unwrap();
    let (low, high) = (binomial.inverse_cdf(0.025) as f64, binomial.inverse_cdf(0.975) as f64);
    println!("cover {share:.2}; a true 0.8 gives {:.2} to {:.2}", low / trials as f64, high / trials as f64);
    (low / trials as f64..=high / trials as f64).contains(&share)
}

#[test]
fn left_out_years_of_weekly_traps() {
    if file("emergence.csv").is_none() {
        return;
    }
    let brook = Brook::imported();
    let found = skill(&brook.database_url(), WATERSHED);
    println!("{}", table("Hubbard Brook, weekly traps", &found));
    let (cover, years) = pooled_cover(&found);
    let taxa = ["caddisfly", "dipteran", "stonefly"];
    assert!(is_four_fifths(cover, years * taxa.len()), "pooled cover {cover}");
    // Classes: what is shipped (clocks and kernel) is no worse than the best single clock by more than 2 %.
    for taxon in taxa {
        let mean = |clock: &str| {
            let rows = || found.rows.iter().filter(|r| r.taxon == taxon && r.clock == clock && r.records > 0);
            rows().map(|r| r.rps.unwrap() * r.records as f64).sum::<f64>()
                / rows().map(|r| r.records as f64).sum::<f64>()
        };
        let (calendar, thermal, shipped) = (mean("calendar"), mean("thermal"), mean("shipped"));
        println!("{taxon}: RPS calendar {calendar:.3}, thermal {thermal:.3}, shipped {shipped:.3}");
        assert!(shipped <= 1.02 * calendar.min(thermal), "{taxon}");
    }
}

/// A folder with the canyon's database, filled by the commands.
fn canyon() -> Option<tempfile::TempDir> {
    let records = shared::path(&format!("{LIGHTS}/emergence_main_taxa_with_zeros.csv"))?;
    let water = shared::path(&format!("{LIGHTS}/temperature_daily.csv"))?;
    let folder = tempfile::tempdir().unwrap();
    let mut setup = String::from(
        "[watershed]\nslug = \"grand-canyon\"\nname = \"Grand Canyon\"\ntime_zone = \"America/Phoenix\"\n\n\
         [[gauge]]\nslug = \"USGS-09380000\"\nname = \"River below the dam\"\n\n\
         [[reach]]\nslug = \"CRLeesFerry\"\nname = \"Below the dam\"\nlatitude = 36.86\nlongitude = -111.59\n\
         gauges = [\"USGS-09380000\"]\n\n\
         [[reach]]\nslug = \"CRGrandCanyon\"\nname = \"Canyon\"\nlatitude = 36.1\nlongitude = -112.1\n\
         gauges = [\"USGS-09380000\"]\n",
    );
    for (slug, name, rank) in [
        ("CHIA", "Chironomidae", "family"),
        ("HYDA", "Hydroptilidae", "family"),
        ("HYOS", "Hydropsyche oslari", "species"),
        ("SIMA", "Simuliidae", "family"),
    ] {
        let _ = write!(setup, "\n[[taxon]]\nslug = \"{slug}\"\nscientific_name = \"{name}\"\nrank = \"{rank}\"\n");
    }
    std::fs::write(folder.path().join("canyon.toml"), setup).unwrap();
    // One night is one day of exposure: the rows are traps, told apart by their sample.
    let mut reader = csv::Reader::from_path(&records).unwrap();
    let mut writer = csv::Writer::from_path(folder.path().join("lights.csv")).unwrap();
    writer.write_record(["site", "date_from", "date_to", "taxon", "count", "effort", "id", "kind"]).unwrap();
    for row in reader.records() {
        let row = row.unwrap();
        let id = format!("{}-{}", &row[6], &row[3]);
        writer.write_record([&row[0], &row[1], &row[2], &row[3], &row[4], &row[5], id.as_str(), "trap"]).unwrap();
    }
    writer.flush().unwrap();
    let run = |arguments: &[&str]| run(folder.path(), arguments);
    run(&["import", "setup", "canyon.toml"]);
    run(&["import", "readings", water.to_str().unwrap(), "--watershed", CANYON, "--best-effort"]);
    run(&["import", "records", "lights.csv", "--watershed", CANYON, "--best-effort"]);
    Some(folder)
}

fn run(folder: &Path, arguments: &[&str]) {
    let output = Command::new(env!("CARGO_BIN_EXE_subimago"))
        .current_dir(folder)
        .env("SUBIMAGO_DATABASE_URL", "sqlite://canyon.db")
        .args(arguments)
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stderr);
    let end: Vec<&str> = text.lines().rev().take(6).collect();
    assert!(output.status.success(), "subimago {arguments:?}: {end:#?}");
}

#[test]
fn left_out_years_of_nightly_lights() {
    let Some(folder) = canyon() else { return };
    let database_url = format!("sqlite://{}", folder.path().join("canyon.db").display());
    let found = skill(&database_url, CANYON);
    println!("{}", table("Grand Canyon, nightly lights", &found));
    assert!(!found.rows.is_empty());
    // Nothing is expected of warmth below a dam; what is shipped must not be far worse than the calendar.
    for row in shipped(&found).filter(|row| row.years >= 3 && row.dates >= 6) {
        let (Some(skill), Some(se)) = (row.skill_crps, row.skill_se) else { continue };
        assert!(skill > -0.05 - 2.0 * se, "shipped is far worse than the calendar: {row:?}");
    }
    let known = known(&database_url);
    for taxon in &known.taxa {
        let candidates = Candidates::fit(&input(&known, taxon, 1)).unwrap();
        let choice = candidates.choice(None);
        let lead = Lead::over_calendar(&candidates, |_| choice.weights);
        let nested = Lead::over_calendar(&candidates, |fold| candidates.choice(Some(fold)).weights);
        let (slug, claimed) = (taxon.slug.as_str(), choice.beats_calendar);
        println!(
            "{slug}: weights {:.2?}, claimed {claimed}, lead {lead:.1?}, without own year {nested:.1?}",
            choice.weights
        );
        assert!(!claimed || lead.is_clear(), "{slug}: better than the calendar is claimed at {lead:?}");
        // With the weights that its year had no part in, too.
        assert!(!claimed || nested.is_clear(), "{slug}: better than the calendar is claimed at {nested:?}");
        assert!(claimed || !lead.is_clear() || lead.years < 3, "{slug}: {lead:?} is not told");
        skill_is_shown_by_scores(&found, slug);
    }
}

/// How far the log scores of left-out years lead those of the calendar, and the standard error of it.
#[derive(Debug)]
struct Lead {
    years: usize,
    sum: f64,
    error: f64,
}

impl Lead {
    /// Of a mixture of the clocks, from its probability of each left-out record.
    fn over_calendar(candidates: &Candidates, weights: impl Fn(usize) -> [f64; 4]) -> Self {
        let of = |clock: ClockKind| candidates.by_year.iter().find(|s| s.clock == clock);
        let calendar = of(ClockKind::Calendar).unwrap();
        let leads: Vec<f64> = (0..candidates.folds.len())
            .map(|fold| {
                let weights = weights(fold);
                let records = calendar.folds[fold].iter().enumerate().map(|(record, log_probability)| {
                    let mixed = ClockKind::WORDS.iter().filter_map(|(clock, _)| {
                        let weight = weights[clock.index()];
                        (weight > 0.0).then(|| weight * of(*clock).unwrap().folds[fold][record].exp())
                    });
                    mixed.sum::<f64>().ln() - log_probability
                });
                records.sum()
            })
            .collect();
        let years = leads.len();
        let mean = leads.iter().sum::<f64>() / years as f64;
        let variance = leads.iter().map(|lead| (lead - mean).powi(2)).sum::<f64>() / (years as f64 - 1.0);
        // The error of a mean is that of one over the root of their number; of the sum, times their number.
        Self { years, sum: mean * years as f64, error: (variance / years as f64).sqrt() * years as f64 }
    }

    fn is_clear(&self) -> bool {
        self.years >= 3 && self.sum > self.error
    }
}

/// Where a clock, or what is shipped, is told to have skill above nothing by more than two standard errors, its
/// score must be smaller than the calendar's on the same dates, over at least three years.
fn skill_is_shown_by_scores(found: &SkillDocument, taxon: &str) {
    for row in found.rows.iter().filter(|row| row.taxon == taxon) {
        let (Some(skill), Some(se)) = (row.skill_crps, row.skill_se) else { continue };
        if skill <= 2.0 * se {
            continue;
        }
        let calendar = |other: &&SkillRowDocument| {
            (&other.taxon, other.brood, other.lead_days) == (&row.taxon, row.brood, row.lead_days)
                && other.clock == "calendar"
        };
        let calendar = found.rows.iter().find(calendar).unwrap();
        println!("{taxon}, {}: skill {skill:.2} +/- {se:.2} is told {} days ahead", row.clock, row.lead_days);
        assert!(row.years >= 3, "{taxon}: skill is told from {} years: {row:?}", row.years);
        assert!(
            row.crps_days.unwrap() < calendar.crps_days.unwrap(),
            "{taxon}: {row:?} is not better than {calendar:?}"
        );
    }
}

fn known(database_url: &str) -> Known {
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let db = Db::connect(database_url).await.unwrap();
        let known = load(&db, &Slug::new(CANYON).unwrap(), None).await.unwrap();
        db.close().await;
        known
    })
}
