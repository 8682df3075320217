//! The commands, one file each.

mod check;
mod completions;
mod gather;
mod man;
mod new;
mod seal;
mod write;

use clap::{Parser, Subcommand};

use crate::fail::Outcome;
use crate::place::Common;

/// One plain-text record of a dairy herd's feet, for trimmer, farm and vet
#[derive(Parser, Debug)]
#[command(name = "footfold", version, max_term_width = 80, disable_help_subcommand = true)]
#[command(after_help = "This tool records and reminds; it does not diagnose. Deep, swollen or non-healing \
feet, and any severely lame cow that does not improve, go to a veterinary surgeon.")]
pub(crate) struct Cli {
    #[command(flatten)]
    common: Common,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    New(new::Args),
    Write(write::Args),
    Seal(seal::Args),
    Check(check::Args),
    Gather(gather::Args),
    #[command(hide = true)]
    Completions(completions::Args),
    #[command(hide = true)]
    Man(man::Args),
}

/// Runs a command.
pub(crate) fn run(cli: Cli) -> Outcome {
    let Cli { common, command } = cli;
    match command {
        Command::New(args) => new::run(&args),
        Command::Write(args) => write::run(&common, &args),
        Command::Seal(args) => seal::run(&common, &args),
        Command::Check(args) => check::run(&common, &args),
        Command::Gather(args) => gather::run(&common, &args),
        Command::Completions(args) => completions::run(&args),
        Command::Man(args) => man::run(&args),
    }
}
