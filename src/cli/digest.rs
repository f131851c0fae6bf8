//! `digest`: the coming week of a watershed as plain text.

use clap::Args;

use super::args::slug;
use super::failure::{Failure, Mend as _};
use super::{open, output, serve};
use crate::config::Settings;
use crate::domain::Slug;
use crate::http;
use crate::words::Language;

/// `digest`.
#[derive(Debug, Args)]
pub(super) struct DigestArgs {
    /// Watershed
    #[arg(long, value_name = "SLUG", value_parser = slug)]
    watershed: Slug,
    /// Language: de or en
    #[arg(long, value_name = "LANGUAGE", default_value = "en", value_parser = language)]
    lang: Language,
}

fn language(tag: &str) -> Result<Language, String> {
    Language::parse(tag).ok_or_else(|| "must be de or en".to_owned())
}

/// Prints what is published.
pub(super) async fn run(args: &DigestArgs, settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    let service = serve::service(&db, None).await?;
    let server = &settings.server;
    let public_url = match server.public_url.as_str() {
        "" => format!("http://{}", server.listen),
        set => set.trim_end_matches('/').to_owned(),
    };
    let text = http::digest(&service, &args.watershed, &public_url, args.lang).await;
    db.close().await;
    let text = text.mend("Check the name of the watershed; `subimago import setup` declares it.")?;
    output::raw(text.as_bytes())
}
