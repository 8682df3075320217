//! Checking ledgers: unbroken, and complete up to where; apart, since the one does not prove the other.

mod beside;
mod claims;
mod lines;
mod signed;

use std::fs::File;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use ledger_format::keep;
use ledger_format::limits::LINE_BYTES;
use ledger_format::line::split_seal;
use ledger_format::mark::{self, Head, StreamVerdict};

use crate::Trouble;
use crate::disk::pass::{self, Passed};
use crate::disk::{Folder, HerdFolder, LedgerName, accepted, read};
use beside::Beginnings;
use claims::Seen;
use lines::Lines;

/// What a check found of one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// The file, by its short name.
    pub name: String,
    /// Its path.
    pub path: PathBuf,
    /// Which ledger of the herd it is; none for a file named on its own.
    pub ledger: Option<LedgerName>,
    /// Lines of the sealed part; if broken, those before the break.
    pub lines: u64,
    /// How it stands.
    pub state: State,
    /// Up to where somebody else has seen it.
    pub complete: Option<Complete>,
    /// Up to where its own device signed it.
    pub stated: Option<Complete>,
    /// What is to be looked into.
    pub findings: Vec<Trouble>,
    /// What is only to be known.
    pub notes: Vec<Trouble>,
    /// Every line whose own mark is wrong, if that was asked for.
    pub wrong_marks: Option<Vec<usize>>,
}

/// How a file stands, worst last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// Every mark holds.
    Unbroken,
    /// Every mark holds, but the accepted copy goes on.
    Short {
        /// Lines that are missing at its end.
        missing: u64,
    },
    /// The sealed part holds and is whole; below it stands a line with a mark from elsewhere.
    ForeignMark {
        /// The line.
        line: usize,
        /// What stands there.
        stands: String,
    },
    /// It only looks changed: every mark holds, once blanks, line ends and encoding are as they were.
    Resaved,
    /// Every mark holds, but the accepted copy says something else.
    Different {
        /// The first line that differs.
        line: usize,
        /// What was accepted.
        stood: String,
        /// What stands there.
        stands: String,
    },
    /// From this line on the marks do not hold.
    Broken {
        /// The line.
        line: usize,
        /// What was accepted there, if that is known.
        stood: Option<String>,
        /// What stands there.
        stands: String,
    },
    /// It could not be read at all.
    Unread(Trouble),
}

impl State {
    /// Whether every mark holds.
    pub fn is_unbroken(&self) -> bool {
        matches!(self, Self::Unbroken | Self::Short { .. } | Self::Resaved)
    }

    /// How bad it is: 0 is fine.
    pub fn weight(&self) -> u8 {
        match self {
            Self::Unbroken => 0,
            Self::Short { .. } | Self::ForeignMark { .. } | Self::Resaved => 1,
            Self::Different { .. } | Self::Broken { .. } => 2,
            Self::Unread(_) => 3,
        }
    }
}

/// How far others have seen a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complete {
    /// The last line that was seen.
    pub line: u64,
    /// Who says so.
    pub by: String,
    /// On which day, if it was a witness line.
    pub on: Option<NaiveDate>,
}

/// What a check of a herd found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Findings {
    /// Each file, worst first.
    pub reports: Vec<Report>,
    /// What is to be looked into and belongs to none of them.
    pub findings: Vec<Trouble>,
    /// The same, only to be known.
    pub notes: Vec<Trouble>,
}

impl Findings {
    /// Whether nothing is to be done (`mark.md` §13).
    pub fn is_well(&self) -> bool {
        self.findings.is_empty() && self.reports.iter().all(Report::is_well)
    }
}

impl Report {
    /// Whether nothing is to be done about this file.
    pub fn is_well(&self) -> bool {
        matches!(self.state, State::Unbroken | State::Resaved)
            && self.findings.is_empty()
            && self.wrong_marks.as_ref().is_none_or(|wrong| wrong.is_empty() || self.state == State::Resaved)
    }
}

