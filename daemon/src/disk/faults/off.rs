//! No faults: nothing happens, and nothing is left of it in the program.

use std::fs::File;
use std::path::Path;

use rustix::io::Errno;

use super::Op;

pub(crate) fn point(_: &str) {}

pub(crate) fn mutant(_: &str) -> bool {
    false
}

pub(crate) fn disk(_: &str) -> bool {
    false
}

pub(crate) fn machine() -> Option<String> {
    None
}

#[expect(clippy::unnecessary_wraps, reason = "with faults it fails")]
pub(crate) fn call(_: Op, _: &Path, _: &str) -> Result<(), Errno> {
    Ok(())
}

#[expect(clippy::unnecessary_wraps, reason = "with faults it fails")]
pub(crate) fn room(_: Op, _: &Path, bytes: usize) -> Result<usize, Errno> {
    Ok(bytes)
}

pub(crate) fn made(_: &Path, _: &str) {}

pub(crate) fn moving(_: &Path, _: &str) {}

pub(crate) fn moved(_: (&Path, &str), _: (&Path, &str)) {}

pub(crate) fn exchanged(_: &Path, _: &str, _: &str) {}

pub(crate) fn removing(_: &Path, _: &str) {}

pub(crate) fn writing(_: &File) {}

pub(crate) fn synced(_: &File) {}

pub(crate) fn folder_synced(_: &Path) {}
