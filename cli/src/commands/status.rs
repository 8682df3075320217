//! `footfold status`: what is watched, what is unsealed and why, what is wrong.

use std::io::Write;
use std::process::ExitCode;

use daemon::disk::HerdFolder;
use daemon::watch::report::{DaemonRow, HerdRow, Status, UnsealedRow, of_folder, worst_first};
use daemon::watch::socket::{self, Reply, What};

use crate::fail::{Fail, MEND, Outcome};
use crate::look::Format;
use crate::place::{self, Common};
use crate::show::paper::Paper;

/// What is watched, what is unsealed and why, what is wrong
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Text to read, or the same rows for a program
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let (status, declined) = status(common)?;
    let out = args.format.page(crate::show::paper::bold_on_stdout(), &status, |paper| {
        tell(paper, &status, declined.as_deref());
    })?;
    std::io::stdout().lock().write_all(out.as_bytes())?;
    let is_fine = status.herds.iter().all(|herd| herd.troubles.is_empty());
    Ok(if is_fine { ExitCode::SUCCESS } else { ExitCode::from(MEND) })
}

/// From the daemon; without one, from the folder. And why a daemon did not say.
fn status(common: &Common) -> Result<(Status, Option<String>), Fail> {
    let mut declined = None;
    if let Some(socket) = socket::place()? {
        match socket::ask(&socket, What::Status) {
            Some(Reply::Status(status)) => return Ok((with_this_folder(common, status)?, None)),
            Some(Reply::Declined(why)) => declined = Some(why),
            Some(Reply::Answer(_) | Reply::Pairing(_)) | None => {}
        }
    }
    let herd = this_folder(&common.folder()?)?;
    Ok((Status { daemon: None, herds: vec![herd] }, declined))
}

fn this_folder(folder: &HerdFolder) -> Result<HerdRow, Fail> {
    Ok(of_folder(folder, place::settings()?.device.as_deref(), place::now()))
}

/// Whoever stands in a herd's folder that the daemon does not watch wants to hear of it.
fn with_this_folder(common: &Common, mut status: Status) -> Result<Status, Fail> {
    let Ok(folder) = common.folder() else { return Ok(status) };
    let path = folder.path().canonicalize()?.display().to_string();
    if status.herds.iter().all(|herd| herd.folder != path) {
        status.herds.push(this_folder(&folder)?);
        worst_first(&mut status.herds);
    }
    Ok(status)
}

fn tell(paper: &mut Paper, status: &Status, declined: Option<&str>) {
    match (&status.daemon, declined) {
        (Some(daemon), _) => {
            let watched = status.herds.iter().filter(|herd| herd.watched_since.is_some());
            tell_daemon(paper, daemon, watched.count());
        }
        (None, Some(why)) => {
            paper.head("A daemon runs, but it does not say how things stand.");
            paper.put("! ", why);
            paper.put("  to do: ", "end it and start it again; this is read from the folder");
        }
        (None, None) => {
            paper.head("No daemon runs here: what is typed is kept by `footfold seal`.");
            paper.put("", "`footfold watch` keeps it by itself.");
        }
    }
    for herd in &status.herds {
        paper.gap();
        tell_herd(paper, herd);
    }
}

fn tell_daemon(paper: &mut Paper, daemon: &DaemonRow, herds: usize) {
    let herds = crate::show::count(herds as u64, "herd");
    paper.head(&format!("Watching {herds} since {}, process {}", daemon.since, daemon.process));
    let settle = daemon.settle_ms / 1000;
    match &daemon.writes_as {
        Some(device) => paper.put("", &format!("Keeps what is typed as {device}, {settle} s after the last save.")),
        None => paper.put("", "Keeps nothing: it only reads."),
    }
    if let Some(trouble) = &daemon.trouble {
        paper.put("! ", &trouble.what);
        paper.put("  to do: ", &trouble.remedy);
    }
}

fn tell_herd(paper: &mut Paper, herd: &HerdRow) {
    let name = herd.herd.as_deref().unwrap_or("a herd that cannot be read");
    paper.head(name);
    paper.put("  ", &herd.folder);
    for trouble in &herd.troubles {
        paper.put("  ! ", &trouble.what);
        if !trouble.remedy.is_empty() {
            paper.put("    to do: ", &trouble.remedy);
        }
    }
    for row in &herd.unsealed {
        paper.put("  - ", &unsealed(row));
    }
    // Beside a trouble, nothing found may mean that nothing could be read.
    if herd.unsealed.is_empty() && herd.troubles.is_empty() {
        paper.put("  ", "nothing is unsealed");
    }
    for note in &herd.notes {
        paper.put("  note ", note);
    }
    let watched = match (&herd.watched_since, &herd.found_by, &herd.watched_by_another) {
        (Some(since), Some(by), _) => format!("watched since {since}, by {by}"),
        (_, _, Some(who)) => format!("watched by another daemon: {who}"),
        _ => "not watched".to_owned(),
    };
    let last = herd.last_sealed.as_ref().map_or("nothing sealed here yet".to_owned(), |at| format!("last sealed {at}"));
    paper.put("  ", &format!("{watched}; {last}"));
}

fn unsealed(row: &UnsealedRow) -> String {
    let lines = match row.lines {
        1 => format!("line {}", row.line),
        n => format!("{} from line {} on", crate::show::count(n as u64, "line"), row.line),
    };
    let why = row.remark.as_ref().map_or(row.why.clone(), |remark| format!("left as typed: {remark}"));
    format!("{}, {lines}: {why}", row.file)
}
