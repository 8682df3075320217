//! What somebody else may have put into a herd's folder: names that lead elsewhere, text that a terminal would obey.

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

use ledger_format::line::read_utc;
use ledger_format::mark::{Chain, Head};

use crate::machine::{Machine, Said, copy_folder, path};

/// Escape codes, a bell, a backspace, direction marks, a line separator, a mark of no width.
const TRICKS: &str = "\u{1b}[2J\u{1b}]0;x\u{7}\u{8}\u{9b}31m\u{202e}\u{2066}\u{200f}\u{2028}\u{feff}";

/// A ledger of another device, sealed rightly, whatever its lines hold.
fn theirs(device: &str, bodies: &[String]) -> Vec<u8> {
    let (mut chain, mut bytes, key) = (Chain::default(), Vec::new(), "8d".repeat(32));
    let sealed = read_utc(b"2026-03-14T09:20:11Z").unwrap();
    let head = Head { herd: "quillmere", device, key: &key, zone: "Europe/London", founder: None, follows: None };
    for body in std::iter::once(&head.to_string()).chain(bodies) {
        chain.seal(body, sealed, &mut bytes);
    }
    bytes
}

#[track_caller]
fn is_plain(said: &Said, args: &[&str]) {
    let obeyed = |c: char| {
        (c.is_control() && c != '\n')
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    };
    for text in [&said.out, &said.err] {
        let found: Vec<char> = text.chars().filter(|c| obeyed(*c)).collect();
        assert!(found.is_empty(), "{args:?} lets {found:?} through: {text:?}");
    }
}

#[test]
fn s8_text_of_others_reaches_the_terminal_as_boxes() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let vet = machine.herd().join("ledgers/vet-tablet");
    fs::create_dir(&vet).unwrap();
    let bodies = [
        "2026-03-14 417 refer RH by ao: deep".to_owned(),
        format!("2026-03-14 417 refer RH by ao: {TRICKS} end"),
        format!("2026-03-14 418 moved to {TRICKS} by ao"),
        format!("2026-03-14 419 medicine \"{TRICKS}\" dose 1 ml milk 0d meat 0d by ao"),
    ];
    fs::write(vet.join("2026.txt"), theirs("vet-tablet", &bodies)).unwrap();
    fs::write(vet.join(format!("2026 {TRICKS}.txt")), format!("420 score {TRICKS}\n")).unwrap();
    let theirs = machine.place().join(format!("copy {TRICKS}"));
    copy_folder(&machine.herd(), &theirs);
    machine.types(format!("422 note: {TRICKS}\n423 skore {TRICKS}\n"));
    let mine = machine.ledger();
    let copy = format!("{} {TRICKS}.txt", mine.file_stem().unwrap().to_str().unwrap());
    fs::write(mine.with_file_name(copy), "421 skore\n").unwrap();
    let mut all = String::new();
    for args in [
        &["due", "--on", "2026-03-14"][..],
        &["cow", "417"],
        &["cow", "417", "--format", "json"],
        &["herd"],
        &["sheet", "2026-03-14"],
        &["between", "2026-03-01", "2026-03-14"],
        &["between", "2026-03-01", "2026-03-14", "--lines"],
        &["check"],
        &["check", "--every-mark"],
        &["check", path(&vet.join("2026.txt"))],
        &["status"],
        &["seal"],
        &["write", &format!("424 score {TRICKS}")],
        &["gather", path(&theirs)],
        &["redate", "2026-03-13", "--on", "2026-03-14"],
        &["due", "--herd", &format!("none {TRICKS}")],
        &["write", "1 score 2", "--device", TRICKS],
        &["write", "1 score 2", "--by", TRICKS],
    ] {
        let said = machine.run(args);
        is_plain(&said, args);
        all += &(said.out + &said.err);
    }
    assert!(all.contains("\\u{1b}[2J") && all.contains("\\u{202e}"), "they are shown, not swallowed: {all}");
}

fn tree(path: &Path) -> Vec<String> {
    let mut all = Vec::new();
    for entry in fs::read_dir(path).unwrap() {
        let entry = entry.unwrap();
        all.push(format!("{} {:?}", entry.path().display(), fs::read(entry.path()).ok()));
        if entry.file_type().unwrap().is_dir() {
            all.extend(tree(&entry.path()));
        }
    }
    all.sort();
    all
}

