//! How the files of a herd stand, without reading them.

use std::collections::BTreeMap;
use std::os::unix::fs::MetadataExt;

use super::settle::Facts;
use crate::Trouble;
use crate::disk::{Folder, HerdFolder, accepted};

/// The facts of all ledger files and of copies beside them, by their short names. What cannot be looked at is a trouble of the herd.
pub(super) fn of_ledgers(herd: &HerdFolder) -> Result<BTreeMap<String, Facts>, Trouble> {
    let mut all = BTreeMap::new();
    let listing = herd.ledgers()?;
    for name in listing.files {
        let Some(folder) = herd.device(&name.device)? else { continue };
        if let Some(facts) = of_file(&folder, &name.file())? {
            all.insert(name.to_string(), facts);
        }
    }
    for (device, copy) in listing.copies {
        let Some(folder) = herd.device(&device)? else { continue };
        // A placeholder that will not open is absent.
        if let Ok(Some(facts)) = of_file(&folder, &copy) {
            all.insert(format!("{device}/{copy}"), facts);
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

/// The facts of everything that a verdict on the herd rests on. What cannot be looked at lets no verdict stand.
pub(super) fn of_verdict(herd: &HerdFolder) -> Result<BTreeMap<String, Facts>, Trouble> {
    let mut all = of_all(herd)?;
    if let Some(finding) = herd.ledgers()?.findings.into_iter().next() {
        return Err(finding);
    }
    for name in accepted::names(herd)? {
        for room in ["accepted", "saves"] {
            let Some(folder) = herd.own_if_there(&[room, &name.device])? else { continue };
            // A save is never changed, and the newest has the last name.
            if let Some(file) = folder.names()?.last() {
                all.extend(of_file(&folder, file)?.map(|facts| (format!("{room}/{}/{file}", name.device), facts)));
            }
            if let Some(facts) = of_file(&folder, &name.file())? {
                all.insert(format!("{room}/{name}"), facts);
            }
        }
    }
    Ok(all)
}

fn of_file(folder: &Folder, name: &str) -> Result<Option<Facts>, Trouble> {
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
