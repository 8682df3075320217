//! The independent verifier and this implementation agree on who may do what, and on what statements say: of herds
//! drawn by chance.

use std::collections::BTreeMap;

use daemon::audit;
use daemon::disk::HerdFolder;
use ledger_format::keep;
use ledger_format::members::{Apart, Members};
use ledger_format::merge::{EntryId, Ledger, Log};
use ledger_format::vocabulary::Capacity;
use serde_json::{Value, json};

use crate::TempHerd;
use crate::verifier::{rounds, verdicts};
use crate::villages::{Village, Written};

fn word(right: Result<Capacity, Apart>) -> String {
    match right {
        Ok(capacity) => capacity.to_string(),
        Err(Apart::NotAdmitted) => "apart not admitted".to_owned(),
        Err(Apart::MayOnlyRead) => "apart may only read".to_owned(),
        Err(Apart::Revoked) => "apart revoked".to_owned(),
    }
}

/// What this implementation says of rights, in the form of the verifier: by file, the right at each line that can be
/// read, the lines that do not count, the right now.
fn rights(village: &Village) -> Vec<Value> {
    let read = |file: &Written| Ledger::read(file.device, file.year, file.here().to_vec()).unwrap();
    let log = Log::union(village.files.iter().map(read).collect());
    let members = Members::of(&log);
    let mut of_file: BTreeMap<(&str, u16), Vec<EntryId>> = BTreeMap::new();
    for id in log.in_order() {
        let ledger = log.ledger(id);
        of_file.entry((&ledger.device, ledger.year)).or_default().push(id);
    }
    let of = |ledger: &Ledger| {
        let mut ids = of_file.get(&(ledger.device.as_str(), ledger.year)).cloned().unwrap_or_default();
        ids.sort_unstable();
        let numbers = (2..=ledger.check.lines).filter(|line| ledger.unreadable.iter().all(|one| one.line != *line));
        let rows: Vec<(usize, EntryId)> = numbers.zip(ids).collect();
        let no_keepers = rows.iter().filter(|(_, id)| members.not_a_keeper().contains(id));
        json!({
            "rights": rows.iter().map(|(_, id)| word(members.right_at(*id))).collect::<Vec<_>>(),
            "not_a_keeper": no_keepers.map(|(line, _)| *line).collect::<Vec<_>>(),
            "now": members.right_now(&ledger.device, ledger.key).map_or("none".to_owned(), |right| right.to_string()),
        })
    };
    log.ledgers().iter().map(of).collect()
}

/// The same as the verifier says it, which has a right at lines that cannot be read, too.
fn their_rights(verdict: &Value) -> Value {
    let unreadable = verdict["not_canonical"].as_array().unwrap();
    let rights = verdict["rights"].as_array().unwrap().iter().zip(2u64..);
    let rights: Vec<&Value> =
        rights.filter(|(_, line)| !unreadable.contains(&json!(line))).map(|(right, _)| right).collect();
    json!({ "rights": rights, "not_a_keeper": verdict["not_a_keeper"], "now": verdict["now"] })
}

/// What a check of this implementation must say of the statements that the verifier found so.
fn same_statements(report: &audit::Report, file: &Written, stated: &Value) -> Result<(), String> {
    let told = |lead: &str| report.findings.iter().filter(|one| one.what.contains(lead)).count();
    let agree = stated["agree_up_to"].as_u64().unwrap();
    let line = report.stated.as_ref().map_or(0, |stated| stated.line);
    let mut same = vec![("agree", line == file.line_at(agree))];
    let different = stated["different"].as_array().unwrap();
    same.push(("how many histories", told("two histories: ") == different.len()));
    for other in different {
        let says = format!("signed {} bytes that end with the mark {}", other[0], other[1].as_str().unwrap());
        same.push(("which histories", told(&says) > 0));
    }
    let beyond = stated["beyond"].as_u64().unwrap();
    let longest = report.findings.iter().find(|one| one.what.starts_with("shorter than its own device signed it"));
    let longest = longest.map_or(String::new(), |one| one.what.rsplit_once(": ").unwrap().1.to_owned());
    same.push(("beyond", longest == if beyond > 0 { format!("{beyond} bytes") } else { String::new() }));
    let silent = stated["say_nothing"].as_array().unwrap().iter().map(|line| line.as_u64().unwrap() as usize);
    let silent: Vec<usize> = silent.take(10).collect();
    let says = format!("{} of {}.sig say", keep::line_numbers(&silent), file.year);
    same.push(("say nothing", told(&says) == usize::from(!silent.is_empty()) && told("nothing: no statement") < 2));
    same.push(("nothing else", silent.is_empty() == (told("nothing: no statement") == 0)));
    match same.into_iter().find(|(_, is_same)| !is_same) {
        Some((which, _)) => Err(format!("{which}: {:?} {:?}, theirs {stated}", report.stated, report.findings)),
        None => Ok(()),
    }
}

