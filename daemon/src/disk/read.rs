//! Reading ledgers: the check of a file of any size in little memory.

use std::fs::File;
use std::io::{self, Seek};
use std::path::Path;

use ledger_format::keep;
use ledger_format::limits::{FILE_BYTES, LINE_BYTES};
use ledger_format::mark::{StreamCheck, StreamVerdict};

use super::calls;
use super::folder::regular;
use crate::Trouble;

/// Bytes read at a time: large enough that hashing runs at full speed, small enough for any machine.
pub const PIECE_BYTES: usize = 1 << 20;

/// Copying out of the system is several times as fast into whole pages (measured: 9 against 30 ms for 120 MB).
pub(super) const PAGE_BYTES: usize = 4096;

/// The first bytes of a file.
pub fn beginning(mut file: File, bytes: usize, path: &Path) -> Result<Vec<u8>, Trouble> {
    let mut start = Vec::with_capacity(bytes);
    calls::read_on(&mut file, bytes as u64, &mut start, path).map_err(|e| Trouble::io("read the file", path, &e))?;
    Ok(start)
}

/// Whether the tail of a file, which begins at this byte, shows seals once it is cleaned.
pub fn has_changed_blanks(mut file: File, path: &Path, from: u64) -> Result<bool, Trouble> {
    let mut tail = Vec::new();
    let read =
        file.seek(io::SeekFrom::Start(from)).and_then(|_| calls::read_on(&mut file, FILE_BYTES, &mut tail, path));
    read.map_err(|e| Trouble::io("read the file", path, &e))?;
    Ok(keep::has_changed_blanks(&tail))
}

/// Hands a file on piece by piece.
pub fn pieces(mut file: File, path: &Path, mut take: impl FnMut(&[u8])) -> Result<(), Trouble> {
    regular(&file, path)?;
    let (mut room, mut left) = (Aligned::new(PIECE_BYTES), FILE_BYTES);
    let piece = room.bytes();
    loop {
        match calls::read_piece(&mut file, piece, path) {
            Ok(0) => return Ok(()),
            Ok(n) => {
                take(&piece[..n]);
                left = left.saturating_sub(n as u64);
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(Trouble::io("read the file", path, &error)),
        }
        if left == 0 {
            return Err(Trouble::new("the file grows while it is read", "look what writes to it").at(path));
        }
    }
}

/// Whether a file is unbroken, in one thread and a few kilobytes besides the piece; lines that hold `wanted`
/// are added to `found`.
pub fn check_and_find(
    mut file: File,
    path: &Path,
    wanted: Option<&[u8]>,
    found: &mut Vec<Vec<u8>>,
) -> Result<StreamVerdict, Trouble> {
    file.rewind().map_err(|e| Trouble::io("read the file", path, &e))?;
    let (mut check, mut carried) = (StreamCheck::default(), Vec::new());
    pieces(file, path, |piece| {
        check.push(piece);
        if let Some(wanted) = wanted {
            find_lines(piece, wanted, &mut carried, found);
        }
    })?;
    Ok(check.finish())
}

/// Whole lines of a piece that hold `wanted`; `carried` is the beginning of a line that ends in a later piece.
fn find_lines(piece: &[u8], wanted: &[u8], carried: &mut Vec<u8>, found: &mut Vec<Vec<u8>>) {
    let mut holds = |line: &[u8]| {
        if memchr::memmem::find(line, wanted).is_some() {
            found.push(line.to_vec());
        }
    };
    let mut rest = piece;
    while let Some(lf) = memchr::memchr(b'\n', rest) {
        carried.extend_from_slice(&rest[..lf]);
        holds(carried);
        carried.clear();
        rest = &rest[lf + 1..];
    }
    carried.extend_from_slice(rest);
    // A line longer than any line can be is none of ours.
    let excess = carried.len().saturating_sub(LINE_BYTES);
    carried.drain(..excess);
}

/// Whole lines, without their line feeds, of the first so many bytes. A line longer than any line can be is cut.
pub fn lines(file: File, path: &Path, bytes: u64, mut take: impl FnMut(&[u8])) -> Result<(), Trouble> {
    let (mut left, mut carried) = (bytes, Vec::new());
    pieces(file, path, |piece| {
        let own = piece.len().min(usize::try_from(left).unwrap_or(piece.len()));
        left -= own as u64;
        let mut rest = &piece[..own];
        while let Some(lf) = memchr::memchr(b'\n', rest) {
            if carried.is_empty() {
                take(&rest[..lf]);
            } else {
                carried.extend_from_slice(&rest[..lf]);
                take(&carried);
                carried.clear();
            }
            rest = &rest[lf + 1..];
        }
        // One byte more than a line can have is enough to see that it is none.
        let room = (LINE_BYTES + 1).saturating_sub(carried.len());
        carried.extend_from_slice(&rest[..rest.len().min(room)]);
    })
}

/// A buffer that begins at a page.
pub(super) struct Aligned {
    room: Vec<u8>,
    start: usize,
    bytes: usize,
}

impl Aligned {
    pub(super) fn new(bytes: usize) -> Self {
        let room = vec![0; bytes + PAGE_BYTES];
        let start = room.as_ptr().align_offset(PAGE_BYTES).min(PAGE_BYTES);
        Self { room, start, bytes }
    }

    pub(super) fn bytes(&mut self) -> &mut [u8] {
        &mut self.room[self.start..self.start + self.bytes]
    }
}

/// The bytes from one place to another.
pub fn range(file: &File, from: u64, to: u64, path: &Path) -> Result<Vec<u8>, Trouble> {
    let mut bytes = vec![0; usize::try_from(to.saturating_sub(from)).unwrap_or(0)];
    fill(file, from, &mut bytes, path)?;
    Ok(bytes)
}

/// Fills a buffer from one place on.
pub(super) fn fill(file: &File, from: u64, bytes: &mut [u8], path: &Path) -> Result<(), Trouble> {
    calls::read_exact_at(file, bytes, from, path).map_err(|error| match error.kind() {
        io::ErrorKind::UnexpectedEof => {
            Trouble::new("the file became shorter while it was read", "run the command again").at(path)
        }
        _ => Trouble::io("read the file", path, &error),
    })
}
