//! Observed dates and the simple predictors they are compared with, computed from the files alone:
//! nothing here comes from the product.
//!
//! Observed: per site and year, catch per trap by visit; site-years with fewer than 15 insects left
//! out; the day on which the running sum reaches the share of the year's sum, linear between visits;
//! stoneflies to day 230 only. Temperature: sound logger day, else the weekly spot reading, linear
//! between readings. Predicted: calendar = mean of the training dates; degree-days above 0 or 4 C
//! from 1 January: the day on which the mean training sum is reached.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};

use super::brook::{data, file, rows};

pub(crate) type SiteYear = (String, i32);
pub(crate) const LAST_STONEFLY_DAY: u32 = 230;

/// Visits of a taxon: (day of year, catch, traps) by site and year, in order of day.
pub(crate) fn visits(taxon: &str) -> BTreeMap<SiteYear, Vec<(f64, f64, f64)>> {
    let mut found: BTreeMap<SiteYear, Vec<(f64, f64, f64)>> = BTreeMap::new();
    for row in rows(&data("emergence.csv")).iter().filter(|r| r["taxon"] == taxon) {
        let date: NaiveDate = row["date_to"].parse().unwrap();
        if taxon == "stonefly" && date.ordinal() > LAST_STONEFLY_DAY {
            continue;
        }
        let visit = (f64::from(date.ordinal()), row["count"].parse().unwrap(), row["effort"].parse().unwrap());
        found.entry((row["site"].clone(), date.year())).or_default().push(visit);
    }
    for list in found.values_mut() {
        list.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    found
}

pub(crate) fn observed(taxon: &str, share: f64) -> BTreeMap<SiteYear, f64> {
    let mut dates = BTreeMap::new();
    for (key, list) in visits(taxon) {
        if list.iter().map(|v| v.1).sum::<f64>() < 15.0 {
            continue;
        }
        let total: f64 = list.iter().map(|v| v.1 / v.2).sum();
        let (mut sum, mut previous) = (0.0, None);
        for (day, catch, traps) in list {
            let next = sum + catch / traps;
            if next >= share * total {
                let day = previous.map_or(day, |p: f64| p + (day - p) * (share * total - sum) / (next - sum));
                dates.insert(key, day);
                break;
            }
            (sum, previous) = (next, Some(day));
        }
    }
    dates
}

/// Observed dates that can be believed and are not alone: a year of which the first visit finds a tenth of
/// the year's catch was not seen from its start, and one date six robust standard deviations (1.4826
/// median distances) from the median of all is another matter.
pub(crate) fn told(taxon: &str, share: f64) -> BTreeMap<SiteYear, f64> {
    let visits = visits(taxon);
    let mut dates = observed(taxon, share);
    dates.retain(|key, _| {
        let shares: Vec<f64> = visits[key].iter().map(|(_, catch, traps)| catch / traps).collect();
        shares[0] < 0.1 * shares.iter().sum::<f64>()
    });
    let middle = median(dates.values().copied().collect());
    let distance = median(dates.values().map(|d| (d - middle).abs()).collect());
    dates.retain(|_, date| (*date - middle).abs() <= 6.0 * 1.4826 * distance);
    dates
}

/// Daily temperature of a site and year, day 1 first; absent where the year has no reading at all.
pub(crate) fn temperature() -> BTreeMap<SiteYear, Vec<f64>> {
    let mut readings: BTreeMap<String, BTreeMap<NaiveDate, f64>> = BTreeMap::new();
    for row in rows(&data("temperature_daily.csv")).iter().filter(|r| r["origin"] == "logger") {
        let date = row["date"].parse().unwrap();
        readings.entry(row["site"].clone()).or_default().insert(date, row["tmean_c"].parse().unwrap());
    }
    for row in rows(&data("temperature_spot_and_flow.csv")).iter().filter(|r| !r["tspot_c"].is_empty()) {
        let date = row["date"].parse().unwrap();
        readings.entry(row["site"].clone()).or_default().entry(date).or_insert(row["tspot_c"].parse().unwrap());
    }
    let mut years = BTreeMap::new();
    for (site, days) in &readings {
        for year in 2018..=2021 {
            let first = NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
            if days.range(first..).next().is_none_or(|(date, _)| date.year() != year) {
                continue;
            }
            let list = (0..365).map(|k| interpolate(days, first + chrono::Days::new(k))).collect();
            years.insert((site.clone(), year), list);
        }
    }
    years
}

fn interpolate(days: &BTreeMap<NaiveDate, f64>, date: NaiveDate) -> f64 {
    match (days.range(..=date).next_back(), days.range(date..).next()) {
        (Some((a, x)), Some((b, y))) if a != b => {
            x + (y - x) * (date - *a).num_days() as f64 / (*b - *a).num_days() as f64
        }
        (Some((_, x)), _) | (None, Some((_, x))) => *x,
        (None, None) => panic!("no reading"),
    }
}

/// Day on which the mean training sum of degrees above `base` is reached at `key`.
pub(crate) fn degree_day_date(
    training: &BTreeMap<SiteYear, f64>,
    temperature: &BTreeMap<SiteYear, Vec<f64>>,
    key: &SiteYear,
    base: f64,
) -> Option<f64> {
    let sum_at = |key: &SiteYear, day: f64| {
        let days = temperature.get(key)?;
        let whole = day.floor() as usize;
        let full: f64 = days[..whole].iter().map(|t| (t - base).max(0.0)).sum();
        Some(full + (day - whole as f64) * days.get(whole).map_or(0.0, |t| (t - base).max(0.0)))
    };
    let sums: Vec<f64> = training.iter().filter_map(|(key, day)| sum_at(key, *day)).collect();
    let target = sums.iter().sum::<f64>() / sums.len() as f64;
    let mut sum = 0.0;
    for (index, t) in temperature.get(key)?.iter().enumerate() {
        let next = sum + (t - base).max(0.0);
        if next >= target {
            return Some(index as f64 + (target - sum) / (next - sum));
        }
        sum = next;
    }
    None
}

/// Mean of `errors` by year: MAE over site-years and its standard error over years.
pub(crate) fn mean_absolute(errors: &[(i32, f64)]) -> f64 {
    errors.iter().map(|(_, e)| e.abs()).sum::<f64>() / errors.len() as f64
}

/// Mean and standard error over years of the difference in absolute error, b minus a.
pub(crate) fn gain_over_years(a: &[(i32, f64)], b: &[(i32, f64)]) -> (f64, f64) {
    let mut by_year: BTreeMap<i32, Vec<f64>> = BTreeMap::new();
    for ((year, x), (_, y)) in a.iter().zip(b) {
        by_year.entry(*year).or_default().push(y.abs() - x.abs());
    }
    let means: Vec<f64> = by_year.values().map(|v| v.iter().sum::<f64>() / v.len() as f64).collect();
    let n = means.len() as f64;
    let mean = means.iter().sum::<f64>() / n;
    let variance = means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

pub(crate) fn median(mut list: Vec<f64>) -> f64 {
    list.sort_by(f64::total_cmp);
    let half = list.len() / 2;
    if list.len() % 2 == 1 { list[half] } else { 0.5 * (list[half - 1] + list[half]) }
}

#[test]
fn the_simple_predictors_give_the_published_figures() {
    // Figures of the trial on the same files: MAE of the calendar and of degree-days above 0 and 4 C.
    if file("emergence.csv").is_none() {
        return;
    }
    let temperature = temperature();
    for (taxon, share, n, expected) in [
        ("dipteran", 0.1, 20, [4.7, 4.5, 6.9]),
        ("dipteran", 0.5, 20, [19.6, 23.3, 25.1]),
        ("caddisfly", 0.1, 19, [10.9, 10.4, 9.6]),
        ("caddisfly", 0.5, 19, [10.2, 8.8, 8.7]),
        ("stonefly", 0.1, 20, [5.9, 5.1, 6.3]),
    ] {
        let mut all = observed(taxon, share);
        all.retain(|key, _| temperature.contains_key(key));
        let mut errors = [Vec::new(), Vec::new(), Vec::new()];
        for (key, day) in &all {
            let training: BTreeMap<SiteYear, f64> =
                all.iter().filter(|(k, _)| k.1 != key.1).map(|(k, d)| (k.clone(), *d)).collect();
            let mean = training.values().sum::<f64>() / training.len() as f64;
            errors[0].push((key.1, mean - day));
            for (list, base) in errors[1..].iter_mut().zip([0.0, 4.0]) {
                list.push((key.1, degree_day_date(&training, &temperature, key, base).unwrap_or(365.0) - day));
            }
        }
        let found: Vec<f64> = errors.iter().map(|e| mean_absolute(e)).collect();
        println!("{taxon} {share}: n {} calendar {:.1} DD0 {:.1} DD4 {:.1}", all.len(), found[0], found[1], found[2]);
        assert_eq!(all.len(), n, "{taxon} {share}");
        for (got, want) in found.iter().zip(expected) {
            assert!((got - want).abs() < 0.15, "{taxon} {share}: {found:?} against {expected:?}");
        }
    }
}