#[test]
fn s9_names_that_lead_elsewhere_are_refused() {
    let machine = Machine::new("crush-laptop");
    for name in ["../crush-laptop", "..", ".", "a/b", "/etc", "con", "", "a\0b", "crush laptop", "-"] {
        for args in [["write", "417 score 3", "--device", name], ["seal", "--by", "kj", "--device"]] {
            let args: Vec<&str> = if args[3] == "--device" { [&args[..], &[name]].concat() } else { args.to_vec() };
            if name.contains('\0') {
                continue;
            }
            let said = machine.run(&args);
            assert_eq!(said.code, 2, "{args:?}: {said:?}");
        }
    }
    assert_eq!(fs::read_dir(machine.herd().join("ledgers")).unwrap().count(), 1);
    // Heads that name a path.
    let vet = machine.herd().join("ledgers/vet-tablet");
    fs::create_dir(&vet).unwrap();
    let text = String::from_utf8(theirs("vet-tablet", &[])).unwrap();
    let mut chain = Chain::default();
    let mut bytes = Vec::new();
    let body = text.split(" | ").next().unwrap().replace("device vet-tablet", "device ../../config");
    chain.seal(&body, read_utc(b"2026-03-14T09:20:11Z").unwrap(), &mut bytes);
    fs::write(machine.place().join("letter.txt"), &bytes).unwrap();
    fs::write(vet.join("2026.txt"), &bytes).unwrap();
    let before = tree(&machine.config());
    machine.run(&["gather", "../letter.txt"]).ends(1);
    machine.run(&["check"]).ends(1);
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    assert_eq!(tree(&machine.config()), before);
}

#[test]
fn s9_links_planted_in_a_folder_lead_nowhere() {
    let crush = Machine::new("crush-laptop");
    let outside = crush.place().join("outside");
    fs::create_dir(&outside).unwrap();
    fs::write(outside.join("2026.txt"), theirs("vet-tablet", &["2026-03-14 417 note by ao: outside".into()])).unwrap();
    fs::write(outside.join(format!("{}.ron", "8d".repeat(32))), "()").unwrap();
    let stick = crush.place().join("stick");
    copy_folder(&crush.herd(), &stick);
    fs::remove_dir_all(stick.join("protocols")).unwrap();
    symlink(&outside, stick.join("protocols")).unwrap();
    symlink(&outside, stick.join("ledgers/vet-tablet")).unwrap();
    fs::create_dir(stick.join("ledgers/farm-office")).unwrap();
    symlink(outside.join("2026.txt"), stick.join("ledgers/farm-office/2026.txt")).unwrap();
    let before = tree(&outside);
    let said = crush.run(&["gather", "../stick"]);
    assert_ne!(said.code, 0, "{said:?}");
    for args in [&["gather", "../stick"][..], &["check"], &["cow", "417"], &["seal"], &["due"]] {
        let said = crush.run(args);
        assert!(!said.out.contains("note by ao") && !said.err.contains("note by ao"), "{args:?}: {said:?}");
    }
    for room in ["accepted", "aside", "saves", "plan"] {
        let machine = Machine::new("crush-laptop");
        let place = machine.herd().join(".footfold").join(room);
        let _ = fs::remove_dir_all(&place);
        symlink(&outside, &place).unwrap();
        machine.types("417 score 3\n");
        machine.run(&["seal"]);
        assert_eq!(tree(&outside), before, "{room} was written through a link");
        assert!(machine.text().contains("417 score 3"), "{room}: {}", machine.text());
    }
}

#[test]
fn s16_a_key_in_free_words_is_kept_and_told_and_the_devices_key_is_nowhere_else() {
    let machine = Machine::new("crush-laptop");
    let key = fs::read_to_string(machine.config().join("device.key")).unwrap();
    let secret = key.trim().rsplit(' ').next().unwrap();
    let typed = format!("2026-03-14 417 note: it is {}", "a1".repeat(20));
    machine.run(&["write", &typed]).fine().says("looks like a key").says("whoever holds the herd reads it");
    machine.run(&["write", "2026-03-14 418 note: 4000 0000 0000 0002"]).fine().says("looks like a card number");
    assert!(machine.text().contains("a1a1") && machine.text().contains("4000 0000 0000 0002"));
    let everywhere = tree(&machine.herd()).concat();
    assert!(!everywhere.contains(secret), "the key lies in the herd's folder");
    let broken = format!("{}x\n", key.trim());
    fs::write(machine.config().join("device.key"), broken).unwrap();
    let said = machine.run(&["write", "417 score 3"]).ends(1);
    assert!(!said.err.contains(&secret[..16]) && !said.out.contains(&secret[..16]), "{said:?}");
}
