//! Ten thousand generated calendars through the lint, with names, dates and words of every unpleasant kind, and their
//! news through a reader of XML.

use std::sync::Arc;

use chrono::{NaiveDate, TimeDelta};
use subimago::app::WatershedView;
use subimago::app::document::ForecastDocument;
use subimago::app::document::forecast_parts::{DateQuantilesDocument, SpinnerDocument};
use subimago::app::feed::{Entry, ItemKind, Reader, Selection, advance, atom, calendar, cancel, plan};
use subimago::domain::{AbundanceClass, Audience, Brood, Notice, Reach, Taxon, Watershed};
use subimago::words::Language;
use uuid::Uuid;

use crate::lint::{lint, lint_secret};
use crate::support::{date, now, slug};
use crate::water;

/// Numbers that are the same on every run (splitmix64, from memory).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn one_in(&mut self, count: usize) -> bool {
        self.below(count) == 0
    }

    fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }

    fn day(&mut self) -> NaiveDate {
        date(2026, 1, 1) + TimeDelta::days(self.below(500) as i64 - 60)
    }

    /// A name of pieces that readers and writers of feeds stumble over.
    fn name(&mut self) -> String {
        const PIECES: [&str; 22] = [
            "Mill",
            "Meadow",
            " ",
            ", ",
            ";",
            "\\",
            "\\n",
            "\n",
            "\r\n",
            ":",
            "\"",
            "<b>&amp;",
            "\u{e9}",
            "\u{6cb3}\u{5ddd}",
            "\u{1f41f}",
            "e\u{301}",
            "\u{200f}\u{5e0}\u{5d4}\u{5e8}",
            "BEGIN:VEVENT",
            "\u{7}",
            "\u{2028}",
            "\u{fffe}",
            "]]>",
        ];
        let count = if self.one_in(8) { 60 } else { 1 + self.below(6) };
        let name: String = (0..count).map(|_| *self.pick(&PIECES)).collect();
        // A setup refuses empty names.
        if name.chars().all(|c| c.is_whitespace() || c.is_control()) { "x".to_owned() } else { name }
    }

    fn dates(&mut self) -> DateQuantilesDocument {
        let first = self.day();
        let (middle, last) =
            (first + TimeDelta::days(self.below(20) as i64), first + TimeDelta::days(self.below(40) as i64));
        let keep = |day, missing: bool| if missing { None } else { Some(day) };
        DateQuantilesDocument {
            p10: keep(first, self.one_in(12)),
            p50: keep(middle, self.one_in(12)),
            p90: keep(last, self.one_in(12)),
        }
    }
}

fn forecast(dice: &mut Dice, base: &ForecastDocument, reach: &Reach, taxon: &Taxon) -> ForecastDocument {
    let mut forecast = base.clone();
    forecast.reach = reach.slug.to_string();
    forecast.taxon = taxon.slug.to_string();
    let onset = dice.dates();
    let first = &mut forecast.milestones[0];
    (first.p10, first.p50, first.p90) = (onset.p10, onset.p50, onset.p90);
    forecast.peak = dice.dates();
    forecast.stale = dice.one_in(4);
    forecast.data_as_of = dice.day();
    forecast.fit.prior_driven = dice.one_in(3);
    for day in &mut forecast.days {
        day.spinner_chance = (!dice.one_in(4)).then(|| dice.below(100) as f64 / 100.0);
    }
    let hour = |dice: &mut Dice| format!("{:02}:{:02}", dice.below(24), dice.below(60));
    if !dice.one_in(3) {
        let (from, peak, to) = (hour(dice), hour(dice), hour(dice));
        forecast.spinner =
            Some(SpinnerDocument { date: dice.day(), from, peak, to, chance: dice.below(100) as f64 / 100.0 });
    }
    forecast
}

fn notice(dice: &mut Dice, watershed: &Watershed, reaches: &[Arc<Reach>]) -> Notice {
    let (from, long) = (dice.day(), dice.below(366) as i64);
    let changed_at = now() + TimeDelta::minutes(dice.below(100_000) as i64);
    Notice {
        id: Uuid::from_u64_pair(dice.next(), dice.next()),
        watershed: watershed.slug.clone(),
        reach: if dice.one_in(2) || reaches.is_empty() { None } else { Some(dice.pick(reaches).slug.clone()) },
        words: dice.name(),
        from,
        until: from + TimeDelta::days(long),
        audience: *dice.pick(&[Audience::Everyone, Audience::Members]),
        sequence: dice.below(1000) as u32,
        created_at: changed_at,
        changed_at,
        withdrawn_at: dice.one_in(4).then_some(changed_at),
    }
}

