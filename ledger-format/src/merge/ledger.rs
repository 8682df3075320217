//! One device's file as entries.

use std::borrow::Cow;
use std::ops::Range;

use chrono::NaiveDate;

use crate::line::{Act, CowNumber, Line, Mark, Observed, Problem, SealedLine, Subject, read_sealed_line};
use crate::mark::{Check, FullMark, Head, check_along};

use super::Event;
use super::usual::{Kept, Usual};

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
    text: Text,
    entries: Vec<Entry>,
    corrections: Vec<u32>,
    renumberings: Vec<u32>,
    herd_lines: Vec<u32>,
    furthest: Option<(Observed, i64)>,
    usual: Usual,
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
        let first = memchr::memchr(b'\n', whole).unwrap_or(whole.len());
        let head = read_head(&whole[..first], device)?;
        let keys = (key(head.key)?, head.founder.map(key).transpose()?);
        let begun = || Self::begun(&head, keys, year, first + 1);
        let mut ledger = begun();
        // A little more than a line is long on average costs nothing until it is used.
        ledger.entries.reserve_exact(whole.len() / 96);
        let (check, _) = check_along(whole, |so_far| ledger.go_on(so_far));
        if !check.is_unbroken() {
            ledger = begun();
            ledger.go_on(&whole[..check.vouched_bytes]);
        }
        ledger.text = Text { vouched: check.vouched_bytes, read: Box::new(bytes), added: Vec::new() };
        ledger.check = check;
        Ok(ledger)
    }

    /// A ledger of which nothing but its first line was read.
    fn begun(head: &Head<'_>, (key, founder): (FullMark, Option<FullMark>), year: u16, length: usize) -> Self {
        let check = Check { sealed_bytes: length, vouched_bytes: length, lines: 1, full: None, first_broken: None };
        Self {
            device: head.device.to_owned(),
            year,
            herd: head.herd.to_owned(),
            zone: head.zone.to_owned(),
            key,
            founder,
            check,
            unreadable: Vec::new(),
            text: Text::default(),
            entries: Vec::new(),
            corrections: Vec::new(),
            renumberings: Vec::new(),
            herd_lines: Vec::new(),
            furthest: None,
            usual: Usual::default(),
        }
    }

    /// Takes the whole lines that were not taken yet.
    fn go_on(&mut self, so_far: &[u8]) {
        let begin = self.check.vouched_bytes;
        self.take_lines(so_far.get(begin..).unwrap_or_default(), begin);
    }

    fn take_lines(&mut self, lines: &[u8], begin: usize) {
        let mut at = 0;
        for lf in memchr::memchr_iter(b'\n', lines) {
            self.check.lines += 1;
            self.take(&lines[at..lf], begin + at);
            at = lf + 1;
        }
        self.check.vouched_bytes = begin + at;
    }

    /// Adds sealed lines that continue this file; their marks are the caller's to verify.
    pub fn append(&mut self, lines: &[u8]) -> Range<u32> {
        let first = self.entries.len() as u32;
        let begin = self.length();
        self.take_lines(lines, begin);
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

    /// The bytes that are vouched for, copied where some were added since the file was read.
    pub fn bytes(&self) -> Cow<'_, [u8]> {
        match self.text.added.as_slice() {
            [] => Cow::Borrowed(self.text.read()),
            added => Cow::Owned([self.text.read(), added].concat()),
        }
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
    fn take(&mut self, line: &[u8], at: usize) {
        match self.usual.read(line) {
            Some(kept) => self.push(&kept, at, line.len()),
            None => self.take_any(line, at),
        }
    }

    fn take_any(&mut self, bytes: &[u8], at: usize) {
        match std::str::from_utf8(bytes) {
            Ok(line) => match read_sealed_line(line) {
                Ok(sealed) => {
                    self.note(&sealed.line);
                    self.push(&Kept::from(&sealed), at, line.len());
                }
                Err(problem) => self.unreadable(line.to_owned(), *problem),
            },
            Err(error) => {
                let problem = Problem::new(error.valid_up_to()..bytes.len(), "UTF-8");
                self.unreadable(String::from_utf8_lossy(bytes).into_owned(), problem);
            }
        }
    }

    fn unreadable(&mut self, text: String, problem: Problem) {
        let mark = text.len().checked_sub(16).and_then(|at| Mark::read(&text.as_bytes()[at..]));
        self.unreadable.push(Unreadable { line: self.check.lines, mark, text, problem });
    }

    #[inline]
    fn push(&mut self, kept: &Kept, at: usize, length: usize) {
        let Kept { observed, sealed, sealed_on, mark, whose, event } = *kept;
        let ahead = observed.date > sealed_on && is_ahead(observed.date, sealed);
        let out_of_order = ahead || !self.goes_on(observed, sealed);
        let (at, length) = (at as u32, length as u16);
        self.entries.push(Entry { observed, sealed, mark, whose, event, out_of_order, at, length });
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

    /// Remembers a line that is about to be pushed, if it is one that is looked for apart; no usual line is.
    fn note(&mut self, line: &Line<'_>) {
        let index = self.entries.len() as u32;
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

impl From<&SealedLine<'_>> for Kept {
    fn from(SealedLine { line, seal }: &SealedLine<'_>) -> Self {
        Self {
            observed: line.observed,
            sealed: seal.sealed.and_utc().timestamp(),
            sealed_on: seal.sealed.date(),
            mark: seal.mark,
            whose: match line.subject {
                Subject::Cow(number) => Whose::Cow(number),
                Subject::Group(_) => Whose::Group,
                Subject::Herd => Whose::Herd,
            },
            event: Event::from(&line.act),
        }
    }
}

fn is_ahead(observed: NaiveDate, sealed: i64) -> bool {
    observed.and_time(chrono::NaiveTime::MIN).and_utc().timestamp() > sealed + AHEAD_SECONDS
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
