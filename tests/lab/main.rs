#![allow(clippy::all, clippy::pedantic, clippy::unwrap_used, clippy::expect_used, missing_docs)]
use chrono::{Datelike, NaiveDate};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use subimago::domain::fit::ClockKind;
use subimago::model::clock::Drivers;
use subimago::model::emergence::*;
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::*;
const B: &str = "../shared/data/emergence/hubbard-brook/";
fn rows(f: &str) -> Vec<HashMap<String, String>> {
    csv::Reader::from_path(format!("{B}{f}")).unwrap().deserialize().map(|r| r.unwrap()).collect()
}
fn d(s: &str) -> NaiveDate {
    s.parse().unwrap()
}
struct Obs {
    site: String,
    y: i32,
    from: Option<i64>,
    to: i64,
    n: u32,
    e: f64,
}
fn main() {
    let sites = ["W1", "W2", "W3", "W4", "W5", "W6"];
    let mut temp: HashMap<String, BTreeMap<NaiveDate, f64>> = HashMap::new();
    for r in rows("temperature_daily.csv") {
        if r["origin"] == "logger" || r["origin"] == "filled" {
            temp.entry(r["site"].clone()).or_default().insert(d(&r["date"]), r["tmean_c"].parse().unwrap());
        }
    }
    for r in rows("temperature_spot_and_flow.csv") {
        if let Ok(t) = r["tspot_c"].parse::<f64>() {
            let m = temp.entry(r["site"].clone()).or_default();
            m.entry(d(&r["date"])).or_insert(t);
        }
    }
    let drivers = |site: &str, y: i32| -> Arc<Drivers> {
        let m = &temp[site];
        let mut v = vec![];
        let first = NaiveDate::from_ymd_opt(y, 1, 1).unwrap();
        for k in 0..365 {
            let day = first + chrono::Days::new(k);
            let a = m.range(..=day).next_back();
            let b = m.range(day..).next();
            v.push(match (a, b) {
                (Some((x, p)), Some((z, q))) => {
                    if x == z {
                        *p
                    } else {
                        p + (q - p) * (day - *x).num_days() as f64 / (*z - *x).num_days() as f64
                    }
                }
                (Some((_, p)), None) | (None, Some((_, p))) => *p,
                _ => panic!(),
            });
        }
        Arc::new(Drivers { tmin_c: v.clone(), tmax_c: v.clone(), day_length_hours: vec![12.0; 365] })
    };
    let years = [2018, 2019, 2020, 2021];
    let taxa: Vec<(&str, i64)> = vec![("dipteran", 400), ("caddisfly", 400), ("stonefly", 230)];
    let only = std::env::var("TAXON").ok();
    for (taxon, cut) in taxa {
        if only.as_deref().is_some_and(|o| o != taxon) {
            continue;
        }
        let mut obs: Vec<Obs> = vec![];
        for r in rows("emergence.csv") {
            if r["taxon"] == taxon && r["site"] != "HBK" {
                let to = d(&r["date_to"]);
                let y = to.year();
                let doy = |x: NaiveDate| (x - NaiveDate::from_ymd_opt(y, 1, 1).unwrap()).num_days() + 1;
                if doy(to) > cut {
                    continue;
                }
                obs.push(Obs {
                    site: r["site"].clone(),
                    y,
                    from: r["date_from"].parse::<NaiveDate>().ok().map(doy),
                    to: doy(to),
                    n: r["count"].parse().unwrap(),
                    e: r["effort"].parse().unwrap(),
                });
            }
        }
        // observed dates
        let mut observed: BTreeMap<(usize, usize), [f64; 5]> = BTreeMap::new();
        let mut units = vec![];
        for (si, s) in sites.iter().enumerate() {
            for (yi, y) in years.iter().enumerate() {
                let mut o: Vec<&Obs> = obs.iter().filter(|o| o.site == *s && o.y == *y).collect();
                if o.is_empty() {
                    continue;
                }
                o.sort_by_key(|o| o.to);
                let total: u32 = o.iter().map(|o| o.n).sum();
                let c: Vec<(f64, f64)> = o.iter().map(|o| (o.to as f64, o.n as f64 / o.e)).collect();
                if let Some(x) = simulate::dates(&c, total as f64, &[0.05, 0.1, 0.5, 0.9, 0.95]) {
                    observed.insert((si, yi), x);
                }
                let observations = o
                    .iter()
                    .map(|o| {
                        let from = match o.from {
                            Some(f) if o.to - f <= 15 => f,
                            _ => o.to - 7,
                        };
                        Observation {
                            from_day: from.max(0) as usize,
                            to_day: o.to as usize,
                            outcome: Outcome::Count(o.n),
                            log_effort: o.e.ln(),
                            hours: None,
                            x: [0.0; 2],
                        }
                    })
                    .collect();
                units.push(Unit { site: si, year: yi, drivers: drivers(s, *y), observations });
            }
        }
        let climate = Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref()));
        let data = Dataset { sites: 6, years: 4, units, climate, midnight: Midnight::Wraps };
        let prior = TaxonPrior { base_temp_c: (0.0, 0.0), median_day: None, species: false, hour: None };
        println!("=== {taxon}: {} records, {} observed site-years", data.len(), observed.len());
        // plain calendar
        let mean_of = |share: usize, skip: usize| {
            let v: Vec<f64> = observed.iter().filter(|((_, y), _)| *y != skip).map(|(_, x)| x[share]).collect();
            v.iter().sum::<f64>() / v.len() as f64
        };
        for share in [1usize, 2, 3] {
            let e: Vec<f64> = observed.iter().map(|((_, y), x)| (x[share] - mean_of(share, *y)).abs()).collect();
            print!("plain calendar {share}: {:.1}  ", e.iter().sum::<f64>() / e.len() as f64);
        }
        println!();
        let t = std::time::Instant::now();
        let input = FitInput { data: data.clone(), years: years.to_vec(), prior, has_water: true, hours_known: false };
        let full = fit_taxon(&input).unwrap();
        println!(
            "fit_taxon {:.1} s weights {:?} beats {} prior {} cal {:?}",
            t.elapsed().as_secs_f64(),
            full.weights,
            full.beats_calendar,
            full.prior_driven,
            full.members.iter().map(|m| m.calibration_days).collect::<Vec<_>>()
        );
        let mut folds: Vec<(usize, FittedTaxon)> = vec![];
        for y in 0..4 {
            folds.push((y, fit_taxon(&FitInput { data: data.without_year(y), ..input.clone() }).unwrap()));
        }
        for (name, w) in [("calendar", [1.0, 0.0, 0.0, 0.0]), ("thermal", [0.0, 1.0, 0.0, 0.0]), ("chosen", [9.0; 4])] {
            let mut out = [vec![], vec![], vec![]];
            let mut cal = [vec![], vec![], vec![]];
            let mut cover = [0; 3];
            for (y, f) in &folds {
                let mut f = f.clone();
                if w[0] < 5.0 {
                    f.weights = w;
                }
                for ((s, yy), x) in observed.iter().filter(|((_, yy), _)| yy == y) {
                    let dr = drivers(sites[*s], years[*yy]);
                    let fc = forecast_season(
                        &f,
                        &SeasonRequest {
                            site: Some(*s),
                            year: years[*y],
                            water: &[(*dr).clone()],
                            draws: 400,
                            seed: 1,
                        },
                    )
                    .unwrap();
                    for (j, share) in [1usize, 2, 3].iter().enumerate() {
                        let [a, m, b] = fc.milestones[*share];
                        let m = m.unwrap_or(365.0);
                        out[j].push((*yy, m - x[*share]));
                        cal[j].push(m - mean_of(*share, *y));
                        if a.unwrap_or(0.0) <= x[*share] && x[*share] <= b.unwrap_or(400.0) {
                            cover[j] += 1;
                        }
                    }
                }
            }
            for j in 0..3 {
                let n = out[j].len() as f64;
                let mut e: Vec<f64> = out[j].iter().map(|x| x.1).collect();
                e.sort_by(f64::total_cmp);
                print!(
                    "   {name} {}: MAE {:.1} mean {:.1} med {:.1} cover {:.2} vs plain {:.1} |",
                    ["10", "50", "90"][j],
                    e.iter().map(|x| x.abs()).sum::<f64>() / n,
                    e.iter().sum::<f64>() / n,
                    e[e.len() / 2],
                    cover[j] as f64 / n,
                    cal[j].iter().sum::<f64>() / n
                );
            }
            println!();
        }
    }
}
