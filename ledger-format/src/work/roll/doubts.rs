//! What is in doubt about members, and what settles it.

use super::held::Heard;
use super::{DeviceRow, DoubtRow};
use crate::members::{Apart, Member, Members};
use crate::merge::{Ledger, Log};
use crate::work::words::counted;

/// Why each line of a device that has no right has none.
pub(super) fn apart(log: &Log, members: &Members, member: &Member) -> Vec<Apart> {
    let is_its = |id: &crate::merge::EntryId| {
        let ledger = log.ledger(*id);
        ledger.device == member.device && ledger.key == member.key
    };
    members.apart(log).into_iter().filter(is_its).filter_map(|id| members.right_at(id).err()).collect()
}

pub(super) fn of_herd(members: &Members, keepers: &[&str]) -> Vec<DoubtRow> {
    if members.founder().is_none() {
        return vec![DoubtRow::new(
            "the herd is open: no ledger names who began it, so every line counts, whoever wrote it",
            "nothing, if these ledgers were always carried by hand; to decide who may write, begin a herd with \
             `footfold new` and let the others in",
        )];
    }
    let mut doubts = Vec::new();
    match keepers {
        [] => doubts.push(DoubtRow::new(
            "nobody is a keeper: nobody can let anybody in or shut anybody out",
            "begin the herd anew with `footfold new` and gather the old ledgers, which stay readable",
        )),
        [only] => doubts.push(DoubtRow::new(
            format!("{only} is the only keeper: if that machine is lost, nobody can let anybody in"),
            "let a second keeper in, with the key in the first line of its ledger: `footfold write \"herd admit NAME \
             key KEY as keeper\"`",
        )),
        _ => {}
    }
    if !members.not_a_keeper().is_empty() {
        let words = match members.not_a_keeper().len() {
            1 => "1 line that admits or revokes somebody does not count".to_owned(),
            n => format!("{n} lines that admit or revoke somebody do not count"),
        };
        doubts.push(DoubtRow::new(
            format!("{words}: the writer was no keeper then"),
            "if it is meant, write the same on a keeper's machine",
        ));
    }
    doubts
}

pub(super) fn of_device(row: &DeviceRow, files: &[&Ledger], apart: &[Apart], heard: &[Heard]) -> Vec<DoubtRow> {
    let mut doubts = Vec::new();
    for file in files.iter().filter(|file| !file.check.is_unbroken()) {
        let line = file.check.lines;
        doubts.push(DoubtRow::new(
            format!("its file of {:04} holds only up to line {line} here", file.year),
            "`footfold check --mend` puts it right",
        ));
    }
    for heard in heard {
        doubts.extend(of_witness(row, heard));
    }
    doubts.extend(of_lines_apart(row, apart));
    doubts
}

fn of_witness(row: &DeviceRow, heard: &Heard) -> impl Iterator<Item = DoubtRow> {
    let differs = heard.differs.map(|year| {
        let words = format!("{} saw another history of {}/{year:04}", heard.by, row.device);
        let remedy = "`footfold check` says from where on; two machines may write under one key: one of them has to \
                      be paired anew";
        DoubtRow::new(words, remedy)
    });
    let ahead = heard.ahead.map(|(year, length)| {
        let words = format!("{} saw more of {}/{year:04} than is here: {length} bytes", heard.by, row.device);
        DoubtRow::new(words, format!("fetch it from {}: let both machines meet, or `footfold gather FOLDER`", heard.by))
    });
    differs.into_iter().chain(ahead)
}

fn of_lines_apart(row: &DeviceRow, apart: &[Apart]) -> Vec<DoubtRow> {
    let DeviceRow { device, key, .. } = row;
    let admit = format!("`footfold write \"herd admit {device} key {key} as writer\"`");
    let why = [
        (
            Apart::NotAdmitted,
            "nobody let this device in",
            format!("if it belongs to the herd, a keeper writes {admit}"),
        ),
        (
            Apart::MayOnlyRead,
            "it may only read",
            format!("if it is to write: a keeper writes `footfold members revoke {device}`, then {admit}"),
        ),
        (
            Apart::Revoked,
            "sealed behind its revocation",
            format!("look whether they are true and write them anew; or a keeper lets it in again: {admit}"),
        ),
    ];
    let of_reason = |(reason, words, remedy): (Apart, &str, String)| {
        let count = apart.iter().filter(|apart| **apart == reason).count();
        let lines = counted(count as i64, "line");
        let verb = if count == 1 { "is" } else { "are" };
        (count > 0).then(|| DoubtRow::new(format!("{lines} {verb} kept apart and not counted: {words}"), remedy))
    };
    why.into_iter().filter_map(of_reason).collect()
}
