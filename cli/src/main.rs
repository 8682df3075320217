//! The `footfold` command: one plain-text record of a dairy herd's feet.

mod commands;
mod fail;
mod live;
mod look;
mod place;
mod show;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let cli = commands::Cli::parse();
    match commands::run(cli) {
        Ok(code) => code,
        Err(fail) => fail.tell(),
    }
}
