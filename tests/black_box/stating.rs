//! Statements: a device's signed word for how far its file goes.

use std::fs;
use std::path::PathBuf;

use crate::machine::{Machine, copy_folder, only_file, path};

fn sig(machine: &Machine) -> PathBuf {
    machine.ledger().with_extension("sig")
}

fn statements(machine: &Machine) -> Vec<String> {
    fs::read_to_string(sig(machine)).unwrap().lines().map(str::to_owned).collect()
}

#[test]
fn each_sealing_states_how_far_the_ledger_goes() {
    let machine = Machine::new("crush-laptop");
    for n in 0..3 {
        machine.run(&["write", &format!("2026-03-14 {} score 3", 417 + n)]).fine();
        assert!(statements(&machine)[n + 1].contains(&format!(" length {} mark ", machine.text().len())));
    }
    machine.run(&["seal"]).fine();
    assert_eq!(statements(&machine).len(), 4, "what is stated is not stated again");
    let said = machine.run(&["check"]).fine().says("up to line 6 by its own word of 20").fits();
    assert!(said.out.contains("no other device has witnessed it"), "{}", said.out);
    machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn a_statement_that_is_missing_or_torn_is_made_at_the_next_seal() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let whole = fs::read_to_string(sig(&machine)).unwrap();
    for left in [String::new(), whole[..whole.len() - 40].to_owned(), whole.trim_end().to_owned()] {
        fs::write(sig(&machine), &left).unwrap();
        machine.run(&["check"]).fine();
        machine.run(&["seal"]).fine();
        let text = fs::read_to_string(sig(&machine)).unwrap();
        assert!(text.ends_with('\n') && text.contains(&format!(" length {} ", machine.text().len())), "{text}");
        machine.run(&["check", "--every-mark"]).fine();
    }
    fs::remove_file(sig(&machine)).unwrap();
    machine.run(&["check"]).fine().says("complete up to: not known");
    machine.run(&["seal"]).fine();
    assert_eq!(statements(&machine).len(), 1);
}

#[test]
fn lines_are_kept_where_the_statement_cannot_be_made_and_that_is_told() {
    let machine = Machine::new("crush-laptop");
    let file = sig(&machine);
    fs::remove_file(&file).unwrap();
    fs::create_dir(&file).unwrap();
    machine.run(&["write", "2026-03-14 417 score 3"]).fine().says("it could not be signed how far they go");
    assert!(machine.text().contains("417 score 3 by kj | "));
    fs::remove_dir(&file).unwrap();
    machine.run(&["seal"]).fine();
    machine.run(&["check"]).fine().says("up to line 4 by its own word");
}

#[test]
fn s13_a_ledger_rolled_back_is_shorter_than_its_device_signed_it() {
    let (crush, office) = (Machine::new("crush-laptop"), Machine::bare("farm-office"));
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    let old = crush.text();
    crush.run(&["write", "2026-03-14 418 score 2"]).fine();
    copy_folder(&crush.herd(), &office.herd());
    fs::remove_dir_all(office.herd().join(".footfold")).unwrap();
    let there = only_file(&office.herd().join("ledgers/crush-laptop"));
    fs::write(&there, &old).unwrap();
    office.run(&["check"]).ends(1).says("shorter than its own device signed it on").says("footfold gather FOLDER");
    // A relay that brings the old one again takes nothing back.
    let stick = office.place().join("stick");
    copy_folder(&office.herd(), &stick);
    office.run(&["gather", path(&crush.herd())]).fine().says("Took 1 line");
    office.run(&["gather", path(&stick)]).fine().says("Nothing new");
    assert_eq!(fs::read_to_string(&there).unwrap(), crush.text());
    office.run(&["check"]).fine().says("up to line 5 by its own word");
}

#[test]
fn s14_two_faces_are_shown_with_both_marks_by_whoever_gathers_them() {
    let (crush, office) = (Machine::new("crush-laptop"), Machine::bare("farm-office"));
    let other = crush.backup();
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    other.run(&["write", "2026-03-14 417 score 0"]).fine();
    copy_folder(&crush.herd(), &office.herd());
    fs::remove_dir_all(office.herd().join(".footfold")).unwrap();
    office.run(&["gather", path(&other.herd())]).ends(1).says("two histories; they part at line 4");
    let said = office.run(&["check"]).ends(1).says("two histories: on ").says("kept in .footfold/forks/crush-laptop");
    let shown = said.out.split_whitespace().filter(|word| word.trim_end_matches(';').len() == 64).count();
    assert_eq!(shown, 2, "both marks in full: {}", said.out);
    let kept =
        fs::read_to_string(only_file(&office.herd().join("ledgers/crush-laptop")).with_extension("sig")).unwrap();
    assert!(kept.contains(&statements(&crush)[1]) && kept.contains(&statements(&other)[1]), "{kept}");
    office.run(&["gather", path(&other.herd())]).ends(1);
    let again =
        fs::read_to_string(only_file(&office.herd().join("ledgers/crush-laptop")).with_extension("sig")).unwrap();
    assert_eq!(again, kept, "kept once");
}

#[test]
fn s15_what_nobody_has_seen_is_told_as_the_writers_own_word_only() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let said = machine.run(&["check"]).fine().says("by its own word").says("no other device has witnessed it");
    assert!(!said.out.contains("complete up to line"), "{}", said.out);
    let text = machine.text();
    let full = blake3::hash(&text.as_bytes()[..text.len() - 17]);
    let year = machine.ledger().file_stem().unwrap().to_str().unwrap().to_owned();
    let witness = format!("2026-03-15 herd witness crush-laptop {year} length {} mark {full}", text.len());
    machine.run(&["write", &witness, "--device", "farm-office", "--by", "ao"]).fine();
    machine.run(&["write", "2026-03-16 418 score 2"]).fine();
    machine
        .run(&["check"])
        .fine()
        .says("complete up to line 4 (seen by farm-office on 2026-03-15)")
        .says("up to line 5 by its own word");
}

#[test]
fn lines_that_are_no_statement_are_findings_and_say_nothing() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let good = fs::read_to_string(sig(&machine)).unwrap();
    let last = statements(&machine).pop().unwrap();
    let forged = last.replace(&format!(" length {} ", machine.text().len()), " length 99999 ");
    for wrong in ["hello".to_owned(), last.replace("quillmere", "thornholt"), forged] {
        fs::write(sig(&machine), format!("{good}{wrong}\n")).unwrap();
        let said = machine.run(&["check"]).ends(1).says("line 3 of ").says("says nothing").says("by its own word");
        assert!(!said.out.contains("shorter than"), "{}", said.out);
    }
    fs::write(sig(&machine), good).unwrap();
    fs::remove_file(machine.ledger()).unwrap();
    fs::remove_dir_all(machine.herd().join(".footfold")).unwrap();
    machine.run(&["check"]).ends(1).says("it is not here, though its own device saw it");
    // So that the verifier has something to judge.
    fs::remove_dir_all(machine.herd()).unwrap();
}
