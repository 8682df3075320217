//! Machines set back, copied and named alike: doubt, two histories, names (`spec/forks.md`).

use std::fs;
use std::path::{Path, PathBuf};

use crate::machine::{Machine, Said, copy_folder, only_file, path, said};

/// The herd's folder alone, as on a stick.
fn stick(of: &Machine, name: &str) -> PathBuf {
    let stick = of.place().join(name);
    copy_folder(&of.herd(), &stick);
    fs::remove_dir_all(stick.join(".footfold")).unwrap();
    stick
}

/// Another machine that got the herd's folder by hand, and writes under this name.
fn joined(from: &Machine, device: &'static str) -> Machine {
    let machine = Machine::bare(device);
    copy_folder(&stick(from, device), &machine.herd());
    machine.run(&["write", "2026-03-01 herd note: a first line", "--device", device, "--by", "ao"]).fine();
    machine
}

fn file_of(machine: &Machine, device: &str) -> PathBuf {
    only_file(&machine.herd().join("ledgers").join(device))
}

fn text_of(machine: &Machine, device: &str) -> String {
    fs::read_to_string(file_of(machine, device)).unwrap()
}

/// What stands in `.footfold/forks` of a device, by the words in its name.
fn kept_apart(machine: &Machine, device: &str, words: &str) -> Vec<String> {
    let files = fs::read_dir(machine.herd().join(".footfold/forks").join(device)).into_iter().flatten().flatten();
    let files = files.map(|file| file.path()).filter(|file| path(file).contains(words));
    files.map(|file| fs::read_to_string(file).unwrap()).collect()
}

/// A machine of which a backup was made, that wrote two more lines, and the backup with its newer statements: as a
/// program that copies folders leaves it.
fn set_back() -> (Machine, Machine) {
    let crush = Machine::new("crush-laptop");
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    let back = crush.backup();
    crush.run(&["write", "2026-03-15 418 score 2"]).fine();
    crush.run(&["write", "2026-03-16 419 score 1"]).fine();
    fs::copy(crush.ledger().with_extension("sig"), back.ledger().with_extension("sig")).unwrap();
    (crush, back)
}

#[test]
fn f20_a_machine_that_was_set_back_waits_and_goes_on_from_what_others_hold() {
    let (crush, back) = set_back();
    let before = back.text();
    let said = back.run(&["write", "2026-03-17 420 score 3"]).ends(1).says("Nothing is sealed for now");
    assert!(said.err.contains(&format!("signed {} bytes", crush.text().len())), "{}", said.err);
    back.types("2026-03-17 421 score 2\n");
    back.run(&["seal"]).ends(1).says("footfold gather FOLDER").fits();
    back.run(&["status"]).ends(1).says("crush-laptop may not hold all that it wrote");
    assert_eq!(back.text(), format!("{before}2026-03-17 421 score 2\n"), "typed, and left alone");
    back.run(&["gather", path(&stick(&crush, "stick"))]).fine().says("lines taken: 2");
    assert_eq!(back.text(), format!("{}2026-03-17 421 score 2\n", crush.text()));
    back.run(&["seal"]).fine().says("Kept: 1 line");
    back.run(&["status"]).fine();
    crush.run(&["gather", path(&stick(&back, "stick"))]).fine().says("lines taken: 1");
    assert_eq!(crush.text(), back.text());
}

#[test]
fn f20_a_doubt_ends_with_a_day_or_with_the_users_word_and_is_not_raised_again() {
    let (_crush, back) = set_back();
    back.run(&["write", "2026-03-17 420 score 3"]).ends(1);
    let standing = only_file(&back.herd().join(".footfold/standing"));
    let noted = fs::read_to_string(&standing).unwrap();
    let since = noted.rfind("Z\"").unwrap() - 19;
    let set = |time: chrono::NaiveDateTime| {
        let time = time.format("%Y-%m-%dT%H:%M:%S").to_string();
        fs::write(&standing, format!("{}{time}{}", &noted[..since], &noted[since + 19..])).unwrap();
    };
    let now = chrono::Utc::now().naive_utc();
    set(now - chrono::TimeDelta::hours(23));
    back.run(&["write", "2026-03-17 420 score 3"]).ends(1);
    set(now - chrono::TimeDelta::hours(25));
    back.run(&["write", "2026-03-17 420 score 3"]).fine();
    back.run(&["write", "2026-03-17 421 score 3"]).fine();
    let (_crush, back) = set_back();
    back.run(&["write", "2026-03-17 420 score 3"]).ends(1).says("footfold seal --anyway");
    back.run(&["seal", "--anyway"]).fine();
    back.run(&["write", "2026-03-17 420 score 3"]).fine();
    back.run(&["check"]).ends(1).says("two histories");
}

