//! Settings of exported archives.

use serde::Deserialize;

/// What an exported archive says of itself.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ArchiveSettings {
    /// `cc0`, `cc-by`, `cc-by-nc`, or the address of another licence; empty: to be given with each export.
    pub license: String,
    /// Who holds the rights, such as a club's name; empty: to be given with each export.
    pub rights_holder: String,
    /// Name of the dataset; empty: made from the watershed's name.
    pub dataset_name: String,
}
