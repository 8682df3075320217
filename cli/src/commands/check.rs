//! `footfold check`: are the ledgers unbroken, and complete up to where?

mod mending;
mod rows;

use std::io::{Write, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

use daemon::Trouble;
use daemon::audit::{self, Findings, Report, State};

use crate::fail::{Fail, MEND, Outcome};
use crate::look::{self, Format};
use crate::place::Common;
use crate::show;

/// Check that no sealed line was changed, and up to where others have seen each ledger
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Ledger files to check on their own; none: all of the herd
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Compare the mark of every line, not only the last one of each file
    #[arg(long)]
    every_mark: bool,
    /// Put back what was changed, from the accepted copy and from other copies
    #[arg(long, conflicts_with = "files")]
    mend: bool,
    /// Another copy of the herd's folder to mend from; may be given several times
    #[arg(long, value_name = "FOLDER", conflicts_with = "files")]
    copy: Vec<PathBuf>,
    /// Text to read, or the same findings for a program
    #[arg(long, value_name = "FORM", default_value = "text", conflicts_with_all = ["mend", "copy"])]
    format: Format,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let mut out = stdout().lock();
    let found = if args.files.is_empty() {
        mending::in_herd(&common.folder()?, args, &mut out)?
    } else {
        let mut reports: Vec<Report> = args.files.iter().map(|file| audit::file(file, args.every_mark)).collect();
        audit::worst_first(&mut reports);
        Findings { reports, ..Findings::default() }
    };
    match look::for_program(args.format, &rows::of(&found))? {
        Some(rows) => out.write_all(rows.as_bytes())?,
        None => tell_all(&mut out, &found)?,
    }
    Ok(if found.is_well() { ExitCode::SUCCESS } else { ExitCode::from(MEND) })
}

fn tell_all(out: &mut impl Write, found: &Findings) -> Result<(), Fail> {
    for finding in &found.findings {
        tell_trouble(out, finding)?;
    }
    let width = found.reports.iter().map(|report| report.name.chars().count()).max().unwrap_or(0).min(40);
    for report in &found.reports {
        tell(out, report, width)?;
    }
    if found.reports.is_empty() {
        writeln!(out, "There is no ledger here yet.")?;
    }
    for note in &found.notes {
        tell_trouble(out, note)?;
    }
    Ok(writeln!(out, "\n{}", show::wrapped("", WHAT_IT_PROVES))?)
}

const WHAT_IT_PROVES: &str = "Unbroken: no byte before the last mark was changed since it was sealed. Complete up to: \
    another device saw the ledger that far, so nothing before it was left out; that the device's own next file goes on \
    from there, or its own signed word, proves less. That the clock was right is not proved.";

fn tell(out: &mut impl Write, report: &Report, width: usize) -> Result<(), Fail> {
    let lines = show::count(report.lines, "line");
    let name = show::text(&report.name);
    writeln!(out, "{name:width$}  {lines:>14}  {}", headline(&report.state))?;
    if let Some(seen) = &report.complete {
        let when = seen.on.map_or(String::new(), |day| format!(" on {day}"));
        let line = show::number(seen.line);
        let own = report.ledger.as_ref().is_some_and(|name| seen.by.starts_with(&format!("{}/", name.device)));
        let how = if own { "continued by its own" } else { "seen by" };
        let text = format!("complete up to line {line} ({how} {}{when})", show::text(&seen.by));
        writeln!(out, "    {text}")?;
    } else if report.ledger.is_some() && report.state.is_unbroken() && report.stated.is_none() {
        writeln!(out, "    complete up to: not known; no other device has witnessed it")?;
    }
    tell_own_word(out, report)?;
    tell_state(out, report)?;
    if let Some(wrong) = &report.wrong_marks {
        tell_marks(out, wrong)?;
    }
    for finding in report.findings.iter().chain(&report.notes) {
        writeln!(out, "{}", show::wrapped("    ", &show::text(&finding.what)))?;
        writeln!(out, "{}", show::wrapped("    to do: ", &show::text(&finding.remedy)))?;
    }
    Ok(())
}

