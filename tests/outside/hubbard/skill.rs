//! How good are the forecasts of records that were left out? Whole years, then whole streams.
//!
//! Definitions as in `dates`; the product's part is the left-out fit and its predictive dates under
//! the year's own water. The bounds: the chosen clock is worse than the better simple predictor by at
//! most one standard error of the difference over years; the calendar clock is the plain mean date within
//! a day, over all records that tell a date (`dates::told`; those of the river without water temperature
//! are among them, since the calendar was given them); the median error of the 10 % dates is under three
//! days.

use std::collections::BTreeMap;

use chrono::Datelike;
use subimago::app::Db;
use subimago::app::fit::{Known, input, load};
use subimago::domain::Slug;
use subimago::domain::season::Season;
use subimago::model::emergence::{FittedTaxon, SeasonRequest, fit_taxon, forecast_season};

use super::brook::{Brook, WATERSHED, file};
use super::dates::{
    LAST_STONEFLY_DAY, SiteYear, degree_day_date, gain_over_years, mean_absolute, median, observed, temperature, told,
};

const CALENDAR: [f64; 4] = [1.0, 0.0, 0.0, 0.0];
const THERMAL: [f64; 4] = [0.0, 1.0, 0.0, 0.0];
/// Place of the share in the milestones.
const SHARES: [(f64, usize); 2] = [(0.1, 1), (0.5, 2)];
/// Draws of a forecast, each of its own random numbers: no luck is common to all.
const DRAWS: usize = 2000;
/// What that luck still does to a mean over site-years, days: medians of so many draws of dates two weeks
/// apart are known to 0.4 d, their mean over twenty to a tenth.
const LUCK_DAYS: f64 = 0.1;
const YEARS: std::ops::RangeInclusive<i32> = 2018..=2021;

/// Everything known of the brook, imported by the commands.
pub(crate) fn known() -> Known {
    let brook = Brook::imported();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let db = Db::connect(&brook.database_url()).await.unwrap();
        let known = load(&db, &Slug::new(WATERSHED).unwrap(), None).await.unwrap();
        db.close().await;
        known
    })
}

fn fit_without(known: &Known, taxon: &str, keep: impl Fn(&str, i32) -> bool) -> FittedTaxon {
    let mut part = known.clone();
    part.records.retain(|r| {
        keep(r.reach.as_str(), r.date_to.year()) && (taxon != "stonefly" || r.date_to.ordinal() <= LAST_STONEFLY_DAY)
    });
    let subject = part.taxa.iter().find(|t| t.slug.as_str() == taxon).unwrap().clone();
    fit_taxon(&input(&part, &subject, 1)).unwrap()
}

fn predicted(known: &Known, fitted: &FittedTaxon, weights: Option<[f64; 4]>, key: &SiteYear, seed: u64) -> [f64; 2] {
    let mut fitted = fitted.clone();
    if let Some(weights) = weights {
        (fitted.weights, fitted.weights_elsewhere) = (weights, weights);
    }
    let site = known.reaches.iter().position(|r| r.slug.as_str() == key.0).unwrap();
    let season = Season::of_year(key.1);
    let water = [known.water.central(&known.reaches[site], season)];
    let request = SeasonRequest::new(Some(site), key.1, &water, DRAWS, seed);
    let forecast = forecast_season(&fitted, &request).unwrap();
    SHARES.map(|(_, place)| forecast.milestones[place][1].unwrap_or(season.len() as f64))
}

type Errors = BTreeMap<&'static str, [Vec<(i32, f64)>; 2]>;

