//! Checking a file: unbroken, or from which line on it no longer holds (`mark.md` §3 to §5).

use memchr::{memchr_iter, memrchr};

use super::{Chain, FullMark, Head};
use crate::line::{Mark, split_seal};

/// Digits of a mark and the line feed after it.
pub(super) const MARK_AND_END: usize = 17;

/// What one pass over a file found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// Bytes up to the end of the last line of sealed shape; the rest is the typed tail.
    pub sealed_bytes: usize,
    /// Bytes that the marks vouch for: all of the sealed part, or up to the first line that does not hold.
    pub vouched_bytes: usize,
    /// Lines in the vouched part, the head among them.
    pub lines: usize,
    /// Full mark of the last vouched line.
    pub full: Option<FullMark>,
    /// The first line that does not hold, counted from 1.
    pub first_broken: Option<usize>,
}

impl Check {
    /// Whether every mark up to the last one holds.
    pub fn is_unbroken(&self) -> bool {
        self.first_broken.is_none()
    }
}

/// Checks a whole file: one pass where it is unbroken, a search by halving where it is not.
pub fn check(bytes: &[u8]) -> Check {
    check_and_go_on(bytes).0
}

/// The same, and the chain that goes on from what the marks vouch for.
pub fn check_and_go_on(bytes: &[u8]) -> (Check, Chain) {
    check_along(bytes, |_| {})
}

/// Bytes hashed at a time: few enough that who comes along finds them still at hand.
const PIECE: usize = 1 << 18;

/// The same, and something else comes along: it is given the sealed part as far as it was just hashed, again and again
/// until it is whole. Whether any of it holds is only known at the end.
pub(crate) fn check_along(bytes: &[u8], mut along: impl FnMut(&[u8])) -> (Check, Chain) {
    let sealed_bytes = sealed_end(bytes);
    let sealed = &bytes[..sealed_bytes];
    if !has_head(sealed) {
        let check = Check { sealed_bytes, vouched_bytes: 0, lines: 0, full: None, first_broken: Some(1) };
        return (check, Chain::default());
    }
    let (mut chain, mut lines) = (Chain::default(), 0);
    let (before_mark, mark) = sealed.split_at(sealed_bytes - MARK_AND_END);
    for piece in before_mark.chunks(PIECE) {
        chain.pass(piece);
        lines += memchr_iter(b'\n', piece).count();
        along(&before_mark[..chain.length() as usize]);
    }
    let full = chain.full();
    if written_mark(sealed) == Some(full.mark()) {
        chain.pass(mark);
        along(sealed);
        let lines = lines + 1;
        let check = Check { sealed_bytes, vouched_bytes: sealed_bytes, lines, full: Some(full), first_broken: None };
        return (check, chain);
    }
    let (vouched_bytes, full) = vouched(sealed);
    let lines = memchr_iter(b'\n', &sealed[..vouched_bytes]).count();
    let check = Check { sealed_bytes, vouched_bytes, lines, full, first_broken: Some(lines + 1) };
    (check, Chain::of(&sealed[..vouched_bytes]))
}

/// Lines whose own mark is wrong or missing, counted from 1: each mark is computed and compared.
pub fn broken_marks(bytes: &[u8]) -> Vec<usize> {
    let sealed = &bytes[..sealed_end(bytes)];
    let mut hasher = blake3::Hasher::new();
    let mut broken = Vec::new();
    for (i, line) in sealed.split_inclusive(|b| *b == b'\n').enumerate() {
        let body = line.len().saturating_sub(MARK_AND_END);
        hasher.update(&line[..body]);
        if shown(line).is_none_or(|(_, mark)| mark != Mark::of(hasher.finalize().as_bytes())) {
            broken.push(i + 1);
        }
        hasher.update(&line[body..]);
    }
    broken
}

/// Where the last line of sealed shape ends (`mark.md` §3).
pub fn sealed_end(bytes: &[u8]) -> usize {
    let mut end = memrchr(b'\n', bytes).map_or(0, |lf| lf + 1);
    while end > 0 {
        let start = memrchr(b'\n', &bytes[..end - 1]).map_or(0, |lf| lf + 1);
        if split_seal(&bytes[start..end - 1]).is_some() {
            return end;
        }
        end = start;
    }
    0
}

/// Whether a file begins with a head of this format.
pub(super) fn has_head(bytes: &[u8]) -> bool {
    let Some(end) = memchr::memchr(b'\n', bytes) else { return false };
    let body = split_seal(&bytes[..end]).and_then(|(body, _)| std::str::from_utf8(body).ok());
    body.is_some_and(|body| Head::read(body).is_ok())
}

/// The mark that the last line of a sealed part shows.
pub(super) fn written_mark(sealed: &[u8]) -> Option<Mark> {
    let end = sealed.len().checked_sub(1)?;
    Mark::read(sealed.get(end.checked_sub(16)?..end)?)
}

/// What a line with its line feed hashes of itself, and the mark it shows, if it has sealed shape.
pub(super) fn shown(line: &[u8]) -> Option<(&[u8], Mark)> {
    let whole = line.strip_suffix(b"\n")?;
    split_seal(whole)?;
    let (before_mark, mark) = whole.split_at(whole.len() - 16);
    Some((before_mark, Mark::read(mark)?))
}

/// Marks are right up to some line and wrong after it, because each covers the one before: halving finds it.
/// The hash of the right half is carried on, so all probes together hash about as much as one pass.
fn vouched(sealed: &[u8]) -> (usize, Option<FullMark>) {
    let ends: Vec<usize> = memchr_iter(b'\n', sealed).map(|lf| lf + 1).collect();
    let (mut right, mut wrong) = (0, ends.len());
    let (mut hasher, mut hashed, mut full) = (blake3::Hasher::new(), 0, None);
    while right < wrong {
        let middle = usize::midpoint(right, wrong);
        let end = ends[middle];
        let start = if middle == 0 { 0 } else { ends[middle - 1] };
        let mut probe = hasher.clone();
        let Some((_, mark)) = shown(&sealed[start..end]) else {
            wrong = middle;
            continue;
        };
        probe.update(&sealed[hashed..end - MARK_AND_END]);
        let found = FullMark(*probe.finalize().as_bytes());
        if found.mark() == mark {
            (right, hasher, hashed, full) = (middle + 1, probe, end - MARK_AND_END, Some(found));
        } else {
            wrong = middle;
        }
    }
    (if right == 0 { 0 } else { ends[right - 1] }, full)
}
