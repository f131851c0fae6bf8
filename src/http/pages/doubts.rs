//! Doubts about a fit in the reader's language. Fits are stored with their doubts as English sentences; they are known
//! again by the English messages, which say the same with places for what differs.

use crate::say;
use crate::words::Language;

/// Stands in a message where something differs.
const PLACE: &str = "\u{1}";

/// The doubt in `language`; `None` where the sentence is not known again.
pub(crate) fn told(language: Language, doubt: &str) -> Option<String> {
    let english = Language::English;
    if language == english {
        return Some(doubt.to_owned());
    }
    let plain = [
        (say!(english, "doubt-few-blanks"), say!(language, "doubt-few-blanks")),
        (say!(english, "doubt-base-below-zero"), say!(language, "doubt-base-below-zero")),
        (say!(english, "doubt-no-gain"), say!(language, "doubt-no-gain")),
        (say!(english, "doubt-calendar"), say!(language, "doubt-calendar")),
        (say!(english, "doubt-season-warmth"), say!(language, "doubt-season-warmth")),
        (say!(english, "doubt-season-latitude"), say!(language, "doubt-season-latitude")),
        (say!(english, "doubt-season-altitude"), say!(language, "doubt-season-altitude")),
        (say!(english, "doubt-season-kept"), say!(language, "doubt-season-kept")),
        (say!(english, "doubt-season-south"), say!(language, "doubt-season-south")),
    ];
    if let Some((_, known)) = plain.into_iter().find(|(sentence, _)| doubt == sentence) {
        return Some(known);
    }
    if let Some([hot, plain]) = places(&say!(english, "doubt-apart", hot = PLACE, plain = PLACE), doubt) {
        return Some(say!(language, "doubt-apart", hot = hot, plain = plain));
    }
    let [first, second] = places(&say!(english, "doubt-generations", first = PLACE, second = PLACE), doubt)?;
    let (first, second) = (day(language, first)?, day(language, second)?);
    Some(say!(language, "doubt-generations", first = first, second = second))
}

/// What stands in `text` at the two places of `sentence`.
fn places<'t>(sentence: &str, text: &'t str) -> Option<[&'t str; 2]> {
    let mut parts = sentence.split(PLACE);
    let (before, between, after) = (parts.next()?, parts.next()?, parts.next()?);
    let rest = text.strip_prefix(before)?.strip_suffix(after)?;
    rest.split_once(between).map(|(first, second)| [first, second])
}

/// A day of the year that is written in English.
fn day(language: Language, english: &str) -> Option<String> {
    // A leap year, which has all days.
    let date = chrono::NaiveDate::parse_from_str(&format!("{english} 2024"), "%d %B %Y").ok()?;
    Some(language.day(date))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stored_doubts_are_known_again() {
        let german = |doubt: &str| told(Language::German, doubt);
        let apart = "warmth does not explain the dates: years and reaches lie 12 days apart when warmth is counted, \
                     9 when days are";
        assert!(german(apart).is_some_and(|words| words.contains("12 Tage") && words.contains(" 9, wenn")));
        let two = "records hold two generations: one about 3 May, one about 29 August; give the taxon two broods";
        assert!(german(two).is_some_and(|words| words.contains("3. Mai") && words.contains("29. August")));
        let plain = "warmth does not drive this taxon here: in years left out the plain calendar did better";
        assert!(german(plain).is_some_and(|words| words.starts_with("W\u{e4}rme bestimmt")));
        let no_gain = "in years left out warmth added nothing: the forecast goes by the date alone";
        assert!(german(no_gain).is_some_and(|words| words.starts_with("In weggelassenen Jahren")));
        let south = say!(Language::English, "doubt-season-south");
        assert!(german(&south).is_some_and(|words| words.contains("S\u{fc}dhalbkugel")));
        let warmth = say!(Language::English, "doubt-season-warmth");
        assert!(german(&warmth).is_some_and(|words| words.contains("W\u{e4}rme dieses Wassers")));
        assert_eq!(german("something else"), None);
        assert_eq!(told(Language::English, "something else").as_deref(), Some("something else"));
    }
}