/// Checks all ledgers of a herd, worst first, and what lies beside them.
pub fn herd(herd: &HerdFolder, every_mark: bool) -> Result<Findings, Trouble> {
    let listing = herd.ledgers()?;
    let several = listing.files.windows(2).any(|pair| pair[0].device != pair[1].device);
    let (mut reports, mut whole) = (Vec::new(), Whole { several, ..Whole::default() });
    for name in &listing.files {
        let (mut report, verdict) = one(herd, name, &mut whole);
        if every_mark {
            report.wrong_marks = herd.read(name)?.map(|bytes| mark::broken_marks(&bytes));
        }
        reports.push((report, verdict));
    }
    let mut done = Vec::new();
    for (mut report, verdict) in reports {
        if let (Some(name), Some(verdict)) = (report.ledger.clone(), verdict) {
            claims::judge(herd, &name, &verdict, &whole.seen, &mut report)?;
            signed::judge(herd, &name, every_mark, &mut report)?;
        }
        done.push(report);
    }
    whole.beginnings.tell(&mut done);
    done.extend(vanished(herd, &listing.files)?);
    worst_first(&mut done);
    let (of_copies, notes) = beside::copies(herd)?;
    let missing = beside::not_here(herd, &whole.seen, &done);
    let alone = beside::signed_and_gone(herd, &done)?;
    let findings = [listing.findings, missing, alone, of_copies, beside::protocols(herd)?].concat();
    Ok(Findings { reports: done, findings, notes })
}

/// What all files together say.
#[derive(Default)]
struct Whole {
    /// Whether there is more than one device: only then can one have witnessed another.
    several: bool,
    seen: Seen,
    beginnings: Beginnings,
}

/// Checks one file on its own.
pub fn file(path: &Path, every_mark: bool) -> Report {
    let report = |lines, state, wrong_marks| Report {
        name: path.display().to_string(),
        path: path.to_owned(),
        ledger: None,
        lines,
        state,
        complete: None,
        stated: None,
        findings: Vec::new(),
        notes: Vec::new(),
        wrong_marks,
    };
    match file_state(path, every_mark) {
        Ok((lines, state, wrong)) => report(lines, state, wrong),
        Err(trouble) => report(0, State::Unread(trouble), None),
    }
}

fn file_state(path: &Path, every_mark: bool) -> Result<(u64, State, Option<Vec<usize>>), Trouble> {
    let unnamed =
        || Trouble::new("expected the path of a ledger file", "name a file, as in crush-laptop/2026.txt").at(path);
    let name = path.file_name().and_then(|name| name.to_str()).ok_or_else(unnamed)?;
    let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = Folder::open(parent)?;
    let open = || folder.file(name)?.ok_or_else(|| Trouble::new("it is not there", "look at the path").at(path));
    let verdict = pass::over(open()?, path, None)?.verdict;
    let wrong = every_mark.then(|| folder.read(name)).transpose()?.flatten().map(|bytes| mark::broken_marks(&bytes));
    if verdict.unbroken {
        return Ok((verdict.lines, State::Unbroken, wrong));
    }
    let (lines, state) = broken(&folder.read(name)?.unwrap_or_default(), None);
    Ok((lines, state, wrong))
}

/// Sorts reports so that what needs a person comes first.
pub fn worst_first(reports: &mut [Report]) {
    reports.sort_by(|a, b| {
        let weight = |report: &Report| (report.state.weight(), report.findings.len());
        weight(b).cmp(&weight(a)).then_with(|| a.name.cmp(&b.name))
    });
}

/// One pass over a file for its marks and what it says of others' files, and one over its lines.
fn one(herd: &HerdFolder, name: &LedgerName, whole: &mut Whole) -> (Report, Option<StreamVerdict>) {
    let path = herd.path_of(name);
    let looked = look(herd, name, &path, whole);
    let (lines, state, rest) = match looked {
        Ok(Looked { state, verdict, lines }) => (verdict.lines, state, Some((verdict, lines))),
        Err(trouble) => (0, State::Unread(trouble), None),
    };
    let mut report = Report {
        name: name.to_string(),
        path,
        ledger: Some(name.clone()),
        lines,
        state,
        complete: None,
        stated: None,
        findings: Vec::new(),
        notes: Vec::new(),
        wrong_marks: None,
    };
    let verdict = rest.map(|(verdict, lines)| {
        lines.tell(&mut report);
        verdict
    });
    (report, verdict)
}

