//! Mending a file from another copy of it (`mark.md` §6). Damage never condemns what follows.

use std::collections::HashSet;

use memchr::memchr_iter;

use super::check::{Check, check, shown};
use crate::line::Mark;

/// A mended file and what stood in the mended places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mended {
    /// The whole file, tail included.
    pub bytes: Vec<u8>,
    /// Each place that was mended, in order.
    pub stretches: Vec<Stretch>,
    /// The check of the result.
    pub check: Check,
}

/// One mended place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// First line that was put back, counted from 1 in the mended file.
    pub first_line: usize,
    /// Last line that was put back.
    pub last_line: usize,
    /// The bytes that stood there, to be kept aside.
    pub was: Vec<u8>,
}

/// Mends a damaged file, or one that lost its end, as far as the copies reach. Without any help it comes back
/// unchanged, with no stretches.
///
/// Only vouched bytes of a copy are used, and only if the copy agrees with all that this file still vouches for.
pub fn mend(damaged: &[u8], copies: &[&[u8]]) -> Mended {
    let mut mended = Mended { bytes: damaged.to_vec(), stretches: Vec::new(), check: check(damaged) };
    let vouched: Vec<&[u8]> = copies.iter().map(|copy| &copy[..check(copy).vouched_bytes]).collect();
    while let Some(copy) = longest_that_continues(&mended, &vouched) {
        mended = mend_once(mended, copy);
    }
    mended
}

fn longest_that_continues<'a>(mended: &Mended, copies: &[&'a [u8]]) -> Option<&'a [u8]> {
    let held = mended.check.vouched_bytes;
    let agrees = |copy: &&&[u8]| copy.len() > held && copy[..held] == mended.bytes[..held];
    copies.iter().filter(agrees).max_by_key(|copy| copy.len()).copied()
}

fn mend_once(mended: Mended, copy: &[u8]) -> Mended {
    let held = mended.check.vouched_bytes;
    let (stretch, rest) = (&copy[held..], &mended.bytes[held..]);
    let after = where_it_goes_on(copy, rest).unwrap_or_else(|| end_of_known_lines(stretch, rest));
    let (was, kept) = rest.split_at(after);
    let bytes = [copy, kept].concat();
    let lines = memchr_iter(b'\n', copy).count();
    let first_line = (mended.check.lines + 1 + same_lines(stretch, was)).min(lines);
    let last_line = (lines - same_lines_back(stretch, was)).max(first_line);
    let mut stretches = mended.stretches;
    stretches.push(Stretch { first_line, last_line, was: was.to_vec() });
    Mended { check: check(&bytes), bytes, stretches }
}

/// Where a line begins whose mark continues the copy: from there on the file holds.
fn where_it_goes_on(copy: &[u8], rest: &[u8]) -> Option<usize> {
    let mut hasher = blake3::Hasher::new();
    hasher.update(copy);
    lines(rest).find_map(|(start, line)| {
        let (before_mark, mark) = shown(line)?;
        let mut probe = hasher.clone();
        probe.update(before_mark);
        (Mark::of(probe.finalize().as_bytes()) == mark).then_some(start)
    })
}

/// Otherwise: the end of the last line that is one of the copy's, whole, damaged or torn. What is after it may still
/// hold, or was typed.
fn end_of_known_lines(stretch: &[u8], rest: &[u8]) -> usize {
    let (mut bodies, mut marks) = (HashSet::new(), HashSet::new());
    for (before_mark, mark) in lines(stretch).filter_map(|(_, line)| shown(line)) {
        bodies.insert(before_mark);
        marks.insert(mark);
    }
    let is_known = |line: &[u8]| {
        let Some(whole) = line.strip_suffix(b"\n") else {
            return !line.is_empty() && lines(stretch).any(|(_, sealed)| sealed.starts_with(line));
        };
        let (before, last) = whole.split_at(whole.len().saturating_sub(16));
        bodies.contains(before) || Mark::read(last).is_some_and(|mark| marks.contains(&mark))
    };
    let known = lines(rest).filter(|(_, line)| is_known(line));
    known.last().map_or(0, |(start, line)| start + line.len())
}

/// Each line with where it begins, line feed included.
fn lines(text: &[u8]) -> impl Iterator<Item = (usize, &[u8])> {
    let mut at = 0;
    text.split_inclusive(|b| *b == b'\n').map(move |line| {
        at += line.len();
        (at - line.len(), line)
    })
}

fn same_lines(a: &[u8], b: &[u8]) -> usize {
    a.split(|b| *b == b'\n').zip(b.split(|b| *b == b'\n')).take_while(|(a, b)| a == b).count()
}

fn same_lines_back(a: &[u8], b: &[u8]) -> usize {
    let (a, b) = (a.strip_suffix(b"\n").unwrap_or(a), b.strip_suffix(b"\n").unwrap_or(b));
    a.rsplit(|b| *b == b'\n').zip(b.rsplit(|b| *b == b'\n')).take_while(|(a, b)| a == b).count()
}
