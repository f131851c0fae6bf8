//! The `subimago` command: parse, call the library, exit.

use std::process::ExitCode;

fn main() -> ExitCode {
    subimago::cli::run()
}
