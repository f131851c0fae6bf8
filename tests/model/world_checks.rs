//! Is the simulated world what it says? Its numbers against the study it repeats, against laws of
//! large numbers, and its clock against the product's.

use subimago::model::thermal::degree_days_sine;

use crate::world::{DAYS, Truth, Visit, World, warmth_above};

#[test]
fn the_world_is_of_the_size_and_emptiness_of_the_study() {
    for seed in 1..=5 {
        let world = World::new(Truth::thermal(), seed);
        let n = world.visits.len() as f64;
        // 823 to 843 visits in the study; ours are Poisson with mean 840.
        assert!((n - 840.0).abs() < 3.5 * 840.0_f64.sqrt(), "{n} visits");
        let none = world.visits.iter().filter(|v| v.class == 0).count() as f64 / n;
        assert!((0.69..=0.86).contains(&none), "seed {seed}: {none} of the visits see nothing");
        assert!(world.visits.iter().filter(|v| v.class == 3).count() >= 5);
        for visit in &world.visits {
            assert!(visit.hour_start < visit.hour_end && (60..=220).contains(&visit.day));
            assert!(visit.site < 6 && visit.year < 14 && (visit.cloud == 0.0 || visit.cloud == 1.0));
        }
        // Mean onset is about day 130.
        let onsets: Vec<f64> = world.climate.iter().flatten().map(|s| s.onset_day).collect();
        let mean = onsets.iter().sum::<f64>() / onsets.len() as f64;
        assert!((mean - 130.0).abs() < 6.0, "mean onset {mean}");
    }
}

#[test]
fn a_seed_makes_one_world() {
    let classes = |seed| World::new(Truth::gated(), seed).visits.iter().map(|v| (v.day, v.class, v.count)).collect();
    let (one, same, other): (Vec<_>, Vec<_>, Vec<_>) = (classes(3), classes(3), classes(4));
    assert!(one == same && one != other);
}

#[test]
fn shares_sum_to_one_and_medians_follow_the_truth() {
    for truth in [Truth::thermal(), Truth::gated(), Truth::calendar()] {
        let world = World::new(truth, 7);
        for season in world.climate.iter().flatten() {
            assert_eq!(season.share.len(), DAYS);
            assert!((season.share.iter().sum::<f64>() - 1.0).abs() < 1e-3);
            assert!(season.onset_day < season.median_day);
            assert!(season.tmin_c.iter().zip(&season.tmean_c).all(|(a, b)| a <= b));
            assert!(season.tmean_c.iter().zip(&season.tmax_c).all(|(a, b)| a <= b));
        }
    }
    // On the calendar the median is exp(mu + effects) in days.
    let world = World::new(Truth::calendar(), 7);
    assert!((world.mu.exp() - 136.0).abs() < 1e-9);
    for (site, years) in world.climate.iter().enumerate() {
        for (year, season) in years.iter().enumerate() {
            let want = (world.mu + world.site_effect[site] + world.year_effect[year]).exp();
            assert!((season.median_day - want).abs() < 0.05, "{} for {want}", season.median_day);
        }
    }
}

#[test]
fn warm_springs_are_early_where_warmth_counts_and_only_there() {
    let slope = |truth: Truth| {
        let world = World::new(truth, 11);
        let points: Vec<(f64, f64)> = world
            .climate
            .iter()
            .flatten()
            .map(|s| (s.tmean_c[60..136].iter().sum::<f64>() / 76.0, s.median_day))
            .collect();
        let n = points.len() as f64;
        let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
        let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
        sxy / points.iter().map(|p| (p.0 - mx).powi(2)).sum::<f64>()
    };
    let (thermal, gated, calendar) = (slope(Truth::thermal()), slope(Truth::gated()), slope(Truth::calendar()));
    assert!(thermal < -5.0 && gated < -1.0 && gated > thermal && calendar.abs() < 1.5, "{thermal} {gated} {calendar}");
}

#[test]
fn its_clock_agrees_with_the_products() {
    for (m, x) in [(2.0, 7.0), (3.5, 4.6), (9.0, 12.0), (0.0, 4.4), (4.5, 4.5)] {
        let (ours, _) = degree_days_sine(m, x, 4.5);
        assert!((warmth_above(m, x, 4.5) - ours).abs() < 2e-3, "{m}..{x}");
    }
}

/// Drawn classes against their probabilities, in units of their standard error.
fn class_departures(world: &World) -> [f64; 4] {
    let (mut seen, mut expected, mut variance) = ([0.0; 4], [0.0; 4], [0.0; 4]);
    for visit in &world.visits {
        seen[visit.class] += 1.0;
        for (k, p) in world.class_probabilities(visit).into_iter().enumerate() {
            assert!((0.0..=1.0).contains(&p));
            expected[k] += p;
            variance[k] += p * (1.0 - p);
        }
    }
    std::array::from_fn(|k| (seen[k] - expected[k]) / variance[k].sqrt())
}

