//! Pages of collections under opaque cursors.
//!
//! A cursor holds the sort key of the last item seen, or of the first when the way back is asked
//! for, and a digest that binds it to the filters, so that a cursor taken to other filters is
//! refused. Rows that come and go between two pages neither hide nor repeat the others.

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
/// Shortest and longest cursor, characters: one of the key at least, and what keys may grow to.
const CURSOR_LENGTH: std::ops::RangeInclusive<usize> = 12..=512;

/// Where a page lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Place {
    /// At the beginning of the list.
    First,
    /// Next after the item of this sort key.
    After(String),
    /// Last before the item of this sort key.
    Before(String),
}

/// Where a page lies and how long it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Page {
    /// Most items.
    pub(crate) limit: usize,
    /// Where it lies.
    pub(crate) place: Place,
    /// Stands for the filters in force.
    filters: String,
}

impl Page {
    /// Reads `limit` and `cursor`; `filters` stands for all other parameters in force.
    pub(crate) fn read(reader: &mut QueryReader, filters: String) -> Self {
        let limit = reader
            .parsed("limit", "must be a whole number of at least 1", |text| {
                let digits = text.bytes().all(|byte| byte.is_ascii_digit()) && text.bytes().any(|byte| byte != b'0');
                // More digits than a number holds are more than the most.
                digits.then(|| text.parse::<usize>().unwrap_or(MAX_LIMIT))
            })
            .map_or(DEFAULT_LIMIT, |limit| limit.min(MAX_LIMIT));
        let place = reader
            .parsed("cursor", "is not a cursor of this list with these filters", |text| decode(text, &filters))
            .unwrap_or(Place::First);
        Self { limit, place, filters }
    }

    /// Cuts `items`, given with one more than `limit` on the side the page leads to when there are
    /// more, into a list. `path` is the absolute address without query, `key` the sort key of an item.
    pub(crate) fn list<T, D: ToSchema>(
        &self,
        mut items: Vec<T>,
        path: &str,
        key: impl Fn(&T) -> String,
        document: impl Fn(&T) -> D,
    ) -> (List<D>, HeaderMap) {
        let more = items.len() > self.limit;
        let back = matches!(self.place, Place::Before(_));
        if back && more {
            items.remove(0);
        }
        items.truncate(self.limit);
        let at = |place: &Place| self.address_of(path, place);
        let first = at(&Place::First);
        // Whoever came by a cursor can go back the way; nothing behind the way back is the beginning.
        let (goes_on, goes_back) = if back { (true, more) } else { (more, self.place != Place::First) };
        let after = items.last().map_or(Place::First, |item| Place::After(key(item)));
        let next = goes_on.then(|| at(&after));
        let before = items.first().filter(|_| goes_back);
        let prev = before.map(|item| at(&Place::Before(key(item))));
        let this = at(&self.place);
        let mut links = vec![format!("<{first}>; rel=\"first\""), format!("<{this}>; rel=\"self\"")];
        links.extend(prev.iter().map(|address| format!("<{address}>; rel=\"prev\"")));
        links.extend(next.iter().map(|address| format!("<{address}>; rel=\"next\"")));
        let mut headers = HeaderMap::new();
        if let Ok(value) = HeaderValue::from_str(&links.join(", ")) {
            headers.insert(HeaderName::from_static("link"), value);
        }
        (List { items: items.iter().map(document).collect(), next, prev }, headers)
    }

    /// The address of this page of the list at `path`.
    pub(crate) fn address(&self, path: &str) -> String {
        self.address_of(path, &self.place)
    }

    fn address_of(&self, path: &str, place: &Place) -> String {
        let base = if self.filters.is_empty() { String::new() } else { format!("{}&", self.filters) };
        let first = format!("{path}?{base}limit={}", self.limit);
        match encode(place, &self.filters) {
            None => first,
            Some(cursor) => format!("{first}&cursor={cursor}"),
        }
    }

    /// What of the items given by [`Self::slice`] stands on the page.
    pub(crate) fn shown<'a, T>(&self, items: &'a [T]) -> &'a [T] {
        let more = items.len().saturating_sub(self.limit);
        if matches!(self.place, Place::Before(_)) { &items[more..] } else { &items[..items.len() - more] }
    }

    /// The part of `sorted` (ascending by `key`) that this page shows, and one item more on the side it
    /// leads to.
    pub(crate) fn slice<T: Clone>(&self, sorted: &[T], key: impl Fn(&T) -> String) -> Vec<T> {
        let most = self.limit + 1;
        let (from, to) = match &self.place {
            Place::First => (0, sorted.len()),
            Place::After(last) => (sorted.partition_point(|item| key(item) <= *last), sorted.len()),
            Place::Before(first) => (0, sorted.partition_point(|item| key(item) < *first)),
        };
        match self.place {
            Place::Before(_) => sorted[to.saturating_sub(most).max(from)..to].to_vec(),
            _ => sorted[from..to.min(from + most)].to_vec(),
        }
    }
}

fn digest(said: &str, filters: &str) -> String {
    let hash = Sha256::new().chain_update(filters).chain_update([0]).chain_update(said).finalize();
    hex(&hash[..4])
}

/// The cursor of `place`; the beginning needs none.
fn encode(place: &Place, filters: &str) -> Option<String> {
    let said = match place {
        Place::First => return None,
        Place::After(key) => format!(">{key}"),
        Place::Before(key) => format!("<{key}"),
    };
    Some(hex(said.as_bytes()) + &digest(&said, filters))
}

fn decode(cursor: &str, filters: &str) -> Option<Place> {
    let lower = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
    if !CURSOR_LENGTH.contains(&cursor.len()) || !cursor.bytes().all(lower) {
        return None;
    }
    let (hex, check) = cursor.split_at_checked(cursor.len() - 8)?;
    let bytes: Option<Vec<u8>> = (0..hex.len())
        .step_by(2)
        .map(|at| hex.get(at..at + 2).and_then(|pair| u8::from_str_radix(pair, 16).ok()))
        .collect();
    let said = String::from_utf8(bytes?).ok().filter(|said| digest(said, filters) == check)?;
    let key = said.get(1..)?.to_owned();
    match said.as_bytes().first() {
        Some(b'>') => Some(Place::After(key)),
        Some(b'<') => Some(Place::Before(key)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cursors_come_back_whole_and_only_with_their_filters() {
        for place in [Place::After("mill-meadow".to_owned()), Place::Before("m".to_owned())] {
            let cursor = encode(&place, "reach=a").expect("a cursor");
            assert!(CURSOR_LENGTH.contains(&cursor.len()));
            assert_eq!(decode(&cursor, "reach=a"), Some(place));
            assert_eq!(decode(&cursor, "reach=b"), None);
            assert_eq!(decode(&cursor.to_uppercase(), "reach=a"), None);
        }
        for wrong in ["", "zz00000000", "zzzz00000000"] {
            assert_eq!(decode(wrong, ""), None);
        }
    }
}
