use chrono::NaiveDate;
use maud::html;

use super::Language::{English, German, Marked};
use super::*;

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).expect("a date")
}

#[test]
fn dates_and_numbers_are_written_as_the_language_does() {
    assert_eq!(English.date(day(3, 6)), "6 March 2026");
    assert_eq!(German.date(day(3, 6)), "6. M\u{e4}rz 2026");
    assert_eq!(English.day_range(day(5, 6), day(5, 14)), "6\u{2013}14 May");
    assert_eq!(German.day_range(day(5, 6), day(5, 14)), "6.\u{2013}14. Mai");
    assert_eq!(English.day_range(day(5, 28), day(6, 3)), "28 May\u{2013}3 Jun");
    assert_eq!(German.day_range(day(12, 28), day(12, 28)), "28. Dez.");
    assert_eq!(English.short_weekday_with_day(day(5, 20)), "Wed 20 May");
    assert_eq!(German.short_weekday_with_day(day(5, 20)), "Mi, 20. Mai");
    assert_eq!(German.weekday_and_date(day(5, 20)), "Mittwoch, 20. Mai 2026");
    let at = day(5, 20).and_hms_opt(18, 5, 0).expect("a time");
    assert_eq!(German.date_and_time(at), "20. Mai 2026, 18:05 Uhr");
    assert_eq!((English.number(1.25, 1), German.number(1.25, 1)), ("1.2".to_owned(), "1,2".to_owned()));
}

#[test]
fn a_message_takes_the_form_of_its_number() {
    let told = |language: Language, records: u32| say!(language, "footing-records", records = records, years = 1_u32);
    assert_eq!([told(English, 1), told(English, 2)], ["1 record from 1 year", "2 records from 1 year"]);
    assert_eq!([told(German, 1), told(German, 0)], ["1 Fund aus 1 Jahr", "0 Funde aus 1 Jahr"]);
}

#[test]
fn a_shortened_month_ends_a_german_sentence() {
    let told =
        |language: Language, end: &str| say!(language, "picture-described", starts = "x", fullest = "y", ends = end);
    assert!(told(German, "9. Aug.").ends_with("Ende 9. Aug."), "{}", told(German, "9. Aug."));
    assert!(told(German, "9. Mai").ends_with("Ende 9. Mai."));
    assert!(told(English, "9 Aug").ends_with("9 Aug."));
    assert!(told(German, "...").contains("...."), "an ellipsis stays");
}

#[test]
fn text_is_escaped_and_markup_is_not() {
    let told = tell!(English, "now-more", count = 3_usize).into_string();
    assert_eq!(told, "and 3 more, in the table below.");
    let link = html! { a href="/x?a=1&b=2" { "<x>" } };
    let told = tell!(German, "credits-from", source = link, licence = "<b>").into_string();
    assert_eq!(told, "Von <a href=\"/x?a=1&amp;b=2\">&lt;x&gt;</a> (&lt;b&gt;)");
    assert_eq!(say!(English, "units-lengths", from = "<1", to = "2"), "<1 to 2 mm");
}

#[test]
fn marks_stand_around_messages_and_what_is_put_into_them() {
    let told = say!(Marked, "units-lengths", from = "1", to = "2");
    assert!(
        told.starts_with('\u{27e6}') && told.ends_with('\u{27e7}') && told.contains("\u{2983}1\u{2984} to "),
        "{told}"
    );
    let plain = say!(English, "layout-safety");
    let longer = say!(Marked, "layout-safety").chars().count() as f64 / plain.chars().count() as f64;
    assert!((1.38..1.45).contains(&longer), "{longer}");
}

#[test]
fn languages_are_read_from_their_tags() {
    for language in [English, German, Marked] {
        assert_eq!(Language::parse(language.tag()), Some(language));
    }
    assert!(Language::parse("DE").is_none() && Language::parse("fr").is_none());
}
