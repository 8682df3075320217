//! Texts that came out of a file's place, kept aside under a name for when they were written.
//!
//! An editor that opened the file before the exchange may write to it long after: its words then go into the text
//! that lies aside. Such a text is no longer as old as its name says, and is brought back as a save.

use chrono::{NaiveDateTime, TimeDelta};

use super::replace::{Stamp, displaced_name};
use super::{Folder, HerdFolder, LedgerName};
use crate::Trouble;

/// For how long saves are remembered.
pub const SAVE_DAYS: i64 = 30;

/// The name for a text that takes leave of a file's place.
pub fn name(ledger: &LedgerName, stamp: &Stamp) -> String {
    format!("{}{:020}-{}.txt", lead(ledger), stamp.written, stamp.length)
}

/// Brings texts back beside the file that were written to since they went aside.
pub fn bring_back_late(herd: &HerdFolder, ledger: &LedgerName, folder: &Folder) -> Result<(), Trouble> {
    let Some(aside) = herd.own_if_there(&["aside", &ledger.device])? else { return Ok(()) };
    for (old, is_late) in all(&aside, ledger)? {
        if is_late {
            aside.move_to(&old, folder, &displaced_name(folder, &ledger.file())?)?;
        }
    }
    Ok(())
}

/// Lets all go but the newest, and those that are late.
pub fn keep_newest(aside: &Folder, ledger: &LedgerName) -> Result<(), Trouble> {
    let mut old = all(aside, ledger)?;
    old.pop();
    for (old, is_late) in old {
        if !is_late {
            aside.remove(&old)?;
        }
    }
    Ok(())
}

/// Saves that were kept for what they showed go after [`SAVE_DAYS`].
pub fn let_old_saves_go(aside: &Folder, ledger: &LedgerName, now: NaiveDateTime) -> Result<(), Trouble> {
    let lead = format!("{:04}-save-", ledger.year);
    let oldest = i128::from((now - TimeDelta::days(SAVE_DAYS)).and_utc().timestamp()) * 1_000_000_000;
    for old in aside.names()?.into_iter().filter(|name| name.starts_with(&lead)) {
        if Stamp::of(aside, &old)?.written < oldest {
            aside.remove(&old)?;
        }
    }
    Ok(())
}

/// All that are kept of a file, the oldest first, and whether each was written to since.
fn all(aside: &Folder, ledger: &LedgerName) -> Result<Vec<(String, bool)>, Trouble> {
    let mut found = Vec::new();
    for old in aside.names()?.into_iter().filter(|name| name.starts_with(&lead(ledger))) {
        let is_late = name(ledger, &Stamp::of(aside, &old)?) != old;
        found.push((old, is_late));
    }
    Ok(found)
}

fn lead(ledger: &LedgerName) -> String {
    format!("{:04}-before-", ledger.year)
}