#[test]
fn f21_the_history_that_others_hold_goes_on_and_ones_own_lines_are_entered_once() {
    let crush = Machine::new("crush-laptop");
    let back = crush.backup();
    crush.run(&["write", "2026-03-14 417 score 3", "2026-03-14 416 score 0"]).fine();
    back.run(&["write", "2026-03-15 418 score 2: slow", "2026-03-14 417 score 3"]).fine();
    let (ours, mark) = (back.text(), back.text().lines().nth(3).unwrap()[..].rsplit(' ').next().unwrap().to_owned());
    let former = stick(&back, "former");
    let office = stick(&crush, "office");
    back.run(&["gather", path(&office)]).fine().says("entered anew: 1").says("kept in .footfold/forks/crush-laptop");
    let text = back.text();
    assert!(text.starts_with(&crush.text()), "{text}");
    let new = text.lines().find(|line| line.contains(" 418 score 2 ")).unwrap();
    assert!(text.lines().last().unwrap().contains(" herd witness crush-laptop "), "what was given up is named: {text}");
    assert!(new.starts_with("2026-03-15 418 score 2 by kj: slow (first sealed ") && new.contains(&mark), "{new}");
    assert_eq!((text.lines().count(), text.matches(" 417 score 3 ").count()), (7, 1), "{text}");
    assert_eq!(kept_apart(&back, "crush-laptop", "-given-up-"), [ours.as_str()]);
    // Both statements are there, and both marks are shown.
    let shown = back.run(&["check"]).ends(1).says("two histories: on ").out;
    assert_eq!(shown.split_whitespace().filter(|word| word.trim_end_matches(';').len() == 64).count(), 2, "{shown}");
    back.run(&["status"]).says("there were two histories; both are kept");
    // Neither another look, nor the former history on a stick, nor an editor that still shows it, enters them again.
    back.run(&["gather", path(&office)]).fine();
    back.run(&["gather", path(&former)]).fine().says("another history of this machine's own ledger");
    fs::write(back.ledger(), format!("{ours}2026-03-18 420 score 1\n")).unwrap();
    back.run(&["seal"]).fine().says("Kept: 1 line");
    let after = back.text();
    assert!(after.starts_with(&text) && after.lines().count() == 8, "{after}");
    assert!(after.lines().last().unwrap().starts_with("2026-03-18 420 score 1 by kj | "), "{after}");
    // Who holds the history that went on gets them like any others.
    crush.run(&["gather", path(&stick(&back, "stick"))]).fine().says("lines taken: 3");
    assert_eq!(crush.text(), after);
}

#[test]
fn f21_ones_own_history_goes_on_where_a_witness_holds_it() {
    let crush = Machine::new("crush-laptop");
    let back = crush.backup();
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    back.run(&["write", "2026-03-15 418 score 2"]).fine();
    let ours = back.text();
    let year = back.ledger().file_stem().unwrap().to_str().unwrap().to_owned();
    let full = blake3::hash(&ours.as_bytes()[..ours.len() - 17]);
    let witness = format!("2026-03-15 herd witness crush-laptop {year} length {} mark {full}", ours.len());
    back.run(&["write", &witness, "--device", "farm-office", "--by", "ao"]).fine();
    back.run(&["gather", path(&stick(&crush, "stick"))]).fine().says("it goes on as it stands here");
    let named = format!("herd witness crush-laptop {year} length {} mark ", crush.text().len());
    let text = back.text();
    assert!(text.starts_with(&ours) && text[ours.len()..].lines().count() == 1 && text.contains(&named), "{text}");
    back.run(&["gather", path(&stick(&crush, "stick"))]).fine();
    assert_eq!(back.text(), text, "named once");
    let apart = kept_apart(&back, "crush-laptop", "");
    assert_eq!(apart, [crush.text()]);
    back.run(&["write", "2026-03-16 419 score 1"]).fine();
}

