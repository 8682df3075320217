//! The commands, one file each.

mod amend;
mod between;
mod check;
mod completions;
mod cow;
mod demo;
mod due;
mod figures;
mod gather;
mod herd;
mod man;
mod members;
mod new;
mod pair;
mod seal;
mod sheet;
mod status;
mod watch;
mod write;

use clap::{Parser, Subcommand};

use crate::fail::Outcome;
use crate::look::Page;
use crate::place::Common;
use crate::show::paper::Paper;

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
    Redate(amend::Redate),
    Strike(amend::Strike),
    Watch(watch::Args),
    Status(status::Args),
    Check(check::Args),
    Gather(gather::Args),
    Pair(pair::Args),
    Members(members::Args),
    Due(due::Args),
    Cow(cow::Args),
    Herd(herd::Args),
    Between(between::Args),
    Sheet(sheet::Args),
    Figures(figures::Args),
    Demo(demo::Args),
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
        Command::Redate(args) => amend::redate(&common, &args),
        Command::Strike(args) => amend::strike(&common, &args),
        Command::Watch(args) => watch::run(&common, &args),
        Command::Status(args) => status::run(&common, &args),
        Command::Check(args) => check::run(&common, &args),
        Command::Gather(args) => gather::run(&common, &args),
        Command::Pair(args) => pair::run(&common, &args),
        Command::Members(args) => members::run(&common, &args),
        Command::Due(args) => due::run(&common, &args),
        Command::Cow(args) => cow::run(&common, &args),
        Command::Herd(args) => herd::run(&common, &args),
        Command::Between(args) => between::run(&common, &args),
        Command::Sheet(args) => sheet::run(&common, &args),
        Command::Figures(args) => figures::run(&common, &args),
        Command::Demo(args) => demo::run(&args),
        Command::Completions(args) => completions::run(&args),
        Command::Man(args) => man::run(&args),
    }
}

impl Cli {
    /// The page that a command shows, if it is one of those that a daemon answers.
    pub(crate) fn page(&self) -> Option<&dyn Page> {
        match &self.command {
            Command::Due(args) => Some(args),
            Command::Cow(args) => Some(args),
            Command::Herd(args) => Some(args),
            _ => None,
        }
    }
}

/// What the record cannot decide, under every list, card and sheet.
fn tell_cautions(paper: &mut Paper, cautions: &[&str]) {
    for caution in cautions {
        paper.put("  ", caution);
    }
}
