//! What a device itself signed of its files (`mark.md` §16, §17).

use std::path::Path;

use ledger_format::keep;
use ledger_format::mark::{self, FullMark};

use super::{Complete, Report, State};
use crate::disk::{HerdFolder, LedgerName};
use crate::states::{self, Of, StatementLine};
use crate::{Trouble, forks};

/// A line of the statements that has their form, its number, and what it says.
struct Said<'a> {
    number: usize,
    line: &'a str,
    length: u64,
    mark: FullMark,
}

/// What the statements of a file come to.
#[derive(Default)]
struct Found<'a> {
    /// Those that agree with the file, and the line of it that each ends at; the longest last.
    agree: Vec<(u64, Said<'a>)>,
    /// Those that do not, and the mark that the file has there, if a line ends there.
    differ: Vec<(Option<FullMark>, Said<'a>)>,
    /// Those that are longer than the file, the longest last.
    longer: Vec<Said<'a>>,
    /// Numbers of lines that say nothing.
    wrong: Vec<usize>,
}

/// Looks at the statements of a file. A signature is looked at where it counts, every one if that is asked for.
pub(super) fn judge(herd: &HerdFolder, name: &LedgerName, every: bool, report: &mut Report) -> Result<(), Trouble> {
    let path = herd.path_of(name).with_extension("sig");
    let lines = match states::lines(herd, name) {
        Ok(lines) if lines.is_empty() => return Ok(()),
        Ok(lines) => lines,
        Err(trouble) => {
            report.findings.push(trouble);
            return Ok(());
        }
    };
    let bytes = herd.read(name)?.unwrap_or_default();
    let bytes = if report.state == State::Resaved { keep::seen_through(&bytes).unwrap_or(bytes) } else { bytes };
    let vouched = &bytes[..mark::check(&bytes).vouched_bytes];
    let Some(of) = Of::file(name, vouched) else { return Ok(()) };
    let mut found = compare(&of, &lines, vouched);
    tell_agreed(&of, every, &mut found, report);
    tell_different(herd, name, &of, &mut found, report)?;
    if report.state.is_unbroken() {
        tell_longer(&of, &mut found, report);
    }
    tell_wrong(&path, found.wrong, report);
    Ok(())
}

fn compare<'a>(of: &Of, lines: &'a [String], vouched: &[u8]) -> Found<'a> {
    let (mut found, mut said) = (Found::default(), Vec::new());
    for (number, line) in (1..).zip(lines) {
        match of.read(line) {
            Some(read) => said.push(Said { number, line, length: read.length, mark: read.mark }),
            None => found.wrong.push(number),
        }
    }
    said.sort_by_key(|said| said.length);
    let (mut hasher, mut hashed, mut ends) = (blake3::Hasher::new(), 0, 0);
    for said in said {
        let Some(end) = usize::try_from(said.length).ok().filter(|end| *end <= vouched.len()) else {
            found.longer.push(said);
            continue;
        };
        let Some(begin) = end.checked_sub(MARK_AND_END).filter(|begin| *begin >= hashed && vouched[end - 1] == b'\n')
        else {
            found.differ.push((None, said));
            continue;
        };
        hasher.update(&vouched[hashed..begin]);
        ends += memchr::memchr_iter(b'\n', &vouched[hashed..begin]).count() as u64;
        hashed = begin;
        let full = FullMark(*hasher.finalize().as_bytes());
        if full == said.mark {
            found.agree.push((ends + 1, said));
        } else {
            found.differ.push((Some(full), said));
        }
    }
    found
}

/// Digits of a mark and the line feed after it.
const MARK_AND_END: usize = 17;

fn tell_agreed(of: &Of, every: bool, found: &mut Found, report: &mut Report) {
    for (line, said) in found.agree.iter().rev() {
        match of.verified(said.line) {
            Some(proved) if report.stated.is_none() => {
                let by = report.ledger.as_ref().map(|name| name.device.clone()).unwrap_or_default();
                report.stated = Some(Complete { line: *line, by, on: Some(proved.at.date()) });
            }
            Some(_) => {}
            None => found.wrong.push(said.number),
        }
        if report.stated.is_some() && !every {
            break;
        }
    }
}

fn tell_different(
    herd: &HerdFolder,
    name: &LedgerName,
    of: &Of,
    found: &mut Found,
    report: &mut Report,
) -> Result<(), Trouble> {
    // Where no line ends at that length here, the other statement is the longest that agrees.
    let agreed = found.agree.iter().rev().find_map(|(_, said)| of.verified(said.line));
    for (here, said) in &found.differ {
        match of.verified(said.line) {
            Some(proved) => {
                let is_kept = forks::holds(herd, name, &proved)?;
                report.findings.push(two_histories(&proved, *here, agreed.as_ref(), is_kept, report));
            }
            None => found.wrong.push(said.number),
        }
    }
    Ok(())
}

fn tell_longer(of: &Of, found: &mut Found, report: &mut Report) {
    for said in found.longer.iter().rev() {
        if let Some(proved) = of.verified(said.line) {
            report.findings.push(shorter(&proved).at(&report.path));
            return;
        }
        found.wrong.push(said.number);
    }
}

fn tell_wrong(path: &Path, mut wrong: Vec<usize>, report: &mut Report) {
    wrong.sort_unstable();
    let Some(first) = wrong.first() else { return };
    let says = if wrong.len() == 1 { "says" } else { "say" };
    let what = format!(
        "{} of {} {says} nothing: no statement of this file, or the signature is wrong",
        keep::line_numbers(&wrong[..wrong.len().min(10)]),
        path.file_name().unwrap_or_default().display()
    );
    let remedy = "find out who wrote there; take these lines out, or gather a fresh copy: nothing else hangs on them";
    report.findings.push(Trouble::new(what, remedy).at(path).line(*first));
}

fn two_histories(
    said: &StatementLine,
    here: Option<FullMark>,
    agreed: Option<&StatementLine>,
    is_kept: bool,
    report: &Report,
) -> Trouble {
    let device = report.ledger.as_ref().map(|name| name.device.as_str()).unwrap_or_default();
    let here = match (here, agreed) {
        (Some(full), _) => format!("here, at that length, the mark is {full}"),
        (None, Some(agreed)) => {
            format!(
                "here no line ends at that length, and it signed {} bytes that end with {}",
                agreed.length, agreed.mark
            )
        }
        (None, None) => "here no line ends at that length".to_owned(),
    };
    let what = format!(
        "two histories: on {} {device} signed {} bytes that end with the mark {}; {here}",
        said.at.date(),
        said.length,
        said.mark
    );
    let remedy = if is_kept {
        format!("the other one is kept in .footfold/forks/{device}: find out which machine wrote it, and how that came")
    } else {
        "look for the other one: `footfold gather FOLDER` with other copies names the first line that differs"
            .to_owned()
    };
    Trouble::new(what, remedy).at(&report.path)
}

fn shorter(said: &StatementLine) -> Trouble {
    Trouble::new(
        format!("shorter than its own device signed it on {}: {} bytes", said.at.date(), said.length),
        "gather the rest from a copy of the folder: `footfold gather FOLDER`",
    )
}
