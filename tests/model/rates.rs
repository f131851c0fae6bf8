//! Rate curves against `rate_curves.csv` (computed with numpy and scipy from the printed
//! equations), and power laws against development times digitised from the literature.

use subimago::model::rate::{RateCurve, briere_optimum_c, fit_power_law};

use crate::table::{Row, number, rows};

/// The value of `name=` in the parameters of a row.
fn parameter(row: &Row, name: &str) -> f64 {
    let text = &row["parameters"];
    let found = text.split(';').find_map(|part| part.trim().strip_prefix(&format!("{name}=")));
    let value = found.unwrap_or_else(|| panic!("{name} in {text}"));
    let number = value.split([' ', '(']).next().expect("a first word");
    number.parse().unwrap_or_else(|_| panic!("{name} = {number}"))
}

fn curve(row: &Row) -> RateCurve {
    let p = |name| parameter(row, name);
    match row["model"].as_str() {
        "linear" => RateCurve::Linear { t0_c: p("T0"), k_degree_days: p("K") },
        "power" => RateCurve::Power { a_days: p("a"), b: p("b") },
        "briere1" | "briere1_daily_mean_sine_6_22" => {
            RateCurve::Briere { c: p("c"), t0_c: p("T0"), tl_c: p("TL"), n: 2.0 }
        }
        "briere1_optimum" => RateCurve::Briere { c: 6e-5, t0_c: p("T0"), tl_c: p("TL"), n: 2.0 },
        "briere2" => RateCurve::Briere { c: p("c"), t0_c: p("T0"), tl_c: p("TL"), n: p("m") },
        "lactin2" => RateCurve::Lactin2 { rho: p("rho"), tm_c: p("Tm"), delta_c: p("Delta"), lambda: p("lambda") },
        "sharpe_schoolfield" => RateCurve::SharpeSchoolfield {
            r_ref: p("rref"),
            e_ev: p("E"),
            e_low_ev: p("El"),
            t_low_c: p("Tl"),
            e_high_ev: p("Eh"),
            t_high_c: p("Th"),
            t_ref_c: p("Tref"),
        },
        other => panic!("unknown model {other}"),
    }
}

#[test]
fn every_row_of_the_table_is_met() {
    let table = rows("rate_curves.csv");
    for row in &table {
        let curve = curve(row);
        let found = if row["model"] == "briere1_daily_mean_sine_6_22" {
            curve.mean_over_sine_day(6.0, 22.0)
        } else {
            curve.per_day(number(row, "temp_C"))
        };
        let want = number(row, "rate_per_day");
        assert!((found - want).abs() < 1e-9, "{row:?}: {found}");
    }
    assert_eq!(table.len(), 50);
    assert!((briere_optimum_c(4.0, 30.0, 2.0) - 24.435_658).abs() < 1e-6);
}

#[test]
fn power_laws_fitted_to_published_times_agree() {
    let times = rows("development_days.csv");
    let mut checked = 0;
    for fit in rows("development_fits.csv") {
        let of_this = |row: &&Row| row["species"] == fit["species"] && row["stage"] == fit["stage"];
        // The reference left out temperatures past the optimum, where development slows again.
        let mut points: Vec<(f64, f64)> =
            times.iter().filter(of_this).map(|row| (number(row, "temperature_c"), number(row, "days"))).collect();
        assert_eq!(points.len(), number(&fit, "n") as usize);
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.truncate(number(&fit, "n_fitted") as usize);
        let found = fit_power_law(&points).expect("several temperatures");
        for (name, ours, theirs) in [
            ("a", found.a_days, number(&fit, "power_a")),
            ("b", found.b, -number(&fit, "power_b")),
            ("r2", found.r2, number(&fit, "power_r2")),
        ] {
            assert!((ours / theirs - 1.0).abs() < 0.05, "{} {name}: {ours} against {theirs}", fit["species"]);
        }
        let error = number(&fit, "power_mape_pct");
        assert!(
            (found.mean_error_pct - error).abs() < 0.05 * error + 0.1,
            "{}: {}",
            fit["species"],
            found.mean_error_pct
        );
        checked += 1;
    }
    assert_eq!(checked, 6);
}
