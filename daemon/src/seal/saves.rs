//! Saves remembered: what was saved in a ledger file, and what became of each line (`keep.md` §1, §2).
//!
//! They are the bases that later saves are compared with, and for 30 days the last place to look for lost words.

use chrono::{NaiveDateTime, TimeDelta};
use ledger_format::keep::Remembered;
use ledger_format::line::{read_utc, utc_text};
use serde::{Deserialize, Serialize};

use crate::Trouble;
use crate::disk::before::SAVE_DAYS;
use crate::disk::{Folder, HerdFolder, LedgerName, faults, replace};

/// How many of a file are compared with a save: nobody has more editors open.
const COMPARED: usize = 100;

/// One save, as it is stored.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stored {
    /// When it was taken in, UTC.
    at: String,
    save: Remembered,
}

/// The remembered saves of one ledger file, the newest first.
#[derive(Debug)]
pub(crate) struct Saves {
    name: LedgerName,
    newest: u64,
    known: Vec<Remembered>,
}

impl Saves {
    /// Reads them. One that cannot be read was never wholly written, and counts for nothing.
    pub(crate) fn read(herd: &HerdFolder, name: &LedgerName) -> Result<Self, Trouble> {
        let mut saves = Self { name: name.clone(), newest: 0, known: Vec::new() };
        let Some(folder) = herd.own_if_there(&["saves", &name.device])? else { return Ok(saves) };
        let numbers = numbers(&folder, name)?;
        saves.newest = numbers.last().copied().unwrap_or(0);
        for number in numbers.iter().rev().take(COMPARED) {
            saves.known.extend(stored(&folder, &file(name, *number))?.map(|stored| stored.save));
        }
        Ok(saves)
    }

    /// Lets go of all: they speak of lines of another history.
    pub(crate) fn forget(herd: &HerdFolder, name: &LedgerName) -> Result<(), Trouble> {
        let Some(folder) = herd.own_if_there(&["saves", &name.device])? else { return Ok(()) };
        for number in numbers(&folder, name)? {
            folder.remove(&file(name, number))?;
        }
        folder.sync()
    }

    pub(crate) fn known(&self) -> &[Remembered] {
        &self.known
    }

    /// Stores one more, and lets go of those that are too old.
    pub(crate) fn remember(&mut self, herd: &HerdFolder, save: Remembered, now: NaiveDateTime) -> Result<(), Trouble> {
        let folder = herd.own(&["saves", &self.name.device])?;
        let stored = Stored { at: utc_text(now), save };
        let text = ron::ser::to_string_pretty(&stored, ron::ser::PrettyConfig::default())
            .map_err(|e| Trouble::new(e.to_string(), "tell the makers of footfold"))?;
        self.newest += 1;
        replace::overwrite(&folder, &file(&self.name, self.newest), text.as_bytes())?;
        faults::point("saved");
        self.known.insert(0, stored.save);
        self.known.truncate(COMPARED);
        self.let_go(&folder, now)
    }

    /// Those that are older than [`SAVE_DAYS`] go, from the oldest on; never the newest, whose tail still stands.
    fn let_go(&self, folder: &Folder, now: NaiveDateTime) -> Result<(), Trouble> {
        for number in numbers(folder, &self.name)?.into_iter().filter(|number| *number < self.newest) {
            let name = file(&self.name, number);
            let at = stored(folder, &name)?.and_then(|stored| read_utc(stored.at.as_bytes()));
            if at.is_some_and(|at| now - at <= TimeDelta::days(SAVE_DAYS)) {
                break;
            }
            folder.remove(&name)?;
        }
        Ok(())
    }
}

fn stored(folder: &Folder, name: &str) -> Result<Option<Stored>, Trouble> {
    let bytes = folder.read(name)?.unwrap_or_default();
    Ok(std::str::from_utf8(&bytes).ok().and_then(|text| ron::from_str(text).ok()))
}

fn file(name: &LedgerName, number: u64) -> String {
    format!("{:04}-{number:06}.ron", name.year)
}

fn numbers(folder: &Folder, name: &LedgerName) -> Result<Vec<u64>, Trouble> {
    let begin = format!("{:04}-", name.year);
    let mut numbers: Vec<u64> = folder
        .names()?
        .iter()
        .filter_map(|file| file.strip_prefix(&begin)?.strip_suffix(".ron")?.parse().ok())
        .collect();
    numbers.sort_unstable();
    Ok(numbers)
}
