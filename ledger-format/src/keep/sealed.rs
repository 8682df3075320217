//! The accepted lines in a save, whatever an editor did to them (`keep.md` §3 to §7).

use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::HashMap;

use crate::limits::SEAL_BYTES;
use crate::line::{Mark, split_seal};
use crate::mark;
use crate::text::{self, Encoding};

/// A line of a save that is no accepted one; its number is that of the line it stood on, from 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Other {
    pub(super) number: usize,
    pub(super) text: String,
    /// It stood in front of an accepted line, on its line.
    pub(super) in_front: bool,
}

/// What of the accepted lines a save shows, and what else it holds.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Whether the save begins with the accepted lines, byte for byte.
    pub(super) is_plain: bool,
    pub(super) others: Vec<Other>,
    /// Accepted lines that are not there, counted from 0, in order.
    pub(super) missing: Vec<usize>,
    /// Accepted lines that stood there again, counted from 0.
    pub(super) repeated: Vec<usize>,
    pub(super) moved: bool,
    /// How many accepted lines stand in it with a damaged seal, or torn off.
    pub(super) damaged: usize,
    /// How many accepted lines there are.
    pub(super) lines: usize,
    pub(super) guessed: bool,
    /// Whether it shows more than can be told from its typed lines: a line split, a seal damaged, a line again.
    pub(super) irregular: bool,
}

/// Finds the accepted lines in a save.
pub(super) fn find(save: &[u8], accepted: &[u8]) -> Found {
    if let Some(tail) = save.strip_prefix(accepted) {
        return Found { is_plain: true, ..plainly(tail, accepted) };
    }
    let whole = text::decode(save);
    let (bytes, guessed) = match whole.encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => (whole.text.as_bytes(), whole.guessed),
        // Bytes of an old encoding may stand in the tail alone: accepted lines are compared as bytes first.
        _ => (save.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(save), false),
    };
    let mut search = Search::new(accepted, false);
    search.all_lines(bytes);
    search.finish(guessed, bytes.ends_with(b"\n") || bytes.ends_with(b"\r"))
}

/// The ordinary case: nothing sealed was touched. A tail may repeat sealed lines all the same.
fn plainly(tail: &[u8], accepted: &[u8]) -> Found {
    let lines = memchr::memchr_iter(b'\n', accepted).count();
    let mut found = Found { lines, ..Found::default() };
    if !split(tail).iter().any(|line| shows_seal(line)) {
        let decoded = text::decode(tail);
        let texts = text::split(&decoded.text).map(str::to_owned);
        found.others = (lines + 1..).zip(texts).map(|(number, text)| Other { number, text, in_front: false }).collect();
        found.guessed = decoded.guessed;
        return found;
    }
    let mut search = Search::new(accepted, true);
    search.number = lines;
    search.all_lines(tail);
    search.finish(false, true)
}

struct Search<'a> {
    accepted: Vec<&'a [u8]>,
    /// Where each accepted line stands.
    places: HashMap<&'a [u8], usize>,
    /// The same by their seals.
    seals: OnceCell<HashMap<&'a [u8], usize>>,
    there: Vec<bool>,
    others: Vec<Piece>,
    repeated: Vec<usize>,
    /// On which line of the save each accepted one was met first.
    met: Vec<(usize, usize)>,
    damaged: usize,
    split: bool,
    number: usize,
}

/// A line that is no accepted one, or the part of a line that is none.
struct Piece {
    number: usize,
    bytes: Vec<u8>,
    in_front: bool,
}

impl<'a> Search<'a> {
    fn new(accepted: &'a [u8], all_there: bool) -> Self {
        let lines: Vec<&[u8]> = accepted.split_inclusive(|b| *b == b'\n').map(without_feed).collect();
        let places = lines.iter().enumerate().map(|(at, line)| (*line, at)).collect();
        let there = vec![all_there; lines.len()];
        Self {
            places,
            there,
            seals: OnceCell::new(),
            accepted: lines,
            others: Vec::new(),
            repeated: Vec::new(),
            met: Vec::new(),
            damaged: 0,
            split: false,
            number: 0,
        }
    }

    /// Whole lines first: what was joined can only be told once it is known which lines are there.
    fn all_lines(&mut self, bytes: &[u8]) {
        let mut rest = Vec::new();
        for line in split(bytes) {
            self.number += 1;
            match self.place(line) {
                Some(at) => self.meet(self.number, at),
                None => rest.push((self.number, line)),
            }
        }
        for (number, line) in rest {
            self.take_apart(number, line);
        }
    }

    /// Where an accepted line stands, given as it is or with other blanks.
    fn place(&self, line: &[u8]) -> Option<usize> {
        self.places.get(line).or_else(|| self.places.get(cleaned(line).as_deref()?.as_bytes())).copied()
    }

    fn meet(&mut self, number: usize, at: usize) {
        if self.there[at] {
            return self.repeated.push(at);
        }
        self.there[at] = true;
        self.met.push((number, at));
    }

