//! Seasons drawn ahead, judged on the days that came: real rivers, every forecast made from the
//! days before it alone.

use chrono::{Datelike, Days, NaiveDate};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use subimago::domain::season::Season;
use subimago::model::temperature::{Series, ensemble, site_temperature};

use crate::shared;

const LEADS: [u64; 4] = [1, 3, 7, 14];

/// Squared errors and hits of one lead, summed over forecasts.
#[derive(Default, Clone, Copy)]
struct Score {
    n: f64,
    ours: f64,
    persistence: f64,
    climatology: f64,
    inside_80: f64,
}

/// Forecasts from every tenth day of the last `years` years.
fn scores(series: &Series, years: i32) -> [Score; 4] {
    let last = *series.keys().next_back().expect("days");
    let mut scores = [Score::default(); 4];
    let mut as_of = NaiveDate::from_ymd_opt(last.year() - years + 1, 1, 5).expect("a date");
    while as_of.year() < last.year() || as_of.ordinal() < 340 {
        let next = as_of + Days::new(10);
        if let Some(today) = series.get(&as_of)
            && as_of.ordinal() < 345
        {
            let site = site_temperature(series, &[], as_of).expect("years of data");
            let season = Season::containing(as_of);
            let seed = u64::from(as_of.ordinal());
            let mut rng = Pcg64::seed_from_u64(seed);
            let drawn = ensemble(&site.completed, &site.climatology, season, as_of, 200, &mut rng).expect("not ahead");
            for (lead, score) in LEADS.iter().zip(&mut scores) {
                let day = as_of + Days::new(*lead);
                let Some(came) = series.get(&day).map(|d| d.tmean_c) else { continue };
                let mut values: Vec<f64> = drawn.iter().map(|m| m[day.ordinal0() as usize].tmean_c).collect();
                values.sort_by(f64::total_cmp);
                let mean = values.iter().sum::<f64>() / values.len() as f64;
                score.n += 1.0;
                score.ours += (mean - came).powi(2);
                score.persistence += (today.tmean_c - came).powi(2);
                score.climatology += (site.climatology.mean_c(day) - came).powi(2);
                score.inside_80 += f64::from(u8::from(values[20] <= came && came <= values[179]));
            }
        }
        as_of = next;
    }
    scores
}

/// What the method promises: at one to three days better than persistence and far better than
/// climatology, at two weeks no worse than climatology, and intervals that cover.
fn check(name: &str, series: &Series, years: i32) {
    for (lead, score) in LEADS.iter().zip(scores(series, years)) {
        let rmse = |sum: f64| (sum / score.n).sqrt();
        let (ours, persistence, climatology) = (rmse(score.ours), rmse(score.persistence), rmse(score.climatology));
        let cover = score.inside_80 / score.n;
        eprintln!(
            "{name} {lead} d: {ours:.3}, persistence {persistence:.3}, climatology {climatology:.3}, 80 % holds {cover:.2}, n {}",
            score.n
        );
        assert!(ours < 1.02 * persistence, "{name}, {lead} days: {ours} against persistence {persistence}");
        assert!(ours < 1.06 * climatology, "{name}, {lead} days: {ours} against climatology {climatology}");
        if *lead <= 3 {
            assert!(ours < 0.95 * climatology, "{name}, {lead} days: {ours} against climatology {climatology}");
        }
        assert!((0.65..=0.93).contains(&cover), "{name}, {lead} days: 80 % intervals hold {cover}");
    }
}

#[test]
fn swiss_rivers() {
    let Some(sites) = shared::water("data/water/swiss-rivers/daily.csv") else { return };
    for (name, series) in &sites {
        check(name, series, 3);
    }
}

#[test]
fn a_small_trout_stream() {
    let Some(sites) = shared::water("data/water/west-brook/temperature_and_weather_daily.csv") else { return };
    check("WEST_BROOK", &sites["WEST_BROOK"], 4);
}
