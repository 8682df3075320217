//! `footfold gather`: what other copies of the herd hold and this one lacks.

use std::io::{Write, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

use daemon::Trouble;
use daemon::forks::Met;
use daemon::gather::{self, Fork, Gathering, Writes};
use daemon::keys::DeviceKey;
use daemon::settings;

use crate::commands::seal::tell_refused;
use crate::fail::{Fail, MEND, Outcome};
use crate::place::{self, Common, Seat, Writer};
use crate::show;

/// Take over what other copies of the herd hold: folders on a stick, files from a letter
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Herds' folders, folders that hold such, or ledger files
    #[arg(required = true, value_name = "FOLDER")]
    from: Vec<PathBuf>,
    /// Only say what would be taken
    #[arg(long)]
    look: bool,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let herd = common.folder()?;
    let seat = seat(common)?;
    let writes = seat.as_ref().map(|seat| seat.desk()).map(|desk| Writes { device: desk.device, key: desk.key });
    let gathering = gather::plan(&herd, &args.from, writes)?;
    let mut notices = if args.look { Vec::new() } else { gather::carry_out(&herd, &gathering, place::now())? };
    let met = match &seat {
        Some(seat) if !args.look => gather::meet_own(&seat.desk(), &gathering)?,
        _ => Vec::new(),
    };
    let mut out = stdout().lock();
    for trouble in gathering.refused.iter().chain(&gathering.doubts) {
        tell_trouble(&mut out, trouble)?;
    }
    for fork in &gathering.forks {
        tell_fork(&mut out, fork)?;
    }
    tell_taken(&mut out, args, &gathering)?;
    let mut stopped = false;
    for (name, met, sealed) in met {
        if let Met::Stopped(trouble) = &met {
            stopped = true;
            tell_trouble(&mut out, trouble)?;
        } else if let Some(what) = met.told(&name) {
            writeln!(out, "{}", show::wrapped("", &show::text(&what)))?;
        }
        for line in &sealed.kept {
            writeln!(out, "  {}", show::text(&line.body))?;
        }
        tell_refused(&mut out, &sealed)?;
        notices.extend(sealed.notices);
    }
    for notice in notices {
        writeln!(out, "{}", show::wrapped("note: ", &show::text(&notice)))?;
    }
    let fine = !stopped && gathering.refused.is_empty() && gathering.doubts.is_empty() && gathering.forks.is_empty();
    Ok(if fine { ExitCode::SUCCESS } else { ExitCode::from(MEND) })
}

/// Who writes here, where a machine does.
fn seat(common: &Common) -> Result<Option<Seat>, Fail> {
    let settings = place::settings()?;
    if settings.device.is_none() || settings.by.is_none() || !DeviceKey::is_there(&settings::folder()?)? {
        return Ok(None);
    }
    Seat::take(common, &Writer { device: None, by: None }).map(Some)
}

fn tell_trouble(out: &mut impl Write, trouble: &Trouble) -> std::io::Result<()> {
    writeln!(out, "{}", show::lines(&trouble.to_string()))?;
    writeln!(out, "{}\n", show::wrapped("  to do: ", &show::text(&trouble.remedy)))
}

fn tell_fork(out: &mut impl Write, fork: &Fork) -> std::io::Result<()> {
    let Fork { name, other, line, ours, theirs, .. } = fork;
    writeln!(out, "{name}: two histories; they part at line {line}. Nothing was taken")?;
    writeln!(out, "of it; it is kept in .footfold/forks/{}.", name.device)?;
    writeln!(out, "  here:  {}", end_or(ours))?;
    writeln!(out, "  there: {}", end_or(theirs))?;
    writeln!(out, "  there is {}", other.display())?;
    let todo = "find out with the other machines' copies which one others hold; \
                lines that only the other has can be typed anew";
    writeln!(out, "{}\n", show::wrapped("  to do: ", todo))
}

fn end_or(line: &str) -> String {
    if line.is_empty() { "(ends here)".to_owned() } else { show::text(line) }
}

fn tell_taken(out: &mut impl Write, args: &Args, gathering: &Gathering) -> std::io::Result<()> {
    let Gathering { takes, own, protocols, refused, same, other_herds, .. } = gathering;
    if !refused.is_empty() {
        return writeln!(out, "Nothing was changed.");
    }
    let verb = if args.look { "Would take" } else { "Took" };
    for take in takes {
        if take.lines == take.held {
            let verb = if args.look { "Would finish" } else { "Finished" };
            writeln!(out, "{verb} {}, which an earlier gathering began", take.name)?;
            continue;
        }
        let new = show::count((take.lines - take.held) as u64, "line");
        writeln!(out, "{verb} {new} of {} (now {})", take.name, show::number(take.lines as u64))?;
    }
    for own in own.iter().filter(|own| args.look && !own.is_same) {
        writeln!(out, "Would look into {}, this machine's own, in {}", own.name, own.other.display())?;
    }
    if !protocols.is_empty() {
        writeln!(out, "{verb} {}", show::count(protocols.len() as u64, "protocol"))?;
    }
    if *same > 0 {
        writeln!(out, "Nothing new in {}", show::count(*same as u64, "other file"))?;
    }
    if *other_herds > 0 {
        writeln!(out, "Passed over {} of other herds", show::count(*other_herds as u64, "file"))?;
    }
    Ok(())
}
