//! iCalendar bytes (RFC 5545, RFC 7986), written by hand: no reader checks line ends, folding and
//! exclusive ends for us, so the writer is small enough to be checked by eye and by a strict lint.

use chrono::{DateTime, Days, NaiveDate, Utc};

/// Longest content line in octets before CRLF (RFC 5545 section 3.1).
const LINE_OCTETS: usize = 75;

/// A growing calendar.
#[derive(Debug, Default)]
pub(super) struct Writer {
    out: Vec<u8>,
}

impl Writer {
    /// Bytes so far.
    pub(super) fn len(&self) -> usize {
        self.out.len()
    }

    /// Adds the lines of `other` at the end.
    pub(super) fn append(&mut self, mut other: Self) {
        self.out.append(&mut other.out);
    }

    /// The finished bytes.
    pub(super) fn into_bytes(self) -> Vec<u8> {
        self.out
    }

    /// A property whose value is not TEXT and is ours: identifiers, numbers, dates, addresses.
    pub(super) fn raw(&mut self, name: &str, value: &str) {
        // Whatever happens upstream, a control character never reaches the feed.
        let clean: String = value.chars().filter(|c| !c.is_control()).collect();
        self.fold(&format!("{name}:{clean}"));
    }

    /// A TEXT property.
    pub(super) fn text(&mut self, name: &str, value: &str) {
        self.fold(&format!("{name}:{}", escape(value)));
    }

    /// A property holding several TEXT values.
    pub(super) fn texts(&mut self, name: &str, values: &[String]) {
        let joined: Vec<String> = values.iter().map(|value| escape(value)).collect();
        self.fold(&format!("{name}:{}", joined.join(",")));
    }

    /// An all-day span, last day inclusive; the written end is exclusive.
    pub(super) fn all_day(&mut self, first: NaiveDate, last: NaiveDate) {
        self.raw("DTSTART;VALUE=DATE", &first.format("%Y%m%d").to_string());
        self.raw("DTEND;VALUE=DATE", &(last + Days::new(1)).format("%Y%m%d").to_string());
    }

    /// An instant in UTC.
    pub(super) fn instant(&mut self, name: &str, at: DateTime<Utc>) {
        self.raw(name, &at.format("%Y%m%dT%H%M%SZ").to_string());
    }

    /// Writes one content line, folded between characters.
    fn fold(&mut self, line: &str) {
        let mut room = LINE_OCTETS;
        let mut buffer = [0; 4];
        for character in line.chars() {
            let bytes = character.encode_utf8(&mut buffer).as_bytes();
            if bytes.len() > room {
                self.out.extend_from_slice(b"\r\n ");
                room = LINE_OCTETS - 1;
            }
            self.out.extend_from_slice(bytes);
            room -= bytes.len();
        }
        self.out.extend_from_slice(b"\r\n");
    }
}

/// TEXT escapes of RFC 5545 section 3.3.11; line ends of any kind become `\n`, other control
/// characters are dropped.
fn escape(value: &str) -> String {
    let mut out = String::with_capacity(value.len() + 8);
    let mut characters = value.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '\\' => out.push_str("\\\\"),
            ';' => out.push_str("\\;"),
            ',' => out.push_str("\\,"),
            '\r' => {
                if characters.peek() != Some(&'\n') {
                    out.push_str("\\n");
                }
            }
            '\n' | '\u{2028}' | '\u{2029}' | '\u{85}' => out.push_str("\\n"),
            other if other.is_control() => {}
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(value: &str) -> String {
        let mut writer = Writer::default();
        writer.text("SUMMARY", value);
        String::from_utf8(writer.into_bytes()).expect("UTF-8")
    }

    #[test]
    fn text_is_escaped_and_cannot_start_a_line_of_its_own() {
        assert_eq!(written("a,b;c\\d"), "SUMMARY:a\\,b\\;c\\\\d\r\n");
        assert_eq!(written("x\r\nBEGIN:VEVENT"), "SUMMARY:x\\nBEGIN:VEVENT\r\n");
        assert_eq!(written("x\rATTENDEE:y\u{7}"), "SUMMARY:x\\nATTENDEE:y\r\n");
    }

    #[test]
    fn lines_fold_at_75_octets_between_characters() {
        let text = written(&"\u{e9}".repeat(100));
        for line in text.trim_end().split("\r\n") {
            assert!(line.len() <= LINE_OCTETS, "{} octets", line.len());
        }
        assert_eq!(text.replace("\r\n ", ""), format!("SUMMARY:{}\r\n", "\u{e9}".repeat(100)));
    }

    #[test]
    fn ends_are_exclusive_over_months_and_years() {
        let mut writer = Writer::default();
        let day = NaiveDate::from_ymd_opt(2026, 12, 31).expect("a date");
        writer.all_day(day, day);
        assert_eq!(writer.into_bytes(), b"DTSTART;VALUE=DATE:20261231\r\nDTEND;VALUE=DATE:20270101\r\n");
    }
}
