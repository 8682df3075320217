//! The independent verifier and this implementation agree: on the invented herd, and on damaged ones.

use std::fs;
use std::path::Path;
use std::process::Command;

use chrono::NaiveDate;
use examples_make::{CAST, LAST_DAY, SEED, herd_of, story, story_of};
use ledger_format::fold::{Herd, View, state_text};
use ledger_format::line::{date_text, split_seal};
use ledger_format::mark::{Chain, Check, FullMark, Head, check};
use ledger_format::merge::{Ledger, Log};
use ledger_format::{fold::protocol, line};
use serde_json::Value;

use crate::{TempHerd, root};

type Files = Vec<(&'static str, u16, Vec<u8>)>;

fn python(arguments: &[&str]) -> (String, bool) {
    let out = Command::new("python3").arg(root().join("spec/verifier")).args(arguments).output().unwrap();
    assert!(out.stderr.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
    (String::from_utf8(out.stdout).unwrap(), out.status.success())
}

/// What the verifier says of a herd's folder, by device and year.
fn verdicts(folder: &Path) -> Vec<Value> {
    let (out, _) = python(&[folder.to_str().unwrap(), "--json"]);
    serde_json::from_str::<Value>(&out).unwrap().as_array().unwrap().clone()
}

fn fold(files: &Files, on: NaiveDate) -> Herd {
    let ledgers =
        files.iter().map(|(device, year, bytes)| Ledger::read(device, *year, bytes.clone()).unwrap()).collect();
    let name = protocol::name_of(protocol::DEFAULT).to_string();
    Herd::fold(Log::union(ledgers), vec![(name, protocol::DEFAULT.to_owned())], View { on, known: None })
}

#[test]
fn the_verifier_folds_the_invented_herd_to_the_same_state() {
    let herd = herd_of(&story(SEED));
    let folder = TempHerd::of(&herd);
    for day in ["2025-02-01", "2025-06-15", "2025-12-31", &date_text(LAST_DAY)] {
        let on = line::read_date(day.as_bytes()).unwrap();
        let (theirs, fine) = python(&[folder.path().to_str().unwrap(), "--state", day]);
        assert!(fine);
        let ours = state_text(&fold(&herd.ledgers, on));
        assert!(ours.lines().count() > 200);
        let difference = ours.lines().zip(theirs.lines()).find(|(ours, theirs)| ours != theirs);
        assert!(ours == theirs, "on {day}: {difference:?}");
    }
}

#[test]
fn the_verifier_finds_the_invented_herd_unbroken_and_complete_as_witnessed() {
    let herd = herd_of(&story(SEED));
    let folder = TempHerd::of(&herd);
    let (out, fine) = python(&[folder.path().to_str().unwrap()]);
    assert!(fine, "{out}");
    assert_eq!(out.matches("unbroken  complete up to").count(), CAST.devices.len() * 2, "{out}");
    let theirs = verdicts(&folder.path());
    for (verdict, (device, year, bytes)) in theirs.iter().zip(&herd.ledgers) {
        assert_eq!(
            (verdict["device"].as_str(), verdict["vouched_bytes"].as_u64()),
            (Some(*device), Some(bytes.len() as u64)),
            "{year}"
        );
        assert!(verdict["complete_up_to"].as_u64().unwrap() > 0);
    }
}

/// A small generator of chance, so that a failing round can be made again from its number.
struct Chance(u64);

impl Chance {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) % most as u64) as usize
    }
}

/// Damage as disks, editors and people do it.
fn damage(bytes: &mut Vec<u8>, chance: &mut Chance) {
    let ends: Vec<usize> = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(at, _)| at + 1).collect();
    let at = chance.below(bytes.len());
    let line = chance.below(ends.len() - 1);
    let (start, end) = (ends[line], ends[line + 1]);
    match chance.below(9) {
        0 => bytes[at] ^= 1 << chance.below(8),
        1 => bytes.truncate(at),
        2 => bytes.truncate(start),
        3 => drop(bytes.drain(start..end)),
        4 => {
            let copy = bytes[start..end].to_vec();
            bytes.extend(copy);
        }
        5 => drop(bytes.splice(start..start, b"417 score 3, trim\n".iter().copied())),
        6 => bytes.extend_from_slice(b"\n2026-03-14 by kj\n417 WLA RH outer z3\n;! col 1: a remark\n418 sc"),
        7 => bytes[at..].iter_mut().take(300).for_each(|byte| *byte = 0),
        _ => {
            let to = chance.below(bytes.len());
            bytes.swap(at, to);
        }
    }
}