    /// A line that is no accepted one as a whole.
    fn take_apart(&mut self, number: usize, mut line: &[u8]) {
        while let Some(end) = self.joined_behind(line) {
            self.split = true;
            self.take_part(number, &line[..end]);
            line = &line[end..];
        }
        self.take_part(number, line);
    }

    fn take_part(&mut self, number: usize, line: &[u8]) {
        if let Some(at) = self.place(line) {
            return self.meet(number, at);
        }
        let clean = cleaned(line);
        let text = clean.as_deref().map_or(line, str::as_bytes);
        let Some((start, at)) = self.joined_in_front(text) else {
            return self.others.push(Piece { number, bytes: line.to_vec(), in_front: false });
        };
        self.split = true;
        // Made a comment, it was taken out.
        if text[..start].trim_ascii() != b";" {
            self.others.push(Piece { number, bytes: text[..start].to_vec(), in_front: true });
            self.meet(number, at);
        }
    }

    /// Where an accepted line ends, as it is or in other words, that has more text behind it. A seal among words is
    /// none: it is of no accepted line, or of one that stands elsewhere.
    fn joined_behind(&self, line: &[u8]) -> Option<usize> {
        let is_missing = |part| self.borne_by(part).is_some_and(|at| !self.there[at]);
        seals_inside(line).find(|end| is_missing(&line[..*end]) || self.place(&line[..*end]).is_some())
    }

    /// Where an accepted line begins that stands nowhere else and has text before it, and which.
    fn joined_in_front(&self, line: &[u8]) -> Option<(usize, usize)> {
        let at = self.borne_by(line).filter(|at| !self.there[*at])?;
        Some((line.strip_suffix(self.accepted[at])?.len(), at))
    }

    /// The accepted line whose seal this one bears.
    fn borne_by(&self, line: &[u8]) -> Option<usize> {
        let (_, seal) = split_seal(line)?;
        let seals = self.seals.get_or_init(|| {
            let lines = self.accepted.iter().enumerate();
            lines.filter_map(|(at, line)| Some((split_seal(line)?.1, at))).collect()
        });
        seals.get(seal).copied()
    }

    fn finish(mut self, guessed: bool, ended: bool) -> Found {
        let mut bytes = Vec::new();
        for piece in &self.others {
            bytes.extend_from_slice(&piece.bytes);
            bytes.push(b'\n');
        }
        let decoded = text::decode(&bytes);
        let mut others: Vec<Other> = self
            .others
            .iter()
            .zip(text::split(&decoded.text))
            .map(|(piece, text)| Other { number: piece.number, text: text.to_owned(), in_front: piece.in_front })
            .collect();
        self.take_damaged(&mut others);
        if !ended {
            self.take_torn_end(&mut others);
        }
        let mut repeated = self.repeated;
        repeated.sort_unstable();
        repeated.dedup();
        let irregular = self.split || self.damaged > 0 || !repeated.is_empty();
        let missing = (0..self.there.len()).filter(|at| !self.there[*at]).collect();
        self.met.sort_by_key(|(number, _)| *number);
        Found {
            is_plain: false,
            others,
            missing,
            repeated,
            moved: self.met.windows(2).any(|two| two[0].1 > two[1].1),
            damaged: self.damaged,
            lines: self.accepted.len(),
            guessed: guessed || decoded.guessed,
            irregular,
        }
    }

    /// Lines whose seal was damaged or taken away say nothing new.
    fn take_damaged(&mut self, others: &mut Vec<Other>) {
        let missing = (0..self.there.len()).filter(|at| !self.there[*at]);
        let mut bodies = HashMap::<&[u8], Vec<usize>>::new();
        for at in missing.rev() {
            if let Some((body, _)) = split_seal(self.accepted[at]) {
                bodies.entry(body).or_default().push(at);
            }
        }
        others.retain(|other| {
            let text = text::clean(&other.text).text;
            // Looked for once more, now that it is decoded.
            let whole = self.places.get(text.as_bytes()).copied().filter(|at| !self.there[*at]);
            let body = match split_seal(text.as_bytes()) {
                Some((body, _)) => Some(body),
                None => text.rfind(" |").map(|at| &text.as_bytes()[..at]),
            };
            let mut damaged = |body: &[u8]| bodies.get_mut(body).and_then(Vec::pop);
            match whole.or_else(|| body.and_then(&mut damaged)).or_else(|| damaged(text.as_bytes())) {
                Some(at) if !self.there[at] => {
                    self.there[at] = true;
                    self.damaged += usize::from(whole.is_none());
                    false
                }
                _ => true,
            }
        });
    }

    /// An unfinished last line that begins a line which is not there.
    fn take_torn_end(&mut self, others: &mut Vec<Other>) {
        let is_last = |last: &&Other| last.number == self.number && !last.in_front && !last.text.is_empty();
        let Some(last) = others.last().filter(is_last) else {
            return;
        };
        let begins = |at: &usize| !self.there[*at] && self.accepted[*at].starts_with(last.text.as_bytes());
        let next = self.there.iter().rposition(|there| *there).map_or(0, |at| at + 1);
        let follows = |at: usize| at == next && self.there[..next].iter().all(|there| *there);
        let torn = |at: &usize| last.text.len() >= TORN || (others.len() == 1 && follows(*at));
        if let Some(at) = (0..self.there.len()).find(begins).filter(torn) {
            self.there[at] = true;
            self.damaged += 1;
            others.pop();
        }
    }
}

