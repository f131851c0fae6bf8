//! Several visits that a file does not tell apart: two on one day at one reach, written without hours or number.

use std::collections::HashMap;

use crate::domain::Record;

/// Numbers the rows of a file that speak of one record, where a keeper says that they are visits of their own.
#[derive(Debug)]
pub(super) struct Visits {
    separate: bool,
    of_key: HashMap<String, u32>,
}

impl Visits {
    /// Without `separate` nothing is numbered.
    pub(super) fn new(separate: bool) -> Self {
        Self { separate, of_key: HashMap::new() }
    }

    /// Gives the second and later ones an identifier. The first stays as it is: so it is the record that the same
    /// file makes without a keeper's word. What has an identifier of its own is left alone.
    pub(super) fn number(&mut self, record: &mut Record) {
        if !self.separate || record.external_id.is_some() {
            return;
        }
        let key = record.key();
        let number = self.of_key.entry(key.clone()).or_default();
        *number += 1;
        if *number > 1 {
            record.external_id = Some(format!("visit {number} {key}"));
        }
    }
}
