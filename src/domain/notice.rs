//! What keepers tell those who come to the water.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::place::{word_for, word_of};
use super::{Invalid, Slug};

/// Longest notice, characters.
pub const WORDS_MAX: usize = 500;
/// Most days that a notice may hold.
pub const DAYS_MAX: i64 = 366;

/// Who is shown something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Audience {
    /// Everyone.
    Everyone,
    /// Who holds a token or a secret address of the watershed.
    Members,
}

impl Audience {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Everyone, "everyone"), (Self::Members, "members")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "audience", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// True when what is meant for `self` may be shown to `reader`.
    #[must_use]
    pub fn includes(self, reader: Self) -> bool {
        self == Self::Everyone || reader == Self::Members
    }
}

/// What a keeper tells about a reach, or about the whole watershed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Identifier.
    pub id: Uuid,
    /// The watershed.
    pub watershed: Slug,
    /// The reach; `None` for all of the watershed.
    pub reach: Option<Slug>,
    /// Plain text, at most [`WORDS_MAX`] characters.
    pub words: String,
    /// First local day on which it holds.
    pub from: NaiveDate,
    /// Last local day on which it holds.
    pub until: NaiveDate,
    /// Who is shown it.
    pub audience: Audience,
    /// Grows with every change, so that calendars follow.
    pub sequence: u32,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it last changed.
    pub changed_at: DateTime<Utc>,
    /// When it was withdrawn.
    pub withdrawn_at: Option<DateTime<Utc>>,
}

impl Notice {
    /// True when it holds on `day` and `reader` may see it.
    #[must_use]
    pub fn holds(&self, day: NaiveDate, reader: Audience) -> bool {
        self.withdrawn_at.is_none() && (self.from..=self.until).contains(&day) && self.audience.includes(reader)
    }

    /// True when it speaks of `reach`, by itself or with the whole watershed.
    #[must_use]
    pub fn is_about(&self, reach: &Slug) -> bool {
        self.reach.as_ref().is_none_or(|own| own == reach)
    }
}

/// `text` as the words of a notice: trimmed, with plain line ends.
///
/// # Errors
/// [`Invalid`] when nothing is left, when it is longer than [`WORDS_MAX`], or holds control characters or markup.
pub fn check_words(text: &str) -> Result<String, Invalid> {
    let words = text.replace("\r\n", "\n").replace('\r', "\n").trim().to_owned();
    let shown: String = text.chars().take(40).collect();
    let refuse = |reason: String| Err(Invalid::new("text", &shown, reason));
    if words.is_empty() || words.chars().count() > WORDS_MAX {
        return refuse(format!("must have 1 to {WORDS_MAX} characters"));
    }
    if words.chars().any(|c| (c.is_control() && c != '\n') || matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}')) {
        return refuse("must not hold control characters".to_owned());
    }
    let opens_markup = |at: usize| words[at + 1..].starts_with(|c: char| c.is_ascii_alphabetic() || "/!?".contains(c));
    if words.match_indices('<').any(|(at, _)| opens_markup(at)) {
        return refuse("must be plain text without markup".to_owned());
    }
    Ok(words)
}

/// Checks the days on which a notice holds.
///
/// # Errors
/// [`Invalid`] when they end before they begin or are more than [`DAYS_MAX`].
pub fn check_days(from: NaiveDate, until: NaiveDate) -> Result<(), Invalid> {
    let days = (until - from).num_days() + 1;
    if (1..=DAYS_MAX).contains(&days) {
        Ok(())
    } else {
        Err(Invalid::new("until_date", until, format!("must be from_date or one of the {} days after", DAYS_MAX - 1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_plain_and_bounded() {
        assert_eq!(check_words("  Weed is cut.\r\nKeep off.  ").unwrap(), "Weed is cut.\nKeep off.");
        assert_eq!(check_words("water < 10 C, 5<6").unwrap(), "water < 10 C, 5<6");
        for wrong in ["", " \n ", "a\u{7}b", "a\u{0}", "<b>loud</b>", "</p>", "x <!-- y", &"x".repeat(501)] {
            assert!(check_words(wrong).is_err(), "{wrong:?}");
        }
        assert!(check_words(&"\u{e9}".repeat(500)).is_ok());
    }

    #[test]
    fn days_do_not_run_backwards_or_for_ever() {
        let day = |d: i64| NaiveDate::from_ymd_opt(2026, 5, 1).unwrap() + chrono::TimeDelta::days(d);
        assert!(check_days(day(0), day(0)).is_ok() && check_days(day(0), day(365)).is_ok());
        assert!(check_days(day(1), day(0)).is_err() && check_days(day(0), day(366)).is_err());
    }
}
