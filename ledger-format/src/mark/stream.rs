//! Checking a file of any size piece by piece, in little memory.

use memchr::{memchr_iter, memrchr};

use super::FullMark;
use super::check::{MARK_AND_END, has_head, sealed_end, written_mark};
use crate::limits::LINE_BYTES;
use crate::line::Mark;

/// The check of a file that arrives in pieces. It says whether the file is unbroken;
/// where it is not, `check` over the whole finds the place.
#[derive(Clone, Debug, Default)]
pub struct StreamCheck {
    hasher: blake3::Hasher,
    /// The beginning of a line whose end has not come yet.
    carried: Vec<u8>,
    begun: bool,
    head: bool,
    lines: u64,
    last: Option<Last>,
    length: u64,
}

/// The last line of sealed shape so far.
#[derive(Clone, Copy, Debug)]
struct Last {
    full: FullMark,
    written: Mark,
    end: u64,
    lines: u64,
}

/// What the pieces added up to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StreamVerdict {
    /// Whether there is a head and the last mark holds.
    pub unbroken: bool,
    /// Lines of the sealed part.
    pub lines: u64,
    /// Bytes of the sealed part.
    pub sealed_bytes: u64,
    /// Bytes of the whole file.
    pub bytes: u64,
    /// Full mark of the last sealed line.
    pub full: Option<FullMark>,
}

impl StreamCheck {
    /// Takes the next piece. Pieces of some hundred kilobytes are hashed fastest.
    pub fn push(&mut self, piece: &[u8]) {
        let Some(end) = memrchr(b'\n', piece) else {
            self.carry(piece);
            return;
        };
        let (whole, rest) = piece.split_at(end + 1);
        if self.carried.is_empty() {
            self.whole_lines(whole);
        } else {
            let first = memchr::memchr(b'\n', whole).map_or(whole.len(), |lf| lf + 1);
            self.carried.extend_from_slice(&whole[..first]);
            let line = std::mem::take(&mut self.carried);
            self.whole_lines(&line);
            self.whole_lines(&whole[first..]);
        }
        self.carry(rest);
    }

    /// Ends the file.
    pub fn finish(self) -> StreamVerdict {
        let bytes = self.length + self.carried.len() as u64;
        match self.last {
            Some(Last { full, written, end, lines }) => StreamVerdict {
                unbroken: self.head && full.mark() == written,
                lines,
                sealed_bytes: end,
                bytes,
                full: Some(full),
            },
            None => StreamVerdict { unbroken: false, lines: 0, sealed_bytes: 0, bytes, full: None },
        }
    }

    /// Keeps the beginning of a line. One longer than any line can be is hashed at once: it has no seal.
    fn carry(&mut self, rest: &[u8]) {
        self.carried.extend_from_slice(rest);
        if self.carried.len() > 2 * LINE_BYTES {
            let keep = self.carried.len() - LINE_BYTES;
            let rest = self.carried.split_off(keep);
            self.hasher.update(&self.carried);
            self.length += self.carried.len() as u64;
            self.carried = rest;
        }
    }

    fn whole_lines(&mut self, whole: &[u8]) {
        if whole.is_empty() {
            return;
        }
        if !self.begun {
            self.begun = true;
            self.head = has_head(whole);
        }
        let mut hashed = 0;
        let end = sealed_end(whole);
        if let Some(mark) = written_mark(&whole[..end]) {
            hashed = end - MARK_AND_END;
            self.hasher.update(&whole[..hashed]);
            let full = FullMark(*self.hasher.finalize().as_bytes());
            let lines = self.lines + memchr_iter(b'\n', &whole[..end]).count() as u64;
            self.last = Some(Last { full, written: mark, end: self.length + end as u64, lines });
        }
        self.hasher.update(&whole[hashed..]);
        self.lines += memchr_iter(b'\n', whole).count() as u64;
        self.length += whole.len() as u64;
    }
}
