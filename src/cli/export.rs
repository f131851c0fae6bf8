//! `export`: records, reports and readings into files, and the public part as an archive.

use std::io::{BufWriter, Write as _};
use std::path::Path;

use tempfile::NamedTempFile;

use super::counted::Counted;
use super::export_args::{ArchiveOutArgs, ExportCommand, TableOutArgs};
use super::failure::{Failure, Mend as _};
use super::{open, output};
use crate::app::export::{self, ArchiveWish};
use crate::app::{AppError, Db};
use crate::clock::SystemClock;
use crate::config::{ArchiveSettings, Settings};

/// Short names of the licences that aggregators take, with their addresses.
const LICENCES: [(&str, &str); 3] = [
    ("cc0", "https://creativecommons.org/publicdomain/zero/1.0/legalcode"),
    ("cc-by", "https://creativecommons.org/licenses/by/4.0/legalcode"),
    ("cc-by-nc", "https://creativecommons.org/licenses/by-nc/4.0/legalcode"),
];

/// Runs one of the exports.
pub(super) async fn run(command: &ExportCommand, settings: &Settings) -> Result<(), Failure> {
    // What is missing is said before anything is opened.
    let wish = match command {
        ExportCommand::Archive(args) => Some(wish(args, &settings.archive)?),
        _ => None,
    };
    let db = open(settings).await?;
    let done = match (command, wish) {
        (ExportCommand::Archive(args), Some(wish)) => archive(&db, args, &wish).await,
        (ExportCommand::Archive(_), None) => Ok(()),
        (ExportCommand::Records(args), _) => {
            table(args, "records", async |out| export::records(&db, &args.watershed, out).await).await
        }
        (ExportCommand::Reports(args), _) => {
            table(args, "rows of reports", async |out| export::reports(&db, &args.watershed, out).await).await
        }
        (ExportCommand::Readings(args), _) => {
            let (watershed, gauge) = (&args.table.watershed, args.gauge.as_ref());
            let write = async |out: &mut Counted<Vec<u8>>| {
                export::readings(&db, watershed, gauge, args.quantity, args.step.into(), out).await
            };
            table(&args.table, "readings", write).await
        }
    };
    db.close().await;
    done
}

/// Writes a table to a file, whole or not at all, or to standard output.
async fn table(
    args: &TableOutArgs,
    what: &str,
    write: impl AsyncFnOnce(&mut Counted<Vec<u8>>) -> Result<u64, AppError>,
) -> Result<(), Failure> {
    let mut out = Counted::rows(Vec::new(), &format!("{what} of {}", args.watershed));
    let rows = write(&mut out).await;
    let bytes = out.done();
    let rows = rows.mend("See the names with: subimago serve, or the setup file.")?;
    match &args.out {
        None => output::raw(&bytes)?,
        Some(path) => {
            let mut file = beside(path)?;
            file.write_all(&bytes).and_then(|()| file.flush()).doing(format!("cannot write {}", path.display()))?;
            put(file, path)?;
        }
    }
    output::note(&format!("{rows} {what} of {}", args.watershed));
    Ok(())
}

async fn archive(db: &Db, args: &ArchiveOutArgs, wish: &ArchiveWish) -> Result<(), Failure> {
    let file = beside(&args.out)?;
    let mut out = Counted::bytes(BufWriter::new(file.reopen()?), &format!("packing bytes of {}", args.watershed));
    let packed = export::archive(db, &SystemClock, &args.watershed, wish, &mut out).await;
    drop(out.done());
    let packed = packed
        .doing(format!("cannot make {}", args.out.display()))
        .mend("Check the name of the watershed, and that the disk has room.")?;
    put(file, &args.out)?;
    if packed.without_name > 0 {
        output::note(&format!("{} sightings of insects without a name are left out", packed.without_name));
    }
    output::note(&format!("{} events and {} occurrences of {}", packed.events, packed.occurrences, args.watershed));
    Ok(())
}

/// A file beside `path` that takes its place once it is whole.
fn beside(path: &Path) -> Result<NamedTempFile, Failure> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        // As any new file: who else may read it is for the caller's umask to say.
        use std::os::unix::fs::PermissionsExt as _;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder
        .tempfile_in(folder)
        .doing(format!("cannot write {}", path.display()))
        .mend("Name a folder that exists and that you may write in.")
}

fn put(file: NamedTempFile, path: &Path) -> Result<(), Failure> {
    file.as_file().sync_all()?;
    file.persist(path).map(drop).map_err(|error| error.error).doing(format!("cannot write {}", path.display()))
}

fn wish(args: &ArchiveOutArgs, settings: &ArchiveSettings) -> Result<ArchiveWish, Failure> {
    let said = |given: &Option<String>, set: &str| {
        let text = given.as_deref().unwrap_or(set).trim();
        (!text.is_empty()).then(|| text.to_owned())
    };
    let missing =
        |what: &str, mend: &str| Failure::usage(anyhow::Error::msg(what.to_owned())).with_mend(mend.to_owned());
    let license = said(&args.license, &settings.license).ok_or_else(|| {
        missing("an archive needs a licence", "Add --license cc0, cc-by or cc-by-nc, or set archive.license.")
    })?;
    let known = LICENCES.iter().find(|(name, _)| name.eq_ignore_ascii_case(&license));
    let license = known.map_or(license, |(_, address)| (*address).to_owned());
    if !license.starts_with("https://") && !license.starts_with("http://") {
        let mend = "Use cc0, cc-by, cc-by-nc or the address of the licence's text.";
        return Err(missing("the licence is neither known by name nor an address", mend));
    }
    let rights_holder = said(&args.rights_holder, &settings.rights_holder).ok_or_else(|| {
        missing(
            "an archive needs somebody who holds the rights",
            "Add --rights-holder TEXT, or set archive.rights_holder.",
        )
    })?;
    let dataset_name = said(&args.dataset_name, &settings.dataset_name);
    Ok(ArchiveWish { vocabulary: args.vocabulary, license, rights_holder, dataset_name })
}
