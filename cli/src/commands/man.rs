//! `footfold man`: manual pages.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::CommandFactory;
use daemon::Trouble;

use super::Cli;
use crate::fail::Outcome;

/// Write the manual pages into a folder
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The folder
    folder: PathBuf,
}

pub(super) fn run(args: &Args) -> Outcome {
    let folder = &args.folder;
    std::fs::create_dir_all(folder)
        .and_then(|()| clap_mangen::generate_to(Cli::command(), folder))
        .map_err(|error| Trouble::io("write the manual pages", folder, &error))?;
    Ok(ExitCode::SUCCESS)
}
