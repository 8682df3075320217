//! `footfold members`: who is let in, what is held of whom, what is in doubt.

mod revoke;

use std::io::Write;
use std::process::ExitCode;

use ledger_format::work::roll::{DeviceRow, DoubtRow, HolderRow, Roll, roll};

use crate::fail::{MEND, Outcome};
use crate::look::{Format, Look, Place};
use crate::place::Common;
use crate::show;
use crate::show::paper::{self, Paper};

/// Who is let in, how much of each ledger is here, who else holds it, what is in doubt
#[derive(clap::Args, Debug)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Args {
    #[command(subcommand)]
    action: Option<Action>,
    /// Show full marks and keys: 64 digits, not 16
    #[arg(long)]
    marks: bool,
    /// Text to read, or the same rows for a program
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

#[derive(clap::Subcommand, Debug)]
enum Action {
    Revoke(revoke::Args),
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    if let Some(Action::Revoke(args)) = &args.action {
        return revoke::run(common, args);
    }
    let place = Place::of(common)?;
    let herd = place.herd(&Look::on(place.today), place.today)?;
    let rows = roll(herd.log(), herd.members());
    let out = args.format.page(paper::bold_on_stdout(), &rows, |paper| tell(paper, &rows, args.marks))?;
    std::io::stdout().lock().write_all(out.as_bytes())?;
    let is_well = rows.devices.iter().all(|row| row.doubts.is_empty());
    Ok(if is_well { ExitCode::SUCCESS } else { ExitCode::from(MEND) })
}

fn tell(paper: &mut Paper, rows: &Roll, in_full: bool) {
    paper.head(&format!("Members of {}: {}", rows.herd, show::count(rows.devices.len() as u64, "device")));
    tell_doubts(paper, "", &rows.doubts);
    for row in &rows.devices {
        paper.gap();
        tell_device(paper, row, in_full);
    }
}

fn tell_device(paper: &mut Paper, row: &DeviceRow, in_full: bool) {
    paper.head(&format!("{}: {}", row.device, standing(row)));
    paper.put("  key  ", digits(&row.key, in_full));
    match (&row.mark, &row.last_sealed) {
        (Some(mark), last) => {
            let lines = show::count(row.lines as u64, "line");
            let apart = if row.apart > 0 { format!(", {} of them kept apart", row.apart) } else { String::new() };
            let last = last.as_ref().map_or(String::new(), |last| format!(", the last kept {last}"));
            paper.put("  here ", &format!("{lines}{apart}{last}"));
            paper.put("  mark ", digits(mark, in_full));
        }
        (None, _) => paper.put("  here ", "nothing of it yet"),
    }
    if row.mark.is_some() {
        paper.put("  also ", &held(&row.held_by));
    }
    tell_doubts(paper, "  ", &row.doubts);
}

fn standing(row: &DeviceRow) -> String {
    let began = if row.founder { ", began the herd" } else { "" };
    let day = row.revoked.as_ref().or(row.admitted.as_ref().filter(|_| !row.founder));
    let since = day.map_or(String::new(), |day| format!(" since {day}"));
    let may = if row.may == "open" { "the herd is open" } else { row.may };
    format!("{may}{began}{since}")
}

fn held(by: &[HolderRow]) -> String {
    if by.is_empty() {
        return "nobody else has said that they hold it".to_owned();
    }
    let one = |row: &HolderRow| match row.behind {
        0 => format!("{} all ({})", row.device, row.on),
        n => format!("{} all but the last {} ({})", row.device, show::number(n as u64), row.on),
    };
    by.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn digits(all: &str, in_full: bool) -> &str {
    if in_full { all } else { all.get(..16).unwrap_or(all) }
}

fn tell_doubts(paper: &mut Paper, indent: &str, doubts: &[DoubtRow]) {
    for doubt in doubts {
        paper.put(&format!("{indent}! "), &doubt.words);
        paper.put(&format!("{indent}  to do: "), &doubt.remedy);
    }
}
