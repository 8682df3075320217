//! One device's file as entries.

use std::ops::Range;

use chrono::NaiveDate;

use crate::line::{Act, CowNumber, Line, Mark, Observed, Problem, SealedLine, Subject, read_sealed_line};
use crate::mark::{Check, Head, check};

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
    /// What the check found.
    pub check: Check,
    /// Lines that cannot be read.
    pub unreadable: Vec<Unreadable>,
    text: Text,
    entries: Vec<Entry>,
    corrections: Vec<u32>,
    renumberings: Vec<u32>,
    herd_lines: Vec<u32>,
    furthest: Option<(Observed, i64)>,
}

/// The bytes of a file, in whatever memory the caller has them.
pub trait Held: AsRef<[u8]> + Send + Sync + 'static {}

impl<T: AsRef<[u8]> + Send + Sync + 'static> Held for T {}

/// The text of a ledger: what was read, and what was added since.
struct Text {
    read: Box<dyn Held>,
    /// As much of it as the marks vouch for.
    vouched: usize,
    added: Vec<u8>,
}

impl Default for Text {
    fn default() -> Self {
        Self { read: Box::new([]), vouched: 0, added: Vec::new() }
    }
}

impl std::fmt::Debug for Text {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} bytes read, {} added", self.vouched, self.added.len())
    }
}

impl Text {
    fn read(&self) -> &[u8] {
        &(*self.read).as_ref()[..self.vouched]
    }

    /// A line is in one of the two; none begins in the first and ends in the second.
    fn get(&self, at: usize, length: usize) -> &[u8] {
        match at.checked_sub(self.vouched) {
            None => &self.read()[at..at + length],
            Some(at) => &self.added[at..at + length],
        }
    }
}

/// A device may see a day ahead of its sealed time (zones); beyond that a line is out of order.
const AHEAD_SECONDS: i64 = 2 * 86_400;

impl Ledger {
    /// Checks and reads a whole file. Only the vouched part is kept; the tail is not read.
    ///
    /// # Errors
    /// When the file has no head, or one that names another device than `device`.
    pub fn read(device: &str, year: u16, bytes: impl Held) -> Result<Self, LedgerProblem> {
        let whole = bytes.as_ref();
        let check = check(whole);
        let first = memchr::memchr(b'\n', whole).unwrap_or(whole.len());
        let (herd, zone) = read_head(&whole[..first], device)?;
        let vouched = &whole[..check.vouched_bytes];
        let mut ledger = Self {
            device: device.to_owned(),
            year,
            herd,
            zone,
            unreadable: Vec::new(),
            // A little more than a line is long on average costs nothing until it is used.
            entries: Vec::with_capacity(vouched.len() / 96),
            text: Text::default(),
            corrections: Vec::new(),
            renumberings: Vec::new(),
            herd_lines: Vec::new(),
            furthest: None,
            check,
        };
        let begin = (first + 1).min(vouched.len());
        let mut number = 1;
        match std::str::from_utf8(vouched) {
            Ok(text) => each_line(vouched, begin, |range| {
                number += 1;
                ledger.take(&text[range.clone()], range.start, number);
            }),
            Err(_) => each_line(vouched, begin, |range| {
                number += 1;
                ledger.take_bytes(&vouched[range.clone()], range.start, number);
            }),
        }
        ledger.text = Text { vouched: vouched.len(), read: Box::new(bytes), added: Vec::new() };
        Ok(ledger)
    }

    /// Adds sealed lines that continue this file; their marks are the caller's to verify.
    pub fn append(&mut self, lines: &[u8]) -> Range<u32> {
        let first = self.entries.len() as u32;
        let begin = self.length();
        each_line(lines, 0, |range| {
            self.check.lines += 1;
            self.check.vouched_bytes = begin + range.end + 1;
            self.take_bytes(&lines[range.clone()], begin + range.start, self.check.lines);
        });
        self.check.sealed_bytes = self.check.vouched_bytes;
        self.text.added.extend_from_slice(lines);
        first..self.entries.len() as u32
    }

    /// All entries, in file order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// How many bytes are vouched for.
    pub fn length(&self) -> usize {
        self.text.vouched + self.text.added.len()
    }

    /// Whether a text begins with all that is vouched for.
    pub fn is_begun_by(&self, text: &[u8]) -> bool {
        let after = text.strip_prefix(self.text.read());
        after.is_some_and(|after| after.starts_with(&self.text.added))
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
        std::str::from_utf8(self.text.get(entry.at as usize, usize::from(entry.length))).unwrap_or_default()
    }

    #[inline]
    fn take(&mut self, line: &str, at: usize, number: usize) {
        match read_sealed_line(line) {
            Ok(sealed) => self.push(&sealed, at, line.len()),
            Err(problem) => self.unreadable(number, line.to_owned(), *problem),
        }
    }

    fn take_bytes(&mut self, line: &[u8], at: usize, number: usize) {
        match std::str::from_utf8(line) {
            Ok(line) => self.take(line, at, number),
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
    fn push(&mut self, SealedLine { line, seal }: &SealedLine<'_>, at: usize, length: usize) {
        let index = self.entries.len() as u32;
        let sealed = seal.sealed.and_utc().timestamp();
        let ahead = line.observed.date > seal.sealed.date() && is_ahead(line.observed.date, sealed);
        let out_of_order = ahead || !self.goes_on(line.observed, sealed);
        self.note(index, line);
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
            at: at as u32,
            length: length as u16,
        });
    }

    /// Order within a file is by observed time, then sealed time, then position; most lines come in it.
    #[inline]
    fn goes_on(&mut self, observed: Observed, sealed: i64) -> bool {
        let goes_on = self.furthest.is_none_or(|furthest| furthest <= (observed, sealed));
        if goes_on {
            self.furthest = Some((observed, sealed));
        }
        goes_on
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

fn is_ahead(observed: NaiveDate, sealed: i64) -> bool {
    observed.and_time(chrono::NaiveTime::MIN).and_utc().timestamp() > sealed + AHEAD_SECONDS
}

/// Each whole line from a place on, without its line feed.
fn each_line(bytes: &[u8], begin: usize, mut take: impl FnMut(Range<usize>)) {
    let mut at = begin;
    while let Some(lf) = memchr::memchr(b'\n', &bytes[at..]) {
        take(at..at + lf);
        at += lf + 1;
    }
}

fn read_head(line: &[u8], place: &str) -> Result<(String, String), LedgerProblem> {
    let problem = || LedgerProblem::NoHead(Problem::new(0..line.len(), "a head and its seal"));
    let (body, _) = crate::line::split_seal(line).ok_or_else(problem)?;
    let body = std::str::from_utf8(body).map_err(|_| problem())?;
    let head = Head::read(body).map_err(LedgerProblem::NoHead)?;
    if head.device != place {
        let (herd, device) = (head.herd.to_owned(), head.device.to_owned());
        return Err(LedgerProblem::Elsewhere { herd, device, place: place.to_owned() });
    }
    Ok((head.herd.to_owned(), head.zone.to_owned()))
}
