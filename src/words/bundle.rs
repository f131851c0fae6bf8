//! The messages of each language, read once.

use std::sync::LazyLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource};

use super::Language;

type Bundle = FluentBundle<FluentResource>;

/// The files of a language, one for each feature; every language has the same.
macro_rules! files {
    ($language:literal) => {
        &[
            include_str!(concat!($language, "/about.ftl")),
            include_str!(concat!($language, "/dates.ftl")),
            include_str!(concat!($language, "/digest.ftl")),
            include_str!(concat!($language, "/embed.ftl")),
            include_str!(concat!($language, "/faults.ftl")),
            include_str!(concat!($language, "/feed.ftl")),
            include_str!(concat!($language, "/guidance.ftl")),
            include_str!(concat!($language, "/insects.ftl")),
            include_str!(concat!($language, "/layout.ftl")),
            include_str!(concat!($language, "/report.ftl")),
            include_str!(concat!($language, "/season.ftl")),
            include_str!(concat!($language, "/seen.ftl")),
            include_str!(concat!($language, "/skill.ftl")),
            include_str!(concat!($language, "/tables.ftl")),
            include_str!(concat!($language, "/taxon.ftl")),
            include_str!(concat!($language, "/water.ftl")),
            include_str!(concat!($language, "/watershed.ftl")),
            include_str!(concat!($language, "/words.ftl")),
        ]
    };
}

const ENGLISH: &[&str] = files!("en");
const GERMAN: &[&str] = files!("de");

static IN_ENGLISH: LazyLock<Bundle> = LazyLock::new(|| read("en", ENGLISH));
static IN_GERMAN: LazyLock<Bundle> = LazyLock::new(|| read("de", GERMAN));

/// The messages of `files`. What cannot be read is left out: a test finds it before anyone reads a page.
fn read(tag: &str, files: &[&str]) -> Bundle {
    let mut bundle = Bundle::new_concurrent(vec![tag.parse().unwrap_or_default()]);
    // The marks that part left-to-right from right-to-left text are of no use to these languages, and no feed may
    // hold them.
    bundle.set_use_isolating(false);
    for text in files {
        let resource = FluentResource::try_new((*text).to_owned()).unwrap_or_else(|(resource, _)| resource);
        bundle.add_resource_overriding(resource);
    }
    bundle
}

fn of(language: Language) -> &'static Bundle {
    match language {
        Language::English | Language::Marked => &IN_ENGLISH,
        Language::German => &IN_GERMAN,
    }
}

/// The name of the message for `word` of `family`.
pub(super) fn key(family: &str, word: &str) -> String {
    let parts = word.split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
    let mut key = family.to_owned();
    for part in parts {
        key.push('-');
        key.push_str(&part.to_ascii_lowercase());
    }
    key
}

/// True where `language` has the message `key`.
pub(super) fn knows(language: Language, key: &str) -> bool {
    of(language).has_message(key)
}

/// The message `key`; in English where `language` does not have it, and its name where none has.
pub(super) fn message(language: Language, key: &str, args: &FluentArgs<'_>) -> String {
    let found =
        [of(language), &*IN_ENGLISH].into_iter().find_map(|bundle| Some((bundle, bundle.get_message(key)?.value()?)));
    let Some((bundle, pattern)) = found else {
        tracing::error!(key, "a message is missing");
        return key.to_owned();
    };
    let mut errors = Vec::new();
    let text = bundle.format_pattern(pattern, Some(args), &mut errors).into_owned();
    if !errors.is_empty() {
        tracing::error!(key, ?errors, "a message was not given what it asks for");
    }
    text
}
