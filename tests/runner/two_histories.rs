//! Situations of doubt and of two histories, for the gallery.

use std::fs;

use crate::TempHerd;
use crate::gallery::footfold;
use crate::troubles::{GATHER, Situation, in_stick, ledger, on_stick, sealed_anew, shadow, text};

pub(crate) const SITUATIONS: &[Situation] = &[
    ("gathered, of one's own device and longer", longer, GATHER),
    ("gathered, two histories of one's own device", forked, GATHER),
    ("the same, only looked at", forked, &["gather", "../stick", "--look"]),
    ("the same, checked", switched, &["check"]),
    ("the same, how it stands", switched, &["status"]),
    ("gathered, two histories of one's own device, and one was witnessed", witnessed, GATHER),
    ("gathered, two histories for the second time", forked_again, GATHER),
    ("the same, sealed", stopped, &["seal"]),
    ("the same, by the user's word", stopped, &["seal", "--anyway"]),
    ("gathered, two histories of another device", forked_office, GATHER),
    ("gathered, another device's history that gives up the one here", given_up_office, GATHER),
    ("gathered, of another device of the same name", |herd| in_stick(herd, of_another_key), GATHER),
    ("gathered, the same, which began earlier", began_earlier, GATHER),
    ("a line among the statements that is none", no_statement, &["check"]),
    ("statements that cannot be written", statements_in_way, &["write", "419 3"]),
    ("it signed more than is here", set_back, &["write", "419 3"]),
    ("the same, how it stands", doubted, &["status"]),
    ("the same, by the user's word", doubted, &["seal", "--anyway"]),
    ("it was sealed on another machine", |herd| stands(herd, "(machines: [\"0123456789abcdef\"])"), &["seal"]),
];

fn stands(herd: &TempHerd, standing: &str) {
    let folder = herd.path().join(".footfold/standing");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("crush-laptop.ron"), standing).unwrap();
}

fn longer(herd: &TempHerd) {
    in_stick(herd, |text| {
        sealed_anew(&format!("{text}2026-01-07 419 score 3 by kj | 2026-01-07T08:00:00Z 0123456789abcdef\n"))
    });
}

fn forked(herd: &TempHerd) {
    in_stick(herd, |text| sealed_anew(&text.replace("418 score 2", "418 score 1")));
}

fn switched(herd: &TempHerd) {
    in_stick(herd, |text| {
        let text = text.replace("418 score 2 by kj", "418 score 1 by kj: seen on the way out");
        sealed_anew(&text)
    });
    footfold(herd, GATHER);
}

fn witnessed(herd: &TempHerd) {
    let (shown, year) = (text(herd), ledger(herd).file_stem().unwrap().to_str().unwrap().to_owned());
    let full = blake3::hash(&shown.as_bytes()[..shown.len() - 17]);
    let witness = format!("2026-01-07 herd witness crush-laptop {year} length {} mark {full}", shown.len());
    footfold(herd, &["write", &witness, "--device", "farm-office", "--by", "ao"]);
    forked(herd);
}

fn forked_again(herd: &TempHerd) {
    stands(herd, "(switched: Some(\"2026-01-01T08:00:00Z: crush-laptop/2026.txt\"))");
    forked(herd);
}

fn stopped(herd: &TempHerd) {
    forked_again(herd);
    footfold(herd, GATHER);
}

fn forked_office(herd: &TempHerd) {
    let office = ["--device", "farm-office", "--by", "ao"];
    footfold(herd, &[&["write", "2026-01-07 419 score 1"], &office[..]].concat());
    on_stick(herd);
    footfold(herd, &[&["write", "2026-01-08 417 score 2"], &office[..]].concat());
    footfold(herd, &[&["write", "2026-01-08 417 score 1", "--herd", "../stick/quillmere"], &office[..]].concat());
}

/// Behind what differs it says how far the one here went.
fn given_up_office(herd: &TempHerd) {
    forked_office(herd);
    let here = fs::read_dir(herd.path().join("ledgers/farm-office")).unwrap().map(|file| file.unwrap().path());
    let here = here.into_iter().find(|file| file.extension().is_some_and(|extension| extension == "txt")).unwrap();
    let (text, year) = (fs::read_to_string(&here).unwrap(), here.file_stem().unwrap().to_str().unwrap());
    let full = blake3::hash(&text.as_bytes()[..text.len() - 17]);
    let named = format!("2026-01-08 herd witness farm-office {year} length {} mark {full}", text.len());
    footfold(herd, &["write", &named, "--herd", "../stick/quillmere", "--device", "farm-office", "--by", "ao"]);
}

/// A line in the statements that is none.
fn no_statement(herd: &TempHerd) {
    let file = ledger(herd).with_extension("sig");
    fs::write(&file, fs::read_to_string(&file).unwrap() + "hello\n").unwrap();
}

fn statements_in_way(herd: &TempHerd) {
    let file = ledger(herd).with_extension("sig");
    fs::remove_file(&file).unwrap();
    fs::create_dir(&file).unwrap();
}

/// The founder's ledger, begun with another key and later than the one here.
fn of_another_key(text: &str) -> String {
    let key = text.split(" key ").nth(1).unwrap().split(' ').next().unwrap();
    let head = text.lines().next().unwrap();
    let at = head.find(" | ").unwrap() + 3;
    let later = format!("{}2199{}", &head[..at], &head[at + 4..]);
    sealed_anew(&text.replacen(head, &later, 1).replace(key, &"8d".repeat(32)))
}

fn began_earlier(herd: &TempHerd) {
    in_stick(herd, |text| sealed_anew(&of_another_key(text).replace(" | 2199-", " | 1999-")));
}

/// The disk is as it was before the last line, and what it signed is not.
fn set_back(herd: &TempHerd) {
    let (shown, accepted) = (ledger(herd), shadow(herd));
    let before = fs::read(&shown).unwrap();
    footfold(herd, &["write", "2026-01-07 419 score 1"]);
    fs::write(shown, &before).unwrap();
    fs::write(accepted, &before).unwrap();
    fs::remove_dir_all(herd.path().join(".footfold/saves")).unwrap_or_default();
}

fn doubted(herd: &TempHerd) {
    set_back(herd);
    footfold(herd, &["seal"]);
}
