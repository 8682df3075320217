//! Files of lines that only grow, and that people and other programs see: never renamed over, never rewritten.

use std::fs::File;
use std::path::Path;

use super::{Folder, calls, faults, read};
use crate::Trouble;

/// No line of such a file is as long.
const LINE: u64 = 1 << 12;

/// The last bytes of such a file, and whether they are all of it; none if there is no file.
pub(crate) fn end_of(folder: &Folder, name: &str, most: u64) -> Result<Option<(Vec<u8>, bool)>, Trouble> {
    let Some(file) = folder.file(name)? else { return Ok(None) };
    let path = folder.join(name);
    let length = length_of(&file, &path)?;
    let bytes = read::range(&file, length.saturating_sub(most), length, &path)?;
    Ok(Some((bytes, length <= most)))
}

/// Appends a line and waits until it is on the disk. What a power cut left of a line goes, unless it is whole but
/// for its line feed.
pub(crate) fn line(folder: &Folder, name: &str, line: &str, is_whole: impl Fn(&str) -> bool) -> Result<(), Trouble> {
    let path = folder.join(name);
    let mut file = folder.append(name)?;
    let length = length_of(&file, &path)?;
    let end = read::range(&file, length.saturating_sub(LINE), length, &path)?;
    let torn = &end[memchr::memrchr(b'\n', &end).map_or(0, |lf| lf + 1)..];
    let is_kept = torn.len() as u64 >= LINE || std::str::from_utf8(torn).is_ok_and(is_whole);
    let failed = |error| Trouble::io("write the line", &path, &error);
    let (begin, lead) = match torn {
        [] => (length, ""),
        _ if is_kept => (length, "\n"),
        torn => (length - torn.len() as u64, ""),
    };
    if begin < length {
        calls::cut(&file, begin, &path).map_err(failed)?;
    }
    let text = format!("{lead}{line}\n");
    let written = calls::write_all(&mut file, text.as_bytes(), &path).and_then(|()| to_disk(&file, &path));
    if let Err(error) = written {
        let _ = calls::cut(&file, begin, &path).and_then(|()| calls::sync(&file, &path));
        return Err(failed(error));
    }
    if length == 0 { folder.sync() } else { Ok(()) }
}

fn to_disk(file: &File, path: &Path) -> std::io::Result<()> {
    if faults::mutant("skip-state-sync") { Ok(()) } else { calls::sync_data(file, path) }
}

fn length_of(file: &File, path: &Path) -> Result<u64, Trouble> {
    Ok(file.metadata().map_err(|e| Trouble::io("look at the file", path, &e))?.len())
}
