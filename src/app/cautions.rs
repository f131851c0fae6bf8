//! Cautions that go with a forecast, where the decision is made.

use chrono::{Days, NaiveDate, NaiveTime};

use super::document::forecast::WaterDayDocument;
use super::said::said;
use crate::domain::forecast::{Caution, ForecastDay};
use crate::say;

/// Water from which released trout need care, degrees Celsius.
pub const CARE_FROM_C: f64 = 18.0;
/// Water from which not to fish for release, degrees Celsius.
pub const STOP_FROM_C: f64 = 20.0;
/// Source of [`STOP_FROM_C`].
const STOP_SOURCE: &str = "no deaths of angled trout below a daily maximum of 20 \u{b0}C: doi 10.1577/M09-107.1";
/// Days ahead that the warmth caution looks at.
const LOOK_AHEAD_DAYS: u64 = 7;

/// Cautions that hold on every water: code, text, source. A forecast's caution whose code starts
/// with the same word says more and stands in its place.
pub const STANDING: &[(&str, &str, &str)] = &[
    (
        "wading",
        "Rising or coloured water: do not wade. Rivers below dams can rise without rain.",
        "common practice, no source",
    ),
    (
        "lightning",
        "Lightning: put the rod down and leave the water at the first thunder.",
        "common practice, no source",
    ),
    (
        "water-",
        "Warm water: from 18 \u{b0}C handle trout with care, from 20 \u{b0}C do not fish for release. Local rules govern.",
        "20 \u{b0}C daily maximum: doi 10.1577/M09-107.1",
    ),
    ("clean-check-dry", "Clean, check and dry boots, nets and waders between waters.", "common practice, no source"),
    ("access", "Ask before you cross land, and keep to agreed paths.", "common practice, no source"),
    ("spawning-gravel", "Spawning gravel: do not wade on it.", "common practice, no source"),
    ("alone", "At dusk and on ice go with company, and tell someone where you are.", "common practice, no source"),
    ("collecting", "Put collected insects back; some are protected. Local rules govern.", "common practice, no source"),
    (
        "notices",
        "Pollution and algae notices of the authorities come before anything here.",
        "common practice, no source",
    ),
];

/// Cautions for a forecast seen on `today`; `warmest_c` is the maximum of each day that one in ten exceeds,
/// degrees Celsius.
#[must_use]
pub fn for_days(days: &[ForecastDay], warmest_c: &[f64], today: NaiveDate) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let until = today + Days::new(LOOK_AHEAD_DAYS);
    let warmest = days
        .iter()
        .zip(warmest_c)
        .filter(|(day, _)| day.date >= today && day.date < until)
        .map(|(_, c)| *c)
        .fold(f64::NEG_INFINITY, f64::max);
    if warmest >= STOP_FROM_C {
        cautions.push(Caution {
            code: "water-too-warm",
            text: said(|language| say!(language, "caution-stop", warmest = format!("{warmest:.0}"))),
            source: STOP_SOURCE,
        });
    } else if warmest >= CARE_FROM_C {
        cautions.push(Caution {
            code: "water-warm",
            text: said(|language| say!(language, "caution-care", warmest = below_stop(warmest))),
            source: "common practice, no source",
        });
    }
    cautions.push(Caution {
        code: "not-a-safety-statement",
        text: said(|language| say!(language, "caution-no-statement")),
        source: "common practice, no source",
    });
    cautions
}

/// A temperature under [`STOP_FROM_C`] to the whole degree, downwards: 19.6 written as 20 would tell of a limit that is
/// not reached, beside words that allow what that limit forbids.
fn below_stop(celsius: f64) -> String {
    format!("{:.0}", celsius.floor())
}

/// The caution of one hour of `day`, where its water may be too warm for trout that are released: within one
/// standard error, since a false alarm costs an hour and a missed one fish.
#[must_use]
pub fn at_hour(day: &WaterDayDocument, at: NaiveTime) -> Option<Caution> {
    let water = day.at(at)?;
    let (code, stop, source) = match water.water_c + water.error_c {
        warm if warm >= STOP_FROM_C => ("water-too-warm-at-this-hour", true, STOP_SOURCE),
        warm if warm >= CARE_FROM_C => ("water-warm-at-this-hour", false, "common practice, no source"),
        _ => return None,
    };
    let now = if stop { format!("{:.0}", water.water_c) } else { below_stop(water.water_c) };
    let cooler = day.ends().map(|(coolest, _)| coolest).filter(|(_, hour)| hour.water_c + hour.error_c < CARE_FROM_C);
    let text = said(|language| {
        let mut sentences = vec![if water.error_c > 0.0 {
            say!(language, "caution-hour-estimated", now = now.clone())
        } else {
            say!(language, "caution-hour-measured", now = now.clone())
        }];
        sentences.push(if stop { say!(language, "caution-hour-stop") } else { say!(language, "caution-hour-care") });
        if let Some((hour, coolest)) = &cooler {
            let (hour, coolest) = (format!("{hour:02}:00"), format!("{:.0}", coolest.water_c));
            sentences.push(say!(language, "caution-hour-coolest", hour = hour, coolest = coolest));
        }
        sentences.push(say!(language, "caution-hour-rules"));
        sentences.join(" ")
    });
    Some(Caution { code, text, source })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::forecast::Basis;

    fn today() -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 7, 1).expect("a date")
    }

    /// Cautions of a week with these daily maxima from today on.
    fn of(warmest_c: &[f64]) -> Vec<Caution> {
        let day = |ahead: usize| ForecastDay {
            date: today() + Days::new(ahead as u64),
            share: 0.0,
            cumulative: 0.0,
            class_probabilities: [1.0, 0.0, 0.0, 0.0],
            basis: Basis::Prior,
            water_c: None,
            water_from: None,
            flight_chance: None,
        };
        let days: Vec<ForecastDay> = (0..warmest_c.len()).map(day).collect();
        for_days(&days, warmest_c, today())
    }

    #[test]
    fn warm_water_is_told_from_its_limits_on_and_no_number_says_more_than_its_words() {
        let told = |warmest: f64| {
            let first = of(&[15.0, warmest, 15.0]).remove(0);
            (first.code, first.text.english.clone())
        };
        assert_eq!(told(17.9).0, "not-a-safety-statement");
        assert!(told(18.0).1.contains("18 \u{b0}C") && told(18.0).0 == "water-warm");
        // To the nearest degree this would be the limit itself.
        assert!(told(19.9).1.contains("19 \u{b0}C") && told(19.9).0 == "water-warm", "{:?}", told(19.9));
        assert!(told(20.0).1.contains("20 \u{b0}C") && told(20.0).0 == "water-too-warm");
        assert!(told(22.6).1.contains("23 \u{b0}C"));
    }

    #[test]
    fn warmth_of_the_coming_week_alone_is_told() {
        let mut warmest = vec![10.0; 8];
        warmest[7] = 25.0;
        assert_eq!(of(&warmest)[0].code, "not-a-safety-statement", "today and six days are a week");
        warmest[6] = 25.0;
        assert_eq!(of(&warmest)[0].code, "water-too-warm");
    }
}