/// Errors of the clocks and of the simple predictors, folds by `fold_of`.
fn errors(known: &Known, taxon: &str, by_stream: bool) -> (Errors, [Vec<f64>; 2]) {
    let water = temperature();
    let mut found: Errors = BTreeMap::new();
    let mut from_mean: [Vec<f64>; 2] = Default::default();
    let told: Vec<BTreeMap<SiteYear, f64>> = SHARES.iter().map(|(share, _)| told(taxon, *share)).collect();
    let dates: Vec<BTreeMap<SiteYear, f64>> = SHARES
        .iter()
        .map(|(share, _)| {
            let mut all = observed(taxon, *share);
            all.retain(|key, _| water.contains_key(key));
            all
        })
        .collect();
    let mut seed = 0;
    let folds: Vec<String> = if by_stream {
        known.reaches.iter().map(|r| r.slug.as_str().to_owned()).collect()
    } else {
        YEARS.map(|y| y.to_string()).collect()
    };
    for fold in folds {
        let left_out = |site: &str, year: i32| if by_stream { site == fold } else { year.to_string() == fold };
        let cases: Vec<&SiteYear> = dates[0].keys().filter(|k| left_out(&k.0, k.1)).collect();
        if cases.is_empty() {
            continue;
        }
        let fitted = fit_without(known, taxon, |site, year| !left_out(site, year));
        for key in cases {
            // Far apart: a forecast gives each draw the number after the last one's.
            seed += 1_000_000;
            let clocks = [("calendar", Some(CALENDAR)), ("thermal", Some(THERMAL)), ("chosen", None)]
                .map(|(name, weights)| (name, predicted(known, &fitted, weights, key, seed)));
            for (place, all) in dates.iter().enumerate() {
                let kept = |list: &BTreeMap<SiteYear, f64>| -> BTreeMap<SiteYear, f64> {
                    list.iter().filter(|(k, _)| !left_out(&k.0, k.1)).map(|(k, d)| (k.clone(), *d)).collect()
                };
                let mean = |list: &BTreeMap<SiteYear, f64>| list.values().sum::<f64>() / list.len() as f64;
                let training = kept(all);
                let mut add = |name, date: f64| {
                    found.entry(name).or_default()[place].push((key.1, date - all[key]));
                };
                add("plain mean", mean(&training));
                for (name, base) in [("degree-days 0", 0.0), ("degree-days 4", 4.0)] {
                    add(name, degree_day_date(&training, &water, key, base).unwrap_or(365.0));
                }
                for (name, date) in &clocks {
                    add(name, date[place]);
                }
                from_mean[place].push(clocks[0].1[place] - mean(&kept(&told[place])));
            }
        }
    }
    (found, from_mean)
}

fn report(title: &str, found: &Errors) {
    for (place, (share, _)) in SHARES.iter().enumerate() {
        for (name, lists) in found {
            let list = &lists[place];
            let (gain, se) = gain_over_years(list, &found["plain mean"][place]);
            println!(
                "{title} {:>2.0} % {name:<14} n {} MAE {:5.1} median error {:5.1} gain on the plain mean {gain:5.1} +/- {se:.1}",
                share * 100.0,
                list.len(),
                mean_absolute(list),
                median(list.iter().map(|e| e.1).collect()),
            );
        }
    }
}

#[test]
fn left_out_years_and_streams() {
    if file("emergence.csv").is_none() {
        return;
    }
    let known = known();
    let mut faults = Vec::new();
    for taxon in ["dipteran", "caddisfly", "stonefly"] {
        let (years, from_mean) = errors(&known, taxon, false);
        report(&format!("{taxon}, years left out:"), &years);
        for (place, (share, _)) in SHARES.iter().enumerate() {
            let of = |name: &str| &years[name][place];
            let simple = ["plain mean", "degree-days 0", "degree-days 4"];
            let better =
                simple.into_iter().min_by(|a, b| mean_absolute(of(a)).total_cmp(&mean_absolute(of(b)))).unwrap();
            let (gain, se) = gain_over_years(of("chosen"), of(better));
            println!("{taxon} {share}: chosen against {better}: gain {gain:.1} +/- {se:.1} d over years");
            if gain < -se - LUCK_DAYS {
                faults.push(format!("{taxon} {share}: chosen is worse than {better} by {} (s.e. {se})", -gain));
            }
        }
        let off = from_mean[0].iter().sum::<f64>() / from_mean[0].len() as f64;
        println!("{taxon}: calendar clock minus plain mean date, 10 %: {off:.2} d");
        if off.abs() >= 1.0 {
            faults.push(format!("{taxon}: the calendar clock is {off} d off the plain mean date"));
        }
        let bias = median(years["chosen"][0].iter().map(|e| e.1).collect());
        if bias.abs() >= 3.0 {
            faults.push(format!("{taxon}: median error of the 10 % dates {bias}"));
        }

        let (streams, _) = errors(&known, taxon, true);
        report(&format!("{taxon}, streams left out:"), &streams);
        let of = |name: &str| mean_absolute(&streams[name][0]);
        if of("chosen") > 1.5 * of("plain mean") {
            faults.push(format!("{taxon}: a stream without records is badly served"));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}
