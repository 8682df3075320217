//! How the files of a herd stand, without reading them.

use std::collections::BTreeMap;
use std::os::unix::fs::MetadataExt;

use super::settle::Facts;
use crate::Trouble;
use crate::disk::{Folder, HerdFolder};

/// The facts of all ledger files, by their short names. What cannot be looked at is a trouble of the herd.
pub(super) fn of_ledgers(herd: &HerdFolder) -> Result<BTreeMap<String, Facts>, Trouble> {
    let mut all = BTreeMap::new();
    for name in herd.ledgers()?.files {
        let Some(folder) = herd.device(&name.device)? else { continue };
        if let Some(facts) = of_file(&folder, &name.file())? {
            all.insert(name.to_string(), facts);
        }
    }
    Ok(all)
}

/// The facts of everything that the herd's state is read from: ledgers and protocols.
pub(super) fn of_all(herd: &HerdFolder) -> Result<BTreeMap<String, Facts>, Trouble> {
    let mut all = of_ledgers(herd)?;
    if let Some(protocols) = herd.protocols()? {
        for file in protocols.names()? {
            if let Ok(Some(facts)) = of_file(&protocols, &file) {
                all.insert(format!("protocols/{file}"), facts);
            }
        }
    }
    Ok(all)
}

/// The facts of a file, if there is one.
pub(crate) fn of_file(folder: &Folder, name: &str) -> Result<Option<Facts>, Trouble> {
    let Some(file) = folder.file(name)? else { return Ok(None) };
    let facts = file.metadata().map_err(|e| Trouble::io("look at the file", &folder.join(name), &e))?;
    let nanoseconds = |seconds: i64, rest: i64| i128::from(seconds) * 1_000_000_000 + i128::from(rest);
    Ok(Some(Facts {
        length: facts.len(),
        inode: facts.ino(),
        mtime: nanoseconds(facts.mtime(), facts.mtime_nsec()),
        ctime: nanoseconds(facts.ctime(), facts.ctime_nsec()),
    }))
}
