//! Putting a new text in the place of one that a person may be saving at this moment.
//!
//! A rename over the file would lose a save that lands between our reading and our renaming. So the two
//! names are exchanged, and what came out is compared with what was read: the caller gets it back.

use std::io;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::thread::sleep;
use std::time::Duration;

use super::{Folder, faults};
use crate::Trouble;

/// What stood in the place that a new text took.
#[derive(Debug, PartialEq, Eq)]
pub enum Displaced {
    /// Nothing: there was no file.
    Nothing,
    /// Exactly what had been read.
    AsRead,
    /// A newer save. It stands among `strays` until its lines are taken over.
    Newer,
}

/// The name of a new text beside the file, before it takes the place.
pub fn new_name(name: &str) -> String {
    format!(".{name}.new")
}

/// What stands beside the file after an interrupted replacement: texts that came out of its place, or ours that
/// never got there. Each is read, and kept aside, before it goes.
pub fn strays(folder: &Folder, name: &str) -> Result<Vec<String>, Trouble> {
    let displaced = format!(".{name}.displaced-");
    let names = folder.names()?;
    Ok(names.into_iter().filter(|stray| *stray == new_name(name) || stray.starts_with(&displaced)).collect())
}

/// Frees the name that a new text is written under.
pub fn free_new_name(folder: &Folder, name: &str) -> Result<(), Trouble> {
    if folder.kind(&new_name(name))?.is_none() {
        return Ok(());
    }
    let displaced = displaced_name(folder, name)?;
    folder.rename_new(&new_name(name), &displaced).map_err(|e| Trouble::io("rename the file", &folder.join(name), &e))
}

/// A free name for what came out, until it is taken over.
pub(super) fn displaced_name(folder: &Folder, name: &str) -> Result<String, Trouble> {
    let taken = strays(folder, name)?;
    let free = (1..=taken.len() + 1).map(|n| format!(".{name}.displaced-{n}")).find(|name| !taken.contains(name));
    Ok(free.unwrap_or_else(|| format!(".{name}.displaced-0")))
}

/// Writes a new text beside the file, with the file's own permissions, and waits until it is on the disk.
pub fn prepare(folder: &Folder, name: &str, parts: &[&[u8]]) -> Result<(), Trouble> {
    free_new_name(folder, name)?;
    let mode = match folder.file(name)? {
        Some(file) => file.metadata().map_or(0o644, |facts| facts.permissions().mode() & 0o7777),
        None => 0o644,
    };
    if mode & 0o200 == 0 {
        let remedy =
            format!("allow writing with `chmod u+w {}`, then run the command again", folder.join(name).display());
        return Err(Trouble::new("the file is marked read-only; nothing was changed", remedy).at(folder.join(name)));
    }
    folder.create(&new_name(name), parts, mode)?;
    if faults::mutant("swap-steps") {
        swapped_out(folder, name)?;
    }
    faults::point("prepared");
    Ok(())
}

/// Makes a file that must not be there yet, whole or not at all.
pub fn create(folder: &Folder, name: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let aside = new_name(name);
    folder.remove(&aside)?;
    folder.create(&aside, &[bytes], 0o644)?;
    folder.rename_new(&aside, name).map_err(|error| {
        let _ = folder.remove(&aside);
        Trouble::io("make the file", &folder.join(name), &error)
    })?;
    folder.sync()
}

/// Puts a text in the place of a file that only we write: `.footfold` and the like.
pub fn overwrite(folder: &Folder, name: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let aside = new_name(name);
    folder.remove(&aside)?;
    folder.create(&aside, &[bytes], 0o644)?;
    folder.move_to(&aside, folder, name)?;
    folder.sync()
}