#[test]
fn f21_who_took_the_history_that_is_given_up_follows_its_device() {
    let crush = Machine::new("crush-laptop");
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    let back = crush.backup();
    let (office, vet) = (joined(&crush, "farm-office"), joined(&crush, "vet-tablet"));
    crush.run(&["write", "2026-03-15 418 score 2"]).fine();
    office.run(&["gather", path(&stick(&crush, "stick"))]).fine();
    back.run(&["write", "2026-03-16 419 score 1"]).fine();
    vet.run(&["gather", path(&stick(&back, "first"))]).fine();
    let given_up = text_of(&vet, "crush-laptop");
    assert!(given_up.contains(" 419 score 1 ") && !given_up.contains(" 418 "), "{given_up}");
    back.run(&["gather", path(&stick(&office, "stick"))]).says("entered anew: 1");
    vet.run(&["gather", path(&stick(&back, "second"))]).fine().says("crush-laptop goes on in another history").fits();
    office.run(&["gather", path(&stick(&back, "second"))]).fine();
    for machine in [&vet, &office] {
        assert_eq!(text_of(machine, "crush-laptop"), back.text());
    }
    let text = back.text();
    assert_eq!((text.matches(" 418 score 2 ").count(), text.matches(" 419 score 1 ").count()), (1, 1), "{text}");
    assert_eq!(kept_apart(&vet, "crush-laptop", "given-up"), [given_up]);
    // What was given up once is not taken back.
    office.run(&["gather", path(&stick(&vet, "third"))]);
    assert_eq!(text_of(&office, "crush-laptop"), text);
}

#[test]
fn f21_a_daemon_meets_what_was_kept_apart_and_tells_it() {
    let crush = Machine::new("crush-laptop");
    crate::watching::set(&crush, 1, false);
    let back = crush.backup();
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    back.run(&["write", "2026-03-15 418 score 2"]).fine();
    let daemon = crate::watching::Daemon::start(&back, "daemon", &[&back.herd()]);
    daemon.says("watched");
    // What the exchange with other machines leaves of a history that is not the one here.
    let forks = back.herd().join(".footfold/forks/crush-laptop");
    fs::create_dir_all(&forks).unwrap();
    let text = crush.text();
    let mark = text.trim_end().rsplit(' ').next().unwrap();
    let year = back.ledger().file_stem().unwrap().to_str().unwrap().to_owned();
    fs::write(forks.join(format!("{year}-{mark}.txt")), &text).unwrap();
    back.types("2026-03-16 419 score 1\n");
    crate::watching::until("both", || {
        let text = back.ledger_text();
        text.contains("first sealed") && text.contains(" 419 score 1 by kj | ")
    });
    let now = back.ledger_text();
    assert!(now.starts_with(&text) && now.lines().count() == 7, "{now}");
    let status = crate::watching::status(&back);
    assert!(status["herds"][0]["notes"].to_string().contains("lines that only this machine had"), "{status}");
}

