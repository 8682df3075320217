//! `footfold completions`: what a shell needs to complete commands.

use std::io::{Write, stdout};
use std::process::ExitCode;

use clap::CommandFactory;
use clap_complete::Shell;

use super::Cli;
use crate::fail::Outcome;

/// Print the completions for a shell
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The shell
    shell: Shell,
}

pub(super) fn run(args: &Args) -> Outcome {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "footfold", &mut text);
    stdout().lock().write_all(&text)?;
    Ok(ExitCode::SUCCESS)
}
