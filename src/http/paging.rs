//! Pages of collections under opaque cursors.
//!
//! A cursor holds the sort key of the last item seen and a digest that binds it to the filters, so
//! a cursor taken to other filters is refused. Rows that come and go between two pages neither
//! hide nor repeat the others.

use axum::http::{HeaderMap, HeaderName, HeaderValue};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;

use super::query::QueryReader;
use crate::app::digest::hex;
use crate::app::document::List;

/// Items on a page unless asked otherwise.
const DEFAULT_LIMIT: usize = 50;
/// More than this is cut down, not refused.
const MAX_LIMIT: usize = 500;

/// Where a page starts and how long it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Page {
    /// Most items.
    pub(crate) limit: usize,
    /// Sort key of the last item of the page before.
    pub(crate) after: Option<String>,
    /// Stands for the filters in force.
    filters: String,
}

impl Page {
    /// Reads `limit` and `cursor`; `filters` stands for all other parameters in force.
    pub(crate) fn read(reader: &mut QueryReader, filters: String) -> Self {
        let limit = reader
            .parsed("limit", "must be a whole number of at least 1", |text| {
                text.parse::<u64>().ok().filter(|limit| *limit > 0)
            })
            .map_or(DEFAULT_LIMIT, |limit| usize::try_from(limit).unwrap_or(MAX_LIMIT).min(MAX_LIMIT));
        let after =
            reader.parsed("cursor", "is not a cursor of this list with these filters", |text| decode(text, &filters));
        Self { limit, after, filters }
    }

    /// Cuts `items`, given with one more than `limit` when there are more, into a list. `path` is
    /// the absolute address without query, `key` the sort key of an item.
    pub(crate) fn list<T, D: ToSchema>(
        &self,
        mut items: Vec<T>,
        path: &str,
        key: impl Fn(&T) -> String,
        document: impl Fn(&T) -> D,
    ) -> (List<D>, HeaderMap) {
        let more = items.len() > self.limit;
        items.truncate(self.limit);
        let base = if self.filters.is_empty() { String::new() } else { format!("{}&", self.filters) };
        let first = format!("{path}?{base}limit={}", self.limit);
        let next =
            items.last().filter(|_| more).map(|last| format!("{first}&cursor={}", encode(&key(last), &self.filters)));
        let this = match &self.after {
            None => first.clone(),
            Some(after) => format!("{first}&cursor={}", encode(after, &self.filters)),
        };
        let mut links = vec![format!("<{first}>; rel=\"first\""), format!("<{this}>; rel=\"self\"")];
        links.extend(next.iter().map(|address| format!("<{address}>; rel=\"next\"")));
        let mut headers = HeaderMap::new();
        if let Ok(value) = HeaderValue::from_str(&links.join(", ")) {
            headers.insert(HeaderName::from_static("link"), value);
        }
        (List { items: items.iter().map(document).collect(), next }, headers)
    }

    /// The part of `sorted` (ascending by `key`) that this page shows, and one item more.
    pub(crate) fn slice<T: Clone>(&self, sorted: &[T], key: impl Fn(&T) -> String) -> Vec<T> {
        sorted
            .iter()
            .filter(|item| self.after.as_ref().is_none_or(|after| key(item) > *after))
            .take(self.limit + 1)
            .cloned()
            .collect()
    }
}

fn digest(key: &str, filters: &str) -> String {
    let hash = Sha256::new().chain_update(filters).chain_update([0]).chain_update(key).finalize();
    hex(&hash[..4])
}

fn encode(key: &str, filters: &str) -> String {
    hex(key.as_bytes()) + &digest(key, filters)
}

fn decode(cursor: &str, filters: &str) -> Option<String> {
    if !cursor.is_ascii() || cursor.len() > 512 {
        return None;
    }
    let (hex, check) = cursor.split_at_checked(cursor.len().checked_sub(8)?)?;
    let bytes: Option<Vec<u8>> = (0..hex.len())
        .step_by(2)
        .map(|at| hex.get(at..at + 2).and_then(|pair| u8::from_str_radix(pair, 16).ok()))
        .collect();
    let key = String::from_utf8(bytes?).ok()?;
    (digest(&key, filters) == check).then_some(key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cursors_come_back_whole_and_only_with_their_filters() {
        let cursor = encode("mill-meadow", "reach=a");
        assert_eq!(decode(&cursor, "reach=a").as_deref(), Some("mill-meadow"));
        assert_eq!(decode(&cursor, "reach=b"), None);
        assert_eq!(decode("", ""), None);
        assert_eq!(decode("zz00000000", ""), None);
    }
}