#[test]
fn f22_of_two_live_clones_one_stops_and_takes_a_new_name_and_the_other_goes_on() {
    let one = Machine::new("crush-laptop");
    let other = one.backup();
    one.run(&["write", "2026-03-14 417 score 3"]).fine();
    other.run(&["write", "2026-03-14 418 score 3"]).fine();
    one.run(&["gather", path(&stick(&other, "first"))]).fine().says("entered anew: 1");
    other.run(&["gather", path(&stick(&one, "first"))]).fine().says("lines taken: 2");
    one.run(&["write", "2026-03-15 417 score 2"]).fine();
    other.run(&["write", "2026-03-15 418 score 2"]).fine();
    other.run(&["gather", path(&stick(&one, "second"))]).ends(1).says("two machines write as crush-laptop").fits();
    assert_eq!(other.text(), one.text(), "it gives its own up");
    other.types("2026-03-16 419 score 1\n");
    other.run(&["seal"]).ends(1).says("crush-laptop-2");
    other.run(&["write", "2026-03-16 420 score 1"]).ends(1).says("two histories for the second time");
    other.run(&["status"]).ends(1).says("two machines write as crush-laptop");
    assert_eq!(other.text(), format!("{}2026-03-16 419 score 1\n", one.text()));
    // A new name, the same key: its lines move there.
    let again =
        fs::read_dir(other.herd().join(".footfold/forks/crush-laptop")).unwrap().map(|file| file.unwrap().path());
    let again = again.into_iter().find(|file| path(file).contains("-again-")).unwrap();
    other.run(&["write", "--file", path(&again), "--device", "crush-laptop-2"]).fine();
    let moved = text_of(&other, "crush-laptop-2");
    assert!(moved.contains(" 418 score 2 by kj: first sealed ") && moved.lines().count() == 2, "{moved}");
    // The first goes on as if nothing were.
    one.run(&["gather", path(&stick(&other, "third"))]).fine().says("Took 2 lines of crush-laptop-2/");
    one.run(&["write", "2026-03-17 417 score 1"]).fine();
    assert_eq!(text_of(&one, "crush-laptop-2"), moved);
}

#[test]
fn f22_the_users_word_lets_the_machine_that_stopped_go_on() {
    let one = Machine::new("crush-laptop");
    let other = one.backup();
    for (machine, line) in [(&one, "2026-03-14 417 score 3"), (&other, "2026-03-14 418 score 3")] {
        machine.run(&["write", line]).fine();
    }
    one.run(&["gather", path(&stick(&other, "first"))]).fine();
    for (machine, line) in [(&one, "2026-03-15 417 score 2"), (&other, "2026-03-15 418 score 2")] {
        machine.run(&["write", line]).fine();
    }
    one.run(&["gather", path(&stick(&other, "second"))]).ends(1).says("footfold seal --anyway");
    one.run(&["seal"]).ends(1);
    one.run(&["seal", "--anyway"]).fine();
    one.run(&["write", "2026-03-16 417 score 1"]).fine();
    one.run(&["status"]).ends(1).says("two histories");
}

#[test]
fn f23_a_folder_without_its_key_is_read_and_not_written_under_its_name() {
    let crush = Machine::new("crush-laptop");
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    let other = Machine::bare("crush-laptop");
    copy_folder(&crush.herd(), &other.herd());
    other.run(&["due", "--on", "2026-03-15"]).fine().says("417");
    let before = other.text();
    let refused = other.run(&["write", "2026-03-15 418 score 2", "--device", "crush-laptop", "--by", "ao"]);
    refused.ends(1).says("was begun with another key").says("--device crush-laptop-2").fits();
    other.types("2026-03-15 418 score 2\n");
    other.run(&["seal", "--device", "crush-laptop", "--by", "ao"]).ends(1);
    assert_eq!(other.text(), format!("{before}2026-03-15 418 score 2\n"));
    fs::write(other.ledger(), &before).unwrap();
    other.run(&["write", "2026-03-15 418 score 2", "--device", "crush-laptop-2", "--by", "ao"]).fine();
    assert!(text_of(&other, "crush-laptop-2").contains(" 418 score 2 by ao | "));
    assert_eq!(other.text(), before);
}

/// Runs it as on another machine than the tests' usual one.
fn elsewhere(machine: &Machine, args: &[&str]) -> Said {
    said(machine.command(args).current_dir(machine.herd()).env("FOOTFOLD_MACHINE", "two"))
}

