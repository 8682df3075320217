//! One writer at a time in a herd folder. The system frees the lock when its holder ends, however it ends.

use std::fs::{File, TryLockError};
use std::io::{Read, Seek, Write};
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::thread::sleep;
use std::time::{Duration, Instant};

use chrono::NaiveDateTime;
use ledger_format::line::utc_text;

use super::far::{self, Claim};
use super::{Folder, HerdFolder, faults};
use crate::Trouble;

/// The right to write in a herd folder, for as long as it lives.
#[derive(Debug)]
pub struct Lock {
    file: File,
    /// On a network disk, where the lock alone says nothing.
    _claim: Option<Claim>,
}

/// How long another writer is waited for: a sealing takes a fraction of a second.
const PATIENCE: Duration = Duration::from_secs(2);
const BETWEEN: Duration = Duration::from_millis(50);

const WRITING: &str = "lock";
const WATCHING: &str = "watch.lock";

impl Lock {
    /// Takes the right to write, for one sealing. Waits a little for another holder, then says who it is.
    pub fn take(herd: &HerdFolder, now: NaiveDateTime) -> Result<Self, Trouble> {
        let folder = herd.own(&[])?;
        let mut file = folder.append(WRITING)?;
        let since = Instant::now();
        while !held(&file, &folder.join(WRITING))? {
            if since.elapsed() > PATIENCE {
                let what = format!("another footfold is writing in this folder: {}", holder(&mut file));
                let remedy = "wait until it is done, or end it, then run the command again";
                return Err(Trouble::new(what, remedy).at(folder.join(WRITING)));
            }
            sleep(BETWEEN);
        }
        let is_far = far::is_far(&folder) || lets_others_in(&folder, WRITING)?;
        let claim = if is_far { far::wait(herd)? } else { None };
        Ok(Self { file: noted(file, now), _claim: claim })
    }

    /// Takes the right to watch, for as long as a daemon runs, or says at once who has it.
    pub fn watch(herd: &HerdFolder, now: NaiveDateTime) -> Result<Self, Trouble> {
        let folder = herd.own(&[])?;
        let mut file = folder.append(WATCHING)?;
        if !held(&file, &folder.join(WATCHING))? {
            let what = format!("another footfold watches this folder: {}", holder(&mut file));
            return Err(Trouble::new(what, "nothing, if that is meant; else end it, and this one takes over")
                .at(folder.join(WATCHING)));
        }
        Ok(Self { file: noted(file, now), _claim: None })
    }

    /// A claim to the folder besides, where this lock, which is to watch, holds nobody off on other machines.
    pub fn claim(&self, herd: &HerdFolder) -> Result<Option<Claim>, Trouble> {
        let folder = herd.own(&[])?;
        let is_far = far::is_far(&folder) || lets_others_in(&folder, WATCHING)?;
        Ok(is_far.then(Claim::new))
    }

    /// Who watches the folder now, if anybody does.
    pub fn watcher(herd: &HerdFolder) -> Result<Option<String>, Trouble> {
        let Some(folder) = herd.own_if_there(&[])? else { return Ok(None) };
        let Some(mut file) = folder.file(WATCHING)? else { return Ok(None) };
        let is_free = file.try_lock_shared().is_ok();
        Ok((!is_free).then(|| holder(&mut file)))
    }

    /// Whether the lock still stands in this folder: a folder that was put in its place has another file, or none.
    pub fn is_in(&self, herd: &HerdFolder) -> Result<bool, Trouble> {
        let there = herd.own_if_there(&[])?.map(|folder| folder.file(WATCHING)).transpose()?.flatten();
        let identity = |file: &File| file.metadata().ok().map(|facts| (facts.dev(), facts.ino()));
        Ok(there.is_some_and(|there| identity(&there).is_some() && identity(&there) == identity(&self.file)))
    }
}

fn noted(mut file: File, now: NaiveDateTime) -> File {
    // Who holds it is a courtesy; a full disk must not take the lock from us.
    let _ = note_holder(&mut file, now);
    file
}

impl Drop for Lock {
    fn drop(&mut self) {
        faults::point("unlocked");
    }
}

/// Whether a lock that we hold would be given to somebody else as well.
fn lets_others_in(folder: &Folder, name: &str) -> Result<bool, Trouble> {
    let Some(again) = folder.file(name)? else { return Ok(false) };
    held(&again, &folder.join(name))
}

fn held(file: &File, path: &Path) -> Result<bool, Trouble> {
    match file.try_lock() {
        Ok(()) => Ok(true),
        Err(TryLockError::WouldBlock) => Ok(faults::disk("no-locks")),
        // A disk without locks: a network disk, which has its own way.
        Err(TryLockError::Error(error)) if error.kind() == std::io::ErrorKind::Unsupported => Ok(true),
        Err(TryLockError::Error(error)) => Err(Trouble::io("lock the folder", path, &error)),
    }
}

fn note_holder(file: &mut File, now: NaiveDateTime) -> std::io::Result<()> {
    file.set_len(0)?;
    let machine = rustix::system::uname().nodename().to_string_lossy().into_owned();
    writeln!(file, "process {} on {machine}, since {}", std::process::id(), utc_text(now))
}

fn holder(file: &mut File) -> String {
    let mut text = String::new();
    let read = file.rewind().and_then(|()| file.take(200).read_to_string(&mut text));
    match (read, text.trim()) {
        (Ok(_), text) if !text.is_empty() => text.to_owned(),
        _ => "it did not say which".to_owned(),
    }
}
