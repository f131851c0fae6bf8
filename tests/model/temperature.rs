//! From measured days to seasons that may come: nothing is seen ahead of time, what is known stays,
//! and what is not known spreads as it should. Series are simulated here with known parameters.

use std::collections::BTreeMap;

use chrono::{Datelike, Days, NaiveDate};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use subimago::domain::Slug;
use subimago::domain::season::Season;
use subimago::model::temperature::{
    DayTemp, Neighbour, Series, SiteMethod, SiteTemperature, TemperatureError, central_season, ensemble,
    site_temperature,
};

const PHI: f64 = 0.9;
const SD_C: f64 = 2.0;

fn date(year: i32, ordinal: u32) -> NaiveDate {
    NaiveDate::from_yo_opt(year, ordinal).expect("a date")
}

fn usual_c(date: NaiveDate) -> f64 {
    10.0 - 7.0 * (std::f64::consts::TAU * (f64::from(date.ordinal0()) - 20.0) / 365.25).cos()
}

/// `years` years from 2000 of a cycle with autoregressive weather.
fn river(years: usize, seed: u64) -> Series {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut x = 0.0;
    date(2000, 1)
        .iter_days()
        .take_while(|d| d.year() < 2000 + i32::try_from(years).expect("few years"))
        .map(|d| {
            let z: f64 = StandardNormal.sample(&mut rng);
            x = PHI * x + (1.0 - PHI * PHI).sqrt() * z;
            let mean = usual_c(d) + SD_C * x;
            (d, DayTemp { tmean_c: mean, tmin_c: mean - 1.0, tmax_c: mean + 1.5 })
        })
        .collect()
}

fn alone(series: &Series, through: NaiveDate) -> SiteTemperature {
    site_temperature(series, &[], through).expect("a series of its own")
}

fn members(site: &SiteTemperature, season: i32, as_of: NaiveDate, n: usize, seed: u64) -> Vec<Vec<DayTemp>> {
    let mut rng = Pcg64::seed_from_u64(seed);
    ensemble(&site.completed, &site.climatology, Season::of_year(season), as_of, n, &mut rng).expect("not ahead")
}

