//! What is wrong with an address, in the reader's language.

use maud::{Markup, html};

use super::words::in_english;
use crate::app::document::Fault;
use crate::words::Language;
use crate::{say, tell};

/// What is wrong. What only programs are told follows a general word in English, marked.
pub(super) fn told(language: Language, fault: &Fault) -> Markup {
    match fault.rule.as_ref().and_then(|rule| rule.told(language)) {
        Some(told) => html! { (told) },
        None if language == Language::English => html! { (fault.detail) },
        None => html! { (say!(language, "fault-other")) " " (in_english(language, &fault.detail)) },
    }
}

/// The same with the name that it has in the address.
pub(super) fn told_by_name(language: Language, fault: &Fault) -> Markup {
    let name = fault.parameter.as_deref().unwrap_or_default();
    tell!(language, "fault-at", name = name, fault = told(language, fault))
}
