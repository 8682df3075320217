//! Reading ledgers: the check of a file of any size in little memory.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use ledger_format::limits::FILE_BYTES;
use ledger_format::mark::{StreamCheck, StreamVerdict};

use super::folder::regular;
use crate::Trouble;

/// Bytes read at a time: large enough that hashing runs at full speed, small enough for any machine.
pub const PIECE_BYTES: usize = 1 << 20;

/// The first bytes of a file.
pub fn beginning(file: File, bytes: usize, path: &Path) -> Result<Vec<u8>, Trouble> {
    let mut start = Vec::with_capacity(bytes);
    file.take(bytes as u64).read_to_end(&mut start).map_err(|e| Trouble::io("read the file", path, &e))?;
    Ok(start)
}

/// Hands a file on piece by piece.
pub fn pieces(mut file: File, path: &Path, mut take: impl FnMut(&[u8])) -> Result<(), Trouble> {
    regular(&file, path)?;
    let (mut piece, mut left) = (vec![0; PIECE_BYTES], FILE_BYTES);
    loop {
        match file.read(&mut piece) {
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

/// Whether a file is unbroken.
pub fn check(file: File, path: &Path) -> Result<StreamVerdict, Trouble> {
    let mut check = StreamCheck::default();
    pieces(file, path, |piece| check.push(piece))?;
    Ok(check.finish())
}

/// The bytes from one place to another.
pub fn range(file: &File, from: u64, to: u64, path: &Path) -> Result<Vec<u8>, Trouble> {
    use std::os::unix::fs::FileExt;
    let mut bytes = vec![0; usize::try_from(to.saturating_sub(from)).unwrap_or(0)];
    file.read_exact_at(&mut bytes, from).map_err(|e| Trouble::io("read the file", path, &e))?;
    Ok(bytes)
}
