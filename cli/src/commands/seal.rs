//! `footfold seal`: what was typed in one's ledger is kept.

use std::io::{Write, stdout};
use std::process::ExitCode;

use daemon::doubt::overrule;
use daemon::seal::{Sealed, seal_tail};
use ledger_format::fold::doubts;

use crate::fail::{Fail, MEND, Outcome};
use crate::look::{Look, Place};
use crate::place::{Common, Seat, Writer};
use crate::show;

/// Keep what is typed under the last line of this machine's ledger
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Seal though this machine may not hold all that it wrote
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    writer: Writer,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let seat = Seat::take(common, &args.writer)?;
    if args.anyway {
        overrule(&seat.desk())?;
    }
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
    tell_doubts(&mut out, common, &sealed)?;
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

/// Lines that were kept and are unlikely, by themselves or from what the herd's record says.
pub(super) fn tell_doubts(out: &mut impl Write, common: &Common, sealed: &Sealed) -> Result<(), Fail> {
    let of_herd = match doubts_of_herd(common, sealed) {
        Ok(doubts) => doubts,
        // The lines are kept all the same, and a failure would say that they are not.
        Err(fail) => {
            let what = format!("what the record says of these lines could not be looked up: {}", fail.message());
            writeln!(out, "{}", show::wrapped("note: ", &show::text(&what)))?;
            Vec::new()
        }
    };
    let own = sealed.doubts.iter().map(|doubt| (doubt.body.as_str(), doubt.remark.clone()));
    for (i, (body, doubt)) in own.chain(of_herd).enumerate() {
        if i == 0 {
            writeln!(out, "\nKept, but look again:")?;
        }
        writeln!(out, "  {}", show::text(body))?;
        writeln!(out, "{}", show::wrapped("    ", &show::text(&doubt)))?;
    }
    Ok(())
}

/// What the herd's state says against the lines that were just kept. They are in it already: a block changes nothing
/// about the lesion under it, nor a score about a cow that left.
fn doubts_of_herd<'a>(common: &Common, sealed: &'a Sealed) -> Result<Vec<(&'a str, String)>, Fail> {
    if sealed.kept.is_empty() {
        return Ok(Vec::new());
    }
    let place = Place::of(common)?;
    let herd = place.herd_again(&Look::on(place.today), place.today)?;
    let of_line = |body: &'a str| {
        let doubts = ledger_format::line::read(body).map(|line| doubts(&herd, &line)).unwrap_or_default();
        doubts.into_iter().map(move |doubt| (body, doubt))
    };
    Ok(sealed.kept.iter().flat_map(|line| of_line(&line.body)).collect())
}
