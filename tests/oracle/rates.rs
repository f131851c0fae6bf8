//! Mean development rates over sine days.

use subimago::model::rate::RateCurve;

use crate::dump;

#[test]
fn rates_over_a_day() {
    let Some(mut table) = dump::table("rates.csv", &["curve", "tmin", "tmax", "mean_rate"]) else { return };
    let curves = [
        ("briere1", RateCurve::Briere { c: 6e-5, t0_c: 4.0, tl_c: 30.0, n: 2.0 }),
        ("lactin2", RateCurve::Lactin2 { rho: 0.0065, tm_c: 31.0, delta_c: 1.8, lambda: -1.025 }),
        (
            "sharpe_schoolfield",
            RateCurve::SharpeSchoolfield {
                r_ref: 0.05,
                e_ev: 0.65,
                e_low_ev: 2.0,
                t_low_c: 4.0,
                e_high_ev: 3.5,
                t_high_c: 27.0,
                t_ref_c: 15.0,
            },
        ),
    ];
    for (name, curve) in curves {
        for (tmin, tmax) in [(0.0, 6.0), (2.0, 9.0), (6.0, 22.0), (10.0, 14.0), (15.0, 29.5), (12.0, 33.0)] {
            let mean = curve.mean_over_sine_day(tmin, tmax);
            let cells = [name.to_owned(), tmin.to_string(), tmax.to_string(), dump::exact(mean)];
            table.write_record(cells).expect("a row");
        }
    }
    table.flush().expect("the file is whole");
}
