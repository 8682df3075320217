//! The check of a herd, and its mending.

use std::io::Write;

use daemon::audit::{self, Findings};
use daemon::disk::HerdFolder;
use daemon::mend::{self, Mending};

use super::Args;
use crate::fail::Fail;
use crate::{place, show};

/// What to do about a break.
pub(super) const TODO: &str = "`footfold check --mend` puts back what the accepted copy holds; \
    `--copy FOLDER` names another copy of the herd's folder to mend from";

/// Checks the herd; mends and checks again, if that was asked for.
pub(super) fn in_herd(herd: &HerdFolder, args: &Args, out: &mut impl Write) -> Result<Findings, Fail> {
    let found = audit::herd(herd, args.every_mark)?;
    if !args.mend && args.copy.is_empty() {
        return Ok(found);
    }
    let others = mend::open_copies(&args.copy)?;
    let mut mended = false;
    for report in found.reports.iter().filter(|report| report.state.weight() > 0) {
        let Some(name) = &report.ledger else { continue };
        let visible = herd.read(name)?.unwrap_or_default();
        let mut mending = mend::plan(name, &visible, &mend::copies(herd, name, &others)?);
        if !mending.helps() {
            continue;
        }
        if args.mend {
            mend::carry_out(herd, &mut mending, place::now())?;
            mended = true;
        }
        tell(out, &mending)?;
    }
    if mended {
        writeln!(out, "Checked again:\n")?;
        return Ok(audit::herd(herd, args.every_mark)?);
    }
    Ok(found)
}

fn tell(out: &mut impl Write, mending: &Mending) -> Result<(), Fail> {
    let verb = if mending.aside.is_some() { "Mended" } else { "Can be mended with --mend" };
    writeln!(out, "{}", show::wrapped(&format!("{verb}: "), &mending.name.to_string()))?;
    for stretch in &mending.stretches {
        let (first, last) = (show::number(stretch.first_line as u64), show::number(stretch.last_line as u64));
        let lines = if first == last { format!("line {first}") } else { format!("lines {first} to {last}") };
        writeln!(out, "  {lines} put back")?;
    }
    if mending.stretches.is_empty() {
        writeln!(out, "  line ends and encoding put right")?;
    }
    if let Some(line) = mending.check.first_broken {
        let line = show::number(line as u64);
        writeln!(out, "{}", show::wrapped("  ", &format!("line {line} still does not hold: no copy here has it")))?;
    }
    if let Some(aside) = &mending.aside {
        writeln!(out, "{}", show::wrapped("  ", &format!("what stood there is kept in {aside}")))?;
    }
    writeln!(out)?;
    Ok(())
}
