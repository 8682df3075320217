//! What a check found, for a program.

use daemon::Trouble;
use daemon::audit::{self, Findings, Report, State};
use serde::Serialize;

/// The whole of it.
#[derive(Serialize)]
pub(super) struct Rows {
    well: bool,
    ledgers: Vec<Row>,
    findings: Vec<Finding>,
    notes: Vec<Finding>,
}

/// One file.
#[derive(Serialize)]
struct Row {
    ledger: String,
    path: String,
    lines: u64,
    state: &'static str,
    line: Option<usize>,
    stood: Option<String>,
    stands: Option<String>,
    missing: Option<u64>,
    complete: Option<Complete>,
    stated: Option<Complete>,
    findings: Vec<Finding>,
    notes: Vec<Finding>,
    wrong_marks: Option<Vec<usize>>,
}

#[derive(Serialize)]
struct Complete {
    line: u64,
    by: String,
    on: Option<String>,
}

#[derive(Serialize)]
struct Finding {
    file: Option<String>,
    line: Option<usize>,
    what: String,
    remedy: String,
}

pub(super) fn of(found: &Findings) -> Rows {
    Rows {
        well: found.is_well(),
        ledgers: found.reports.iter().map(row).collect(),
        findings: all(&found.findings),
        notes: all(&found.notes),
    }
}

fn all(troubles: &[Trouble]) -> Vec<Finding> {
    troubles.iter().map(finding).collect()
}

fn finding(trouble: &Trouble) -> Finding {
    let Trouble { what, path, line, remedy } = trouble.clone();
    Finding { file: path.map(|path| path.display().to_string()), line, what, remedy }
}

fn complete(seen: &audit::Complete) -> Complete {
    Complete { line: seen.line, by: seen.by.clone(), on: seen.on.map(|day| day.to_string()) }
}

fn row(report: &Report) -> Row {
    let mut row = Row {
        ledger: report.name.clone(),
        path: report.path.display().to_string(),
        lines: report.lines,
        state: "unbroken",
        line: None,
        stood: None,
        stands: None,
        missing: None,
        complete: report.complete.as_ref().map(complete),
        stated: report.stated.as_ref().map(complete),
        findings: all(&report.findings),
        notes: all(&report.notes),
        wrong_marks: report.wrong_marks.clone(),
    };
    match report.state.clone() {
        State::Unbroken => {}
        State::Resaved => row.state = "only looks changed",
        State::Short { missing } => (row.state, row.missing) = ("short", Some(missing)),
        State::ForeignMark { line, stands } => {
            (row.state, row.line, row.stands) = ("mark from elsewhere", Some(line), Some(stands));
        }
        State::Different { line, stood, stands } => {
            (row.state, row.line, row.stood, row.stands) = ("different", Some(line), Some(stood), Some(stands));
        }
        State::Broken { line, stood, stands } => {
            (row.state, row.line, row.stood, row.stands) = ("broken", Some(line), stood, Some(stands));
        }
        State::Unread(trouble) => {
            row.state = "could not be read";
            row.findings.push(finding(&trouble));
        }
    }
    row
}
