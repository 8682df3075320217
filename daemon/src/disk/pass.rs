//! One fast pass over a ledger file of any size: every core reads, counts and hashes pieces of its own.
//!
//! BLAKE3 is a tree, so pieces that are whole subtrees can be hashed apart and joined. Each thread holds one
//! piece; the file is never in memory as a whole.

use std::fs::File;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

use blake3::hazmat::{ChainingValue, HasherExt, Mode, merge_subtrees_non_root, merge_subtrees_root};
use ledger_format::line::{Mark, split_seal};
use ledger_format::mark::{FullMark, Head, StreamVerdict, sealed_end};

use super::folder::regular;
use super::read::{self, Aligned, PAGE_BYTES, PIECE_BYTES};
use crate::Trouble;

/// What a pass found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Passed {
    /// Whether it is unbroken.
    pub verdict: StreamVerdict,
    /// Its first line.
    pub first: Vec<u8>,
    /// Lines in which the wanted text stands, in order.
    pub found: Vec<Vec<u8>>,
}

/// Checks a file, and on the way gathers the lines that hold `wanted`.
pub fn over(file: File, path: &Path, wanted: Option<&[u8]>) -> Result<Passed, Trouble> {
    let bytes = regular(&file, path)?;
    let first = read::range(&file, 0, bytes.min(PAGE_BYTES as u64), path)?;
    let first = first[..memchr::memchr(b'\n', &first).unwrap_or(first.len())].to_vec();
    let Some(last) = last_sealed(&file, bytes, path)? else {
        // No seal near the end: a long typed tail, or no ledger. The slow way copes with anything.
        let mut wanted_lines = Vec::new();
        let verdict = read::check_and_find(file, path, wanted, &mut wanted_lines)?;
        return Ok(Passed { verdict, first, found: wanted_lines });
    };
    let sum = sum(&file, &last, wanted, path)?;
    let full = root(&sum.subtrees);
    let head = split_seal(&first).and_then(|(body, _)| std::str::from_utf8(body).ok());
    let unbroken = head.is_some_and(|head| Head::read(head).is_ok()) && full.is_some_and(|f| f.mark() == last.mark);
    // The last line's own line feed is beyond what its mark covers.
    let verdict = StreamVerdict { unbroken, lines: sum.lines + 1, sealed_bytes: last.end, bytes, full };
    Ok(Passed { verdict, first, found: sum.found.into_iter().map(|(_, line)| line).collect() })
}

/// The last line of sealed shape.
struct Last {
    end: u64,
    mark: Mark,
}

/// Digits of a mark and the line feed after it: what a mark does not cover.
const MARK_AND_END: u64 = 17;

fn last_sealed(file: &File, bytes: u64, path: &Path) -> Result<Option<Last>, Trouble> {
    let from = bytes.saturating_sub(PIECE_BYTES as u64);
    let end_part = read::range(file, from, bytes, path)?;
    let end = sealed_end(&end_part);
    let mark = end.checked_sub(MARK_AND_END as usize).and_then(|at| Mark::read(&end_part[at..end - 1]));
    Ok(mark.map(|mark| Last { end: from + end as u64, mark }))
}

/// What the threads add up to.
#[derive(Default)]
struct Sum {
    lines: u64,
    /// Hashes of the pieces, by number.
    subtrees: Vec<(u64, Subtree)>,
    /// Lines that hold the wanted text, by place.
    found: Vec<(u64, Vec<u8>)>,
}

enum Subtree {
    Part(ChainingValue),
    /// A file of one piece.
    Whole(FullMark),
}

fn sum(file: &File, last: &Last, wanted: Option<&[u8]>, path: &Path) -> Result<Sum, Trouble> {
    let pieces = last.end.saturating_sub(MARK_AND_END).div_ceil(PIECE_BYTES as u64);
    let next = AtomicU64::new(0);
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let threads = cores.min(usize::try_from(pieces).unwrap_or(cores)).clamp(1, 8);
    let work = || -> Result<Sum, Trouble> {
        let (mut sum, mut room) = (Sum::default(), Aligned::new(PIECE_BYTES + 2 * PAGE_BYTES));
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= pieces {
                return Ok(sum);
            }
            piece(file, number, last, wanted, path, room.bytes(), &mut sum)?;
        }
    };
    let mut sum = thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut sum = work()?;
        for other in others {
            let part = other.join().map_err(|_| Trouble::new("a thread ended early", "run the command again"))??;
            sum.lines += part.lines;
            sum.subtrees.extend(part.subtrees);
            sum.found.extend(part.found);
        }
        Ok::<Sum, Trouble>(sum)
    })?;
    sum.subtrees.sort_unstable_by_key(|(number, _)| *number);
    sum.found.sort_unstable();
    Ok(sum)
}

fn piece(
    file: &File,
    number: u64,
    last: &Last,
    wanted: Option<&[u8]>,
    path: &Path,
    room: &mut [u8],
    sum: &mut Sum,
) -> Result<(), Trouble> {
    let start = number * PIECE_BYTES as u64;
    let end = (start + PIECE_BYTES as u64).min(last.end);
    // A line may begin before the piece and end after it: a page more on both sides holds any line.
    let margin = if wanted.is_some() { PAGE_BYTES as u64 } else { 0 };
    let from = start.saturating_sub(margin);
    let to = (end + margin).min(last.end);
    let room = &mut room[..(to - from) as usize];
    read::fill(file, from, room, path)?;
    let own = (start - from) as usize..(end - from) as usize;
    let hashed = end.min(last.end - MARK_AND_END).saturating_sub(start) as usize;
    let covered = &room[own.start..own.start + hashed];
    let whole = number == 0 && last.end - MARK_AND_END <= PIECE_BYTES as u64;
    let subtree = if whole {
        Subtree::Whole(FullMark::over(covered))
    } else {
        Subtree::Part(blake3::Hasher::new().set_input_offset(start).update(covered).finalize_non_root())
    };
    sum.subtrees.push((number, subtree));
    sum.lines += memchr::memchr_iter(b'\n', covered).count() as u64;
    if let Some(wanted) = wanted {
        find(room, own, from, wanted, &mut sum.found);
    }
    Ok(())
}