/// A torn end shorter than a date could be anything, unless nothing but the next line is missing in front of it.
const TORN: usize = 10;

/// Where seals end that have more text behind them.
fn seals_inside(line: &[u8]) -> impl Iterator<Item = usize> {
    let ends = memchr::memmem::find_iter(line, b" | ").map(|at| at + SEAL_BYTES);
    ends.filter(|end| *end < line.len() && split_seal(&line[..*end]).is_some())
}

/// Whether a line, padded or not, shows a seal anywhere.
fn shows_seal(line: &[u8]) -> bool {
    let cleaned = cleaned(line);
    let line = cleaned.as_deref().map_or(line, str::as_bytes);
    split_seal(line).is_some() || seals_inside(line).next().is_some()
}

/// The mark that a typed line bears, if it ends with a seal; and the line without it.
pub(super) fn borne(text: &str) -> Option<(String, Mark)> {
    let text = text::clean(text).text;
    let (body, seal) = split_seal(text.as_bytes())?;
    Some((text[..body.len()].to_owned(), Mark::read(seal.get(24..)?)?))
}

/// A line as cleaning leaves it, if it is text.
fn cleaned(line: &[u8]) -> Option<Cow<'_, str>> {
    let text = std::str::from_utf8(line).ok()?;
    Some(if text::is_clean(text) { Cow::Borrowed(text) } else { Cow::Owned(text::clean(text).text) })
}

fn without_feed(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\n").unwrap_or(line)
}

/// Lines at LF, CRLF and lone CR, as `text.md` §2 has it, of bytes.
fn split(bytes: &[u8]) -> Vec<&[u8]> {
    let mut lines = Vec::new();
    let mut rest = bytes;
    while !rest.is_empty() {
        let end = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
        lines.push(&rest[..end]);
        let feed = if rest[end..].starts_with(b"\r\n") { 2 } else { 1 };
        rest = rest.get(end + feed..).unwrap_or_default();
    }
    lines
}

/// A saved text as an editor should have left it: UTF-8, LF, no byte order mark.
pub fn plain(saved: &[u8]) -> Vec<u8> {
    let whole = text::decode(saved);
    let bytes = match whole.encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => whole.text.as_bytes(),
        _ => saved.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(saved),
    };
    let mut plain = split(bytes).join(&b'\n');
    if bytes.ends_with(b"\n") || bytes.ends_with(b"\r") {
        plain.push(b'\n');
    }
    plain
}

/// Whether the last lines of a text, from the last sealed one on, show a seal once they are cleaned.
pub fn has_changed_blanks(saved: &[u8]) -> bool {
    let mut lines = saved.rsplit(|b| *b == b'\n').take_while(|line| split_seal(line).is_none());
    lines.any(|line| cleaned(line).is_some_and(|line| split_seal(line.as_bytes()).is_some()))
}

/// A saved text as it was before an editor changed blanks, line ends or encoding, if that makes its marks hold
/// (`mark.md` §12). The typed tail keeps its blanks.
pub fn seen_through(saved: &[u8]) -> Option<Vec<u8>> {
    let plain = plain(saved);
    if mark::check(&plain).is_unbroken() && !has_changed_blanks(&plain) {
        return Some(plain);
    }
    let lines: Vec<&[u8]> = plain.split_inclusive(|b| *b == b'\n').collect();
    let mut sealed = Vec::with_capacity(plain.len());
    for line in lines.iter().copied().map(without_feed) {
        sealed.extend_from_slice(cleaned(line).as_deref().map_or(line, str::as_bytes));
        sealed.push(b'\n');
    }
    let check = mark::check(&sealed);
    if !check.is_unbroken() {
        return None;
    }
    sealed.truncate(check.sealed_bytes);
    lines[check.lines..].iter().for_each(|line| sealed.extend_from_slice(line));
    Some(sealed)
}

/// Numbers of lines, counted from 1, as people say them: `line 4`, `lines 1 to 5, 9`.
pub fn line_numbers(numbers: &[usize]) -> String {
    let runs = numbers.chunk_by(|one, next| one + 1 == *next).filter_map(|run| match run {
        [] => None,
        [one] => Some(one.to_string()),
        [first, .., last] => Some(format!("{first} to {last}")),
    });
    let runs: Vec<String> = runs.collect();
    format!("{} {}", if numbers.len() == 1 { "line" } else { "lines" }, runs.join(", "))
}

/// The same of places, counted from 0.
pub fn places(lines: &[usize]) -> String {
    line_numbers(&lines.iter().map(|line| line + 1).collect::<Vec<_>>())
}
