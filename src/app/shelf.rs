//! Published forecasts in memory: those of each reach together, within a byte budget.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::snapshot::Block;
use crate::domain::Slug;
use crate::store::{StoreError, Tx, forecast};

/// Keys of watershed and reach.
pub(super) type BlockKey = (String, String);

/// A block with what it was read from.
#[derive(Debug, Clone)]
pub(super) struct Shelved {
    pub(super) block: Block,
    /// Length of the documents as stored.
    pub(super) bytes: usize,
    /// Entity tags of the documents, in order.
    pub(super) tags: Arc<[String]>,
}

/// Entity tags of everything published for a watershed, by key of the reach.
#[derive(Debug, Default)]
pub(super) struct Tags(HashMap<String, Vec<String>>);

impl Tags {
    /// Those of `watershed`.
    ///
    /// # Errors
    /// [`StoreError`] of the database.
    pub(super) async fn read(tx: &mut Tx, watershed: &Slug) -> Result<Self, StoreError> {
        let mut tags = Self::default();
        for (reach, tag) in forecast::forecast_tags(tx, watershed).await? {
            tags.0.entry(reach.key()).or_default().push(tag);
        }
        Ok(tags)
    }

    /// Those of `reach`, in the order of its documents.
    pub(super) fn of(&self, reach: &Slug) -> &[String] {
        self.0.get(&reach.key()).map_or(&[], Vec::as_slice)
    }

    /// True when nothing is published.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Blocks of forecasts within a byte budget, least recently used out first.
#[derive(Debug)]
pub(super) struct Shelf {
    budget: usize,
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    /// With the count of uses at the last of each.
    blocks: HashMap<BlockKey, (Shelved, u64)>,
    bytes: usize,
    uses: u64,
}

impl Shelf {
    pub(super) fn new(budget: usize) -> Self {
        Self { budget, inner: Mutex::default() }
    }

    pub(super) fn get(&self, key: &BlockKey) -> Option<Block> {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.uses += 1;
        let uses = inner.uses;
        let (shelved, used) = inner.blocks.get_mut(key)?;
        *used = uses;
        Some(Arc::clone(&shelved.block))
    }

    /// The block, if it is here and its documents have these `tags`.
    pub(super) fn unchanged(&self, key: &BlockKey, tags: &[String]) -> Option<Shelved> {
        let inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.blocks.get(key).map(|(shelved, _)| shelved).filter(|shelved| *shelved.tags == *tags).cloned()
    }

    /// Shelves a block, making room; one larger than the whole budget is not kept.
    pub(super) fn put(&self, key: BlockKey, shelved: Shelved) {
        if shelved.bytes > self.budget {
            return;
        }
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.uses += 1;
        let uses = inner.uses;
        inner.bytes += shelved.bytes;
        if let Some((old, _)) = inner.blocks.insert(key, (shelved, uses)) {
            inner.bytes -= old.bytes;
        }
        while inner.bytes > self.budget {
            let Some(oldest) = inner.blocks.iter().min_by_key(|(_, (_, used))| *used).map(|(key, _)| key.clone())
            else {
                break;
            };
            if let Some((freed, _)) = inner.blocks.remove(&oldest) {
                inner.bytes -= freed.bytes;
            }
        }
    }

    pub(super) fn has_room_for(&self, bytes: usize) -> bool {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner).bytes + bytes <= self.budget
    }
}
