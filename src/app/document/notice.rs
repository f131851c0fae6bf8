//! Keepers' notices.

use chrono::{DateTime, NaiveDate, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::time::optional_date;
use super::{Faults, Input};
use crate::domain::notice::{check_days, check_words};
use crate::domain::{Audience, Notice, Slug};

/// What a keeper tells those who come to the water.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NoticeDocument {
    /// Identifier.
    pub id: Uuid,
    /// Reach slug; null for the whole watershed.
    #[schema(required, example = "mill-meadow")]
    pub reach: Option<String>,
    /// Plain text.
    #[schema(example = "Weed is cut on Tuesday: expect coloured water.")]
    pub text: String,
    /// First local day on which it holds.
    pub from_date: NaiveDate,
    /// Last local day on which it holds.
    pub until_date: NaiveDate,
    /// Who is shown it: `everyone`, or `members` (holders of a token or of a secret feed address).
    #[schema(example = "everyone")]
    pub audience: &'static str,
    /// When it last changed.
    pub changed_at: DateTime<Utc>,
}

impl From<&Notice> for NoticeDocument {
    fn from(notice: &Notice) -> Self {
        Self {
            id: notice.id,
            reach: notice.reach.as_ref().map(Slug::to_string),
            text: notice.words.clone(),
            from_date: notice.from,
            until_date: notice.until,
            audience: notice.audience.as_str(),
            changed_at: notice.changed_at,
        }
    }
}

/// A notice to make or change.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct NoticeInput {
    /// Reach slug; left out for the whole watershed.
    #[garde(skip)]
    #[schema(pattern = "^[A-Za-z0-9_-]{1,64}$", example = "mill-meadow")]
    pub reach: Option<String>,
    /// Plain text without markup.
    #[garde(required)]
    #[schema(value_type = String, min_length = 1, max_length = 500,
        example = "Weed is cut on Tuesday: expect coloured water.")]
    pub text: Option<String>,
    /// First local day on which it holds.
    #[serde(deserialize_with = "optional_date")]
    #[garde(required)]
    #[schema(value_type = NaiveDate, example = "2026-05-26")]
    pub from_date: Option<NaiveDate>,
    /// Last local day on which it holds, at most 365 days later.
    #[serde(deserialize_with = "optional_date")]
    #[garde(required)]
    #[schema(value_type = NaiveDate, example = "2026-05-28")]
    pub until_date: Option<NaiveDate>,
    /// Who is shown it: `everyone` when left out, or `members`.
    #[garde(skip)]
    #[schema(pattern = "^(everyone|members)$", example = "everyone")]
    pub audience: Option<String>,
}

impl From<&Notice> for NoticeInput {
    fn from(notice: &Notice) -> Self {
        Self {
            reach: notice.reach.as_ref().map(Slug::to_string),
            text: Some(notice.words.clone()),
            from_date: Some(notice.from),
            until_date: Some(notice.until),
            audience: Some(notice.audience.as_str().to_owned()),
        }
    }
}

/// What a notice says, checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoticeWords {
    /// The reach; `None` for the whole watershed.
    pub reach: Option<Slug>,
    /// Plain text.
    pub words: String,
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub until: NaiveDate,
    /// Who is shown it.
    pub audience: Audience,
}

impl Input for NoticeInput {
    type Domain = NoticeWords;

    fn into_domain(self, faults: &mut Faults) -> Option<NoticeWords> {
        let reach = faults.check_optional("#/reach", self.reach, |text| Slug::new(&text));
        let words = self.text.and_then(|text| faults.check("#/text", check_words(&text)));
        let audience = faults.check_optional("#/audience", self.audience, |text| Audience::parse(&text));
        let days = match (self.from_date, self.until_date) {
            (Some(from), Some(until)) => faults.check("#/until_date", check_days(from, until)).map(|()| (from, until)),
            _ => None,
        };
        let (from, until) = days?;
        Some(NoticeWords {
            reach: reach?,
            words: words?,
            from,
            until,
            audience: audience?.unwrap_or(Audience::Everyone),
        })
    }
}
