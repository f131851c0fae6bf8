//! The answer to "what did I just see?" in words.

use crate::app::called::called;
use crate::domain::{Colour, Taxon, WingsHeld};
use crate::model::guidance::seen::{Because, Hour, Look, Place, Ranking, SignKind, tails_of, way_of_order};
use crate::say;
use crate::words::Language;

/// Who tells what was seen.
#[derive(Debug, Clone, Copy, Default)]
pub struct SeenSpeaker {
    /// The language.
    pub language: Language,
}

impl SeenSpeaker {
    /// Why, in words.
    pub(super) fn because(self, because: &Because) -> String {
        let language = self.language;
        match because {
            Because::Length { mm, place, own } => {
                let (mm, own) = (language.plain_number(*mm), self.lengths(*own));
                match place {
                    Place::Shorter => say!(language, "seen-length-shorter", mm = mm, own = own),
                    Place::Within => say!(language, "seen-length-within", mm = mm, own = own),
                    Place::Longer => say!(language, "seen-length-longer", mm = mm, own = own),
                }
            }
            Because::Tails { other: None, own } => say!(language, "seen-tails", own = self.tails(own)),
            Because::Tails { other: Some(0), own } => say!(language, "seen-tails-none", own = self.tails(own)),
            Because::Tails { other: Some(count), own } => {
                say!(language, "seen-tails-other", count = self.tails(&[*count]), own = self.tails(own))
            }
            Because::Wings { order, so: true, held } => {
                say!(
                    language,
                    "seen-wings-so",
                    order = language.of_table("order", order, order),
                    held = self.held(*held)
                )
            }
            Because::Wings { order, so: false, held } => {
                say!(
                    language,
                    "seen-wings-hardly",
                    order = language.of_table("order", order, order),
                    held = self.held(*held)
                )
            }
            Because::Colours { part, other, own } => self.of_colours(*part, other, own),
            Because::Forecast(any, hour) => {
                let hour = match hour {
                    Hour::NotTold => String::new(),
                    Hour::OfFlight => say!(language, "seen-hour-flight"),
                    Hour::Its => say!(language, "seen-hour-its"),
                    Hour::NotIts => say!(language, "seen-hour-not-its"),
                    Hour::Unknown => say!(language, "seen-hour-unknown"),
                };
                let chance = match (100.0 * any).round() {
                    whole if whole < 1.0 => say!(language, "seen-less-than-1"),
                    whole if whole > 99.0 => say!(language, "seen-more-than-99"),
                    whole => format!("{whole:.0}"),
                };
                say!(language, "seen-forecast", chance = chance, hour = hour)
            }
            Because::NotForecast => say!(language, "seen-not-forecast"),
        }
    }

    /// What to look at next, in words.
    pub(super) fn look_next(self, ranking: &Ranking<'_>) -> Vec<String> {
        let language = self.language;
        let two = ranking.taxa.first().zip(ranking.taxa.get(1));
        let said = |look: &Look| match (look, two) {
            (Look::NothingFits, _) => Some(say!(language, "seen-look-nothing-fits")),
            (Look::AtSeveral, _) => Some(say!(language, "seen-look-several")),
            (Look::At(kind), Some((first, second))) => Some(self.ask(*kind, first.taxon, second.taxon)),
            (Look::NothingParts, Some((first, second))) => {
                let (first, second) = (self.name(first.taxon), self.name(second.taxon));
                Some(say!(language, "seen-look-nothing-parts", first = first, second = second))
            }
            (Look::At(_) | Look::NothingParts, None) => None,
        };
        ranking.look_next.iter().filter_map(said).collect()
    }

    fn ask(self, kind: SignKind, first: &Taxon, second: &Taxon) -> String {
        let language = self.language;
        let each = |of: &dyn Fn(&Taxon) -> String| {
            let (first_name, second_name) = (self.name(first), self.name(second));
            format!("{first_name}: {}; {second_name}: {}", of(first), of(second))
        };
        let tails = |taxon: &Taxon| tails_of(taxon).map(|(tails, _)| self.tails(tails)).unwrap_or_default();
        let length = |taxon: &Taxon| taxon.body_mm.map(|own| self.lengths(own)).unwrap_or_default();
        let held = |taxon: &Taxon| self.held(way_of_order(taxon));
        match kind {
            SignKind::Tails => say!(language, "seen-ask-tails", each = each(&tails)),
            SignKind::Wings => say!(language, "seen-ask-wings", each = each(&held)),
            SignKind::Length => say!(language, "seen-ask-length", each = each(&length)),
            SignKind::Body => {
                say!(language, "seen-ask-body", each = each(&|taxon: &Taxon| self.colours(&taxon.looks.body)))
            }
            SignKind::WingColour => {
                say!(language, "seen-ask-wing-colour", each = each(&|taxon: &Taxon| self.colours(&taxon.looks.wings)))
            }
        }
    }

    fn of_colours(self, part: SignKind, other: &[Colour], own: &[Colour]) -> String {
        let (language, seen, own) = (self.language, self.colours(other), self.colours(own));
        match (part == SignKind::WingColour, other.is_empty()) {
            (false, true) => say!(language, "seen-body", own = own),
            (false, false) => say!(language, "seen-body-other", seen = seen, own = own),
            (true, true) => say!(language, "seen-wing-colour", own = own),
            (true, false) => say!(language, "seen-wing-colour-other", seen = seen, own = own),
        }
    }

    fn name(self, taxon: &Taxon) -> String {
        called(self.language, taxon).to_string()
    }

    fn lengths(self, (from, to): (f64, f64)) -> String {
        let language = self.language;
        say!(language, "units-lengths", from = language.plain_number(from), to = language.plain_number(to))
    }

    fn tails(self, tails: &[u8]) -> String {
        let words: Vec<String> = tails.iter().map(|count| self.language.word("tails", &count.to_string())).collect();
        words.join(&say!(self.language, "seen-or"))
    }

    fn held(self, held: WingsHeld) -> String {
        self.language.word("held", held.as_str())
    }

    fn colours(self, colours: &[Colour]) -> String {
        let words: Vec<String> = colours.iter().map(|colour| self.language.word("colour", colour.as_str())).collect();
        words.join(", ")
    }
}
