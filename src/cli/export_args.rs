//! Arguments of `export` and of `import archive`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::args::{ImportArgs, slug};
use super::readings_args::quantity;
use super::records_args::RightsArgs;
use crate::app::export::{Readings, Vocabulary};
use crate::domain::{Quantity, Slug};

/// `export`.
#[derive(Debug, Subcommand)]
pub(super) enum ExportCommand {
    /// Visits, trap catches and first sightings, in the form in which they are imported
    Records(TableOutArgs),
    /// Accepted reports as visits in the form of records, for use elsewhere
    Reports(TableOutArgs),
    /// Water temperatures or another quantity, in the form in which they are imported
    Readings(ReadingsOutArgs),
    /// What everyone may know, as a Darwin Core archive: places on a grid, no observers
    Archive(ArchiveOutArgs),
}

/// Form of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum FormatArg {
    /// Comma-separated values.
    Csv,
}

/// `export records` and `export reports`.
#[derive(Debug, Args)]
pub(super) struct TableOutArgs {
    /// The watershed
    #[arg(long, value_name = "W", value_parser = slug)]
    pub(super) watershed: Slug,
    /// The file to write [default: standard output]
    #[arg(long, value_name = "FILE.csv")]
    pub(super) out: Option<PathBuf>,
    /// Form of the file
    #[arg(long, value_enum, default_value = "csv")]
    pub(super) format: FormatArg,
}

/// `export readings`.
#[derive(Debug, Args)]
pub(super) struct ReadingsOutArgs {
    #[command(flatten)]
    pub(super) table: TableOutArgs,
    /// Only this gauge
    #[arg(long, value_name = "G", value_parser = slug)]
    pub(super) gauge: Option<Slug>,
    /// What was measured: water_temperature, air_temperature, discharge, level, clarity or ice
    #[arg(long, value_name = "WORD", value_parser = quantity, default_value = "water_temperature")]
    pub(super) quantity: Quantity,
    /// Readings by local day, or those at instants
    #[arg(long, value_enum, default_value = "day")]
    pub(super) step: StepArg,
}

/// Which readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum StepArg {
    /// By local day.
    Day,
    /// At instants.
    Instant,
}

impl From<StepArg> for Readings {
    fn from(step: StepArg) -> Self {
        match step {
            StepArg::Day => Self::Days,
            StepArg::Instant => Self::Instants,
        }
    }
}

/// `export archive`.
#[derive(Debug, Args)]
pub(super) struct ArchiveOutArgs {
    /// The watershed
    #[arg(long, value_name = "W", value_parser = slug)]
    pub(super) watershed: Slug,
    /// The archive to write
    #[arg(long, value_name = "FILE.zip")]
    pub(super) out: PathBuf,
    /// Words for found and not found: present and absent, or detected and notDetected
    #[arg(long, value_parser = vocabulary, default_value = "gbif", value_name = "gbif|tdwg")]
    pub(super) vocabulary: Vocabulary,
    /// cc0, cc-by, cc-by-nc, or the address of another licence [default: the setting archive.license]
    #[arg(long, value_name = "LICENCE")]
    pub(super) license: Option<String>,
    /// Who holds the rights, such as a club's name [default: the setting `archive.rights_holder`]
    #[arg(long, value_name = "TEXT")]
    pub(super) rights_holder: Option<String>,
    /// Name of the dataset [default: the setting `archive.dataset_name`, else made from the watershed's]
    #[arg(long, value_name = "TEXT")]
    pub(super) dataset_name: Option<String>,
}

/// `import archive`.
#[derive(Debug, Args)]
pub(super) struct ArchiveFileArgs {
    /// The archive
    #[arg(value_name = "FILE.zip")]
    pub(super) file: PathBuf,
    /// The watershed that it speaks of
    #[arg(long, value_name = "W", value_parser = slug)]
    pub(super) watershed: Slug,
    #[command(flatten)]
    pub(super) how: ImportArgs,
    /// Table of codes: columns column,from,to; a column is a term such as samplingProtocol or lifeStage
    #[arg(long, value_name = "FILE.csv")]
    pub(super) map: Option<PathBuf>,
    #[command(flatten)]
    pub(super) rights: RightsArgs,
}

fn vocabulary(text: &str) -> Result<Vocabulary, String> {
    let found = Vocabulary::WORDS.into_iter().find(|(_, word)| *word == text);
    found.map(|(vocabulary, _)| vocabulary).ok_or_else(|| "must be gbif or tdwg".to_owned())
}
