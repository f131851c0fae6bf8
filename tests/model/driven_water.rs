//! Water driven by air, on a river made here by another sum than the model's: the water of a day is
//! nine tenths of yesterday's and a tenth of what the air pulls to, and an error of its own.

use chrono::{Datelike, Days, NaiveDate};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use subimago::domain::season::Season;
use subimago::model::temperature::{
    AirForecast, AirForecastDay, AirSeries, DayTemp, Series, TemperatureError, WaterFromAir, ensemble,
    ensemble_with_air, site_temperature, site_temperature_with_air,
};

fn date(year: i32, ordinal: u32) -> NaiveDate {
    NaiveDate::from_yo_opt(year, ordinal).expect("a date")
}

/// `years` years from 2000.
fn river(years: i32, seed: u64) -> (Series, AirSeries) {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
    let (mut weather, mut error, mut water_c) = (0.0, 0.0, 4.0);
    let (mut water, mut air) = (Series::new(), AirSeries::new());
    for day in date(2000, 1).iter_days().take_while(|d| d.year() < 2000 + years) {
        weather = 0.7 * weather + 3.0 * normal();
        error = 0.8 * error + 0.2 * normal();
        let turn = std::f64::consts::TAU * (f64::from(day.ordinal0()) - 20.0) / 365.25;
        let air_c = 9.0 - 11.0 * turn.cos() + weather;
        water_c = (0.8 * water_c + 0.2 * (2.0 + 0.8 * air_c)).max(0.2);
        let mean = (water_c + error).max(0.0);
        water.insert(day, DayTemp { tmean_c: mean, tmin_c: mean - 1.0, tmax_c: mean + 2.0 });
        air.insert(day, air_c);
    }
    (water, air)
}

fn to(series: &Series, last: NaiveDate) -> Series {
    series.range(..=last).map(|(d, t)| (*d, *t)).collect()
}

fn members(
    water: &Series,
    driven: Option<(&WaterFromAir, &AirForecast)>,
    season: i32,
    as_of: NaiveDate,
    n: usize,
) -> Vec<Vec<DayTemp>> {
    let site = site_temperature(water, &[], as_of).expect("years of water");
    let mut rng = Pcg64::seed_from_u64(5);
    let season = Season::of_year(season);
    ensemble_with_air(&site.completed, &site.climatology, driven, season, as_of, n, &mut rng).expect("not ahead")
}

fn forecast(as_of: NaiveDate, days: u64, tmean_c: impl Fn(NaiveDate) -> f64, sd_c: f64) -> AirForecast {
    let day = |h| {
        let date = as_of + Days::new(h);
        AirForecastDay { date, tmean_c: tmean_c(date), sd_c }
    };
    AirForecast::new(as_of, (1..=days).map(day).collect()).expect("days that follow")
}

