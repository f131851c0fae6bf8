//! Commands that describe the program itself: API document, completions, manual pages.

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
        Command::Man(args) => match &args.out {
            Some(folder) => clap_mangen::generate_to(Cli::command(), folder)
                .doing(format!("cannot write manual pages to {}", folder.display()))
                .mend("Name an existing folder that you may write to."),
            None => {
                let mut text = Vec::new();
                clap_mangen::Man::new(Cli::command()).render(&mut text)?;
                output::raw(&text)
            }
        },
        _ => output::json(&crate::http::docs::openapi()),
    }
}
