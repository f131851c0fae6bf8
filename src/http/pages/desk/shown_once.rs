//! Secrets that are made at the desk and shown once.

use maud::{Markup, html};
use serde_json::Value;
use uuid::Uuid;

use super::form::Form;
use super::frame::mark;
use super::session::AtWater;
use crate::app::AppError;
use crate::app::once::{Answer, Once};

/// A secret that is shown this once.
pub(super) struct Shown {
    /// What it is.
    pub(super) what: &'static str,
    /// What to do with it.
    pub(super) advice: String,
    /// The secret, perhaps in several forms.
    pub(super) secrets: Vec<String>,
}

impl Shown {
    /// The secret in `members` of an answer.
    ///
    /// # Errors
    /// When it is not there.
    pub(super) fn of(answer: &Answer, members: &[&str], what: &'static str, advice: String) -> Result<Self, AppError> {
        let body: Value = serde_json::from_str(&answer.body).map_err(|error| AppError::Internal(error.to_string()))?;
        let one = |member: &&str| {
            let secret = body[*member].as_str().map(str::to_owned);
            secret.ok_or_else(|| AppError::Internal(format!("an answer without {member}")))
        };
        let secrets = members.iter().map(one).collect::<Result<_, _>>()?;
        Ok(Self { what, advice, secrets })
    }

    /// The secret on its page.
    pub(super) fn drawn(&self) -> Markup {
        html! {
            div.secret role="status" {
                h2 { (self.what) ", shown this once" }
                @for secret in &self.secrets { code { (secret) } }
                p { (self.advice) " It is kept nowhere: write it down now." }
            }
        }
    }
}

/// The form carries a key of its own, so that a page that is sent again makes nothing a second time.
pub(super) fn once(who: &AtWater, form: &Form, route: &str) -> Once {
    Once {
        token_id: who.signed.token.id,
        route: format!("desk {route}"),
        key: Some(form.text("key").to_owned()).filter(|key| !key.is_empty()),
        fingerprint: String::new(),
    }
}

/// The hidden fields of form `of`; with a key of its own where it makes something.
pub(super) fn hidden(who: &AtWater, of: &str, makes: bool) -> Markup {
    html! {
        (mark(&who.signed))
        input type="hidden" name="form" value=(of);
        @if makes { input type="hidden" name="key" value=(Uuid::new_v4()); }
    }
}

/// A button that ends one thing, with its name for those who do not see the row.
pub(super) fn end_button(who: &AtWater, address: &str, of: &str, id: Uuid, does: &str, name: &str) -> Markup {
    html! {
        form method="post" action=(address) {
            (hidden(who, of, false))
            input type="hidden" name="id" value=(id);
            button type="submit" { (does) span.unseen { " " (name) } }
        }
    }
}