#[test]
fn records_are_drawn_from_what_is_expected() {
    let world = World::new(Truth { visits: 100.0, ..Truth::thermal() }, 13);
    for z in class_departures(&world) {
        assert!(z.abs() < 4.0, "{z} standard errors");
    }
    let dispersion = world.truth.dispersion;
    let departure = |pairs: &[(f64, f64)]| {
        let variance: f64 = pairs.iter().map(|(_, m)| m + m * m / dispersion).sum();
        pairs.iter().map(|(n, m)| n - m).sum::<f64>() / variance.sqrt()
    };
    let visits: Vec<(f64, f64)> = world.visits.iter().map(|v| (f64::from(v.count), world.expected_count(v))).collect();
    let traps: Vec<(f64, f64)> = world.traps.iter().map(|t| (f64::from(t.count), world.expected_catch(t))).collect();
    for pairs in [&visits, &traps] {
        assert!(departure(pairs).abs() < 4.0, "{}", departure(pairs));
        // Pearson's statistic is about one per record when the variance is what it says; rare
        // catches are left out, since one of them can outweigh all others.
        let common: Vec<f64> =
            pairs.iter().filter(|(_, m)| *m >= 1.0).map(|(n, m)| (n - m).powi(2) / (m + m * m / dispersion)).collect();
        let ratio = common.iter().sum::<f64>() / common.len() as f64;
        assert!(common.len() > 300 && (0.7..1.4).contains(&ratio), "{ratio} over {}", common.len());
        assert!(pairs.iter().any(|(n, _)| *n == 0.0) && pairs.iter().any(|(n, _)| *n >= 20.0));
    }
}

#[test]
fn traps_follow_one_another_and_cover_the_season() {
    let world = World::new(Truth::thermal(), 17);
    for pair in world.traps.windows(2).filter(|p| (p[0].site, p[0].year) == (p[1].site, p[1].year)) {
        assert_eq!(pair[0].day_to, pair[1].day_from);
        assert!((5..=9).contains(&(pair[1].day_to - pair[1].day_from)) && pair[1].traps >= 1.0);
    }
    let covered: f64 =
        world.traps.iter().map(|t| world.climate[t.site][t.year].share[t.day_from..t.day_to].iter().sum::<f64>()).sum();
    assert!(covered / 84.0 > 0.98, "{covered}");
}

#[test]
fn a_longer_watch_at_the_right_hour_sees_more() {
    let world = World::new(Truth::thermal(), 19);
    let visit = |hour_start: f64, hour_end: f64| Visit { hour_start, hour_end, ..world.visits[0].clone() };
    let count = |a, b| world.expected_count(&visit(a, b));
    assert!(count(12.0, 16.0) > count(13.0, 15.0) && count(13.0, 15.0) > 2.0 * count(19.0, 21.0));
    assert!((count(6.0, 23.0) / (count(6.0, 14.0) + count(14.0, 23.0)) - 1.0).abs() < 1e-4);
    // Day length at 41.5 N runs from about 9.1 to 15.2 hours (almanac meaning).
    let longest = world.day_length_hours.iter().copied().fold(0.0, f64::max);
    let shortest = world.day_length_hours.iter().copied().fold(24.0, f64::min);
    assert!((longest - 15.22).abs() < 0.05 && (shortest - 9.13).abs() < 0.05, "{longest} {shortest}");
}

#[test]
fn the_fall_of_the_river_dates_its_insects_and_has_no_kin_with_warmth() {
    let (mut falls, mut springs) = (Vec::new(), Vec::new());
    for seed in 1..=5 {
        let world = World::new(Truth::discharge(), seed);
        for (year, fall) in world.fall.iter().enumerate() {
            for (site, years) in world.climate.iter().enumerate() {
                let season = &years[year];
                // Half within twelve days, but for the effects of site and year on the log of days.
                let want = *fall as f64 + 12.0 * (world.site_effect[site] + world.year_effect[year]).exp();
                assert!((season.median_day - want).abs() < 0.5, "{} for {want}", season.median_day);
            }
            let warmth = |years: &Vec<_>| -> f64 {
                let season: &crate::world::SiteYear = &years[year];
                season.tmean_c[60..120].iter().sum::<f64>() / 60.0
            };
            falls.push(*fall as f64);
            springs.push(world.climate.iter().map(warmth).sum::<f64>() / world.climate.len() as f64);
        }
    }
    let n = falls.len() as f64;
    let (mf, ms) = (falls.iter().sum::<f64>() / n, springs.iter().sum::<f64>() / n);
    let cross = |a: &[f64], ma: f64, b: &[f64], mb: f64| a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum::<f64>();
    let sd = (cross(&falls, mf, &falls, mf) / (n - 1.0)).sqrt();
    let correlation =
        cross(&falls, mf, &springs, ms) / (cross(&falls, mf, &falls, mf) * cross(&springs, ms, &springs, ms)).sqrt();
    // 70 years: a correlation of nothing has a standard error of 0.12.
    assert!((8.0..25.0).contains(&sd) && correlation.abs() < 0.36, "sd {sd}, correlation {correlation}");
}

#[test]
fn two_broods_leave_a_gap_between_them() {
    let world = World::new(Truth::two_broods(), 3);
    for season in world.climate.iter().flatten() {
        assert!((season.share.iter().sum::<f64>() - 1.0).abs() < 2e-2);
        let top = |from: usize, to: usize| season.share[from..to].iter().copied().fold(0.0, f64::max);
        let least = season.share[140..225].iter().copied().fold(1.0, f64::min);
        assert!(least < 0.2 * top(90, 170) && least < 0.2 * top(185, 270), "no gap");
    }
}
