//! What the form's script says, given to it with the page: messages whose arguments stand as `{name}`.

use serde_json::{Map, Value};

use super::{STAGES, words};
use crate::domain::report::Stage;
use crate::http::pages::units::Units;
use crate::say;
use crate::words::Language;

/// The messages as a JSON object.
pub(super) fn of(language: Language, units: Units) -> String {
    let mut all: Map<String, Value> =
        messages(language).into_iter().map(|(key, text)| (key.to_owned(), text.into())).collect();
    // The rule of the scale that the form does not ask in.
    all.remove(if units == Units::Fahrenheit { "celsius-rule" } else { "fahrenheit-rule" });
    for stage in STAGES.map(Stage::as_str) {
        all.insert(format!("stage-{stage}"), language.word("stage", stage).into());
    }
    for class in words::CLASSES {
        all.insert(format!("class-{class}"), language.word("class", class).into());
    }
    Value::Object(all).to_string()
}

fn messages(language: Language) -> Vec<(&'static str, String)> {
    vec![
        ("not-kept", say!(language, "script-not-kept", error = "{error}")),
        ("kept", say!(language, "script-kept")),
        ("refused", say!(language, "script-refused")),
        ("waits-since", say!(language, "script-waits-since", time = "{time}")),
        ("edit", say!(language, "script-edit")),
        ("other-form", say!(language, "script-other-form")),
        ("delete", say!(language, "script-delete")),
        ("sent", say!(language, "script-sent", report = "{report}")),
        ("sent-other", say!(language, "script-sent-other", count = "{count}")),
        ("waiting-one", say!(language, "script-waiting-one", count = "{count}", time = "{time}")),
        ("waiting-other", say!(language, "script-waiting-other", count = "{count}", time = "{time}")),
        ("token-refused", say!(language, "script-token-refused", reasons = "{reasons}")),
        ("token-needed", say!(language, "script-token-needed")),
        ("sends-itself", say!(language, "script-sends-itself")),
        ("refused-count", say!(language, "script-refused-count", count = "{count}")),
        ("nothing-waits", say!(language, "script-nothing-waits")),
        ("copied-report", say!(language, "script-copied-report", id = "{id}")),
        ("copied", say!(language, "script-copied")),
        ("token-shape", say!(language, "script-token-shape")),
        ("token-kept", say!(language, "script-token-kept")),
        ("token-forgotten", say!(language, "script-token-forgotten")),
        ("only-form-of", say!(language, "script-only-form-of", water = "{water}")),
        ("no-https", say!(language, "script-no-https")),
        ("keeps-nothing", say!(language, "script-keeps-nothing", error = "{error}")),
        ("code-needed", say!(language, "script-code-needed")),
        ("name-needed", say!(language, "script-name-needed")),
        ("no-answer", say!(language, "script-no-answer")),
        ("welcome", say!(language, "script-welcome", name = "{name}")),
        ("welcome-other", say!(language, "script-welcome-other", water = "{water}")),
        ("join-again", say!(language, "script-join-again")),
        ("last-two-hours", say!(language, "script-last-two-hours")),
        ("no-date", say!(language, "script-no-date")),
        ("span", say!(language, "script-span", date = "{date}", from = "{from}", to = "{to}")),
        ("insect", say!(language, "script-insect")),
        ("insect-number", say!(language, "script-insect-number", number = "{number}")),
        ("choose-insect", say!(language, "script-choose-insect")),
        ("length-rule", say!(language, "script-length-rule")),
        ("colour-rule", say!(language, "script-colour-rule")),
        ("choose-stage", say!(language, "script-choose-stage")),
        ("choose-class", say!(language, "script-choose-class")),
        ("unnamed", say!(language, "script-unnamed", length = "{length}", colour = "{colour}")),
        ("pads-light", say!(language, "script-pads-light")),
        ("pads-dark", say!(language, "script-pads-dark")),
        ("nothing-seen", say!(language, "script-nothing-seen")),
        ("looked-for", say!(language, "script-looked-for")),
        ("people", say!(language, "script-people", count = "{count}")),
        ("water", say!(language, "script-water", temperature = "{temperature}")),
        ("note", say!(language, "script-note", note = "{note}")),
        ("fahrenheit-rule", say!(language, "script-fahrenheit-rule")),
        ("celsius-rule", say!(language, "script-celsius-rule")),
        ("choose-reach", say!(language, "script-choose-reach")),
        ("date-needed", say!(language, "script-date-needed")),
        ("time-needed", say!(language, "script-time-needed")),
        ("end-differs", say!(language, "script-end-differs")),
        ("end-in-future", say!(language, "script-end-in-future")),
        ("seen-needed", say!(language, "script-seen-needed")),
        ("only-needed", say!(language, "script-only-needed")),
        ("people-rule", say!(language, "script-people-rule")),
        ("count-rule", say!(language, "script-count-rule")),
        ("with-photo", say!(language, "script-with-photo")),
        ("photo-waits-since", say!(language, "script-photo-waits-since", time = "{time}")),
        ("photo-goes", say!(language, "script-photo-goes", size = "{size}")),
        ("photo-unread", say!(language, "script-photo-unread")),
        ("photo-kind", say!(language, "script-photo-kind")),
        ("photo-damaged", say!(language, "script-photo-damaged")),
        ("photo-large", say!(language, "script-photo-large")),
        ("refusal-unknown", say!(language, "script-refusal-unknown")),
        ("refusal-code", say!(language, "script-refusal-code")),
        ("refusal-token", say!(language, "script-refusal-token")),
        ("refusal-water", say!(language, "script-refusal-water")),
        ("refusal-stored", say!(language, "script-refusal-stored")),
        ("refusal-gone", say!(language, "script-refusal-gone")),
        ("refusal-wait", say!(language, "script-refusal-wait")),
        ("refusal-other", say!(language, "script-refusal-other")),
        ("photo-refused", say!(language, "script-photo-refused", reason = "{reason}")),
        ("changed-meanwhile", say!(language, "script-changed-meanwhile")),
        ("asked-one", say!(language, "script-asked-one")),
        ("asked-other", say!(language, "script-asked-other", count = "{count}")),
        ("state-new", say!(language, "script-state-new")),
        ("state-accepted", say!(language, "script-state-accepted")),
        ("state-needs-info", say!(language, "script-state-needs-info", reason = "{reason}")),
        ("state-rejected", say!(language, "script-state-rejected", reason = "{reason}")),
        ("no-reason", say!(language, "script-no-reason")),
        ("answer-waits", say!(language, "script-answer-waits")),
        ("change", say!(language, "script-change")),
        ("near-looking", say!(language, "script-near-looking")),
        ("near-no-places", say!(language, "script-near-no-places")),
        ("near-far", say!(language, "script-near-far", reach = "{reach}", km = "{km}")),
        ("near-found", say!(language, "script-near-found", reach = "{reach}", away = "{away}")),
        ("near-rough", say!(language, "script-near-rough", reach = "{reach}", away = "{away}", km = "{km}")),
        ("near-none", say!(language, "script-near-none")),
    ]
}