/// How often each thing was seen, so that a round in which nothing happens does not count for much.
fn count(seen: &mut BTreeMap<String, usize>, verdict: &Value) {
    let words = verdict["rights"].as_array().unwrap().iter().map(|right| right.as_str().unwrap());
    for word in words {
        *seen.entry(word.to_owned()).or_default() += 1;
    }
    let stated = &verdict["stated"];
    let lists = ["different", "say_nothing"].map(|name| (name, stated[name].as_array().unwrap().len()));
    let lengths = ["agree_up_to", "beyond"].map(|name| (name, usize::from(stated[name] != json!(0))));
    let none = [("not_a_keeper", verdict["not_a_keeper"].as_array().unwrap().len())];
    for (name, number) in lists.into_iter().chain(lengths).chain(none) {
        *seen.entry(name.to_owned()).or_default() += number;
    }
}

/// How many herds the verifier is given at once: to start it takes longer than to judge one.
const AT_ONCE: u64 = 50;

#[test]
fn s4_s5_s6_both_say_the_same_rights_and_the_same_of_statements() {
    let rounds = rounds(300);
    let mut seen = BTreeMap::new();
    for first in (0..rounds).step_by(AT_ONCE as usize) {
        let villages: Vec<Village> = (first..rounds.min(first + AT_ONCE)).map(Village::drawn).collect();
        let folders: Vec<TempHerd> = villages.iter().map(Village::folder).collect();
        let verdicts = verdicts(&folders.iter().map(TempHerd::path).collect::<Vec<_>>());
        assert_eq!(verdicts.len(), villages.len());
        for (((round, village), folder), theirs) in (first..).zip(&villages).zip(&folders).zip(&verdicts) {
            compare(&format!("round {round}"), village, folder, theirs);
            theirs.0.iter().for_each(|verdict| count(&mut seen, verdict));
        }
    }
    for what in RARE {
        assert!(seen.get(*what).is_some_and(|times| *times as u64 * 10 > rounds), "{what} is too rare: {seen:?}");
    }
}

/// §7: a revocation is judged by the lines that it knows and no others. A line that it does not know cuts nothing off.
#[test]
fn both_judge_a_revocation_by_what_it_knows_where_its_device_has_two_keys() {
    for (knows, right) in [(false, "apart revoked"), (true, "writer")] {
        let village = Village::of_two_keys(knows);
        let folder = village.folder();
        let theirs = verdicts(&[folder.path()]).remove(0);
        let vet = theirs.0.iter().find(|verdict| verdict["device"] == "vet-tablet").unwrap();
        assert_eq!(vet["rights"], json!([right]), "{knows}: {}", village.told());
        compare(&format!("knows: {knows}"), &village, &folder, &theirs);
    }
}

fn compare(round: &str, village: &Village, folder: &TempHerd, (theirs, well): &(Vec<Value>, bool)) {
    let found = audit::herd(&HerdFolder::open(&folder.path()).unwrap(), true).unwrap();
    assert_eq!(found.is_well(), *well, "{round}: {found:?}\n{theirs:?}");
    let mut files: Vec<&Written> = village.files.iter().collect();
    files.sort_by_key(|file| (file.device, file.year));
    assert_eq!(files.len(), theirs.len(), "{round}");
    for ((file, verdict), ours) in files.into_iter().zip(theirs).zip(rights(village)) {
        let place = format!("{round}, {}/{}", file.device, file.year);
        assert_eq!(verdict["device"], file.device, "{place}");
        assert_eq!(their_rights(verdict), ours, "{place}\n{}", village.told());
        let is_it = |report: &&audit::Report| {
            report.ledger.as_ref().is_some_and(|name| name.device == file.device && name.year == file.year)
        };
        let report = found.reports.iter().find(is_it).unwrap();
        if let Err(why) = same_statements(report, file, &verdict["stated"]) {
            panic!("{place}: {why}");
        }
    }
}

/// What has to happen in one of ten rounds at least.
const RARE: &[&str] = &[
    "keeper",
    "writer",
    "apart not admitted",
    "apart may only read",
    "apart revoked",
    "not_a_keeper",
    "agree_up_to",
    "different",
    "beyond",
    "say_nothing",
];
