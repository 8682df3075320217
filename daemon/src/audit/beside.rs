//! What can only be seen of a herd's folder as a whole: second beginnings, files that are not here,
//! conflict copies, protocols under a wrong name.

use std::collections::{BTreeMap, HashSet};

use ledger_format::keep;
use ledger_format::line::{is_name, split_seal};
use ledger_format::mark::{FullMark, Head};
use ledger_format::text;
use rustix::fs::FileType;

use super::Report;
use super::claims::Seen;
use crate::Trouble;
use crate::disk::paths::is_copy_name;
use crate::disk::{Folder, HerdFolder, LedgerName};

/// Which files begin a device's ledger: their heads follow nothing.
#[derive(Default)]
pub(super) struct Beginnings(BTreeMap<String, Vec<LedgerName>>);

impl Beginnings {
    /// Notes the first line of a file.
    pub(super) fn note(&mut self, name: &LedgerName, first: &[u8]) {
        let body = split_seal(first).and_then(|(body, _)| std::str::from_utf8(body).ok());
        if body.and_then(|body| Head::read(body).ok()).is_some_and(|head| head.follows.is_none()) {
            self.0.entry(name.device.clone()).or_default().push(name.clone());
        }
    }

    /// Tells each after the first of its device.
    pub(super) fn tell(&self, reports: &mut [Report]) {
        for names in self.0.values() {
            let Some((first, others)) = names.split_first() else { continue };
            for report in reports.iter_mut().filter(|r| r.ledger.as_ref().is_some_and(|name| others.contains(name))) {
                report.findings.push(second_beginning(first).at(&report.path).line(1));
            }
        }
    }
}

fn second_beginning(first: &LedgerName) -> Trouble {
    Trouble::new(
        format!("its head follows nothing, though {first} is there: two beginnings under one device's name"),
        "find out which of the two its machine goes on in; a machine that was set up anew takes a name of its own, \
         with `--device NAME`",
    )
}

/// Files that somebody saw, and that are neither here nor known to be gone.
pub(super) fn not_here(herd: &HerdFolder, seen: &Seen, reports: &[Report]) -> Vec<Trouble> {
    let told: HashSet<&LedgerName> = reports.iter().filter_map(|report| report.ledger.as_ref()).collect();
    let missing = seen.witnesses().into_iter().filter(|(name, _)| !told.contains(name));
    missing.map(|(name, by)| missing_file(by).at(herd.path_of(name))).collect()
}

fn missing_file(by: &str) -> Trouble {
    Trouble::new(
        format!("it is not here, though {by} saw it"),
        "gather it from a copy of the folder that has it: `footfold gather FOLDER`",
    )
}

/// Protocols whose content is not what their name says.
pub(super) fn protocols(herd: &HerdFolder) -> Result<Vec<Trouble>, Trouble> {
    let Some(folder) = herd.protocols()? else { return Ok(Vec::new()) };
    let mut wrong = Vec::new();
    for name in folder.names()? {
        let Some(hash) = name.strip_suffix(".ron").and_then(FullMark::read) else { continue };
        match folder.read(&name) {
            Ok(Some(bytes)) if FullMark::over(&bytes) != hash => {
                wrong.push(crate::gather::not_its_name(&folder.join(&name)));
            }
            Ok(_) => {}
            Err(trouble) => wrong.push(trouble),
        }
    }
    Ok(wrong)
}

/// Conflict copies in the devices' folders: findings where they hold lines of their own, else notes.
pub(super) fn copies(herd: &HerdFolder) -> Result<(Vec<Trouble>, Vec<Trouble>), Trouble> {
    let (mut findings, mut notes) = (Vec::new(), Vec::new());
    let Ok(Some(ledgers)) = herd.ledgers_folder() else { return Ok((findings, notes)) };
    for device in ledgers.names()?.into_iter().filter(|name| is_name(name)) {
        let Ok(Some(folder)) = ledgers.sub(&device) else { continue };
        let copies: Vec<String> = folder.names()?.into_iter().filter(|name| is_copy_name(name)).collect();
        if copies.is_empty() {
            continue;
        }
        let known = known_lines(herd, &device)?;
        for name in copies {
            if folder.kind(&name)? == Some(FileType::RegularFile) {
                copy(&folder, &name, &known, &mut findings, &mut notes);
            }
        }
    }
    Ok((findings, notes))
}

fn copy(folder: &Folder, name: &str, known: &HashSet<String>, findings: &mut Vec<Trouble>, notes: &mut Vec<Trouble>) {
    let read = folder.read(name);
    let bytes = match read {
        Ok(bytes) => bytes.unwrap_or_default(),
        Err(trouble) => return findings.push(trouble),
    };
    let own: Vec<usize> = cleaned(&bytes).zip(1..).filter(|(line, _)| is_own(line, known)).map(|(_, n)| n).collect();
    match own.first() {
        Some(first) => findings.push(copy_with_lines(&own).at(folder.join(name)).line(*first)),
        None => notes.push(copy_without_lines().at(folder.join(name))),
    }
}

fn is_own(line: &str, known: &HashSet<String>) -> bool {
    !line.is_empty() && !line.starts_with(';') && !known.contains(line)
}

/// Every line of a device's files, cleaned, with and without its seal.
fn known_lines(herd: &HerdFolder, device: &str) -> Result<HashSet<String>, Trouble> {
    let mut known = HashSet::new();
    for name in herd.ledgers()?.files.into_iter().filter(|name| name.device == device) {
        for line in cleaned(&herd.read(&name)?.unwrap_or_default()) {
            let body = split_seal(line.as_bytes()).map(|(body, _)| String::from_utf8_lossy(body).into_owned());
            known.extend(body.into_iter().chain([line]));
        }
    }
    Ok(known)
}

fn cleaned(bytes: &[u8]) -> impl Iterator<Item = String> + use<> {
    let text = text::decode(bytes).text;
    text::split(&text).map(|line| text::clean(line).text).collect::<Vec<_>>().into_iter()
}

fn copy_with_lines(own: &[usize]) -> Trouble {
    let (few, more) = own.split_at(own.len().min(10));
    let more = if more.is_empty() { String::new() } else { format!(" and {} more", more.len()) };
    Trouble::new(
        format!(
            "a copy that a program left beside the ledger, and the ledger does not hold its {}{more}",
            keep::line_numbers(few)
        ),
        "run `footfold seal` on the machine whose ledger it is: it takes them in; if that machine is gone, type what \
         is new in a ledger of your own, and move the copy out of the folder",
    )
}

fn copy_without_lines() -> Trouble {
    Trouble::new(
        "a copy that a program left beside the ledger; it holds nothing that the ledger lacks",
        "nothing; the next sealing moves it away",
    )
}