/// Whole lines around each place in `own` where the wanted text begins.
fn find(room: &[u8], own: std::ops::Range<usize>, from: u64, wanted: &[u8], found: &mut Vec<(u64, Vec<u8>)>) {
    let search = &room[own.start..(own.end + wanted.len()).min(room.len())];
    for at in memchr::memmem::find_iter(search, wanted) {
        let at = own.start + at;
        if at >= own.end {
            break;
        }
        let start = memchr::memrchr(b'\n', &room[..at]).map_or(0, |lf| lf + 1);
        let end = memchr::memchr(b'\n', &room[at..]).map_or(room.len(), |lf| at + lf);
        found.push((from + start as u64, room[start..end].to_vec()));
    }
}

/// Joins subtrees to the hash of the whole.
fn root(subtrees: &[(u64, Subtree)]) -> Option<FullMark> {
    match subtrees {
        [] => None,
        [(_, Subtree::Whole(full))] => Some(*full),
        many => {
            let (left, right) = many.split_at(left_half(many.len()));
            let hash = merge_subtrees_root(&joined(left)?, &joined(right)?, Mode::Hash);
            Some(FullMark(*hash.as_bytes()))
        }
    }
}

fn joined(subtrees: &[(u64, Subtree)]) -> Option<ChainingValue> {
    match subtrees {
        [(_, Subtree::Part(value))] => Some(*value),
        [] | [(_, Subtree::Whole(_))] => None,
        many => {
            let (left, right) = many.split_at(left_half(many.len()));
            Some(merge_subtrees_non_root(&joined(left)?, &joined(right)?, Mode::Hash))
        }
    }
}

/// In BLAKE3's tree the left side is the largest power of two that leaves something for the right.
fn left_half(pieces: usize) -> usize {
    pieces.div_ceil(2).next_power_of_two()
}

#[cfg(test)]
mod tests {
    use ledger_format::mark::{Chain, StreamCheck};

    use super::*;

    /// A ledger of about so many bytes.
    fn ledger(bytes: usize) -> Vec<u8> {
        let sealed = ledger_format::line::read_utc(b"2026-03-14T09:20:11Z").unwrap();
        let (mut chain, mut file) = (Chain::default(), Vec::new());
        let key = "8d".repeat(32);
        chain.seal(&format!("footfold 1 herd quillmere device a key {key} zone UTC"), sealed, &mut file);
        let words = "wet ".repeat(550);
        while file.len() < bytes {
            let n = file.len();
            let long = if n.is_multiple_of(7) { words.trim_end() } else { "x" };
            chain.seal(&format!("2026-03-14 417 note by kj: {n} herd witness {long}"), sealed, &mut file);
        }
        file
    }

    fn agree(bytes: &[u8]) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("2026.txt");
        std::fs::write(&path, bytes).unwrap();
        let passed = over(File::open(&path).unwrap(), &path, Some(b" herd witness ")).unwrap();
        let (mut check, mut found) = (StreamCheck::default(), Vec::new());
        check.push(bytes);
        let slow =
            read::check_and_find(File::open(&path).unwrap(), &path, Some(b" herd witness "), &mut found).unwrap();
        assert_eq!((&passed.verdict, &slow), (&check.finish(), &passed.verdict));
        let sealed = usize::try_from(slow.sealed_bytes).unwrap();
        let sealed_lines = memchr::memmem::find_iter(&bytes[..sealed], b" herd witness ").count();
        assert_eq!(passed.found, found[..sealed_lines.min(found.len())]);
    }

    #[test]
    fn the_fast_pass_and_the_slow_one_agree() {
        for thousandths in [0, 1, 999, 1000, 1001, 2000, 2700, 3000, 4100, 5000] {
            let mut bytes = ledger(PIECE_BYTES * thousandths / 1000);
            agree(&bytes);
            bytes.extend_from_slice(b"417 score 3\n418 2");
            agree(&bytes);
            let middle = bytes.len() / 2;
            bytes[middle] ^= 1;
            agree(&bytes);
        }
    }

    #[test]
    fn every_length_around_the_end_of_a_piece_is_hashed_right() {
        let base = ledger(PIECE_BYTES - 3000);
        let sealed = ledger_format::line::read_utc(b"2026-03-14T09:20:11Z").unwrap();
        for extra in 2900 - 120..2900 {
            let mut bytes = base.clone();
            let lead = "2026-03-14 417 note by kj: ";
            let room = PIECE_BYTES - base.len() + extra - 2900;
            Chain::of(&base).seal(&format!("{lead}{}", "y".repeat(room)), sealed, &mut bytes);
            agree(&bytes);
        }
    }

    #[test]
    fn f28_zeros_and_nothing_are_no_ledger() {
        agree(b"");
        agree(&[0; 5000]);
        agree(&vec![b'x'; PIECE_BYTES + 10]);
        let mut bytes = ledger(5000);
        bytes.extend(vec![0; 2 * PIECE_BYTES]);
        agree(&bytes);
    }
}