fn mean_and_sd(members: &[Vec<DayTemp>], day: NaiveDate) -> (f64, f64) {
    let at = |m: &Vec<DayTemp>| m[day.ordinal0() as usize].tmean_c;
    let n = members.len() as f64;
    let mean = members.iter().map(at).sum::<f64>() / n;
    (mean, (members.iter().map(|m| (at(m) - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

#[test]
fn the_model_finds_how_water_follows_air_and_what_is_left() {
    let (water, air) = river(8, 1);
    let model = WaterFromAir::fit(&water, &air, date(2007, 365)).expect("years");
    // The error made here has sd 0.2 / sqrt(1 - 0.64) = 0.33 and correlation 0.8; the discrete sum
    // against the scheme adds a little.
    assert!((0.3..0.6).contains(&model.fitted().rmse_c), "{:?}", model.fitted());
    assert!((0.6..0.9).contains(&model.residual_phi()), "{}", model.residual_phi());
    let said = model.series();
    let errors: Vec<f64> = water.iter().map(|(d, t)| (said[d].tmean_c - t.tmean_c) / model.sd_c(*d)).collect();
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    assert!((0.9..1.1).contains(&rms), "{rms}");
}

#[test]
fn nothing_after_the_day_of_the_forecast_is_used() {
    let (water, air) = river(9, 2);
    let as_of = date(2008, 130);
    let (cut_water, cut_air) = (to(&water, as_of), air.range(..=as_of).map(|(d, t)| (*d, *t)).collect::<AirSeries>());
    let (all, cut) = (WaterFromAir::fit(&water, &air, as_of), WaterFromAir::fit(&cut_water, &cut_air, as_of));
    assert_eq!(all, cut);
    let model = all.expect("years");
    let coming = forecast(as_of, 7, |d| air[&d], 1.0);
    let drawn = members(&water, Some((&model, &coming)), 2008, as_of, 20);
    assert_eq!(drawn, members(&cut_water, Some((&model, &coming)), 2008, as_of, 20));

    let site = site_temperature(&water, &[], as_of).expect("years of water");
    let refused = |model: &WaterFromAir, coming: &AirForecast| {
        let driven = Some((model, coming));
        let (season, mut rng) = (Season::of_year(2008), Pcg64::seed_from_u64(1));
        ensemble_with_air(&site.completed, &site.climatology, driven, season, as_of, 1, &mut rng).err()
    };
    let later = forecast(as_of + Days::new(1), 7, |_| 10.0, 1.0);
    let looks = |through| Some(TemperatureError::LooksAhead { through, as_of });
    assert_eq!(refused(&model, &later), looks(as_of + Days::new(1)));
    let model = WaterFromAir::fit(&water, &air, date(2008, 140)).expect("years");
    assert_eq!(refused(&model, &coming), looks(date(2008, 140)));
}

#[test]
fn known_days_stay_and_without_a_model_it_is_the_ensemble_of_past_traces() {
    let (water, air) = river(9, 3);
    let as_of = date(2008, 130);
    let site = site_temperature(&water, &[], as_of).expect("years of water");
    let season = Season::of_year(2008);
    let plain = ensemble(&site.completed, &site.climatology, season, as_of, 10, &mut Pcg64::seed_from_u64(5))
        .expect("not ahead");
    assert_eq!(members(&water, None, 2008, as_of, 10), plain);
    let model = WaterFromAir::fit(&water, &air, as_of).expect("years");
    for member in members(&water, Some((&model, &forecast(as_of, 5, |_| 20.0, 1.0))), 2008, as_of, 10) {
        assert_eq!(member.len(), season.len());
        for (index, day) in member.iter().enumerate() {
            let date = season.date(index + 1);
            if date <= as_of {
                assert_eq!(*day, water[&date]);
            } else {
                assert!(day.tmin_c <= day.tmean_c && day.tmean_c <= day.tmax_c && day.tmin_c >= -0.5, "{day:?}");
            }
        }
    }
}

#[test]
fn a_forecast_moves_the_water_and_its_error_spreads_it() {
    let (water, air) = river(9, 4);
    let as_of = date(2008, 130);
    let model = WaterFromAir::fit(&water, &air, as_of).expect("years");
    let with = |shift: f64, sd_c: f64| {
        let coming = forecast(as_of, 10, |d| air[&d] + shift, sd_c);
        members(&water, Some((&model, &coming)), 2008, as_of, 400)
    };
    let (sure, unsure, warm) = (with(0.0, 0.01), with(0.0, 3.0), with(5.0, 0.01));
    let day = as_of + Days::new(8);
    let ((mean, sd), (_, wide), (warmer, _)) =
        (mean_and_sd(&sure, day), mean_and_sd(&unsure, day), mean_and_sd(&warm, day));
    // Air 5 C warmer for 8 days moves the water by 0.8 * 5 * (1 - 0.8^8) = 3.3.
    assert!((warmer - mean - 3.3).abs() < 0.4, "{mean} {warmer}");
    // With the air known only the residual spreads: sd 0.33; with an error of 3 C the water's is
    // about 0.8 * 3 times some share of the days' common error.
    assert!((sd - 0.33).abs() < 0.12 && (1.0..2.4).contains(&wide), "{sd} {wide}");
    assert!((mean - water[&day].tmean_c).abs() < 1.2, "{mean} for {}", water[&day].tmean_c);
    // Half a year later nothing is left of it.
    let (late, later) = (mean_and_sd(&sure, date(2008, 320)), mean_and_sd(&warm, date(2008, 320)));
    assert!((late.0 - later.0).abs() < 0.3 && (late.1 / later.1 - 1.0).abs() < 0.15, "{late:?} {later:?}");
}

#[test]
fn air_goes_on_where_the_water_was_not_measured() {
    // The logger stopped forty days ago, the air was measured on: the run is followed, not the usual year.
    let (water, mut air) = river(9, 6);
    let as_of = date(2008, 190);
    let stopped = date(2008, 150);
    for (d, value) in air.range_mut(date(2008, 140)..) {
        *value += if d.year() == 2008 { 6.0 } else { 0.0 };
    }
    let water = to(&water, stopped);
    let model = WaterFromAir::fit(&water, &air, as_of).expect("years");
    let nothing = AirForecast::new(as_of, Vec::new()).expect("no days");
    let drawn = members(&water, Some((&model, &nothing)), 2008, as_of, 200);
    let usual = members(&water, None, 2008, as_of, 200);
    let ((mean, sd), (plain, _)) = (mean_and_sd(&drawn, as_of), mean_and_sd(&usual, as_of));
    assert!(mean - plain > 3.0 && sd < 0.8, "{mean} {sd} against {plain}");
    // Before the season begins as well: as of December for the year after, the members differ and start near December's.
    let early = date(2007, 350);
    let water = to(&water, early);
    let model = WaterFromAir::fit(&water, &air, early).expect("years");
    let next =
        members(&water, Some((&model, &AirForecast::new(early, Vec::new()).expect("no days"))), 2008, early, 100);
    assert!(next[0] != next[1] && next[0].len() == 366);
}

#[test]
fn a_long_gap_is_filled_from_the_air_and_joins_the_days_beside_it() {
    let (whole, air) = river(6, 7);
    let last = date(2005, 365);
    let gap = date(2003, 100)..date(2003, 160);
    let own: Series = whole.iter().filter(|(d, _)| !gap.contains(*d)).map(|(d, t)| (*d, *t)).collect();
    let model = WaterFromAir::fit(&own, &air, last).expect("years");
    let site = site_temperature_with_air(&own, &[], Some(&model), last).expect("years");
    assert_eq!(site.days_from_air, 60);
    let errors: Vec<f64> = gap
        .start
        .iter_days()
        .take(60)
        .map(|d| {
            let found = site.completed.days()[&d];
            assert!(found.is_estimated());
            (found.temp.tmean_c - whole[&d].tmean_c) / found.sd_c
        })
        .collect();
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    assert!((0.6..1.5).contains(&rms), "{rms}");
    // Beside a measured day the error is that of one day's step, sqrt(1 - phi^2) of what it is far from any.
    let sd = |ordinal| site.completed.days()[&date(2003, ordinal)].sd_c;
    let phi = model.residual_phi();
    assert!((sd(100) / sd(130) - (1.0 - phi * phi).sqrt()).abs() < 0.1, "{} {}", sd(100), sd(130));
    // Without the air the days stay unknown; a model that has seen later days is refused.
    let plain = site_temperature(&own, &[], last).expect("years");
    assert!(!plain.completed.days().contains_key(&date(2003, 130)) && plain.days_from_air == 0);
    let early = date(2005, 100);
    let refused = site_temperature_with_air(&own, &[], Some(&model), early);
    assert_eq!(refused, Err(TemperatureError::LooksAhead { through: last, as_of: early }));
}
