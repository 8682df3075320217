//! Witness lines: a daemon seals what it holds of others' files, once a day and device (`sync.md` §10).

use std::fs;

use crate::machine::{Machine, copy_folder, only_file, path};
use crate::watching::{Daemon, set, until};

/// The founder's machine with its daemon, and another that may write.
fn two() -> (Machine, Daemon, Machine) {
    let crush = Machine::new("crush-laptop");
    set(&crush, 1, false);
    let office = Machine::bare("farm-office");
    copy_folder(&crush.herd(), &office.herd());
    fs::remove_dir_all(office.herd().join(".footfold")).unwrap();
    office.run(&["write", "2026-03-14 417 score 2", "--device", "farm-office", "--by", "ao"]).fine();
    let daemon = Daemon::start(&crush, "daemon", &[]);
    daemon.says("watched");
    (crush, daemon, office)
}

fn key_of(machine: &Machine, device: &str) -> String {
    let text = fs::read_to_string(only_file(&machine.herd().join("ledgers").join(device))).unwrap();
    text.split(' ').skip_while(|word| *word != "key").nth(1).unwrap().to_owned()
}

/// The witness lines in the machine's own ledger.
fn witnessed(machine: &Machine) -> Vec<String> {
    let text = machine.ledger_text();
    text.lines().filter(|line| line.contains(" herd witness ")).map(str::to_owned).collect()
}

#[test]
fn what_came_is_witnessed_once_a_day_and_completes_the_others_file() {
    let (crush, daemon, office) = two();
    crush.run(&["gather", path(&office.herd())]).fine();
    until("a witness line", || !witnessed(&crush).is_empty());
    let line = witnessed(&crush).remove(0);
    let theirs = only_file(&crush.herd().join("ledgers/farm-office"));
    let text = fs::read_to_string(&theirs).unwrap();
    let full = blake3::hash(&text.as_bytes()[..text.len() - 17]);
    let year = theirs.file_stem().unwrap().to_str().unwrap();
    let said = format!(" herd witness farm-office {year} length {} mark {full} by kj | ", text.len());
    assert!(line.contains(&said), "{line}");
    crush.run(&["check"]).fine().says("complete up to line 2 (seen by crush-laptop on ");
    // More on the same day is not told again, whatever is sealed.
    office.run(&["write", "2026-03-15 418 score 2", "--device", "farm-office", "--by", "ao"]).fine();
    crush.run(&["gather", path(&office.herd())]).fine();
    crush.types("2026-03-15 419 score 1\n");
    until("typed", || crush.ledger_text().contains(" 419 score 1 by kj | "));
    assert_eq!(witnessed(&crush), [line.as_str()]);
    drop(daemon);
}

#[test]
fn a_machine_that_may_not_write_is_no_witness() {
    let (crush, daemon, office) = two();
    drop(daemon);
    crush.run(&["write", &format!("herd admit farm-office key {} as reader", key_of(&office, "farm-office"))]).fine();
    fs::create_dir_all(office.config()).unwrap();
    fs::write(office.config().join("footfold.ron"), settings(&office)).unwrap();
    let daemon = Daemon::start(&office, "daemon", &[]);
    daemon.says("watched");
    office.run(&["gather", path(&crush.herd())]).fine();
    office.types("2026-03-15 419 score 1\n");
    until("typed", || office.ledger_text().contains(" 419 score 1 by ao | "));
    assert_eq!(witnessed(&office), [""; 0]);
    let admit = format!("herd admit farm-office key {} as writer", key_of(&office, "farm-office"));
    crush.run(&["write", &admit]).fine();
    office.run(&["gather", path(&crush.herd())]).fine();
    until("a witness line", || !witnessed(&office).is_empty());
}

fn settings(machine: &Machine) -> String {
    format!("(device: \"farm-office\", by: \"ao\", herds: [{:?}], settle_seconds: 1)", path(&machine.herd()))
}
