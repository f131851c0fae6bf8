//! The coming days as an image: text set by presentation attributes alone, since an image loads no
//! style sheet.

use maud::{Markup, PreEscaped, html};

use super::{EmbedQuery, Theme, ahead};
use crate::http::pages::{PageView, told, words};
use crate::say;

/// Width at natural size, pixels.
const WIDTH_PX: usize = 520;
const MARGIN_PX: usize = 16;
const LINE_PX: usize = 21;
/// Letters of a line. Measured on the widest of the common sans-serif faces, a letter of such text is
/// 0.53 of its size wide on average: 60 of 14 px take 446 of the 488 px between the margins.
const LINE_LETTERS: usize = 60;
/// Most reaches, so that the image stays one that a page can hold.
const MOST_REACHES: usize = 12;

/// Most notices, for the same reason.
const MOST_NOTICES: usize = 3;

/// A line of text.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    text: String,
    size_px: usize,
    bold: bool,
    quiet: bool,
    /// Empty lines' worth of room above, in half lines.
    above: usize,
}

impl Line {
    fn plain(text: String) -> Self {
        Self { text, size_px: 14, bold: false, quiet: false, above: 0 }
    }
}

/// The image.
pub(super) fn picture(page: &PageView, query: &EmbedQuery) -> Markup {
    let language = page.language;
    let lines = lines(page, query);
    let colours = match query.theme {
        Some(Theme::Dark) => ["#10191b", "#e6eeec", "#a8b8b7"],
        _ => ["#fbfaf6", "#17272a", "#4a5c5e"],
    };
    let [paper, ink, quiet] = colours;
    let mut y = MARGIN_PX;
    let placed: Vec<(usize, &Line)> = lines
        .iter()
        .map(|line| {
            y += LINE_PX + line.above * LINE_PX / 2;
            (y, line)
        })
        .collect();
    let height = y + MARGIN_PX;
    let title = say!(language, "embed-title", water = &page.view.watershed.name);
    let said: Vec<&str> = lines.iter().map(|line| line.text.as_str()).collect();
    html! {
        (PreEscaped("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"))
        svg xmlns="http://www.w3.org/2000/svg" width=(WIDTH_PX) height=(height) viewBox=(format!("0 0 {WIDTH_PX} {height}"))
            role="img" lang=[(language != crate::words::Language::English).then(|| language.document_tag())] aria-labelledby="title words" font-family="Liberation Sans, Arial, Helvetica, sans-serif" {
            title id="title" { (clean(&title)) }
            desc id="words" { (said.join(" ")) }
            rect width=(WIDTH_PX) height=(height) fill=(paper) {}
            @for (y, line) in &placed {
                text x=(MARGIN_PX) y=(y) font-size=(line.size_px) font-weight=(if line.bold { "bold" } else { "normal" })
                    fill=(if line.quiet { quiet } else { ink }) { (line.text) }
            }
        }
    }
}

fn lines(page: &PageView, query: &EmbedQuery) -> Vec<Line> {
    let language = page.language;
    let mut lines = Vec::new();
    let name = wrapped(&page.view.watershed.name, LINE_LETTERS * 3 / 4);
    lines.extend(name.into_iter().map(|text| Line { size_px: 18, bold: true, ..Line::plain(text) }));
    if page.forecasts.is_empty() {
        lines.push(Line::plain(say!(language, "no-forecast")));
    }
    if page.forecasts.iter().any(|forecast| forecast.stale) {
        lines.push(Line { bold: true, ..Line::plain(say!(language, "embed-stale")) });
    }
    for caution in words::warm_water(page) {
        // Set in bold, the letters are wider.
        let set = wrapped(&caution, LINE_LETTERS * 7 / 8);
        lines.extend(set.into_iter().map(|text| Line { bold: true, ..Line::plain(text) }));
    }
    for notice in told::lines(page, &query.reaches).iter().take(MOST_NOTICES) {
        lines.extend(wrapped(notice, LINE_LETTERS).into_iter().map(Line::plain));
    }
    let all = ahead::ahead(page, &query.reaches, &query.taxa);
    for reach in all.iter().take(MOST_REACHES) {
        let mut above = 1;
        for text in wrapped(&reach.name, LINE_LETTERS * 7 / 8) {
            lines.push(Line { size_px: 15, bold: true, above, ..Line::plain(text) });
            above = 0;
        }
        for day in &reach.days {
            let said: Vec<String> = day
                .insects
                .iter()
                .enumerate()
                .map(|(place, insect)| {
                    let before = place.checked_sub(1).and_then(|last| day.insects.get(last));
                    let word =
                        insect.likelihood_after(language, before).map(|word| format!("{word} ")).unwrap_or_default();
                    format!("{word}{} ({})", insect.name, insect.figures(language))
                })
                .collect();
            let said = if said.is_empty() { say!(language, "embed-nothing") } else { said.join("; ") };
            let text = format!("{}: {said}.", ahead::day_name(language, day.date, page.today));
            lines.extend(wrapped(&text, LINE_LETTERS).into_iter().map(Line::plain));
        }
    }
    if all.len() > MOST_REACHES {
        lines.push(Line::plain(say!(language, "embed-more-reaches", count = all.len() - MOST_REACHES)));
    }
    let mut above = 1;
    for text in wrapped(&ahead::question(page), LINE_LETTERS + 4) {
        lines.push(Line { size_px: 13, quiet: true, above, ..Line::plain(text) });
        above = 0;
    }
    lines
}

/// `text` without what XML cannot hold (XML 1.0, section 2.2).
fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c }).collect()
}

/// `text` in lines of at most `most` letters, broken between words, and inside those that are longer.
pub(in crate::http::pages) fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut letters = 0;
    for word in clean(text).split_whitespace() {
        let mut rest: Vec<char> = word.chars().collect();
        while !rest.is_empty() {
            let gap = usize::from(letters > 0);
            if letters > 0 && letters + gap + rest.len() > most {
                lines.push(String::new());
                letters = 0;
                continue;
            }
            let part: Vec<char> = rest.drain(..rest.len().min(most)).collect();
            if let Some(line) = lines.last_mut() {
                if gap == 1 {
                    line.push(' ');
                }
                line.extend(&part);
            }
            letters += gap + part.len();
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn lines_break_between_words_and_keep_every_letter() {
        assert_eq!(wrapped("Today: likely Ephemera danica", 14), ["Today: likely", "Ephemera", "danica"]);
        assert_eq!(wrapped("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(wrapped("a\u{7}b\r\nc", 9), ["a b c"]);
        assert_eq!(wrapped("", 9), [""]);
        for most in 1..40 {
            let text = "Very likely Paraleptophlebia submarginata (88 in 100, 15:30 to 19:30)";
            let lines = wrapped(text, most);
            assert!(lines.iter().all(|line| line.chars().count() <= most), "{most}: {lines:?}");
            assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        }
    }
}
