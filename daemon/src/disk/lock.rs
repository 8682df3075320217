//! One writer at a time in a herd folder. The system frees the lock when its holder ends, however it ends.

use std::fs::{File, TryLockError};
use std::io::{Read, Seek, Write};
use std::time::Duration;

use chrono::NaiveDateTime;
use ledger_format::line::utc_text;

use super::{HerdFolder, faults};
use crate::Trouble;

/// The right to write in a herd folder, for as long as it lives.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock, after a short wait if need be: most holders are done at once. Or says who has it.
    pub fn take(herd: &HerdFolder, now: NaiveDateTime) -> Result<Self, Trouble> {
        let folder = herd.own(&[])?;
        let path = folder.join("lock");
        let mut file = folder.append("lock")?;
        match try_for_a_while(&file) {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let what = format!("another footfold is writing in this folder: {}", holder(&mut file));
                return Err(Trouble::new(what, "wait until it is done, or end it, then run the command again").at(path));
            }
            Err(TryLockError::Error(error)) => return Err(Trouble::io("lock the folder", &path, &error)),
        }
        // Who holds it is a courtesy; a full disk must not take the lock from us.
        let _ = note_holder(&mut file, now);
        Ok(Self { _file: file })
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        faults::point("unlocked");
    }
}

fn try_for_a_while(file: &File) -> Result<(), TryLockError> {
    for _ in 0..TRIES {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => std::thread::sleep(PAUSE),
            other => return other,
        }
    }
    file.try_lock()
}

/// About two seconds.
const TRIES: u32 = 20;
const PAUSE: Duration = Duration::from_millis(100);

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
