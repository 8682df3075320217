//! `members`: who is let in, and shutting a device out.

use crate::machine::{Machine, copy_folder, only_file, path};

/// A keeper's machine, and a tablet that it let in; both hold the herd, as carried on a stick.
fn two() -> (Machine, Machine) {
    let (crush, tablet) = (Machine::new("crush-laptop"), Machine::bare("vet-tablet"));
    copy_folder(&crush.herd(), &tablet.herd());
    std::fs::remove_dir_all(tablet.herd().join(".footfold")).unwrap();
    writes(&tablet, "2026-03-14 417 score 2");
    crush.run(&["gather", path(&tablet.herd())]).fine();
    (crush, tablet)
}

fn writes(tablet: &Machine, line: &str) {
    tablet.run(&["write", line, "--device", "vet-tablet", "--by", "ao"]).fine();
}

fn key(machine: &Machine, device: &str) -> String {
    let text = std::fs::read_to_string(only_file(&machine.herd().join("ledgers").join(device))).unwrap();
    let head = text.lines().next().unwrap();
    head.split(' ').skip_while(|word| *word != "key").nth(1).unwrap().to_owned()
}

fn admit(crush: &Machine) {
    let line = format!("herd admit vet-tablet key {} as writer", key(crush, "vet-tablet"));
    crush.run(&["write", &line]).fine();
}

#[test]
fn a_device_that_nobody_let_in_is_told_with_what_to_do() {
    let (crush, _tablet) = two();
    let said = crush.run(&["members"]).ends(1).fits();
    let said = said.says("vet-tablet: not admitted").says("1 line is kept apart and not counted");
    said.says("crush-laptop is the only keeper");
    admit(&crush);
    crush.run(&["members"]).fine().fits().says("vet-tablet: writer since").says("nobody else has said");
    crush.run(&["members", "--marks"]).fine().says(&key(&crush, "vet-tablet"));
}

#[test]
fn s17_a_stolen_tablet_is_shut_out_in_one_step_and_s5_what_it_writes_later_is_kept_apart() {
    let (crush, tablet) = two();
    admit(&crush);
    let last = tablet.ledger_text();
    let said = crush.run(&["members", "revoke", "vet-tablet", "--because", "stolen"]).fine().fits();
    said.says("Shuts out vet-tablet, writer").says("which is the last:").says("herd revoke vet-tablet after");
    crush.run(&["members"]).fine().says("vet-tablet: revoked since");
    crush.run(&["members", "revoke", "vet-tablet"]).ends(1).says("shut out already");
    // The thief goes on, back-dated to before.
    writes(&tablet, "2026-03-01 418 score 3");
    assert_ne!(tablet.ledger_text(), last);
    crush.run(&["gather", path(&tablet.herd())]).fine();
    crush.run(&["members"]).ends(1).says("sealed behind its revocation");
    assert!(!crush.run(&["due", "--on", "2026-03-15"]).out.contains("418"));
}

#[test]
fn an_earlier_line_may_be_the_last_that_counts() {
    let (crush, tablet) = two();
    admit(&crush);
    let mark = tablet.ledger_text().lines().last().unwrap().rsplit(' ').next().unwrap().to_owned();
    writes(&tablet, "2026-03-15 418 score 3");
    crush.run(&["gather", path(&tablet.herd())]).fine();
    crush.run(&["members", "revoke", "vet-tablet", "--after", "0000000000000000"]).ends(2).says("has the mark");
    let said = crush.run(&["members", "revoke", "vet-tablet", "--after", &mark]).fine();
    said.says("1 line behind it will be kept apart");
    crush.run(&["members"]).ends(1).says("1 line is kept apart");
}

#[test]
fn who_is_no_keeper_or_the_only_one_is_told_before_anything_is_sealed() {
    let (crush, tablet) = two();
    admit(&crush);
    tablet.run(&["gather", path(&crush.herd())]).fine();
    let as_tablet = ["--device", "vet-tablet", "--by", "ao"];
    let said = tablet.run(&[&["members", "revoke", "crush-laptop"], &as_tablet[..]].concat()).ends(1);
    said.says("vet-tablet is no keeper here").says("crush-laptop");
    crush.run(&["members", "revoke", "crush-laptop"]).ends(1).says("the only keeper");
    crush.run(&["members", "revoke", "nobody"]).ends(2).says("nobody here is called");
    let text = std::fs::read_to_string(only_file(&tablet.herd().join("ledgers/vet-tablet"))).unwrap();
    assert!(!text.contains("revoke"), "{text}");
}