/// What looking at one file gives.
struct Looked {
    state: State,
    verdict: StreamVerdict,
    lines: Lines,
}

fn look(herd: &HerdFolder, name: &LedgerName, path: &Path, whole: &mut Whole) -> Result<Looked, Trouble> {
    let gone = || Trouble::new("it is not there any more", "run the check again").at(path);
    let folder = herd.device(&name.device)?.ok_or_else(gone)?;
    let open = || -> Result<File, Trouble> { folder.file(&name.file())?.ok_or_else(gone) };
    let passed = pass::over(open()?, path, whole.several.then_some(claims::WITNESS))?;
    if !passed.verdict.unbroken || read::has_changed_blanks(open()?, path, passed.verdict.sealed_bytes)? {
        let bytes = folder.read(&name.file())?.unwrap_or_default();
        return not_unbroken(herd, name, bytes, &passed, whole);
    }
    whole.beginnings.note(name, &passed.first);
    if let Some(trouble) = of_another_device(&passed.first, name) {
        return Err(trouble.at(path));
    }
    claims::hear(&passed, name, &mut whole.seen);
    let verdict = passed.verdict;
    let lines = Lines::of_file(open()?, path, verdict.sealed_bytes)?;
    Ok(Looked { state: against_accepted(herd, name, &folder, &verdict)?, verdict, lines })
}

/// A file whose bytes as they stand are not unbroken: it may only look changed.
fn not_unbroken(
    herd: &HerdFolder,
    name: &LedgerName,
    bytes: Vec<u8>,
    passed: &Passed,
    whole: &mut Whole,
) -> Result<Looked, Trouble> {
    let accepted = accepted::look(herd, name)?;
    let (lines, state) = broken(&bytes, accepted.as_deref());
    let bytes = if state == State::Resaved { keep::seen_through(&bytes).unwrap_or(bytes) } else { bytes };
    let first = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    whole.beginnings.note(name, first);
    if state == State::Resaved {
        if let Some(trouble) = of_another_device(first, name) {
            return Err(trouble.at(herd.path_of(name)));
        }
        let wanted = |line: &&[u8]| memchr::memmem::find(line, claims::WITNESS).is_some();
        let found = bytes.split(|b| *b == b'\n').filter(wanted).map(<[u8]>::to_vec).collect();
        claims::hear(&Passed { first: first.to_vec(), found, ..passed.clone() }, name, &mut whole.seen);
    }
    let inside = Lines::of_bytes(&bytes[..mark::check(&bytes).vouched_bytes]);
    Ok(Looked { state, verdict: StreamVerdict { lines, ..passed.verdict.clone() }, lines: inside })
}

/// Where a file that is not unbroken breaks.
fn broken(bytes: &[u8], accepted: Option<&[u8]>) -> (u64, State) {
    let check = mark::check(bytes);
    if let Some(plain) = keep::seen_through(bytes) {
        let found = mark::check(&plain);
        let state = match accepted.map(|accepted| compare(&plain, accepted, found.sealed_bytes)) {
            None | Some(State::Unbroken) => State::Resaved,
            Some(other) => other,
        };
        return (found.lines as u64, state);
    }
    let Some(line) = check.first_broken else { return (check.lines as u64, State::Unbroken) };
    if let Some(trouble) = newer_version(bytes) {
        return (0, State::Unread(trouble));
    }
    let stands = line_text(&bytes[check.vouched_bytes..]);
    if accepted.is_some_and(|accepted| accepted.len() == check.vouched_bytes && bytes.starts_with(accepted)) {
        return (check.lines as u64, State::ForeignMark { line, stands });
    }
    let held = accepted.filter(|accepted| accepted.len() > check.vouched_bytes);
    let held = held.filter(|accepted| bytes.starts_with(&accepted[..check.vouched_bytes]));
    let stood = held.map(|accepted| line_text(&accepted[check.vouched_bytes..]));
    (check.lines as u64, State::Broken { line, stood, stands })
}

/// A file whose head names another device is nobody's ledger where it lies.
fn of_another_device(head: &[u8], name: &LedgerName) -> Option<Trouble> {
    let (body, _) = split_seal(head)?;
    let head = Head::read(std::str::from_utf8(body).ok()?).ok().filter(|head| head.device != name.device)?;
    let what =
        format!("its head names device {}, but it lies under {}; it is left out everywhere", head.device, name.device);
    Some(Trouble::new(what, format!("move it to ledgers/{}, or out of the folder", head.device)).line(1))
}