/// Sealed lines of the vouched part that are not canonical.
fn not_canonical(bytes: &[u8], found: &Check) -> Vec<u64> {
    let lines = bytes[..found.vouched_bytes].split_inclusive(|byte| *byte == b'\n').enumerate().skip(1);
    let wrong = lines.filter(|(_, text)| {
        let body = text.strip_suffix(b"\n").and_then(split_seal).and_then(|(body, _)| std::str::from_utf8(body).ok());
        body.is_none_or(|body| line::read(body).is_err())
    });
    wrong.map(|(at, _)| at as u64 + 1).collect()
}

#[test]
fn both_find_the_same_first_broken_line_in_damaged_herds() {
    let whole = herd_of(&story_of(SEED, 12, 3));
    let rounds: u64 = std::env::var("FOOTFOLD_ROUNDS").ok().and_then(|text| text.parse().ok()).unwrap_or(60);
    let mut broken = 0;
    for round in 0..rounds {
        let mut chance = Chance(round);
        let mut herd = whole.clone();
        for (_, _, bytes) in &mut herd.ledgers {
            for _ in 0..chance.below(3) {
                if bytes.iter().filter(|byte| **byte == b'\n').count() > 2 {
                    damage(bytes, &mut chance);
                }
            }
        }
        let folder = TempHerd::of(&herd);
        both_say(&folder, &format!("round {round}"));
        for (verdict, (device, year, bytes)) in verdicts(&folder.path()).iter().zip(&herd.ledgers) {
            let found = check(bytes);
            let place = format!("round {round}, {device}/{year}: {verdict}");
            assert_eq!(verdict["unbroken"].as_bool(), Some(found.is_unbroken()), "{place}");
            assert_eq!(verdict["first_broken"].as_u64(), found.first_broken.map(|line| line as u64), "{place}");
            assert_eq!(verdict["vouched_bytes"].as_u64(), Some(found.vouched_bytes as u64), "{place}");
            assert_eq!(verdict["lines"].as_u64(), Some(found.lines as u64), "{place}");
            let theirs: Vec<u64> =
                verdict["not_canonical"].as_array().unwrap().iter().filter_map(Value::as_u64).collect();
            assert_eq!(theirs, not_canonical(bytes, &found), "{place}");
            broken += u64::from(!found.is_unbroken());
        }
    }
    assert!(broken > rounds / 2, "too little damage to tell: {broken}");
}

/// Whether each finds the herd well, and the two agree.
fn both_say(folder: &TempHerd, place: &str) -> (bool, String, String) {
    let (theirs, well) = python(&[folder.path().to_str().unwrap()]);
    let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
    let command = command.arg("check").current_dir(folder.path()).env("FOOTFOLD_CONFIG", folder.config());
    let out = command.output().unwrap();
    let ours = String::from_utf8(out.stdout).unwrap();
    assert_eq!(out.status.success(), well, "{place}\n{ours}\n{theirs}");
    (well, ours.split_whitespace().collect::<Vec<_>>().join(" "), theirs)
}