fn view(dice: &mut Dice, base: &ForecastDocument) -> WatershedView {
    let watershed = Watershed {
        slug: slug("ostrey"),
        name: dice.name(),
        time_zone: chrono_tz::Pacific::Auckland,
        units: subimago::domain::Units::Celsius,
    };
    let size = if dice.one_in(200) { 12 } else { 3 };
    let reaches: Vec<Arc<Reach>> = (0..dice.below(size))
        .map(|n| {
            let mut reach = water::reaches()[0].clone();
            (reach.slug, reach.name) = (slug(&format!("reach-{n}")), dice.name());
            Arc::new(reach)
        })
        .collect();
    let taxa: Vec<Arc<Taxon>> = (0..dice.below(size))
        .map(|n| {
            let mut taxon = Taxon::bare(slug(&format!("taxon-{n}")), dice.name(), "species");
            taxon.order = Some("Ephemeroptera".to_owned());
            taxon.spinner_time = Some((*dice.pick(&["dusk", "dawn, same morning", "nobody knows"])).to_owned());
            let brood = Brood { number: 1, median_day_of_year: 100.0, sd_days: 9.0, provenance: "invented".to_owned() };
            taxon.broods = vec![brood; 1 + dice.below(2)];
            Arc::new(taxon)
        })
        .collect();
    let mut entries: Vec<Arc<Entry>> = Vec::new();
    for reach in &reaches {
        for taxon in &taxa {
            let before = forecast(dice, base, reach, taxon);
            let after = forecast(dice, base, reach, taxon);
            for (uid, content) in plan(&watershed.slug, &before, reach, taxon) {
                let mut entry = advance(None, uid, content, now());
                let moved = plan(&watershed.slug, &after, reach, taxon).into_iter().find(|(known, _)| *known == uid);
                if let Some((_, content)) = moved.filter(|_| dice.one_in(2)) {
                    entry = advance(Some(&entry), uid, content, now() + TimeDelta::days(1));
                }
                if dice.one_in(8) {
                    entry = cancel(&entry, now() + TimeDelta::days(2));
                }
                entries.push(Arc::new(entry));
            }
        }
    }
    let notices = (0..dice.below(3)).map(|_| Arc::new(notice(dice, &watershed, &reaches))).collect();
    let (gauges, feeds_private, published) = (Vec::new(), false, true);
    WatershedView { watershed, reaches, gauges, taxa, verdicts: Vec::new(), entries, notices, feeds_private, published }
}

fn selection(dice: &mut Dice) -> Selection {
    let mut selection = Selection::default();
    if dice.one_in(4) {
        selection.reaches = vec![slug("reach-0")];
    }
    if dice.one_in(4) {
        selection.taxa = vec![slug("taxon-1")];
    }
    if dice.one_in(4) {
        selection.at_least = Some(AbundanceClass::Sparse);
    }
    if dice.one_in(4) {
        selection.kinds = vec![dice.pick(&ItemKind::WORDS).0];
    }
    selection
}

#[test]
fn ten_thousand_calendars_are_clean_and_their_news_well_formed() {
    let base = ForecastDocument::from(&water::forecast(&water::reaches()[0], "ephemera-danica", Uuid::nil(), 0));
    let base = base.cut(|day| day == date(2026, 5, 22));
    let (mut events, mut empty, mut longest) = (0, 0, 0);
    let mut dice = Dice(20_260_520);
    for round in 0..10_000 {
        let view = view(&mut dice, &base);
        let audience = if dice.one_in(3) { Audience::Members } else { Audience::Everyone };
        let language = if round % 2 == 0 { Language::English } else { Language::German };
        let reader = Reader { audience, today: dice.day(), public_url: "https://water.test", language };
        let chosen = selection(&mut dice);
        let (bytes, _) = calendar(&view, &chosen, reader);
        let faults = if audience == Audience::Members { lint_secret(&bytes) } else { lint(&bytes) };
        assert!(faults.is_empty(), "round {round}: {faults:#?}\n{}", String::from_utf8_lossy(&bytes));
        assert_eq!(calendar(&view, &chosen, reader).0, bytes, "the same data give the same bytes");
        let count = bytes.windows(12).filter(|window| window == b"BEGIN:VEVENT").count();
        events += count;
        let text = String::from_utf8_lossy(&bytes);
        let told = ["No emergence is forecast here yet", "Hier ist noch kein Schlupf vorhergesagt"];
        empty += usize::from(told.iter().any(|words| text.contains(words)));
        longest = longest.max(bytes.len());
        if round % 11 == 0 {
            well_formed(&atom(&view, reader).0);
        }
    }
    assert!(events > 20_000 && (1_000..9_000).contains(&empty) && longest > 100_000, "{events} {empty} {longest}");
}

/// Reads the whole document; element names must close each other and no character may be one that XML lacks.
fn well_formed(bytes: &[u8]) {
    let text = std::str::from_utf8(bytes).expect("UTF-8");
    let wrong = |c: char| (c.is_control() && c != '\n') || matches!(c, '\u{fffe}' | '\u{ffff}');
    assert!(!text.contains(wrong), "{text}");
    let mut reader = quick_xml::Reader::from_str(text);
    loop {
        match reader.read_event().expect("well formed") {
            quick_xml::events::Event::Eof => break,
            _ => continue,
        }
    }
}
