//! `check`: unbroken, complete up to where, and mending.

use crate::machine::{Machine, copy_folder, only_file, path};

/// A herd with two devices; the office has witnessed the crush.
fn witnessed() -> Machine {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let text = machine.text();
    let hashed = text.trim_end().len() - 16;
    let full = blake3::hash(&text.as_bytes()[..hashed]);
    let year = machine.ledger().file_stem().unwrap().to_str().unwrap().to_owned();
    let witness = format!("2026-03-15 herd witness crush-laptop {year} length {} mark {full}", text.len());
    machine.run(&["write", &witness, "--device", "farm-office", "--by", "ao"]).fine();
    machine
}

#[test]
fn complete_up_to_is_what_another_device_saw() {
    let machine = witnessed();
    machine.run(&["check"]).fine().says("complete up to line 4 (seen by farm-office on 2026-03-15)").fits();
    machine.run(&["write", "418 3"]).fine();
    machine.run(&["check"]).fine().says("5 lines unbroken").says("complete up to line 4");
}

#[test]
fn s15_a_rewritten_history_is_told_by_the_witness_and_by_the_accepted_copy() {
    let machine = witnessed();
    let text = machine.text();
    std::fs::remove_dir_all(machine.herd().join(".footfold")).unwrap();
    // The owner makes the last line anew, with right marks.
    let lines: Vec<&str> = text.lines().collect();
    let before = lines[..3].join("\n") + "\n";
    let changed = lines[3].replace("417 score 3", "417 score 0");
    let body = format!("{before}{}", &changed[..changed.len() - 16]);
    let forged = format!("{body}{}\n", &blake3::hash(body.as_bytes()).to_string()[..16]);
    std::fs::write(machine.ledger(), &forged).unwrap();
    let said = machine.run(&["check"]).ends(1).says("farm-office saw a different history");
    assert!(said.out.starts_with("crush-laptop/"), "worst first: {}", said.out);
    // With the accepted copy there, the line itself is named and comes back.
    let shadow = machine.herd().join(".footfold/accepted/crush-laptop");
    std::fs::create_dir_all(&shadow).unwrap();
    std::fs::write(shadow.join(machine.ledger().file_name().unwrap()), &text).unwrap();
    machine.run(&["check"]).ends(1).says("another history from line 4 on").says("417 score 0");
    machine.run(&["check", "--mend"]).fine();
    assert_eq!(machine.text(), text);
}

#[test]
fn a_ledger_cut_at_a_line_end_is_unbroken_but_short() {
    let machine = witnessed();
    let text = machine.text();
    let cut = text.trim_end().rfind('\n').unwrap() + 1;
    std::fs::write(machine.ledger(), &text[..cut]).unwrap();
    machine.run(&["check"]).ends(1).says("1 line missing").says("shorter than farm-office saw it");
    machine.run(&["check", "--mend"]).fine().says("line 4 put back");
    assert_eq!(machine.text(), text);
}

#[test]
fn a_flipped_byte_is_mended_from_another_copy_and_what_follows_stays() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
    let copy = machine.place().join("stick");
    copy_folder(&machine.herd(), &copy);
    machine.run(&["write", "2026-03-14 419 score 1"]).fine();
    let good = machine.text();
    std::fs::remove_dir_all(machine.herd().join(".footfold")).unwrap();
    std::fs::write(machine.ledger(), good.replace("417 score 3", "417 score 1")).unwrap();
    machine.run(&["check", "--every-mark"]).ends(1).says("broken at line 4").says("3 lines with a wrong mark: 4, 5, 6");
    machine.run(&["write", "420 3"]).ends(1).says("nothing is sealed upon a broken ledger");
    let look = machine.run(&["check", "--copy", path(&copy)]).ends(1).says("Can be mended with --mend");
    assert!(look.out.contains("line 4 put back"), "{}", look.out);
    machine.run(&["check", "--mend", "--copy", path(&copy)]).fine();
    assert_eq!(machine.text(), good);
}

#[test]
fn files_are_checked_on_their_own_worst_first() {
    let machine = Machine::new("crush-laptop");
    let (good, bad) = (machine.place().join("good.txt"), machine.place().join("bad.txt"));
    std::fs::copy(machine.ledger(), &good).unwrap();
    std::fs::write(&bad, machine.text().replace("keeper", "reader")).unwrap();
    let said = machine.run_in(machine.place(), &["check", "good.txt", "bad.txt"]).ends(1);
    assert!(said.out.starts_with("bad.txt") && said.out.contains("broken at line 2"), "{}", said.out);
    machine.run_in(machine.place(), &["check", "good.txt"]).fine().says("unbroken").says("not proved");
    machine.run_in(machine.place(), &["check", "none.txt"]).ends(1).says("it is not there");
    assert!(!said.out.contains("intact"));
}

#[test]
fn completions_and_manual_pages_are_made() {
    let machine = Machine::bare("crush-laptop");
    machine.run_in(machine.place(), &["completions", "bash"]).fine().says("complete");
    machine.run_in(machine.place(), &["man", "pages"]).fine();
    assert!(machine.place().join("pages/footfold-check.1").exists());
    machine.run_in(machine.place(), &["frobnicate"]).ends(2);
}

#[test]
fn a_file_under_another_device_is_told() {
    let machine = Machine::new("crush-laptop");
    let other = machine.herd().join("ledgers/farm-office");
    std::fs::create_dir_all(&other).unwrap();
    std::fs::copy(machine.ledger(), other.join("2026.txt")).unwrap();
    machine.run(&["check"]).ends(1).says("its head names device crush-laptop, but it lies under farm-office");
}

#[test]
fn what_mending_says_keeps_to_the_width_beside_long_paths() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
    let herd = machine.place().join("x".repeat(70)).join("y".repeat(70)).join("quillmere");
    copy_folder(&machine.herd(), &herd);
    let ledger = only_file(&herd.join("ledgers/crush-laptop"));
    let text = std::fs::read_to_string(&ledger).unwrap();
    std::fs::write(&ledger, text.replace("417 score 3", "417 score 1")).unwrap();
    let runs = [
        machine.run_in(&herd, &["check"]).ends(1),
        machine.run_in(&herd, &["check", "--mend"]).fine().says("what stood there is kept in"),
        machine.run_in(&herd, &["check", "--copy", &format!("/nowhere/{}", "z".repeat(90))]).ends(1),
    ];
    for run in runs {
        for line in run.out.lines().chain(run.err.lines()) {
            let is_path = !line.trim().contains(' ') && line.contains('/');
            assert!(line.chars().count() <= 80 || is_path, "too wide: {line}\n{run:#?}");
        }
    }
}
