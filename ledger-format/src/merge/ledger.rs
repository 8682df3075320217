//! One device's file as entries.

use std::ops::Range;

use crate::line::{Act, CowNumber, Line, Mark, Observed, Problem, SealedLine, Subject, read_sealed};
use crate::mark::{Check, FullMark, Head, check};

use super::Event;

/// Whom a line is about, without its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Whose {
    /// One cow.
    Cow(CowNumber),
    /// A group.
    Group,
    /// The herd.
    Herd,
}

/// One sealed line, small enough to hold a million.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// When it was seen.
    pub observed: Observed,
    /// When it was kept: seconds since 1970, UTC.
    pub sealed: i64,
    /// Its mark.
    pub mark: Mark,
    /// Whom it is about.
    pub whose: Whose,
    /// What it does.
    pub event: Event,
    /// Observed before an earlier line of the same file, or long after it was sealed: out of file order.
    pub(crate) out_of_order: bool,
    at: u32,
    length: u16,
}

impl Entry {
    /// Where its line begins in the file.
    pub(crate) fn start(&self) -> u64 {
        u64::from(self.at)
    }

    /// Where its line ends, with its line feed.
    pub(crate) fn end(&self) -> u64 {
        self.start() + u64::from(self.length) + 1
    }
}

/// A line of sealed shape that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// Line number in its file, from 1.
    pub line: usize,
    /// The mark it shows.
    pub mark: Option<Mark>,
    /// What stands there.
    pub text: String,
    /// What was expected.
    pub problem: Problem,
}

/// Why a file cannot be merged at all.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LedgerProblem {
    /// It does not begin with a head.
    #[error("line 1 is no head: {0}")]
    NoHead(Problem),
    /// The head names another herd or device than its place says.
    #[error("line 1 says herd {herd}, device {device}, but the file lies under device {place}")]
    Elsewhere {
        /// Herd in the head.
        herd: String,
        /// Device in the head.
        device: String,
        /// Device in the path.
        place: String,
    },
}

/// The vouched part of one file.
#[derive(Debug)]
pub struct Ledger {
    /// The device.
    pub device: String,
    /// The year in its name.
    pub year: u16,
    /// The herd in its head.
    pub herd: String,
    /// The time zone in its head.
    pub zone: String,
    /// The device's key in its head.
    pub key: FullMark,
    /// The key that its head names as the herd's founder.
    pub founder: Option<FullMark>,
    /// What the check found.
    pub check: Check,
    /// Lines that cannot be read.
    pub unreadable: Vec<Unreadable>,
    bytes: Vec<u8>,
    entries: Vec<Entry>,
    corrections: Vec<u32>,
    renumberings: Vec<u32>,
    herd_lines: Vec<u32>,
    furthest: Option<(Observed, i64)>,
}

/// A device may see a day ahead of its sealed time (zones); beyond that a line is out of order.
const AHEAD_SECONDS: i64 = 2 * 86_400;

impl Ledger {
    /// Checks and reads a whole file. Only the vouched part is kept; the tail is not read.
    ///
    /// # Errors
    /// When the file has no head, or one that names another device than `device`.
    pub fn read(device: &str, year: u16, mut bytes: Vec<u8>) -> Result<Self, LedgerProblem> {
        let check = check(&bytes);
        let first = bytes.iter().position(|b| *b == b'\n').unwrap_or(bytes.len());
        let head = read_head(&bytes[..first], device)?;
        let mut ledger = Self {
            device: device.to_owned(),
            year,
            herd: head.herd.to_owned(),
            zone: head.zone.to_owned(),
            key: key(head.key)?,
            founder: head.founder.map(key).transpose()?,
            check,
            unreadable: Vec::new(),
            entries: Vec::with_capacity(bytes.len() / 96),
            bytes: Vec::new(),
            corrections: Vec::new(),
            renumberings: Vec::new(),
            herd_lines: Vec::new(),
            furthest: None,
        };
        bytes.truncate(ledger.check.vouched_bytes);
        let begin = (first + 1).min(bytes.len());
        let mut number = 1;
        match std::str::from_utf8(&bytes) {
            Ok(text) => each_line(&bytes, begin, |range| {
                number += 1;
                ledger.take(&text[range.clone()], range, number);
            }),
            Err(_) => each_line(&bytes, begin, |range| {
                number += 1;
                ledger.take_bytes(&bytes, range, number);
            }),
        }
        ledger.bytes = bytes;
        Ok(ledger)
    }

    /// Adds sealed lines that continue this file; their marks are the caller's to verify.
    pub fn append(&mut self, lines: &[u8]) -> Range<u32> {
        let first = self.entries.len() as u32;
        let mut bytes = std::mem::take(&mut self.bytes);
        let begin = bytes.len();
        bytes.extend_from_slice(lines);
        each_line(&bytes, begin, |range| {
            self.check.lines += 1;
            self.check.vouched_bytes = range.end + 1;
            self.take_bytes(&bytes, range, self.check.lines);
        });
        self.check.sealed_bytes = self.check.vouched_bytes;
        self.bytes = bytes;
        first..self.entries.len() as u32
    }

