//! The arguments of `import records`. The words here are the help that users read.

use clap::Args;

use super::args::TableArgs;

/// `import records`.
#[derive(Debug, Args)]
pub(super) struct RecordsArgs {
    #[command(flatten)]
    pub(super) table: TableArgs,
    /// Rows without an id that speak of the same record (reach, taxon, days, hours, ...) are visits, or traps, of
    /// their own, in the order of the file; without this a second one that says something else is a fault. The
    /// file must then keep that order when it comes again
    #[arg(long, conflicts_with = "best_effort")]
    pub(super) separate_visits: bool,
    #[command(flatten)]
    pub(super) rights: RightsArgs,
}

/// On what terms records may be passed on.
#[derive(Debug, Args)]
pub(super) struct RightsArgs {
    /// Licence under which the records may be passed on, by name or address; told in exports
    #[arg(long, value_name = "TEXT")]
    pub(super) licence: Option<String>,
    /// How to cite the records; told in exports
    #[arg(long, value_name = "TEXT")]
    pub(super) citation: Option<String>,
}
