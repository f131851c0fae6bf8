//! Sunrise, sunset and day length over the latitudes of four years.

use chrono::{Days, NaiveDate};
use subimago::model::daylength::{
    CIVIL_DEPRESSION_DEG, Daylight, SUNRISE_DEPRESSION_DEG, daylight, solar_noon_utc_min,
};

use crate::dump;

const PLACES: [(f64, f64); 17] = [
    (0.0, 0.0),
    (20.0, -155.0),
    (30.0, 0.0),
    (35.0, 139.0),
    (41.5, -74.5),
    (45.0, 0.0),
    (46.8, 6.7),
    (50.0, 14.0),
    (52.0, -1.5),
    (55.0, 0.0),
    (58.0, 0.0),
    (60.0, 25.0),
    (62.0, 0.0),
    (65.0, 0.0),
    (-38.0, 176.0),
    (-45.0, 169.0),
    (-54.0, -68.0),
];

#[test]
fn day_length() {
    let columns =
        ["lat_deg", "lon_deg", "date", "depression_deg", "hours", "rise_utc_min", "set_utc_min", "noon_utc_min"];
    let Some(mut table) = dump::table("day_length.csv", &columns) else { return };
    let first = NaiveDate::from_ymd_opt(2023, 1, 1).expect("a date");
    for (latitude, longitude) in PLACES {
        for depression in [SUNRISE_DEPRESSION_DEG, CIVIL_DEPRESSION_DEG] {
            for step in 0..133 {
                let date = first + Days::new(11 * step);
                let light = daylight(date, latitude, longitude, depression);
                let (rise, set) = match light {
                    Daylight::RiseAndSet { rise_utc_min, set_utc_min } => {
                        (dump::exact(rise_utc_min), dump::exact(set_utc_min))
                    }
                    Daylight::AlwaysLight | Daylight::AlwaysDark => (String::new(), String::new()),
                };
                table
                    .write_record([
                        latitude.to_string(),
                        longitude.to_string(),
                        date.to_string(),
                        depression.to_string(),
                        dump::exact(light.hours()),
                        rise,
                        set,
                        dump::exact(solar_noon_utc_min(date, longitude)),
                    ])
                    .expect("a row");
            }
        }
    }
    table.flush().expect("the file is whole");
}
