//! `footfold seal`: what was typed in one's ledger is kept.

use std::io::{Write, stdout};
use std::process::ExitCode;

use daemon::seal::{Sealed, seal_tail};

use crate::fail::{MEND, Outcome};
use crate::place::{Common, Seat, Writer};
use crate::show;

/// Keep what is typed under the last line of this machine's ledger
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    writer: Writer,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let seat = Seat::take(common, &args.writer)?;
    let sealed = seal_tail(&seat.desk())?;
    let mut out = stdout().lock();
    if !sealed.refused.is_empty() {
        let left = show::count(sealed.refused.len() as u64, "line");
        writeln!(out, "Left as typed: {left}, with a remark under each\n")?;
        tell_refused(&mut out, &sealed)?;
    }
    match &sealed.file {
        Some(file) => {
            writeln!(out, "Kept: {} in ledgers/{file}", show::count(sealed.kept.len() as u64, "line"))?;
            for line in &sealed.kept {
                writeln!(out, "  {}", show::text(&line.body))?;
            }
        }
        None => writeln!(out, "There was nothing new to keep.")?,
    }
    tell_doubts(&mut out, &sealed)?;
    for notice in &sealed.notices {
        writeln!(out, "{}", show::wrapped("note: ", &show::text(notice)))?;
    }
    Ok(if sealed.refused.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(MEND) })
}

/// Lines that were not understood, each with a caret under the place.
pub(super) fn tell_refused(out: &mut impl Write, sealed: &Sealed) -> std::io::Result<()> {
    for refused in &sealed.refused {
        if refused.number > 0 {
            writeln!(out, "line {}:", refused.number)?;
        }
        for remark in &refused.remarks {
            writeln!(out, "{}", show::pointed(&refused.text, remark.column, remark.width, &remark.to_string()))?;
        }
        writeln!(out)?;
    }
    Ok(())
}

/// Lines that were kept and are unlikely.
pub(super) fn tell_doubts(out: &mut impl Write, sealed: &Sealed) -> std::io::Result<()> {
    if !sealed.doubts.is_empty() {
        writeln!(out, "\nKept, but look again:")?;
    }
    for doubt in &sealed.doubts {
        writeln!(out, "  {}", show::text(&doubt.body))?;
        writeln!(out, "{}", show::wrapped("    ", &show::text(&doubt.remark)))?;
    }
    Ok(())
}
