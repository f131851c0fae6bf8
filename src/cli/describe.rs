//! Commands that describe the program itself: API document, completions, manual pages.

use std::path::Path;

use clap::CommandFactory as _;

use super::args::{Cli, Command};
use super::failure::{Failure, Mend as _};
use super::output;

/// Runs `openapi`, `completions` or `man`.
pub(super) fn run(command: &Command) -> Result<(), Failure> {
    match command {
        Command::Completions(args) => {
            let mut text = Vec::new();
            clap_complete::generate(args.shell, &mut Cli::command(), "subimago", &mut text);
            output::raw(&text)
        }
        Command::Man(args) => man(args.out.as_deref()),
        _ => output::raw(crate::http::openapi_text()?.as_bytes()),
    }
}

/// The main page to standard output, or a page per command into `folder`.
fn man(folder: Option<&Path>) -> Result<(), Failure> {
    if let Some(folder) = folder {
        return clap_mangen::generate_to(Cli::command(), folder)
            .doing(format!("cannot write manual pages to {}", folder.display()))
            .mend("Name an existing folder that you may write to.");
    }
    let mut text = Vec::new();
    clap_mangen::Man::new(Cli::command()).render(&mut text)?;
    output::raw(&text)
}
