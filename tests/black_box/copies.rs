//! Conflict copies, as programs that copy folders leave them: typed material, taken in once, never deleted.

use std::fs;
use std::path::{Path, PathBuf};

use crate::machine::Machine;

/// The name that a sync client gives to the text that lost.
pub(crate) fn conflict_copy(ledger: &Path) -> PathBuf {
    let year = ledger.file_stem().unwrap().to_str().unwrap();
    ledger.with_file_name(format!("{year} (conflicted copy).txt"))
}

fn begun() -> (Machine, String) {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
    let text = machine.text();
    (machine, text)
}

fn sealed(text: &str, body: &str) -> usize {
    text.matches(&format!("{body} | ")).count()
}

#[test]
fn f14_f40_what_is_typed_in_a_conflict_copy_is_sealed_once_and_the_copy_is_kept_aside() {
    let (machine, text) = begun();
    let copy = conflict_copy(&machine.ledger());
    let saved = format!("{text}2026-03-14 419 score 3\n2026-03-14 420 skore 2\n");
    machine.types("2026-03-14 421 score 1\n");
    fs::write(&copy, &saved).unwrap();
    machine.run(&["check"]).ends(1).says("the ledger does not hold its lines").says("footfold seal");
    machine.run(&["seal"]).ends(1).says("a copy that a program left beside the ledger: taken in");
    let after = machine.text();
    assert!(after.starts_with(&text), "{after}");
    for body in ["2026-03-14 419 score 3 by kj", "2026-03-14 421 score 1 by kj"] {
        assert_eq!(sealed(&after, body), 1, "{body}\n{after}");
    }
    assert!(after.contains("2026-03-14 420 skore 2\n;! "), "what is not understood waits\n{after}");
    assert!(!copy.exists() && String::from_utf8(machine.aside()).unwrap().contains(&saved), "it is kept aside");
    machine.run(&["seal"]);
    assert_eq!(machine.text(), after, "told and taken in once");
}

#[test]
fn f40_lines_of_a_conflict_copy_that_verify_as_ours_are_nothing_new() {
    let (machine, text) = begun();
    machine.run(&["write", "2026-03-14 419 score 1"]).fine();
    let now = machine.text();
    let ledger = machine.ledger();
    let year = ledger.file_stem().unwrap().to_str().unwrap();
    // An older text of the ledger, the whole of it, and one with other line ends.
    for (name, copy) in [(" (1)", text), ("-x", now.clone()), (" 2", now.replace('\n', "\r\n"))] {
        fs::write(ledger.with_file_name(format!("{year}{name}.txt")), copy).unwrap();
    }
    machine.run(&["seal"]).fine().says("There was nothing new to keep");
    assert_eq!(machine.text(), now);
    machine.run(&["check", "--every-mark"]).fine();
    assert_eq!(fs::read_dir(ledger.parent().unwrap()).unwrap().count(), 1);
}

#[test]
fn f40_a_copy_beside_another_devices_ledger_is_left_to_its_machine() {
    let (machine, _) = begun();
    machine.run(&["write", "--device", "farm-office", "2026-03-14 417 score 2"]).fine();
    let year = machine.ledger().file_name().unwrap().to_owned();
    let copy = conflict_copy(&machine.herd().join("ledgers/farm-office").join(year));
    fs::write(&copy, "2026-03-14 430 score 3\n").unwrap();
    machine.run(&["seal"]).fine();
    assert_eq!(fs::read_to_string(&copy).unwrap(), "2026-03-14 430 score 3\n");
    machine.run(&["check"]).ends(1).says("run `footfold seal` on the machine whose ledger it is");
}
