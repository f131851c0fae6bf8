//! When spinners of a taxon fly, read from the words of its trait.

/// What the hour of a flight goes by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Sunrise.
    Sunrise,
    /// The middle of the day, local mean solar time.
    Noon,
    /// Sunset.
    Sunset,
}

/// Usual time of the spinner flights of a taxon, before any record of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlightHabit {
    /// What the hour goes by.
    pub anchor: Anchor,
    /// Hours from the anchor to the middle of the flight.
    pub offset_hours: f64,
    /// Its standard deviation, hours.
    pub offset_sd_hours: f64,
    /// Days from emergence to the flight.
    pub lag_days: usize,
}

/// Words for times of day, with anchor and hours from it (common practice, no source). Words that
/// hold another come first.
const TIMES: [(&str, Anchor, f64); 12] = [
    ("dawn", Anchor::Sunrise, 0.0),
    ("sunrise", Anchor::Sunrise, 0.0),
    ("late morning", Anchor::Noon, -1.5),
    ("morning", Anchor::Sunrise, 3.0),
    ("midday", Anchor::Noon, 0.0),
    ("late afternoon", Anchor::Noon, 4.5),
    ("afternoon", Anchor::Noon, 3.0),
    ("noon", Anchor::Noon, 0.0),
    ("evening", Anchor::Sunset, -0.75),
    ("dusk", Anchor::Sunset, 0.0),
    ("dark", Anchor::Sunset, 1.0),
    ("night", Anchor::Sunset, 1.0),
];
/// Standard deviation of a time told by one word, and by a range of words, hours.
const ONE_WORD_SD_HOURS: f64 = 0.75;
const RANGE_SD_HOURS: f64 = 1.25;
/// Standard deviation of a time told in minutes, hours.
const MINUTES_SD_HOURS: f64 = 0.3;

impl FlightHabit {
    /// Reads words such as `evening`, `afternoon to dusk`, `dawn, same morning`, `night, next evening` or
    /// `26-44 min after sunset`; `None` where no time of day is among them.
    ///
    /// Of alternatives (`or`, `and`) the first is taken; of a range (`to`) its middle, or its end where the two go by
    /// different anchors. Flights follow emergence by a day unless the words say `same` or `within the hour`.
    #[must_use]
    pub fn from_words(words: &str) -> Option<Self> {
        let words = words.to_lowercase();
        let lag_days = usize::from(!(words.contains("same ") || words.contains("within the hour")));
        if let Some(minutes) = minutes_after_sunset(&words) {
            let offset_hours = minutes / 60.0;
            return Some(Self { anchor: Anchor::Sunset, offset_hours, offset_sd_hours: MINUTES_SD_HOURS, lag_days });
        }
        let mut clauses = words.split([',', ';', '(']).map(times_in);
        let times = clauses.find(|times| !times.is_empty())?;
        let clause = words.split([',', ';', '(']).find(|clause| !times_in(clause).is_empty())?;
        let (first, last) = (*times.first()?, *times.last()?);
        let range = times.len() > 1 && clause.contains(" to ");
        let (anchor, offset_hours) = match (range, first.0 == last.0) {
            (false, _) => first,
            (true, true) => (first.0, 0.5 * (first.1 + last.1)),
            (true, false) => last,
        };
        let offset_sd_hours = if times.len() > 1 { RANGE_SD_HOURS } else { ONE_WORD_SD_HOURS };
        Some(Self { anchor, offset_hours, offset_sd_hours, lag_days })
    }
}

/// The times of day named in a clause, in the order of the words.
fn times_in(clause: &str) -> Vec<(Anchor, f64)> {
    let mut left = clause.to_owned();
    let mut found = Vec::new();
    for (word, anchor, offset) in TIMES {
        while let Some(at) = left.find(word) {
            found.push((at, anchor, offset));
            left.replace_range(at..at + word.len(), &"-".repeat(word.len()));
        }
    }
    found.sort_by_key(|(at, ..)| *at);
    found.into_iter().map(|(_, anchor, offset)| (anchor, offset)).collect()
}

/// The middle of `A-B min after sunset`, minutes.
fn minutes_after_sunset(words: &str) -> Option<f64> {
    let (range, _) = words.split_once("min after sunset")?;
    let (from, to) = range.trim().rsplit(' ').next()?.split_once('-')?;
    Some(0.5 * (from.parse::<f64>().ok()? + to.parse::<f64>().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(words: &str) -> (Anchor, f64, usize) {
        let habit = FlightHabit::from_words(words).unwrap();
        (habit.anchor, habit.offset_hours, habit.lag_days)
    }

    #[test]
    fn words_of_the_trade_are_read() {
        assert_eq!(read("evening"), (Anchor::Sunset, -0.75, 1));
        assert_eq!(read("evening to dusk, upstream flights"), (Anchor::Sunset, -0.375, 1));
        assert_eq!(read("afternoon to dusk"), (Anchor::Sunset, 0.0, 1));
        assert_eq!(read("late morning to afternoon, next day"), (Anchor::Noon, 0.75, 1));
        assert_eq!(read("morning or evening, calm"), (Anchor::Sunrise, 3.0, 1));
        assert_eq!(read("dawn, same morning"), (Anchor::Sunrise, 0.0, 0));
        assert_eq!(read("morning, same day, from about 18-20 C air"), (Anchor::Sunrise, 3.0, 0));
        assert_eq!(read("night, next evening"), (Anchor::Sunset, 1.0, 1));
        assert_eq!(read("within the hour after emergence, same evening or dawn"), (Anchor::Sunset, -0.75, 0));
        let (anchor, offset, lag) = read("26-44 min after sunset, for 19-30 min");
        assert!(anchor == Anchor::Sunset && (offset - 35.0 / 60.0).abs() < 1e-12 && lag == 1);
        assert_eq!(FlightHabit::from_words("by day; eggs under water"), None);
        assert_eq!(FlightHabit::from_words(""), None);
    }
}
