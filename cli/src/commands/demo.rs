//! `footfold demo`: an invented herd to try things on.

use std::io::{Write, stdout};
use std::path::PathBuf;

use daemon::Trouble;
use daemon::disk::{HerdFolder, LedgerName};
use examples_make::{LAST_DAY, SEED, herd_of, story};
use ledger_format::line::date_text;

use crate::fail::{Fail, Outcome};
use crate::look::Look;
use crate::place::Common;
use crate::show;

/// Write an invented herd into a new folder, and show what is due there
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The folder; it must be empty or not there yet
    folder: PathBuf,
    /// Another story of the same kind
    #[arg(long, value_name = "NUMBER", default_value_t = SEED)]
    seed: u64,
}

pub(super) fn run(args: &Args) -> Outcome {
    let made = herd_of(&story(args.seed));
    if let Some(line) = made.refused.first() {
        return Err(
            Trouble::new(format!("the story has a line that is not understood: {line}"), "try another --seed").into()
        );
    }
    let folder = HerdFolder::make(&args.folder)?;
    for (device, year, bytes) in &made.ledgers {
        if let Some(name) = LedgerName::new(device, *year) {
            folder.add(&name, bytes)?;
        }
    }
    for protocol in &made.protocols {
        folder.keep_protocol(protocol.as_bytes())?;
    }
    tell(args, made.ledgers.iter().map(|(.., bytes)| lines_in(bytes)).sum())?;
    let common = Common { herd: Some(args.folder.clone()) };
    super::due::run(&common, &super::due::Args::of(Look::on(LAST_DAY), DEMO_HOURS))?;
    tell_next(args)?;
    Ok(std::process::ExitCode::SUCCESS)
}

fn lines_in(bytes: &[u8]) -> u64 {
    bytes.split(|byte| *byte == b'\n').count() as u64 - 1
}

/// A working day at the crush.
const DEMO_HOURS: u32 = 6 * 60;

fn tell(args: &Args, lines: u64) -> Result<(), Fail> {
    let mut out = stdout().lock();
    let what = format!(
        "{} holds an invented herd: some 240 cows over 14 months, {} lines, typed by a trimmer (kj), herd staff (ao, tb) \
         and a vet (mw) on three machines. What the trimmer finds on the morning of {}, with six hours to work:",
        show::text(&args.folder.display().to_string()),
        show::number(lines),
        date_text(LAST_DAY),
    );
    writeln!(out, "{}\n", show::wrapped("", &what))?;
    Ok(())
}

fn tell_next(args: &Args) -> Result<(), Fail> {
    let mut out = stdout().lock();
    let day = date_text(LAST_DAY);
    writeln!(out, "\nTry next:")?;
    writeln!(out, "  cd {}", show::text(&args.folder.display().to_string()))?;
    for (command, why) in [
        (format!("footfold cow 417 --on {day}"), "one cow, her feet and her history"),
        (format!("footfold herd --on {day}"), "the herd, and what does not fit"),
        (format!("footfold between 2026-02-28 {day}"), "what changed in a month"),
        ("footfold sheet 2026-03-24".to_owned(), "what the farm gets after a visit"),
        ("footfold check".to_owned(), "whether the record was touched up"),
    ] {
        writeln!(out, "  {command:<42} {why}")?;
    }
    Ok(())
}