    /// All entries, in file order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The vouched bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    pub(super) fn corrections(&self) -> &[u32] {
        &self.corrections
    }

    pub(crate) fn renumberings(&self) -> &[u32] {
        &self.renumberings
    }

    pub(crate) fn herd_lines(&self) -> &[u32] {
        &self.herd_lines
    }

    /// The text of an entry, without line feed.
    pub(super) fn text(&self, entry: &Entry) -> &str {
        let start = entry.at as usize;
        std::str::from_utf8(&self.bytes[start..start + usize::from(entry.length)]).unwrap_or_default()
    }

    #[inline]
    fn take(&mut self, text: &str, range: Range<usize>, number: usize) {
        match read_sealed(text) {
            Ok(sealed) => self.push(sealed, &range),
            Err(problem) => self.unreadable(number, text.to_owned(), problem),
        }
    }

    fn take_bytes(&mut self, bytes: &[u8], range: Range<usize>, number: usize) {
        let line = &bytes[range.clone()];
        match std::str::from_utf8(line) {
            Ok(text) => self.take(text, range, number),
            Err(error) => {
                let problem = Problem::new(error.valid_up_to()..line.len(), "UTF-8");
                self.unreadable(number, String::from_utf8_lossy(line).into_owned(), problem);
            }
        }
    }

    fn unreadable(&mut self, line: usize, text: String, problem: Problem) {
        let mark = text.len().checked_sub(16).and_then(|at| Mark::read(&text.as_bytes()[at..]));
        self.unreadable.push(Unreadable { line, mark, text, problem });
    }

    #[inline]
    fn push(&mut self, SealedLine { line, seal }: SealedLine<'_>, range: &Range<usize>) {
        let index = self.entries.len() as u32;
        let sealed = seal.sealed.and_utc().timestamp();
        let out_of_order = self.is_out_of_order(line.observed, sealed);
        self.note(index, &line);
        self.entries.push(Entry {
            observed: line.observed,
            sealed,
            mark: seal.mark,
            whose: match line.subject {
                Subject::Cow(number) => Whose::Cow(number),
                Subject::Group(_) => Whose::Group,
                Subject::Herd => Whose::Herd,
            },
            event: Event::from(&line.act),
            out_of_order,
            at: range.start as u32,
            length: (range.end - range.start) as u16,
        });
    }

    /// Order within a file is by observed time, then sealed time, then position; most lines come in it.
    #[inline]
    fn is_out_of_order(&mut self, observed: Observed, sealed: i64) -> bool {
        let seen = observed.date.and_time(chrono::NaiveTime::MIN).and_utc().timestamp();
        let ahead = seen > sealed + AHEAD_SECONDS;
        let behind = self.furthest.is_some_and(|furthest| (observed, sealed) < furthest);
        if !(ahead || behind) {
            self.furthest = Some((observed, sealed));
        }
        ahead || behind
    }

    #[inline]
    fn note(&mut self, index: u32, line: &Line<'_>) {
        if line.replaces.is_some() || matches!(line.act, Act::Strike(_)) {
            self.corrections.push(index);
        }
        if matches!(line.act, Act::Renumbered(_)) {
            self.renumberings.push(index);
        }
        if !matches!(line.subject, Subject::Cow(_)) {
            self.herd_lines.push(index);
        }
    }
}

/// Each whole line from a place on, without its line feed.
fn each_line(bytes: &[u8], begin: usize, mut take: impl FnMut(Range<usize>)) {
    let mut at = begin;
    while let Some(lf) = memchr::memchr(b'\n', &bytes[at..]) {
        take(at..at + lf);
        at += lf + 1;
    }
}

fn read_head<'a>(line: &'a [u8], place: &str) -> Result<Head<'a>, LedgerProblem> {
    let problem = || LedgerProblem::NoHead(Problem::new(0..line.len(), "a head and its seal"));
    let (body, _) = crate::line::split_seal(line).ok_or_else(problem)?;
    let body = std::str::from_utf8(body).map_err(|_| problem())?;
    let head = Head::read(body).map_err(LedgerProblem::NoHead)?;
    if head.device != place {
        let (herd, device) = (head.herd.to_owned(), head.device.to_owned());
        return Err(LedgerProblem::Elsewhere { herd, device, place: place.to_owned() });
    }
    Ok(head)
}

fn key(digits: &str) -> Result<FullMark, LedgerProblem> {
    let problem = || LedgerProblem::NoHead(Problem::new(0..digits.len(), "64 digits"));
    FullMark::read(digits).ok_or_else(problem)
}
