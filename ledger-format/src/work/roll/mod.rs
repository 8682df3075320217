//! Roll: who is let in, what is held of each device, who else holds it, and what is in doubt (`spec/work.md`).

mod doubts;
mod held;
#[cfg(test)]
mod tests;

use serde::Serialize;

use crate::line::{date_text, utc_text};
use crate::mark::FullMark;
use crate::members::{Member, Members};
use crate::merge::{Ledger, Log};
use crate::vocabulary::Capacity;

use held::{Witnesses, holders};

/// Everybody who has a ledger here or was ever let in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Roll {
    /// The herd.
    pub herd: String,
    /// The founder's public key; none if the herd is open (`members.md` §2).
    pub founder: Option<String>,
    /// Devices that may admit and revoke now.
    pub keepers: usize,
    /// What is in doubt about the herd as a whole.
    pub doubts: Vec<DoubtRow>,
    /// The devices: those in doubt first, then those that may do something now.
    pub devices: Vec<DeviceRow>,
}

/// A device's name with its key.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DeviceRow {
    /// The device.
    pub device: String,
    /// Its public key, 64 digits.
    pub key: String,
    /// `keeper`, `writer`, `reader`, `revoked`, `not admitted`, or `open` where nobody was ever let in.
    pub may: &'static str,
    /// Whether it began the herd.
    pub founder: bool,
    /// The day of the line that admitted it.
    pub admitted: Option<String>,
    /// The day of the line that revoked it.
    pub revoked: Option<String>,
    /// Lines that are held of it, heads not counted.
    pub lines: usize,
    /// Of them, lines kept apart: without a right.
    pub apart: usize,
    /// The year in the name of its newest file.
    pub year: Option<u16>,
    /// Bytes that hold of that file.
    pub length: Option<usize>,
    /// Full mark of the last line there.
    pub mark: Option<String>,
    /// When that line was kept, as the device's clock said, UTC.
    pub last_sealed: Option<String>,
    /// The other devices that said they hold it, those that hold the most first.
    pub held_by: Vec<HolderRow>,
    /// What is in doubt, and what to do.
    pub doubts: Vec<DoubtRow>,
}

/// How far another device holds a ledger.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HolderRow {
    /// The device that says so.
    pub device: String,
    /// The day on which it said so.
    pub on: String,
    /// Lines up to there, heads not counted.
    pub lines: usize,
    /// Lines that are held here and came later.
    pub behind: usize,
}

/// What is in doubt.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct DoubtRow {
    /// In words.
    pub words: String,
    /// What to do.
    pub remedy: String,
}

impl DoubtRow {
    fn new(words: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { words: words.into(), remedy: remedy.into() }
    }
}

/// The roll of a herd, by all that is here.
pub fn roll(log: &Log, members: &Members) -> Roll {
    let witnesses = Witnesses::of(log);
    let mut devices: Vec<DeviceRow> =
        everybody(log, members).iter().map(|member| device(log, members, member, &witnesses)).collect();
    devices.sort_by_cached_key(|row| (row.doubts.is_empty(), rank(row.may), row.device.clone(), row.key.clone()));
    let keepers: Vec<&str> =
        devices.iter().filter(|row| row.may == Capacity::Keeper.word()).map(|row| row.device.as_str()).collect();
    Roll {
        herd: log.ledgers().first().map_or(String::new(), |ledger| ledger.herd.clone()),
        founder: members.founder().map(|key| key.to_string()),
        keepers: keepers.len(),
        doubts: doubts::of_herd(members, &keepers),
        devices,
    }
}

/// Of an open herd, everybody who has a ledger.
fn everybody(log: &Log, members: &Members) -> Vec<Member> {
    if members.founder().is_some() {
        return members.members();
    }
    let mut names: Vec<(String, FullMark)> =
        log.ledgers().iter().map(|ledger| (ledger.device.clone(), ledger.key)).collect();
    names.sort();
    names.dedup();
    let open = |(device, key)| Member { device, key, is_founder: false, now: None, admitted: None, revoked: None };
    names.into_iter().map(open).collect()
}

/// Whoever may do something now first; who was shut out last.
fn rank(may: &str) -> u8 {
    match may {
        "keeper" | "open" => 0,
        "writer" => 1,
        "reader" => 2,
        "not admitted" => 3,
        _ => 4,
    }
}

fn device(log: &Log, members: &Members, member: &Member, witnesses: &Witnesses) -> DeviceRow {
    let files: Vec<&Ledger> = files(log, member).collect();
    let newest = files.last();
    let apart = doubts::apart(log, members, member);
    let day = |id| date_text(log.entry(id).observed.date);
    let may = match member.now {
        _ if members.founder().is_none() => "open",
        Some(capacity) => capacity.word(),
        None if member.revoked.is_some() => "revoked",
        None => "not admitted",
    };
    let mut row = DeviceRow {
        device: member.device.clone(),
        key: member.key.to_string(),
        may,
        founder: member.is_founder,
        admitted: member.admitted.map(day),
        revoked: member.revoked.map(day),
        lines: files.iter().map(|file| file.entries().len() + file.unreadable.len()).sum(),
        apart: apart.len(),
        year: newest.map(|file| file.year),
        length: newest.map(|file| file.bytes().len()),
        mark: newest.and_then(|file| file.check.full).map(|mark| mark.to_string()),
        last_sealed: files.iter().rev().find_map(|file| file.entries().last()).and_then(|last| sealed(last.sealed)),
        held_by: Vec::new(),
        doubts: Vec::new(),
    };
    let heard = witnesses.heard(&files);
    row.held_by = holders(&heard, row.lines);
    row.doubts = doubts::of_device(&row, &files, &apart, &heard);
    row
}

fn sealed(seconds: i64) -> Option<String> {
    chrono::DateTime::from_timestamp(seconds, 0).map(|at| utc_text(at.naive_utc()))
}

/// A device's files with this key, the newest last.
fn files<'a>(log: &'a Log, member: &Member) -> impl Iterator<Item = &'a Ledger> {
    let (device, key) = (member.device.clone(), member.key);
    log.ledgers().iter().filter(move |ledger| ledger.device == device && ledger.key == key)
}
