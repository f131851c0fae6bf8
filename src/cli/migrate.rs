//! `migrate`: bring the database to this program's schema, as a step of its own.

use super::failure::Failure;
use super::{open, output};
use crate::config::Settings;

/// Migrates and says which database.
pub(super) async fn run(settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    output::note(&format!("{} is at this program's schema.", settings.database.url));
    db.close().await;
    Ok(())
}