/// A case: its name, what is done to a herd's folder, whether it is well then, what each of the two says.
type Case = (&'static str, fn(&Path), bool, &'static str, &'static str);

const CASES: &[Case] = &[
    ("as made", |_| (), true, "unbroken", "all unbroken"),
    (
        "second beginning",
        second_beginning,
        false,
        "its head follows nothing, though crush-laptop/2025.txt is there",
        "follows nothing, though 2025 is there",
    ),
    ("unreadable", unreadable, false, "line 2 cannot be read and is left out", "not canonical: line 2"),
    ("the clock steps back", steps_back, true, "the clock stepped back", "the clock stepped back at line 3"),
    ("tabs", |crush| edit(crush, |text| text.replace(' ', "\t")), true, "only looks changed", "only looks changed"),
    (
        "padded",
        |crush| edit(crush, |text| text.replace('\n', "  \n")),
        true,
        "only looks changed",
        "only looks changed",
    ),
    (
        "line ends",
        |crush| edit(crush, |text| text.replace('\n', "\r\n")),
        true,
        "only looks changed",
        "only looks changed",
    ),
    (
        "the last line padded",
        |crush| edit(crush, |text| format!("{}  \n", text.trim_end_matches('\n'))),
        true,
        "only looks changed",
        "only looks changed",
    ),
    ("edited and padded", edited, false, "broken at line", "broken at line"),
    (
        "a copy with nothing new",
        |crush| copy(crush, "2026 (1).txt", ""),
        true,
        "holds nothing that the ledger lacks",
        "with no lines of its own",
    ),
    (
        "a copy with more",
        |crush| copy(crush, "2026 (conflicted copy).txt", "417 score 3\n"),
        false,
        "the ledger does not hold its line",
        "with 1 line of its own",
    ),
    (
        "a file gone that others saw",
        |crush| fs::remove_file(crush.join("2025.txt")).unwrap(),
        false,
        "it is not here, though",
        "missing",
    ),
    (
        "another's head",
        |crush| fs::rename(crush, crush.with_file_name("barn-tablet")).unwrap(),
        false,
        "its head names",
        "its head names",
    ),
    ("a protocol under a wrong name", wrong_protocol, false, "is not what its name says", "its bytes are not those"),
];

/// The crush laptop's newest file.
fn newest(crush: &Path) -> std::path::PathBuf {
    crush.join("2026.txt")
}

fn edit(crush: &Path, change: impl Fn(&str) -> String) {
    let text = fs::read_to_string(newest(crush)).unwrap();
    fs::write(newest(crush), change(&text)).unwrap();
}

fn edited(crush: &Path) {
    edit(crush, |text| text.replacen(" by ", " by x", 1).replace('\n', " \n"));
}

fn copy(crush: &Path, name: &str, more: &str) {
    let text = fs::read_to_string(newest(crush)).unwrap();
    fs::write(crush.join(name), format!("{}\n; a remark\n{more}", text.trim_end().replace('\n', "\r\n"))).unwrap();
}

fn second_beginning(crush: &Path) {
    let line = ("2027-01-03 417 score 2 by kj", "2027-01-03T08:00:00Z");
    fs::write(crush.join("2027.txt"), written(&[line])).unwrap();
}

fn wrong_protocol(crush: &Path) {
    let name = format!("protocols/{}.ron", "8d".repeat(32));
    fs::write(crush.join("../..").join(name), "()").unwrap();
}

/// A ledger of a device of its own beside the crush laptop.
fn beside(crush: &Path, lines: &[(&str, &str)]) {
    let barn = crush.with_file_name("barn-tablet");
    fs::create_dir(&barn).unwrap();
    fs::write(barn.join("2026.txt"), written_by("barn-tablet", lines)).unwrap();
}

fn unreadable(crush: &Path) {
    beside(crush, &[("2026-01-03 417 score 9 by kj", "2026-01-03T08:00:00Z")]);
}

fn steps_back(crush: &Path) {
    let line = "2026-01-03 417 score 2 by kj";
    beside(crush, &[(line, "2026-01-03T08:10:00Z"), (line, "2026-01-03T08:00:00Z")]);
}

fn written(lines: &[(&str, &str)]) -> Vec<u8> {
    written_by("crush-laptop", lines)
}

fn written_by(device: &str, lines: &[(&str, &str)]) -> Vec<u8> {
    let (mut chain, mut bytes, key) = (Chain::default(), Vec::new(), "8d".repeat(32));
    let head = Head { herd: "quillmere", device, key: &key, zone: "Europe/London", founder: None, follows: None };
    chain.seal(&head.to_string(), line::read_utc(b"2026-01-02T08:00:00Z").unwrap(), &mut bytes);
    for (body, sealed) in lines {
        chain.seal(body, line::read_utc(sealed.as_bytes()).unwrap(), &mut bytes);
    }
    bytes
}

#[test]
fn both_speak_of_the_same_findings() {
    let herd = herd_of(&story(SEED));
    for (name, change, well, ours, theirs) in CASES {
        let folder = TempHerd::of(&herd);
        change(&folder.path().join("ledgers/crush-laptop"));
        let (found, said, verdict) = both_say(&folder, name);
        assert_eq!(found, *well, "{name}: {said}\n{verdict}");
        assert!(said.contains(ours), "{name}: {said}");
        assert!(verdict.contains(theirs), "{name}: {verdict}");
    }
}

/// Debian's `b3sum` says the same of a prefix as the mark of its line.
#[test]
fn a_mark_is_what_head_and_b3sum_print() {
    let herd = herd_of(&story_of(SEED, 12, 3));
    let folder = TempHerd::of(&herd);
    let (device, year, bytes) = &herd.ledgers[0];
    let path = folder.path().join(format!("ledgers/{device}/{year}.txt"));
    let offset = bytes.len() - 17;
    let command = format!("head -c {offset} {} | b3sum", path.display());
    let out = Command::new("sh").arg("-c").arg(command).output().unwrap();
    let printed = String::from_utf8(out.stdout).unwrap();
    assert_eq!(&printed[..16], std::str::from_utf8(&bytes[offset..offset + 16]).unwrap());
    assert!(printed.starts_with(&FullMark::over(&bytes[..offset]).to_string()));
}
