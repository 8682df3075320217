//! `footfold members revoke`: shuts a device out, from any keeper's machine, in one step.

use std::io::{Write, stdout};
use std::process::ExitCode;

use daemon::Trouble;
use daemon::seal::seal_text;
use ledger_format::mark::FullMark;
use ledger_format::members::Members;
use ledger_format::merge::{Ledger, Log};
use ledger_format::work::roll::{DeviceRow, Roll, roll};

use crate::commands::seal::tell_refused;
use crate::fail::{Fail, MEND, Outcome};
use crate::look::{Look, Place};
use crate::place::{Common, Seat, Writer};
use crate::show;

/// Shut a device out: what it wrote up to now stays, what comes later is kept apart
#[derive(clap::Args, Debug)]
pub(in crate::commands) struct Args {
    /// The device to shut out
    #[arg(value_name = "NAME")]
    name: String,
    /// The mark of the last of its lines that counts, 16 or 64 digits; without it, of the newest line here
    #[arg(long, value_name = "MARK")]
    after: Option<String>,
    /// Why, in a few words, for those who read it later
    #[arg(long, value_name = "WORDS")]
    because: Option<String>,
    #[command(flatten)]
    writer: Writer,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let seat = Seat::take(common, &args.writer)?;
    let place = Place::of(common)?;
    let herd = place.herd(&Look::on(place.today), place.today)?;
    let log = herd.log();
    let rows = roll(log, &Members::of(log));
    let row = may_be_revoked(&rows, &args.name, (seat.device(), seat.key()))?;
    let after = after(log, row, args.after.as_deref())?;
    let mut out = stdout().lock();
    show(&mut out, row, &after)?;
    let because = args.because.as_ref().map_or(String::new(), |words| format!(": {words}"));
    let line = format!("herd revoke {} after {}{because}", row.device, after.mark);
    let sealed = seal_text(&seat.desk(), line.as_bytes())?;
    if !sealed.refused.is_empty() {
        writeln!(out, "Nothing was kept. To mend:\n")?;
        tell_refused(&mut out, &sealed)?;
        return Ok(ExitCode::from(MEND));
    }
    writeln!(out, "Kept:")?;
    for line in &sealed.kept {
        writeln!(out, "{}", show::wrapped("  ", &show::text(&line.body)))?;
    }
    writeln!(out, "{}", show::wrapped("", NEXT))?;
    Ok(ExitCode::SUCCESS)
}

const NEXT: &str = "The other machines hear of it when they next meet this one; from then on they give that device \
    nothing more. What it holds already, it holds.";

/// The device, if shutting it out from here would count.
fn may_be_revoked<'a>(rows: &'a Roll, name: &str, own: (&str, &str)) -> Result<&'a DeviceRow, Fail> {
    let of_name = || rows.devices.iter().filter(|row| row.device == name);
    let Some(row) = of_name().find(|row| row.may != "revoked").or_else(|| of_name().next()) else {
        let all: Vec<&str> = rows.devices.iter().map(|row| row.device.as_str()).collect();
        return Err(Fail::usage(
            format!("nobody here is called {}", show::text(name)),
            format!("one of {}", all.join(", ")),
        ));
    };
    if rows.founder.is_none() {
        let what = "the herd is open: every line counts, whoever wrote it, and nobody can be shut out";
        return Err(Trouble::new(what, "`footfold members` says what to do").into());
    }
    if row.may == "revoked" {
        let day = row.revoked.as_deref().unwrap_or("before");
        return Err(Trouble::new(format!("{name} is shut out already, since {day}"), "nothing").into());
    }
    let keepers: Vec<&str> =
        rows.devices.iter().filter(|row| row.may == "keeper").map(|row| row.device.as_str()).collect();
    if !rows.devices.iter().any(|row| (row.device.as_str(), row.key.as_str()) == own && row.may == "keeper") {
        let what = format!("{} is no keeper here: its word would not count", own.0);
        return Err(Trouble::new(what, format!("do it on a keeper's machine: {}", keepers.join(", "))).into());
    }
    if keepers == [name] {
        let what = format!("{name} is the only keeper: nobody could ever let anybody in again");
        return Err(Trouble::new(what, "let another keeper in first: `footfold members` says how").into());
    }
    Ok(row)
}

/// The last line that counts.
struct After {
    mark: FullMark,
    /// Its text; none if nothing of the device counts.
    line: Option<String>,
    /// Lines of the device behind it.
    behind: usize,
}

fn after(log: &Log, row: &DeviceRow, asked: Option<&str>) -> Result<After, Fail> {
    let is_its = |file: &&Ledger| file.device == row.device && file.key.to_string() == row.key;
    let mut behind = 0;
    for file in log.ledgers().iter().filter(is_its).rev() {
        let bytes = file.bytes();
        let ends: Vec<usize> = memchr::memchr_iter(b'\n', &bytes).map(|at| at + 1).collect();
        for (at, end) in ends.iter().enumerate().rev() {
            let start = at.checked_sub(1).map_or(0, |before| ends[before]);
            let line = bytes.get(start..end - 1).unwrap_or_default();
            let shown = line.get(line.len().saturating_sub(16)..).unwrap_or_default();
            if asked.is_none_or(|asked| asked.as_bytes().get(..16) == Some(shown)) {
                let mark = FullMark::over(bytes.get(..end - 17).unwrap_or_default());
                if asked.is_none_or(|asked| mark.to_string().starts_with(asked)) {
                    let line = Some(String::from_utf8_lossy(line).into_owned());
                    return Ok(After { mark, line, behind });
                }
            }
            behind += 1;
        }
    }
    match asked {
        // Nothing is here: with 64 zeros nothing that comes counts.
        None => Ok(After { mark: FullMark([0; 32]), line: None, behind: 0 }),
        Some(asked) => {
            let what = format!("no line of {} here has the mark {}", row.device, show::text(asked));
            Err(Fail::usage(what, "give the 16 digits at the end of a line of its ledger, or leave `--after` out"))
        }
    }
}

fn show(out: &mut impl Write, row: &DeviceRow, after: &After) -> std::io::Result<()> {
    let key = row.key.get(..16).unwrap_or_default();
    writeln!(out, "Shuts out {}, {}, key {key}", show::text(&row.device), row.may)?;
    match &after.line {
        Some(line) => {
            writeln!(out, "  what it wrote counts up to this line, which is the last:")?;
            writeln!(out, "{}", show::wrapped("    ", &show::text(line)))?;
        }
        None => writeln!(out, "  nothing of it is here, and nothing that it writes will count")?,
    }
    if after.behind > 0 {
        let lines = show::count(after.behind as u64, "line");
        writeln!(out, "  {lines} behind it will be kept apart")?;
    }
    Ok(())
}
