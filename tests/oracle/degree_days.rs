//! Degree-days of random days by every method and cut-off.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use subimago::model::thermal::{CutOff, DayRange, Method, Thresholds, degree_days, degree_days_sine};

use crate::dump;

#[test]
fn degree_days_by_method() {
    let columns = ["method", "cutoff", "tmin", "tmax", "tmin_next", "lower", "upper", "degree_days"];
    let Some(mut table) = dump::table("degree_days.csv", &columns) else { return };
    let mut rng = Pcg64::seed_from_u64(20_260_101);
    for _ in 0..60 {
        let tmin: f64 = rng.random_range(-2.0..20.0);
        let tmax = tmin + rng.random_range(0.05..14.0);
        let next: f64 = tmin + rng.random_range(-4.0..4.0);
        let lower: f64 = rng.random_range(-1.0..12.0);
        let upper = lower + rng.random_range(2.0..16.0);
        let day = DayRange::new(tmin, tmax).expect("in order").with_next_min(next).expect("finite");
        for (method, name) in [
            (Method::SingleSine, "single_sine"),
            (Method::SingleTriangle, "single_triangle"),
            (Method::DoubleSine, "double_sine"),
            (Method::DoubleTriangle, "double_triangle"),
        ] {
            for (cut_off, word) in [
                (None, "none"),
                (Some(CutOff::Horizontal), "horizontal"),
                (Some(CutOff::Intermediate), "intermediate"),
                (Some(CutOff::Vertical), "vertical"),
            ] {
                let thresholds = match cut_off {
                    None => Thresholds::lower(lower).expect("finite"),
                    Some(cut_off) => Thresholds::between(lower, upper, cut_off).expect("in order"),
                };
                let total = degree_days(method, day, thresholds).expect("defined").degree_days;
                row(&mut table, name, word, [tmin, tmax, next, lower, upper, total]);
            }
        }
        row(&mut table, "fit_sine", "none", [tmin, tmax, next, lower, upper, degree_days_sine(tmin, tmax, lower).0]);
        row(&mut table, "fit_sine_share", "", [tmin, tmax, next, lower, upper, degree_days_sine(tmin, tmax, lower).1]);
    }
    table.flush().expect("the file is whole");
}

fn row(table: &mut csv::Writer<std::fs::File>, method: &str, cut_off: &str, numbers: [f64; 6]) {
    let mut cells = vec![method.to_owned(), cut_off.to_owned()];
    cells.extend(numbers.map(dump::exact));
    table.write_record(cells).expect("a row");
}