/// Its own device's word proves less than that of another, and is told where it reaches further.
fn tell_own_word(out: &mut impl Write, report: &Report) -> std::io::Result<()> {
    let Some(own) = report.stated.as_ref().filter(|own| report.complete.as_ref().is_none_or(|c| c.line < own.line))
    else {
        return Ok(());
    };
    let (line, day) = (show::number(own.line), own.on.map_or(String::new(), |day| format!(" of {day}")));
    let alone = if report.complete.is_none() { "; no other device has witnessed it" } else { "" };
    let text = format!("up to line {line} by its own word{day}{alone}");
    writeln!(out, "{}", show::wrapped("    ", &text))
}

fn headline(state: &State) -> String {
    match state {
        State::Unbroken => "unbroken".to_owned(),
        State::Short { missing } => format!("unbroken, but {} missing", show::count(*missing, "line")),
        State::ForeignMark { line, .. } => format!("unbroken up to line {}", show::number(*line as u64 - 1)),
        State::Resaved => "unbroken, only looks changed".to_owned(),
        State::Different { line, .. } => format!("another history from line {} on", show::number(*line as u64)),
        State::Broken { line, .. } => format!("broken at line {}", show::number(*line as u64)),
        State::Unread(_) => "could not be read".to_owned(),
    }
}

fn tell_state(out: &mut impl Write, report: &Report) -> std::io::Result<()> {
    let (stands, todo) = match &report.state {
        State::Unbroken => return Ok(()),
        State::Short { .. } => (vec![], "`footfold check --mend` puts back what the accepted copy holds"),
        State::Resaved => (
            vec!["an editor changed blanks or line ends; nothing is lost".to_owned()],
            "nothing: the next seal writes it back, and `footfold check --mend` does so at once",
        ),
        State::ForeignMark { line, stands } => (
            vec![format!("line {line} bears a mark from elsewhere: {stands}")],
            "`footfold seal` reads it as typed text and drops the mark",
        ),
        State::Different { line, stood, stands } => (
            vec![format!("line {line} stood:  {stood}"), format!("line {line} stands: {stands}")],
            "the marks were made anew after a change; `footfold check --mend` puts back what was accepted",
        ),
        State::Broken { line, stood, stands } => {
            let stood = stood.as_ref().map(|stood| format!("line {line} stood:  {stood}"));
            let stands = format!("line {line} stands: {stands}");
            (stood.into_iter().chain([stands]).collect(), mending::TODO)
        }
        State::Unread(trouble) => {
            writeln!(out, "    {}", show::lines(&trouble.to_string()))?;
            return writeln!(out, "{}", show::wrapped("    to do: ", &show::text(&trouble.remedy)));
        }
    };
    for line in stands {
        writeln!(out, "{}", show::wrapped("    ", &show::text(&line)))?;
    }
    let todo = if report.ledger.is_none() && report.state != State::Resaved {
        "mend it in its herd's folder with `footfold check --mend`"
    } else {
        todo
    };
    writeln!(out, "{}", show::wrapped("    to do: ", todo))
}

fn tell_marks(out: &mut impl Write, wrong: &[usize]) -> std::io::Result<()> {
    if wrong.is_empty() {
        return writeln!(out, "    every line's own mark holds");
    }
    let first: Vec<String> = wrong.iter().take(10).map(ToString::to_string).collect();
    let more = if wrong.len() > 10 { ", …" } else { "" };
    writeln!(out, "    {} with a wrong mark: {}{more}", show::count(wrong.len() as u64, "line"), first.join(", "))
}

fn tell_trouble(out: &mut impl Write, trouble: &Trouble) -> std::io::Result<()> {
    writeln!(out, "{}", show::lines(&trouble.to_string()))?;
    writeln!(out, "{}", show::wrapped("    to do: ", &show::text(&trouble.remedy)))
}
