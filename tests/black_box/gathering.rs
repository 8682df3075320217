//! `gather`: what comes from other copies, and what is not let in.

use crate::machine::{Machine, copy_folder, only_file, path};

/// Two machines that hold the herd, each with a ledger of its own.
fn two() -> (Machine, Machine) {
    let (crush, office) = (Machine::new("crush-laptop"), Machine::bare("farm-office"));
    copy_folder(&crush.herd(), &office.herd());
    std::fs::remove_dir_all(office.herd().join(".footfold")).unwrap();
    office.run(&["write", "2026-03-14 417 score 2", "--device", "farm-office", "--by", "ao"]).fine();
    (crush, office)
}

#[test]
fn new_files_and_longer_ones_are_taken_and_tails_stay() {
    let (crush, office) = two();
    crush.run(&["gather", path(&office.herd())]).fine().says("Took 2 lines of farm-office/");
    let taken = only_file(&crush.herd().join("ledgers/farm-office"));
    std::fs::write(&taken, std::fs::read_to_string(&taken).unwrap() + "a thought of mine\n").unwrap();
    office.run(&["write", "418 3", "--device", "farm-office", "--by", "ao"]).fine();
    // A folder that holds herds' folders, as on a stick.
    crush.run(&["gather", path(office.place()), "--look"]).fine().says("Would take 1 line");
    crush.run(&["gather", path(office.place())]).fine().says("Took 1 line");
    let text = std::fs::read_to_string(&taken).unwrap();
    assert!(text.contains("418 score 3") && text.ends_with("a thought of mine\n"), "{text}");
    crush.run(&["gather", path(&office.herd())]).fine().says("Nothing new in 2 other files");
    crush.run(&["check"]).fine();
}

#[test]
fn f13_a_hand_edit_of_anothers_file_outlives_what_is_gathered_and_is_offered() {
    let (crush, office) = two();
    crush.run(&["gather", path(&office.herd())]).fine();
    let taken = only_file(&crush.herd().join("ledgers/farm-office"));
    let edited = std::fs::read_to_string(&taken).unwrap().replace("417 score 2", "417 score 0");
    std::fs::write(&taken, &edited).unwrap();
    office.run(&["write", "418 3", "--device", "farm-office", "--by", "ao"]).fine();
    crush.run(&["gather", path(&office.herd())]).fine().says("Took 1 line");
    let theirs = std::fs::read_to_string(only_file(&office.herd().join("ledgers/farm-office"))).unwrap();
    let mark = theirs.lines().nth(1).unwrap().rsplit(' ').next().unwrap();
    let change = format!("2026-03-14 417 score 0 replaces {mark} of farm-office by ao\n");
    assert_eq!(std::fs::read_to_string(&taken).unwrap(), format!("{theirs}{change}"));
    let saves = std::fs::read_dir(crush.herd().join(".footfold/aside/farm-office")).unwrap().map(|file| file.unwrap());
    let saves: Vec<_> = saves.filter(|file| file.file_name().to_str().unwrap().contains("-save-")).collect();
    assert_eq!(std::fs::read_to_string(saves[0].path()).unwrap(), edited);
    crush.run(&["seal"]).fine();
    assert_eq!(std::fs::read_to_string(&taken).unwrap(), theirs);
    assert!(crush.text().ends_with(&format!("take the `; ` away:\n; {change}")), "{}", crush.text());
}

#[test]
fn a_file_from_a_letter_is_taken_by_its_head_even_with_other_line_ends() {
    let (crush, office) = two();
    let letter = crush.place().join("office ledger.txt");
    let text = std::fs::read_to_string(only_file(&office.herd().join("ledgers/farm-office"))).unwrap();
    std::fs::write(&letter, text.replace('\n', "\r\n") + "typed, not sealed\r\n").unwrap();
    crush.run(&["gather", path(&letter)]).fine().says("Took 2 lines");
    let taken = std::fs::read_to_string(only_file(&crush.herd().join("ledgers/farm-office"))).unwrap();
    assert_eq!(taken, text, "only what is sealed");
}

#[test]
fn what_does_not_verify_changes_nothing_at_all() {
    let (crush, office) = two();
    let before = list(&crush);
    let ledger = only_file(&office.herd().join("ledgers/crush-laptop"));
    let text = std::fs::read_to_string(&ledger).unwrap();
    std::fs::write(&ledger, text.replace("keeper", "reader")).unwrap();
    crush.run(&["gather", path(&office.herd())]).ends(1).says("line 2").says("Nothing was changed");
    assert_eq!(list(&crush), before);
    std::fs::write(&ledger, text).unwrap();
    let protocol = only_file(&office.herd().join("protocols"));
    let other = protocol.with_file_name(format!("{}.ron", "8d".repeat(32)));
    std::fs::copy(protocol, other).unwrap();
    crush.run(&["gather", path(&office.herd())]).ends(1).says("not what its name says");
    assert_eq!(list(&crush), before);
}

#[test]
fn f21_two_histories_are_told_with_the_line_where_they_part() {
    let (crush, office) = two();
    crush.run(&["gather", path(&office.herd())]).fine();
    // The office's machine was set back, and went on otherwise.
    let restored = Machine::bare("farm-office");
    copy_folder(&office.place().join("config"), &restored.config());
    copy_folder(&crush.herd(), &restored.herd());
    office.run(&["write", "418 3", "--device", "farm-office", "--by", "ao"]).fine();
    crush.run(&["gather", path(&office.herd())]).fine();
    restored.run(&["write", "419 2", "--device", "farm-office", "--by", "ao"]).fine();
    let before = std::fs::read(only_file(&crush.herd().join("ledgers/farm-office"))).unwrap();
    let said = crush.run(&["gather", path(&restored.herd())]).ends(1).says("two histories; they part at line 3");
    assert!(said.out.contains("418 score 3") && said.out.contains("419 score 2"), "{}", said.out);
    assert_eq!(std::fs::read(only_file(&crush.herd().join("ledgers/farm-office"))).unwrap(), before);
}

#[test]
fn f20_more_of_ones_own_ledger_elsewhere_is_a_doubt() {
    let (crush, office) = two();
    let set_back = Machine::bare("crush-laptop");
    copy_folder(&crush.config(), &set_back.config());
    copy_folder(&crush.herd(), &set_back.herd());
    crush.run(&["write", "420 1"]).fine();
    office.run(&["gather", path(&crush.herd())]).fine();
    let before = list(&set_back);
    set_back.run(&["gather", path(&office.herd())]).ends(1).says("restored from a backup");
    assert_eq!(list(&set_back)["crush-laptop"], before["crush-laptop"]);
}

#[test]
fn another_herds_files_are_passed_over() {
    let (crush, office) = two();
    let other = ["new", "thornholt", "--device", "farm-office", "--by", "ao"];
    office.run_in(office.place(), &other).fine();
    crush.run(&["gather", path(&office.place().join("thornholt"))]).fine().says("Passed over 1 file of other herds");
    crush.run(&["gather", path(&office.config())]).ends(1).says("no ledger found in it");
}

/// All ledger bytes by device.
fn list(machine: &Machine) -> std::collections::BTreeMap<String, Vec<u8>> {
    let devices = std::fs::read_dir(machine.herd().join("ledgers")).unwrap().map(|entry| entry.unwrap());
    devices
        .map(|device| (device.file_name().into_string().unwrap(), std::fs::read(only_file(&device.path())).unwrap()))
        .collect()
}
