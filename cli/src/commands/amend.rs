//! `footfold redate` and `footfold strike`: many lines corrected at once, each by a line of its own.

use std::io::Write;
use std::process::ExitCode;

use chrono::NaiveDate;
use daemon::Trouble;
use daemon::seal::seal_made;
use ledger_format::fold::Herd;
use ledger_format::line::{CowNumber, Mark, date_text, read_date, read_utc};
use ledger_format::merge::EntryId;
use ledger_format::work::amend::{self, Which};

use crate::commands::seal::{tell_doubts, tell_refused};
use crate::commands::write::tell_kept;
use crate::fail::{Fail, MEND, Outcome};
use crate::look::{Day, Look, Place, day};
use crate::place::{Common, Seat, Writer};
use crate::show;

/// Give lines of this machine another day: each is replaced, none is changed
#[derive(clap::Args, Debug)]
#[command(after_help = "  footfold redate 2026-03-13 --on 2026-03-14\n  \
footfold redate 2026-03-13 --on 2026-03-14 --cow 417 --yes")]
pub(super) struct Redate {
    /// The day on which it was seen
    #[arg(value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    seen: Day,
    #[command(flatten)]
    group: Group,
}

/// Strike lines of this machine: they stay, and say nothing any more
#[derive(clap::Args, Debug)]
#[command(after_help = "  footfold strike --corrections --sealed 2026-03-14T09:20:11Z --because \"not meant\"\n  \
footfold strike --from 3f9c2a7d51be4c08 --to 8b1e60c2f4d7a935 --because \"another herd\"")]
pub(super) struct Strike {
    /// Why, in a few words
    #[arg(long, value_name = "WHY")]
    because: String,
    #[command(flatten)]
    group: Group,
}

/// Which lines: those that fit all that is named.
#[derive(clap::Args, Debug)]
struct Group {
    #[command(flatten)]
    which: Named,
    /// Do it; without this it is only shown
    #[arg(long)]
    yes: bool,
    #[command(flatten)]
    writer: Writer,
}

#[derive(clap::Args, Debug)]
#[group(required = true, multiple = true)]
struct Named {
    /// Lines observed on this day
    #[arg(long, value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    on: Option<Day>,
    /// Lines kept on this day, or at this time as it stands in them: one save
    #[arg(long, value_name = "TIME", value_parser = sealed)]
    sealed: Option<String>,
    /// Lines from the one with this mark on
    #[arg(long, value_name = "MARK", value_parser = mark)]
    from: Option<Mark>,
    /// Lines up to the one with this mark
    #[arg(long, value_name = "MARK", value_parser = mark)]
    to: Option<Mark>,
    /// Lines about this cow; may be given again
    #[arg(long, value_name = "NUMBER", value_parser = super::cow::number)]
    cow: Vec<CowNumber>,
    /// Only lines that replace another
    #[arg(long)]
    corrections: bool,
}

fn mark(word: &str) -> Result<Mark, String> {
    Mark::read(word.as_bytes()).ok_or_else(|| "expected a mark: the 16 digits that end a line".to_owned())
}

fn sealed(word: &str) -> Result<String, String> {
    let is_time = read_utc(word.as_bytes()).is_some() || read_date(word.as_bytes()).is_some();
    is_time
        .then(|| word.to_owned())
        .ok_or_else(|| "expected a day or a sealed time, as 2026-03-14 or 2026-03-14T09:20:11Z".to_owned())
}

/// Lines that were chosen, and what is to be written for each.
struct Amended {
    lines: Vec<String>,
    /// Days that they name, and that stay.
    days: Vec<NaiveDate>,
}

pub(super) fn redate(common: &Common, args: &Redate) -> Outcome {
    let seat = Seat::take(common, &args.group.writer)?;
    let seen = args.seen.seen_from(seat.desk().today);
    amend(common, &args.group, &seat, |herd, ids| Amended {
        lines: ids.iter().map(|id| amend::redated(herd, *id, seen)).collect(),
        days: ids.iter().filter_map(|id| amend::names_a_day(herd, *id)).collect(),
    })
}

pub(super) fn strike(common: &Common, args: &Strike) -> Outcome {
    let seat = Seat::take(common, &args.group.writer)?;
    let desk = seat.desk();
    let why = args.because.trim();
    if why.is_empty() {
        return Err(Fail::usage("a strike needs its reason", "as in `--because \"typed for the wrong cow\"`"));
    }
    amend(common, &args.group, &seat, |herd, ids| Amended {
        lines: ids.iter().map(|id| amend::struck(herd, *id, desk.today, desk.by, why)).collect(),
        days: Vec::new(),
    })
}

/// Shows what would be written; with `--yes`, writes it.
fn amend(common: &Common, group: &Group, seat: &Seat, make: impl Fn(&Herd, &[EntryId]) -> Amended) -> Outcome {
    let desk = seat.desk();
    let made = || -> Result<Amended, Fail> {
        let herd = Place::of(common)?.herd(&Look::on(desk.today), desk.today)?;
        Ok(make(&herd, &chosen(&herd, group, desk.device, desk.today)?))
    };
    let mut out = std::io::stdout().lock();
    if !group.yes {
        let amended = made()?;
        writeln!(out, "Would be written, {}:", show::count(amended.lines.len() as u64, "line"))?;
        for line in &amended.lines {
            writeln!(out, "  {}", show::text(line))?;
        }
        tell_days(&mut out, &amended.days)?;
        writeln!(out, "\nNothing is written yet. To do it, give the same command with `--yes`.")?;
        return Ok(ExitCode::SUCCESS);
    }
    let mut days = Vec::new();
    let sealed = seal_made(&desk, || -> Result<String, Fail> {
        let amended = made()?;
        days = amended.days;
        Ok(amended.lines.join("\n") + "\n")
    })?;
    if !sealed.refused.is_empty() {
        writeln!(out, "Nothing was written. These lines cannot stand so:\n")?;
        tell_refused(&mut out, &sealed)?;
        return Ok(ExitCode::from(MEND));
    }
    tell_kept(&mut out, &sealed)?;
    tell_days(&mut out, &days)?;
    tell_doubts(&mut out, common, &sealed)?;
    Ok(ExitCode::SUCCESS)
}

fn chosen(herd: &Herd, group: &Group, device: &str, today: NaiveDate) -> Result<Vec<EntryId>, Fail> {
    let Named { on, sealed, from, to, cow, corrections } = &group.which;
    let which = Which {
        device,
        observed: on.map(|day| day.seen_from(today)),
        sealed: sealed.as_deref(),
        from: *from,
        to: *to,
        cows: cow,
        corrections: *corrections,
    };
    let found = amend::chosen(herd, &which).map_err(|mark| {
        let remedy = "copy the 16 digits that end a line of your own ledger";
        Trouble::new(format!("{device} has no line with the mark {mark}"), remedy)
    })?;
    if found.is_empty() {
        let remedy = "name another day, time, cow or mark; lines that were replaced or struck are left out";
        return Err(Trouble::new(format!("no line of {device} fits what you named"), remedy).into());
    }
    Ok(found)
}

fn tell_days(out: &mut impl Write, days: &[NaiveDate]) -> std::io::Result<()> {
    let mut days: Vec<String> = days.iter().map(|day| date_text(*day)).collect();
    days.sort();
    days.dedup();
    if days.is_empty() {
        return Ok(());
    }
    let what = format!("days that these lines name stay as they are, look whether they are right: {}", days.join(", "));
    writeln!(out, "{}", show::wrapped("note: ", &what))
}