/// Puts the prepared text in place. What came out goes to `aside` if it is what was read.
pub fn put(
    folder: &Folder,
    name: &str,
    read: Option<&[u8]>,
    aside: &Folder,
    aside_name: impl Fn(&Stamp) -> String,
) -> Result<Displaced, Trouble> {
    if folder.kind(name)?.is_none() && folder.rename_new(&new_name(name), name).is_ok() {
        folder.sync()?;
        return Ok(Displaced::Nothing);
    }
    if faults::mutant("rename-over") {
        folder.move_to(&new_name(name), folder, name)?;
        return folder.sync().map(|()| Displaced::AsRead);
    }
    let displaced = swapped_out(folder, name)?;
    faults::point("swapped");
    folder.sync()?;
    faults::point("folder-synced");
    // Before the reading: what is written from now on changes it.
    let stamp = Stamp::of(folder, &displaced)?;
    let is_as_read = read.map_or(Ok(false), |read| folder.holds(&displaced, read))?;
    if is_as_read {
        folder.move_to(&displaced, aside, &aside_name(&stamp))?;
        faults::point("aside");
        return Ok(Displaced::AsRead);
    }
    if faults::mutant("drop-displaced") {
        return folder.remove(&displaced).map(|()| Displaced::AsRead);
    }
    settle(folder, &displaced)?;
    Ok(Displaced::Newer)
}

/// By what a text is known again without reading it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stamp {
    /// When it was last written to, in nanoseconds since 1970.
    pub written: i128,
    /// Its length.
    pub length: u64,
}

impl Stamp {
    /// The stamp of a file; that of nothing if there is none.
    pub fn of(folder: &Folder, name: &str) -> Result<Self, Trouble> {
        let Some(file) = folder.file(name)? else { return Ok(Self::default()) };
        let facts = file.metadata().map_err(|e| Trouble::io("look at the file", &folder.join(name), &e))?;
        let written = i128::from(facts.mtime()) * 1_000_000_000 + i128::from(facts.mtime_nsec());
        Ok(Self { written, length: facts.len() })
    }
}

/// Takes a prepared text away again, unused.
pub fn withdraw(folder: &Folder, name: &str) -> Result<(), Trouble> {
    folder.remove(&new_name(name))
}

/// Exchanges the two texts; what came out stands under the name that this gives.
fn swapped_out(folder: &Folder, name: &str) -> Result<String, Trouble> {
    if faults::mutant("swap-steps")
        && let Some(done) = strays(folder, name)?.into_iter().find(|stray| *stray != new_name(name))
    {
        return Ok(done);
    }
    let displaced = displaced_name(folder, name)?;
    swap(folder, name, &displaced)?;
    Ok(displaced)
}

fn swap(folder: &Folder, name: &str, displaced: &str) -> Result<(), Trouble> {
    let new = new_name(name);
    let failed = |error: &io::Error| Trouble::io("put the new text in place", &folder.join(name), error);
    match folder.exchange(&new, name) {
        Ok(()) => return folder.rename_new(&new, displaced).map_err(|e| failed(&e)),
        Err(error) if cannot_exchange(&error) => {}
        Err(error) => return Err(failed(&error)),
    }
    folder.rename_new(name, displaced).map_err(|e| failed(&e))?;
    // If an editor made the file anew in between, its text wins the name; ours is put in again next time.
    folder.rename_new(&new, name).map_err(|e| failed(&e))
}

/// So long a file must be still. Where machines are played in one thread nobody writes meanwhile.
const STILL: Duration = if cfg!(test) { Duration::ZERO } else { Duration::from_millis(60) };

/// Waits until an editor that still holds the file has done writing it.
pub fn settle(folder: &Folder, name: &str) -> Result<(), Trouble> {
    let facts = || -> Result<_, Trouble> {
        let file = folder.file(name)?;
        Ok(file.and_then(|file| file.metadata().ok()).map(|facts| (facts.len(), facts.modified().ok())))
    };
    let mut before = facts()?;
    for _ in 0..10 {
        sleep(STILL);
        let now = facts()?;
        if now == before {
            break;
        }
        before = now;
    }
    Ok(())
}

fn cannot_exchange(error: &io::Error) -> bool {
    use rustix::io::Errno;
    Errno::from_io_error(error).is_some_and(|errno| matches!(errno, Errno::INVAL | Errno::NOSYS | Errno::NOTSUP))
}