#[test]
fn f24_a_folder_copied_with_its_configuration_is_in_doubt_on_the_other_machine() {
    let crush = Machine::new("crush-laptop");
    crush.run(&["write", "2026-03-14 417 score 3"]).fine();
    let clone = crush.backup();
    let before = clone.text();
    let refused = elsewhere(&clone, &["write", "2026-03-15 418 score 2"]).ends(1);
    refused.says("another machine that it last sealed").says("--anyway").fits();
    assert_eq!(clone.text(), before);
    // Less than it holds itself proves nothing; as much does.
    let less = clone.place().join("less");
    copy_folder(&stick(&crush, "stick"), &less);
    let file = only_file(&less.join("ledgers/crush-laptop"));
    fs::write(&file, before.split_inclusive('\n').take(3).collect::<String>()).unwrap();
    elsewhere(&clone, &["gather", path(&less)]).fine();
    elsewhere(&clone, &["write", "2026-03-15 418 score 2"]).ends(1);
    elsewhere(&clone, &["gather", path(&crush.place().join("stick"))]).fine();
    elsewhere(&clone, &["write", "2026-03-15 418 score 2"]).fine();
    elsewhere(&clone, &["write", "2026-03-15 419 score 2"]).fine();
    // The machine that it was made on is known still.
    crush.run(&["write", "2026-03-15 420 score 2"]).fine();
    let moved = crush.backup();
    elsewhere(&moved, &["seal"]).ends(1);
    elsewhere(&moved, &["seal", "--anyway"]).fine();
    elsewhere(&moved, &["write", "2026-03-16 421 score 2"]).fine();
}

#[test]
fn f25_a_lost_laptops_name_with_a_new_key_is_another_device() {
    let crush = Machine::new("crush-laptop");
    let office = joined(&crush, "farm-office");
    crush.run(&["gather", path(&stick(&office, "stick"))]).fine();
    let new = Machine::bare("farm-office");
    copy_folder(&stick(&crush, "stick"), &new.herd());
    let old = text_of(&new, "farm-office");
    let refused = new.run(&["write", "2026-04-01 417 score 2", "--device", "farm-office", "--by", "ao"]).ends(1);
    refused.says("--device farm-office-2");
    new.run(&["write", "2026-04-01 417 score 2", "--device", "farm-office-2", "--by", "ao"]).fine();
    assert_eq!(text_of(&new, "farm-office"), old);
    crush.run(&["gather", path(&stick(&new, "stick"))]).fine().says("Took 2 lines of farm-office-2/");
    assert_eq!(text_of(&crush, "farm-office"), old);
    let key = |machine: &Machine, device| text_of(machine, device).split(' ').nth(7).unwrap().to_owned();
    assert_ne!(key(&crush, "farm-office"), key(&crush, "farm-office-2"));
}

#[test]
fn f26_two_devices_of_one_name_are_told_and_the_later_one_takes_another() {
    let crush = Machine::new("crush-laptop");
    let first = joined(&crush, "farm-office");
    // The heads bear their times in whole seconds.
    std::thread::sleep(std::time::Duration::from_millis(1100));
    let second = joined(&crush, "farm-office");
    crush.run(&["gather", path(&stick(&first, "first"))]).fine();
    let held = text_of(&crush, "farm-office");
    let told = crush.run(&["gather", path(&stick(&second, "second"))]).ends(1).says("two machines bear the name");
    told.says("the one that began later, the one that wrote the copy").says("farm-office-2");
    assert_eq!(text_of(&crush, "farm-office"), held);
    assert!(kept_apart(&crush, "farm-office", "").is_empty());
    let told = second.run(&["gather", path(&stick(&first, "third"))]).ends(1).says("two machines bear the name");
    told.says("the one that began later, the one whose ledger is here");
    let typed = Path::new("visit.txt");
    fs::write(second.herd().join(typed), "2026-03-01 herd note: a first line\n").unwrap();
    second.run(&["write", "--file", path(typed), "--device", "farm-office-2", "--by", "ao"]).fine();
    fs::remove_file(second.herd().join(typed)).unwrap();
    fs::remove_dir_all(second.herd().join("ledgers/farm-office")).unwrap();
    crush.run(&["gather", path(&stick(&second, "fourth"))]).fine().says("Took 2 lines of farm-office-2/");
}