/// A head of another version says so itself.
fn newer_version(bytes: &[u8]) -> Option<Trouble> {
    let first = bytes.split(|b| *b == b'\n').next()?;
    let (body, _) = split_seal(first)?;
    let problem = Head::read(std::str::from_utf8(body).ok()?).err()?;
    Some(Trouble::new(problem.to_string(), problem.help?).line(1))
}

/// Compares an unbroken file with its shadow by the shadow's last line: its mark covers all before it.
fn against_accepted(
    herd: &HerdFolder,
    name: &LedgerName,
    folder: &Folder,
    verdict: &StreamVerdict,
) -> Result<State, Trouble> {
    let Some(own) = herd.own_if_there(&["accepted", &name.device])? else { return Ok(State::Unbroken) };
    let Some(shadow) = own.file(&name.file())? else { return Ok(State::Unbroken) };
    let path = own.join(&name.file());
    let length = shadow.metadata().map_err(|e| Trouble::io("look at the file", &path, &e))?.len();
    let length = length.min(verdict.sealed_bytes);
    let from = length.saturating_sub(LINE_BYTES as u64 + 1);
    let visible = folder.file(&name.file())?;
    let end = read::range(&shadow, from, length, &path)?;
    let same = visible.map(|file| read::range(&file, from, length, &herd.path_of(name))).transpose()?;
    if same.as_ref() == Some(&end) && length == shadow.metadata().map_or(length, |facts| facts.len()) {
        return Ok(State::Unbroken);
    }
    let visible = folder.read(&name.file())?.unwrap_or_default();
    let sealed_bytes = usize::try_from(verdict.sealed_bytes).unwrap_or(visible.len());
    Ok(compare(&visible, &own.read(&name.file())?.unwrap_or_default(), sealed_bytes))
}

fn compare(visible: &[u8], shadow: &[u8], sealed_bytes: usize) -> State {
    let sealed = &visible[..sealed_bytes.min(visible.len())];
    let check = mark::check(shadow);
    let shadow = &shadow[..check.vouched_bytes];
    let lines = |bytes: &[u8]| bytes.iter().filter(|b| **b == b'\n').count();
    if sealed.starts_with(shadow) {
        return State::Unbroken;
    }
    if let Some(more) = shadow.strip_prefix(sealed) {
        return State::Short { missing: lines(more) as u64 };
    }
    let (line, stands, stood) = first_difference(sealed, shadow);
    State::Different { line, stood, stands }
}

/// The first line in which two texts differ, and what stands there in each.
pub fn first_difference(one: &[u8], other: &[u8]) -> (usize, String, String) {
    let (mut a, mut b) = (one.split(|b| *b == b'\n'), other.split(|b| *b == b'\n'));
    let mut line = 1;
    loop {
        match (a.next(), b.next()) {
            (Some(a), Some(b)) if a == b => line += 1,
            (a, b) => return (line, line_text(a.unwrap_or_default()), line_text(b.unwrap_or_default())),
        }
    }
}

/// Ledgers that were accepted here and are gone from the folder.
fn vanished(herd: &HerdFolder, there: &[LedgerName]) -> Result<Vec<Report>, Trouble> {
    let mut gone = Vec::new();
    for name in accepted::names(herd)?.into_iter().filter(|name| !there.contains(name)) {
        let missing = accepted::look(herd, &name)?.map_or(0, |bytes| mark::check(&bytes).lines) as u64;
        gone.push(Report {
            name: name.to_string(),
            path: herd.path_of(&name),
            ledger: Some(name),
            lines: 0,
            state: State::Short { missing },
            complete: None,
            stated: None,
            findings: Vec::new(),
            notes: Vec::new(),
            wrong_marks: None,
        });
    }
    Ok(gone)
}

/// The first line of some bytes, at most as long as a line can be.
fn line_text(bytes: &[u8]) -> String {
    let line = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    String::from_utf8_lossy(&line[..line.len().min(LINE_BYTES)]).into_owned()
}