fn mean_and_sd(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let all: Vec<f64> = values.collect();
    let n = all.len() as f64;
    let mean = all.iter().sum::<f64>() / n;
    (mean, (all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

#[test]
fn nothing_after_the_day_of_the_forecast_is_used() {
    let as_of = date(2012, 100);
    let series = river(14, 1);
    let mut other = series.clone();
    for (d, day) in &mut other {
        if *d > as_of {
            *day = DayTemp { tmean_c: 30.0, tmin_c: 0.0, tmax_c: 40.0 };
        }
    }
    let neighbour_slug = Slug::new("up").expect("a slug");
    let build = |own: &Series| {
        let neighbour = Neighbour { gauge: &neighbour_slug, series: own };
        // The reach itself lacks a stretch, so that the neighbour's days matter as well.
        let holed: Series = own.iter().filter(|(d, _)| d.year() != 2005).map(|(d, t)| (*d, *t)).collect();
        site_temperature(&holed, &[neighbour], as_of).expect("a series of its own")
    };
    let (one, two) = (build(&series), build(&other));
    assert_eq!(one, two);
    assert_eq!(members(&one, 2012, as_of, 20, 7), members(&two, 2012, as_of, 20, 7));
}

#[test]
fn temperatures_prepared_with_later_days_are_refused() {
    let site = alone(&river(6, 2), date(2005, 200));
    let as_of = date(2005, 199);
    let refused =
        ensemble(&site.completed, &site.climatology, Season::of_year(2005), as_of, 1, &mut Pcg64::seed_from_u64(1));
    assert_eq!(refused, Err(TemperatureError::LooksAhead { through: date(2005, 200), as_of }));
}

#[test]
fn measured_days_stay_and_every_day_is_in_order() {
    for (years, season) in [(3, 2002), (9, 2008)] {
        let as_of = date(season, 120);
        let series = river(years, 3);
        let drawn = members(&alone(&series, as_of), season, as_of, 50, 11);
        assert_eq!(drawn, members(&alone(&series, as_of), season, as_of, 50, 11), "the seed fixes everything");
        for member in &drawn {
            assert_eq!(member.len(), Season::of_year(season).len());
            for (index, day) in member.iter().enumerate() {
                if index < 120 {
                    assert_eq!(*day, series[&date(season, index as u32 + 1)]);
                } else {
                    assert!(day.tmin_c <= day.tmean_c && day.tmean_c <= day.tmax_c && day.tmin_c >= -0.5, "{day:?}");
                }
            }
        }
        assert!(drawn.iter().any(|m| m[200] != drawn[0][200]));
    }
}

/// Mean and spread `h` days after the last known day are those of the autoregression.
fn check_spread(years: usize, season: i32, tolerance: f64) {
    let as_of = date(season, 150);
    let site = alone(&river(years, 5), as_of);
    let climatology = &site.climatology;
    let drawn = members(&site, season, as_of, 4000, 13);
    let anomaly = site.completed.days()[&as_of].temp.tmean_c - climatology.mean_c(as_of);
    for h in [1_usize, 5, 20, 150] {
        let day = as_of + Days::new(h as u64);
        let (mean, sd) = mean_and_sd(drawn.iter().map(|m| m[149 + h].tmean_c));
        let decay = climatology.phi().powi(i32::try_from(h).expect("small"));
        let want_sd = climatology.sd_c(day) * (1.0 - decay * decay).sqrt();
        let want = climatology.mean_c(day) + anomaly * decay * climatology.sd_c(day) / climatology.sd_c(as_of);
        assert!((sd / want_sd - 1.0).abs() < tolerance, "sd after {h} days: {sd} for {want_sd}");
        assert!((mean - want).abs() < tolerance * climatology.sd_c(day), "mean after {h} days: {mean} for {want}");
    }
}

#[test]
fn with_few_years_the_future_is_an_autoregression() {
    check_spread(4, 2003, 0.06);
}

#[test]
fn with_many_years_the_future_is_made_of_past_ones() {
    // Forty past years, each moved by up to ten days: the traces' own spread is known to some 15 %.
    check_spread(41, 2040, 0.3);
    // With correlation gone, a member is a piece of one past year: its anomalies, in units of the
    // spread, run in parallel with that year's, moved by some days.
    let as_of = date(2008, 150);
    let site = alone(&river(9, 5), as_of);
    let z = |d: NaiveDate, mean: f64| (mean - site.climatology.mean_c(d)) / site.climatology.sd_c(d);
    for member in members(&site, 2008, as_of, 20, 17) {
        let late: Vec<(NaiveDate, f64)> =
            (300..340).map(|o| (date(2008, o), z(date(2008, o), member[o as usize - 1].tmean_c))).collect();
        let is_past = (2000..2008).any(|year| {
            (-10..=10).any(|shift: i64| {
                late.iter().all(|(d, value)| {
                    let then = d.with_year(year).expect("no leap day") + chrono::Duration::days(shift);
                    (z(then, site.completed.days()[&then].temp.tmean_c) - value).abs() < 1e-4
                })
            })
        });
        assert!(is_past, "a member late in the season is no past year's");
    }
}

#[test]
fn estimated_days_vary_within_their_error_and_hang_together() {
    let mut series = river(6, 19);
    series.retain(|d, _| !(*d > date(2005, 100) && *d < date(2005, 112)));
    let as_of = date(2005, 300);
    let site = alone(&series, as_of);
    let drawn = members(&site, 2005, as_of, 4000, 23);
    let middle = site.completed.days()[&date(2005, 106)];
    let (mean, sd) = mean_and_sd(drawn.iter().map(|m| m[105].tmean_c));
    assert!((mean - middle.temp.tmean_c).abs() < 0.1 * middle.sd_c && (sd / middle.sd_c - 1.0).abs() < 0.06);
    let (_, step_sd) = mean_and_sd(drawn.iter().map(|m| m[106].tmean_c - m[105].tmean_c));
    assert!(step_sd < 0.6 * sd, "neighbouring days are drawn as if unrelated: {step_sd} of {sd}");
}

#[test]
fn an_unknown_stretch_is_drawn_between_its_ends() {
    let mut series = river(4, 29);
    series.retain(|d, _| !(*d > date(2003, 100) && *d < date(2003, 140)));
    let as_of = date(2003, 300);
    let site = alone(&series, as_of);
    assert!(!site.completed.days().contains_key(&date(2003, 120)), "forty days are too long to fill");
    let drawn = members(&site, 2003, as_of, 2000, 31);
    let spread = |o: usize| mean_and_sd(drawn.iter().map(|m| m[o - 1].tmean_c)).1;
    assert!(spread(101) < 0.6 * spread(120) && spread(139) < 0.6 * spread(120));
    let season = central_season(&site.completed, &site.climatology, Season::of_year(2003));
    assert!(season[99].known && !season[119].known && season[139].known);
    assert!((season[119].temp.tmean_c - mean_and_sd(drawn.iter().map(|m| m[119].tmean_c)).0).abs() < 0.3);
}

#[test]
fn a_long_gap_is_filled_from_the_best_neighbour() {
    let (near, far) = (river(6, 37), river(6, 41));
    let follows = |source: &Series, seed: u64| -> Series {
        let mut rng = Pcg64::seed_from_u64(seed);
        let line = |(d, t): (&NaiveDate, &DayTemp)| {
            let z: f64 = StandardNormal.sample(&mut rng);
            (*d, DayTemp::of_mean(1.0 + 0.8 * t.tmean_c + 0.3 * z))
        };
        source.iter().map(line).collect()
    };
    let whole = follows(&near, 43);
    let mut own = whole.clone();
    own.retain(|d, _| !(*d >= date(2003, 60) && *d < date(2003, 200)));
    let (a, b) = (Slug::new("near").expect("a slug"), Slug::new("far").expect("a slug"));
    let neighbours = [Neighbour { gauge: &b, series: &far }, Neighbour { gauge: &a, series: &near }];
    let site = site_temperature(&own, &neighbours, date(2005, 365)).expect("a series of its own");
    assert_eq!(site.method, SiteMethod::Own { helpers: vec![a] });
    let errors: Vec<f64> =
        (60..200).map(|o| site.completed.days()[&date(2003, o)].temp.tmean_c - whole[&date(2003, o)].tmean_c).collect();
    let (mean, sd) = mean_and_sd(errors.iter().copied());
    let stated = site.completed.days()[&date(2003, 130)].sd_c;
    assert!(mean.abs() < 0.15 && sd < 0.5 && (0.2..0.5).contains(&stated), "{mean} {sd} {stated}");
}

#[test]
fn a_short_series_leans_on_a_neighbour_and_none_on_all_of_them() {
    let (one, two) = (river(6, 47), river(6, 53));
    let colder: Series = two.iter().map(|(d, t)| (*d, t.shifted(-3.0))).collect();
    let (a, b) = (Slug::new("one").expect("a slug"), Slug::new("two").expect("a slug"));
    let neighbours = [Neighbour { gauge: &a, series: &one }, Neighbour { gauge: &b, series: &colder }];
    let through = date(2005, 365);

    // Four months of its own, two degrees above neighbour one.
    let short: Series = one.range(date(2004, 60)..date(2004, 180)).map(|(d, t)| (*d, t.shifted(2.0))).collect();
    let site = site_temperature(&short, &neighbours, through).expect("neighbours");
    assert_eq!(site.method, SiteMethod::Regression { gauge: a.clone() });
    let day = date(2002, 200);
    assert!((site.completed.days()[&day].temp.tmean_c - one[&day].tmean_c - 2.0).abs() < 1e-6);
    assert!((site.climatology.mean_c(day) - usual_c(day) - 2.0).abs() < 0.8);

    // Nothing of its own: the mean of both, with a level that may be off all year.
    let site = site_temperature(&BTreeMap::new(), &neighbours, through).expect("neighbours");
    assert_eq!(site.method, SiteMethod::NeighbourMean { gauges: vec![a, b] });
    // The levels differ by 3: sd 2.1 between them, times sqrt(3/2) for a third reach.
    assert!((site.completed.level_sd_c() - 2.1213 * 1.5_f64.sqrt()).abs() < 0.4, "{}", site.completed.level_sd_c());
    let drawn = members(&site, 2004, through, 2000, 59);
    let yearly = drawn.iter().map(|m| m.iter().map(|d| d.tmean_c).sum::<f64>() / m.len() as f64);
    let (mean, sd) = mean_and_sd(yearly);
    assert!((mean - 8.5).abs() < 0.6 && sd > 0.8 * site.completed.level_sd_c(), "{mean} {sd}");

    assert_eq!(site_temperature(&BTreeMap::new(), &[], through), Err(TemperatureError::NoTemperature));
}

#[test]
fn a_season_long_ahead_is_climatology() {
    let as_of = date(2005, 300);
    let site = alone(&river(6, 61), as_of);
    let drawn = members(&site, 2007, as_of, 1000, 67);
    let day = date(2007, 150);
    let (mean, sd) = mean_and_sd(drawn.iter().map(|m| m[149].tmean_c));
    assert!((mean - site.climatology.mean_c(day)).abs() < 1.0 && sd > 0.5 * SD_C && sd < 1.6 * SD_C, "{mean} {sd}");
}
