//! Cautions that go with a forecast, where the decision is made.

use chrono::{Days, NaiveDate};

use crate::domain::forecast::{Caution, ForecastDay};

/// Daily maximum from which released trout need care, degrees Celsius.
const CARE_FROM_C: f64 = 18.0;
/// Daily maximum from which not to fish for release, degrees Celsius.
const STOP_FROM_C: f64 = 20.0;
/// Days ahead that the warmth caution looks at.
const LOOK_AHEAD_DAYS: u64 = 7;

/// Cautions for a forecast seen on `today`; `warmest_c` is the middle forecast of each day's maximum.
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
            text: format!(
                "The water may reach {warmest:.0} \u{b0}C in the coming week: do not fish for trout that are to be \
                 released. Local rules govern."
            ),
            source: "no deaths of angled trout below a daily maximum of 20 \u{b0}C: doi 10.1577/M09-107.1",
        });
    } else if warmest >= CARE_FROM_C {
        cautions.push(Caution {
            code: "water-warm",
            text: format!(
                "The water may reach {warmest:.0} \u{b0}C in the coming week: play trout quickly, keep them in the water. \
                 Local rules govern."
            ),
            source: "common practice, no source",
        });
    }
    cautions.push(Caution {
        code: "not-a-safety-statement",
        text: "A forecast of insects says nothing about wading, rising water or lightning: look, ask locally, and \
               turn back in time."
            .to_owned(),
        source: "common practice, no source",
    });
    cautions
}
