//! Mending a file from another copy of it (`mark.md` §6). Damage never condemns what follows.

use memchr::memchr_iter;

use super::check::{Check, check};

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

/// Mends a damaged file as far as the copies reach. Without any help it comes back unchanged, with no stretches.
///
/// Only vouched bytes of a copy are used, and only if the copy agrees with all that this file still vouches for.
pub fn mend(damaged: &[u8], copies: &[&[u8]]) -> Mended {
    let mut mended = Mended { bytes: damaged.to_vec(), stretches: Vec::new(), check: check(damaged) };
    let vouched: Vec<&[u8]> = copies.iter().map(|copy| &copy[..check(copy).vouched_bytes]).collect();
    while !mended.check.is_unbroken() {
        let Some(copy) = longest_that_continues(&mended, &vouched) else { break };
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
    let rest = &mended.bytes[held..];
    let after = end_of_last_line_of(copy, rest).unwrap_or_else(|| rest.len().min(damaged_rest(copy, held, rest)));
    let (was, kept) = rest.split_at(after);
    let bytes = [copy, kept].concat();
    let first_line = mended.check.lines + 1 + same_lines(&copy[held..], was);
    let last_line = memchr_iter(b'\n', copy).count();
    let stretch = Stretch { first_line, last_line: last_line - same_lines_back(&copy[held..], was), was: was.to_vec() };
    let mut stretches = mended.stretches;
    stretches.push(stretch);
    Mended { check: check(&bytes), bytes, stretches }
}

/// Where, in the rest of the damaged file, the copy's last line ends: what follows it may still hold.
fn end_of_last_line_of(copy: &[u8], rest: &[u8]) -> Option<usize> {
    let last = copy[..copy.len() - 1].rsplit(|b| *b == b'\n').next()?;
    memchr::memmem::find_iter(rest, last).find_map(|at| {
        let end = at + last.len();
        ((at == 0 || rest[at - 1] == b'\n') && rest.get(end) == Some(&b'\n')).then_some(end + 1)
    })
}

/// Without that line, all of sealed shape that the copy's stretch covers is taken as damaged, the rest as typed.
fn damaged_rest(copy: &[u8], held: usize, rest: &[u8]) -> usize {
    let lines = memchr_iter(b'\n', &copy[held..]).count();
    memchr_iter(b'\n', rest).take(lines).last().map_or(rest.len(), |lf| lf + 1)
}

fn same_lines(a: &[u8], b: &[u8]) -> usize {
    a.split(|b| *b == b'\n').zip(b.split(|b| *b == b'\n')).take_while(|(a, b)| a == b).count()
}

fn same_lines_back(a: &[u8], b: &[u8]) -> usize {
    let (a, b) = (a.strip_suffix(b"\n").unwrap_or(a), b.strip_suffix(b"\n").unwrap_or(b));
    a.rsplit(|b| *b == b'\n').zip(b.rsplit(|b| *b == b'\n')).take_while(|(a, b)| a == b).count()
}
