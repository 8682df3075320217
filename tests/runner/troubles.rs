//! Situations in which something is wrong, for the gallery.

use std::fs::{self, File};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::Command;

use ledger_format::limits::BODY_BYTES;
use ledger_format::line::{read_utc, split_seal};
use ledger_format::mark::Chain;

use crate::TempHerd;

/// A situation: its name, what is done to a new herd's folder, and the command then given.
pub(crate) type Situation = (&'static str, fn(&TempHerd), &'static [&'static str]);

const SEAL: &[&str] = &["seal"];
const CHECK: &[&str] = &["check"];
const WRITE: &[&str] = &["write", "417 3"];
const DUE: &[&str] = &["due", "--on", "2026-01-10"];
const MEND: &[&str] = &["check", "--mend"];
const CHARGES: &[&str] = &["sheet", "2026-01-05", "--charges"];
const HOURS: &[&str] = &["due", "--on", "2026-01-10", "--hours", "6"];
pub(crate) const GATHER: &[&str] = &["gather", "../stick"];

pub(crate) const SITUATIONS: &[Situation] = &[
    ("no herd here", |herd| fs::remove_dir_all(herd.path().join("ledgers")).unwrap(), &["due"]),
    (
        "the same, and no herd in the settings",
        |herd| {
            settings(herd, "()");
            fs::remove_dir_all(herd.path().join("ledgers")).unwrap();
        },
        &["due"],
    ),
    ("a folder that is no herd's", |_| (), &["due", "--herd", "../config"]),
    ("a folder that is not empty", |_| (), &["new", ".", "--name", "ashby", "--device", "crush-laptop", "--by", "kj"]),
    ("a folder without a name", |_| (), &["new", "..", "--device", "crush-laptop", "--by", "kj"]),
    ("a second herd", |_| (), &["new", "../other", "--device", "crush-laptop", "--by", "kj"]),
    ("a device name that cannot be a file", |_| (), &["new", "other", "--device", "con", "--by", "kj"]),
    ("a person's name in capitals", |_| (), &["new", "other", "--device", "crush-laptop", "--by", "KJ"]),
    (
        "figures of a period that ends before it begins",
        |_| (),
        &["figures", "round", "--from", "2026-02-01", "--to", "2026-01-10"],
    ),
    (
        "a picture of figures that have none",
        |_| (),
        &["figures", "round", "--to", "2026-01-10", "--picture", "round.svg"],
    ),
    (
        "a review where no file can be",
        |_| (),
        &["figures", "review", "--to", "2026-01-10", "--html", "none/review.html"],
    ),
    ("herds side by side where none are known", |herd| settings(herd, "()"), &["figures", "herds"]),
    ("costs of a case that is none", |herd| settings(herd, "(costs: (case: {\"gout\": \"9\"}))"), &["figures", "cost"]),
    ("an aim for a day that is none", |_| (), &["figures", "flow", "--by", "harvest"]),
    ("an aim for a day gone by", |_| (), &["figures", "flow", "--to", "2026-01-10", "--by", "2026-01-01"]),
    ("a zone that is none", |_| (), &["new", "other", "--device", "crush-laptop", "--by", "kj", "--zone", "Mars/Base"]),
    ("a zone that this footfold does not know", |herd| reseal(herd, "Europe/London", "Mars/Base"), DUE),
    ("a head that cannot be read", no_head, DUE),
    ("a head of a newer format", |herd| newer(herd), DUE),
    ("the same, checked", |herd| newer(herd), CHECK),
    ("a head with a word amiss", |herd| resealed(herd, " device ", " devise "), DUE),
    ("a head sealed at no time", head_at_no_time, CHECK),
    ("a typed line that is not understood", |_| (), &["write", "417 WLA RH outter z3 g2", "418 score 4"]),
    ("the same in the ledger", |herd| types(herd, "417 WLA RH outter z3 g2\n417 3\n"), SEAL),
    ("nothing typed", |_| (), &["write", " "]),
    ("only a comment typed", |_| (), &["write", "; rain"]),
    ("a file of typed lines that is not there", |_| (), &["write", "--file", "visit.txt"]),
    ("more than can be typed", too_much, &["write", "--file", "../much.txt"]),
    ("nothing to seal", |_| (), SEAL),
    ("lines to be given another day, shown first", |_| (), &["redate", "2026-01-02", "--on", "2026-01-05"]),
    ("the same, done", |_| (), &["redate", "2026-01-02", "--on", "2026-01-05", "--yes"]),
    ("a day that a line names", recheck, &["redate", "2026-01-02", "--on", "2026-01-06"]),
    ("lines to be struck, shown first", |_| (), &["strike", "--on", "2026-01-05", "--because", "another herd"]),
    ("a strike without a reason", |_| (), &["strike", "--on", "2026-01-05", "--because", ""]),
    ("no lines that fit", |_| (), &["redate", "2026-01-02", "--on", "2025-01-05"]),
    ("a mark that no line has", |_| (), &["strike", "--from", "3f9c2a7d51be4c08", "--because", "wrong cow"]),
    ("a mark that is none", |_| (), &["strike", "--from", "3f9c", "--because", "wrong cow"]),
    ("a sealed time that is none", |_| (), &["strike", "--sealed", "noon", "--because", "wrong cow"]),
    ("a line that is too long to be replaced", long, &["redate", "2026-01-02", "--on", "2026-01-06", "--yes"]),
    ("many sealed lines were changed", |herd| edit(herd, "2026-01-0", "2026-02-0"), SEAL),
    ("a conflict copy with lines of its own, sealed", copy_of_this_year, SEAL),
    ("kept, but unlikely", |_| (), &["write", "417 trim RH outer wall 74"]),
    ("a device without a ledger", |_| (), &["seal", "--device", "barn-tablet"]),
    ("no device set", |herd| settings(herd, "(by: \"kj\")"), WRITE),
    ("nobody set", |herd| settings(herd, "(device: \"crush-laptop\")"), WRITE),
    ("a device name that is none", |_| (), &["write", "417 3", "--device", "Crush"]),
    ("a person's name that is none", |_| (), &["write", "417 3", "--by", "K J"]),
    ("settings with an unknown word", |herd| settings(herd, "(\n    devise: \"x\",\n)\n"), WRITE),
    ("settings with an unknown block", |herd| settings(herd, "(prices: (block: {\"gold\": \"9\"}))"), CHARGES),
    ("settings with a price below nothing", |herd| settings(herd, "(prices: (trim: \"-9\"))"), CHARGES),
    ("settings with an unlikely VAT", |herd| settings(herd, "(vat_percent: \"200\")"), CHARGES),
    ("settings with too many minutes", |herd| settings(herd, "(minutes: (lame: 2000))"), HOURS),
    ("settings with a wrong device", |herd| settings(herd, "(device: \"Crush\")"), WRITE),
    ("settings with a wrong person", |herd| settings(herd, "(by: \"KJ\")"), WRITE),
    (
        "settings in another encoding",
        |herd| fs::write(herd.config().join("footfold.ron"), b"(by: \"\xFC\")").unwrap(),
        WRITE,
    ),
    ("a key that others can read", open_key, WRITE),
    ("a key that is none", |herd| write_key(herd, "8d"), WRITE),
    ("another key", |herd| write_key(herd, &format!("footfold device key 1 {}\n", "9e".repeat(32))), WRITE),
    ("the key is gone", |herd| fs::remove_file(herd.config().join("device.key")).unwrap(), WRITE),
    ("somebody else writes", hold, WRITE),
    ("somebody else writes, and does not say who", |herd| hold_as(herd, ""), WRITE),
    ("a ledger that is marked read-only", read_only, WRITE),
    ("a sealed line was changed", changed, SEAL),
    ("the same, checked", changed, CHECK),
    ("the same, for a program", changed, &["check", "--format", "json"]),
    ("the same, without a copy", changed_alone, CHECK),
    ("the same, every mark", changed_alone, &["check", "--every-mark"]),
    ("every mark of a good one", |_| (), &["check", "--every-mark"]),
    ("the same, without a copy, sealed", changed_alone, WRITE),
    ("the same, from another copy", stick_and_changed, &["check", "--copy", "../stick/quillmere"]),
    ("mended", changed, MEND),
    ("mended in part", mended_in_part, MEND),
    ("only looks changed", |herd| edit(herd, "\n", "\r\n"), CHECK),
    ("only looks changed, put back", |herd| edit(herd, "\n", "\r\n"), MEND),
    ("a file on its own that is broken", broken_alone, &["check", "../alone.txt"]),
    ("a file on its own that is not there", |_| (), &["check", "none.txt"]),
    ("no path of a file", |_| (), &["check", ".."]),
    ("a line with a mark from elsewhere", foreign, CHECK),
    ("another history than was accepted", |herd| reseal(herd, "417 score 3", "417 score 0"), CHECK),
    ("the last line is missing", cut, CHECK),
    ("the last line is missing, sealed", cut, SEAL),
    ("no ledger", no_ledger, CHECK),
    ("a line that cannot be read", |herd| resealed(herd, "417 score 3", "417 score 9"), CHECK),
    ("the same, in the due list", |herd| resealed(herd, "417 score 3", "417 score 9"), DUE),
    ("a broken ledger in the due list", changed, DUE),
    ("the clock stepped back", step_back, CHECK),
    ("two beginnings", two_beginnings, CHECK),
    ("a year that is not here", year_missing, CHECK),
    ("a file under another device", elsewhere, CHECK),
    ("a ledger of another herd in the due list", other_herd, DUE),
    ("another device's head in the due list", elsewhere, DUE),
    ("a next year that goes on", goes_on, CHECK),
    ("a witness who saw more", |herd| witness(herd, true), CHECK),
    ("a witness who saw otherwise", |herd| witness(herd, false), CHECK),
    ("a conflict copy with lines of its own", |herd| copy_beside(herd, "2026 (conflicted copy).txt", "419 3\n"), CHECK),
    ("a conflict copy without", |herd| copy_beside(herd, "2026 (1).txt", ""), CHECK),
    ("a protocol under a wrong name", wrong_protocol, CHECK),
    ("a link where a ledger should be", link, CHECK),
    ("a pipe where a ledger should be", pipe, CHECK),
    ("a file larger than any ledger", huge, CHECK),
    ("the accepted copy is gone", |herd| fs::remove_file(shadow(herd)).unwrap(), SEAL),
    ("the accepted copy is torn", |herd| append(&shadow(herd), "2026-03-14 417 sco"), SEAL),
    ("the accepted copy is damaged", |herd| spoil(&shadow(herd)), SEAL),
    (
        "both are damaged",
        |herd| {
            spoil(&shadow(herd));
            edit(herd, "417 score 3", "417 score 1");
        },
        SEAL,
    ),
    ("sealed lines from elsewhere", behind, SEAL),
    ("the ledger pasted under itself", pasted, SEAL),
    ("a displaced save that changed a sealed line", displaced, SEAL),
    ("sealed lines that an editor did not know", unknown, SEAL),
    ("a sealed line without its seal", |herd| unsealed(herd), SEAL),
    ("sealed lines in another order", moved, SEAL),
    ("a changed head", |herd| edit(herd, "zone Europe/London", "zone Europe/Paris"), SEAL),
    ("a line typed in another device's ledger", typed_in_another, SEAL),
    ("the new text cannot take its place", no_aside, WRITE),
    ("an interrupted sealing", |herd| interrupted(herd, true), SEAL),
    ("an interrupted sealing of another history", |herd| interrupted(herd, false), SEAL),
    (
        "typed, and not kept yet, without a daemon",
        |herd| types(herd, "2026-01-07 417 score 2\n2026-01-07 418 skore 2\n"),
        &["status"],
    ),
    ("how a changed line stands", changed, &["status"]),
    ("nothing to watch", |herd| fs::remove_file(herd.config().join("footfold.ron")).unwrap(), &["watch"]),
    ("a wrong day", |_| (), &["due", "--on", "2026-02-30"]),
    ("a cow that is not there", |_| (), &["cow", "999"]),
    ("a folder to gather that is not there", |_| (), &["gather", "stick"]),
    ("a folder to gather with no ledger", |_| (), &["gather", "../config"]),
    ("gathered, nothing new", stick, GATHER),
    ("gathered, with more", stick_of_office, GATHER),
    ("the same, only looked at", stick_of_office, &["gather", "../stick", "--look"]),
    ("gathered, broken", |herd| in_stick(herd, |text| text.replace("417 score 3", "417 score 1")), GATHER),
    ("gathered, no head", |herd| in_stick(herd, |_| "a letter\n".to_owned()), GATHER),
    ("gathered, a head with a word amiss", |herd| in_stick(herd, |text| text.replace(" device ", " devise ")), GATHER),
    ("gathered, a head sealed at no time", |herd| in_stick(herd, no_time), GATHER),
    ("gathered, another device's", stick_elsewhere, GATHER),
    ("gathered, of another herd", |herd| in_stick(herd, |text| text.replace("herd quillmere", "herd ashby")), GATHER),
    ("gathered, a protocol under a wrong name", stick_protocol, GATHER),
];

fn files_of(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

fn crush(herd: &TempHerd) -> PathBuf {
    herd.path().join("ledgers/crush-laptop")
}

/// The first ledger file of a device's folder.
pub(crate) fn ledger_in(folder: &Path) -> PathBuf {
    let mut files = files_of(folder);
    files.retain(|file| file.extension().is_some_and(|end| end == "txt"));
    files.remove(0)
}

pub(crate) fn ledger(herd: &TempHerd) -> PathBuf {
    ledger_in(&crush(herd))
}

pub(crate) fn shadow(herd: &TempHerd) -> PathBuf {
    files_of(&herd.path().join(".footfold/accepted/crush-laptop")).remove(0)
}

pub(crate) fn text(herd: &TempHerd) -> String {
    fs::read_to_string(ledger(herd)).unwrap()
}

fn append(path: &Path, more: &str) {
    fs::write(path, fs::read_to_string(path).unwrap() + more).unwrap();
}

fn types(herd: &TempHerd, typed: &str) {
    append(&ledger(herd), typed);
}

fn edit(herd: &TempHerd, from: &str, to: &str) {
    assert!(text(herd).contains(from));
    fs::write(ledger(herd), text(herd).replace(from, to)).unwrap();
}

/// Another text in the words of the ledger, with marks that hold.
pub(crate) fn sealed_anew(text: &str) -> String {
    let (mut chain, mut bytes) = (Chain::default(), Vec::new());
    for line in text.lines() {
        let (body, seal) = split_seal(line.as_bytes()).unwrap();
        chain.seal(std::str::from_utf8(body).unwrap(), read_utc(&seal[3..23]).unwrap(), &mut bytes);
    }
    String::from_utf8(bytes).unwrap()
}

fn reseal(herd: &TempHerd, from: &str, to: &str) {
    edit(herd, from, to);
    fs::write(ledger(herd), sealed_anew(&text(herd))).unwrap();
}

fn resealed(herd: &TempHerd, from: &str, to: &str) {
    reseal(herd, from, to);
    forget(herd);
    fs::remove_file(ledger(herd).with_extension("sig")).unwrap();
}

fn forget(herd: &TempHerd) {
    fs::remove_dir_all(herd.path().join(".footfold")).unwrap();
}

fn changed(herd: &TempHerd) {
    edit(herd, "417 score 3", "417 score 1");
}

fn changed_alone(herd: &TempHerd) {
    changed(herd);
    forget(herd);
}

fn no_head(herd: &TempHerd) {
    fs::write(ledger(herd), "417 score 3\n").unwrap();
    forget(herd);
}

fn newer(herd: &TempHerd) {
    resealed(herd, "footfold 1 ", "footfold 2 ");
}

fn too_much(herd: &TempHerd) {
    File::create(herd.around().join("much.txt")).unwrap().set_len(400_000_001).unwrap();
}

fn settings(herd: &TempHerd, text: &str) {
    fs::write(herd.config().join("footfold.ron"), text).unwrap();
}

fn write_key(herd: &TempHerd, text: &str) {
    fs::write(herd.config().join("device.key"), text).unwrap();
}

fn open_key(herd: &TempHerd) {
    fs::set_permissions(herd.config().join("device.key"), fs::Permissions::from_mode(0o644)).unwrap();
}

fn read_only(herd: &TempHerd) {
    fs::set_permissions(ledger(herd), fs::Permissions::from_mode(0o444)).unwrap();
}

fn hold(herd: &TempHerd) {
    hold_as(herd, "process 4711 on farm-office, since 2026-03-14T09:20:11Z\n");
}

/// Takes the lock and keeps it as long as this test runs.
fn hold_as(herd: &TempHerd, holder: &str) {
    let lock = herd.path().join(".footfold/lock");
    fs::write(&lock, holder).unwrap();
    let file = Box::leak(Box::new(File::options().append(true).open(lock).unwrap()));
    file.try_lock().unwrap();
}

fn mended_in_part(herd: &TempHerd) {
    edit(herd, "418 score 2", "418 score 1");
    cut_shadow(herd);
    edit(herd, "417 score 3", "417 score 1");
}

/// The accepted copy lacks the last line.
fn cut_shadow(herd: &TempHerd) {
    let kept = fs::read_to_string(shadow(herd)).unwrap();
    fs::write(shadow(herd), without_last(&kept)).unwrap();
}

fn without_last(text: &str) -> &str {
    &text[..=text.trim_end().rfind('\n').unwrap()]
}

fn cut(herd: &TempHerd) {
    let shown = text(herd);
    fs::write(ledger(herd), without_last(&shown)).unwrap();
}

fn behind(herd: &TempHerd) {
    cut_shadow(herd);
}

fn broken_alone(herd: &TempHerd) {
    fs::write(herd.around().join("alone.txt"), text(herd).replace("417 score 3", "417 score 1")).unwrap();
}

fn foreign(herd: &TempHerd) {
    types(herd, "2026-01-07 419 score 3 by kj | 2026-01-07T08:00:00Z 0123456789abcdef\n");
}

fn no_ledger(herd: &TempHerd) {
    fs::remove_dir_all(crush(herd)).unwrap();
    forget(herd);
}

fn step_back(herd: &TempHerd) {
    let shown = text(herd);
    let at = without_last(&shown).len();
    let last = shown[at..].split(" | ").next().unwrap();
    fs::write(ledger(herd), sealed_anew(&format!("{}{last} | 2026-01-06T08:00:00Z 0123456789abcdef\n", &shown[..at])))
        .unwrap();
    forget(herd);
}

fn two_beginnings(herd: &TempHerd) {
    fs::copy(ledger(herd), crush(herd).join("2199.txt")).unwrap();
}

fn goes_on(herd: &TempHerd) {
    let (shown, year) = (text(herd), ledger(herd).file_stem().unwrap().to_str().unwrap().to_owned());
    let full = blake3::hash(&shown.as_bytes()[..shown.len() - 17]);
    let head = shown.lines().next().unwrap().replace(" | ", &format!(" follows {year} {full} | "));
    fs::write(crush(herd).join("2199.txt"), sealed_anew(&head)).unwrap();
}

fn head_at_no_time(herd: &TempHerd) {
    let head = text(herd);
    let hashed = format!("{} | 2026-13-40T08:00:00Z ", head.split(" | ").next().unwrap());
    let mark = blake3::hash(hashed.as_bytes()).to_string();
    fs::write(ledger(herd), format!("{hashed}{}\n", &mark[..16])).unwrap();
    forget(herd);
}

/// What comes out of the ledger's place has nowhere to go.
fn no_aside(herd: &TempHerd) {
    fs::remove_dir_all(herd.path().join(".footfold/aside")).unwrap();
    fs::write(herd.path().join(".footfold/aside"), "").unwrap();
}

fn year_missing(herd: &TempHerd) {
    let key_and_zone = " zone Europe/London";
    resealed(herd, key_and_zone, &format!("{key_and_zone} follows 2001 {}", "8d".repeat(32)));
}

fn elsewhere(herd: &TempHerd) {
    let barn = herd.path().join("ledgers/barn-tablet");
    fs::create_dir(&barn).unwrap();
    fs::copy(ledger(herd), barn.join("2026.txt")).unwrap();
}

/// Another device's ledger in the same folder: this one's text, changed.
fn put_office(herd: &TempHerd, change: impl Fn(String) -> String) {
    let office = herd.path().join("ledgers/farm-office");
    fs::create_dir(&office).unwrap();
    let own = text(herd)
        .replace("device crush-laptop", "device farm-office")
        .replace("admit crush-laptop", "admit farm-office");
    fs::write(office.join("2026.txt"), sealed_anew(&change(own))).unwrap();
}

fn other_herd(herd: &TempHerd) {
    put_office(herd, |text| text.replace("herd quillmere", "herd ashby"));
}

fn witness(herd: &TempHerd, longer: bool) {
    let year = ledger(herd).file_stem().unwrap().to_str().unwrap().to_owned();
    let length = text(herd).len() + if longer { 1000 } else { 0 };
    let seen = format!("2026-01-07 herd witness crush-laptop {year} length {length} mark {} by ao", "8d".repeat(32));
    put_office(herd, |text| format!("{text}{seen} | 2026-01-07T08:00:00Z 0123456789abcdef\n"));
}

/// A line that names a day.
fn recheck(herd: &TempHerd) {
    resealed(herd, "418 score 2", "418 recheck due 2026-02-03");
}

/// A line with no room for a mark.
fn long(herd: &TempHerd) {
    resealed(herd, "418 score 2 by kj", &format!("418 note by kj: {}", "x".repeat(BODY_BYTES - 80)));
}

fn copy_of_this_year(herd: &TempHerd) {
    let year = ledger(herd).file_stem().unwrap().to_str().unwrap().to_owned();
    copy_beside(herd, &format!("{year} (conflicted copy).txt"), "2026-01-07 419 score 3\n");
}

fn copy_beside(herd: &TempHerd, name: &str, more: &str) {
    fs::write(crush(herd).join(name), text(herd) + more).unwrap();
}

fn wrong_protocol(herd: &TempHerd) {
    fs::write(herd.path().join(format!("protocols/{}.ron", "8d".repeat(32))), "()").unwrap();
}

fn link(herd: &TempHerd) {
    let (place, elsewhere) = (ledger(herd), herd.around().join("elsewhere.txt"));
    fs::rename(&place, &elsewhere).unwrap();
    symlink(&elsewhere, place).unwrap();
    forget(herd);
}

fn pipe(herd: &TempHerd) {
    assert!(Command::new("mkfifo").arg(crush(herd).join("2001.txt")).status().unwrap().success());
}

fn huge(herd: &TempHerd) {
    File::create(crush(herd).join("2001.txt")).unwrap().set_len(5_000_000_000).unwrap();
}

fn spoil(path: &Path) {
    let kept = fs::read_to_string(path).unwrap();
    fs::write(path, kept.replace("417 score 3", "417 score 2")).unwrap();
}

fn pasted(herd: &TempHerd) {
    let shown = text(herd);
    types(herd, &shown);
}

fn displaced(herd: &TempHerd) {
    let name = ledger(herd).file_name().unwrap().to_str().unwrap().to_owned();
    let saved = text(herd).replace("417 score 3", "417 score 1");
    fs::write(crush(herd).join(format!(".{name}.displaced-1")), saved).unwrap();
}

/// The accepted copy goes on from what the file shows, and no save is remembered.
fn unknown(herd: &TempHerd) {
    let _ = fs::remove_dir_all(herd.path().join(".footfold/saves"));
    cut(herd);
}

fn unsealed(herd: &TempHerd) {
    let shown = text(herd);
    let body = shown.lines().last().unwrap().split(" | ").next().unwrap();
    fs::write(ledger(herd), format!("{}{body}\n", without_last(&shown))).unwrap();
}

fn moved(herd: &TempHerd) {
    let shown = text(herd);
    let mut lines: Vec<&str> = shown.lines().collect();
    let last = lines.len() - 1;
    lines.swap(last, last - 1);
    fs::write(ledger(herd), lines.join("\n") + "\n").unwrap();
}

fn typed_in_another(herd: &TempHerd) {
    let theirs = sealed_anew(&text(herd).replacen(" device crush-laptop ", " device farm-office ", 1));
    for folder in [".footfold/accepted/farm-office", "ledgers/farm-office"] {
        let folder = herd.path().join(folder);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(ledger(herd).file_name().unwrap()), &theirs).unwrap();
    }
    append(&herd.path().join("ledgers/farm-office").join(ledger(herd).file_name().unwrap()), "420 2\n");
}

/// A plan that was written and not carried out to its end.
fn interrupted(herd: &TempHerd, fits: bool) {
    let (whole, year) = (text(herd), ledger(herd).file_stem().unwrap().to_str().unwrap().to_owned());
    let before = without_last(&whole);
    let from = if fits { before.len() } else { whole.len() + 7 };
    let sealed = &whole[before.len()..];
    cut_shadow(herd);
    // What it signs comes after.
    let signed = ledger(herd).with_extension("sig");
    fs::write(&signed, without_last(&fs::read_to_string(&signed).unwrap())).unwrap();
    fs::write(ledger(herd), before).unwrap();
    fs::create_dir_all(herd.path().join(".footfold/plan")).unwrap();
    let plan = format!("(into: {year}, from: {from}, sealed: {sealed:?})");
    fs::write(herd.path().join(".footfold/plan/crush-laptop.ron"), plan).unwrap();
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for path in files_of(from) {
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy_folder(&path, &target);
        } else {
            fs::copy(path, target).unwrap();
        }
    }
}

/// A copy of the folder on a stick. Gives the copy's ledger.
pub(crate) fn on_stick(herd: &TempHerd) -> PathBuf {
    let copy = herd.around().join("stick/quillmere");
    copy_folder(&herd.path(), &copy);
    fs::remove_dir_all(copy.join(".footfold")).unwrap();
    ledger_in(&copy.join("ledgers/crush-laptop"))
}

fn stick(herd: &TempHerd) {
    on_stick(herd);
}

fn stick_and_changed(herd: &TempHerd) {
    on_stick(herd);
    changed_alone(herd);
}

pub(crate) fn in_stick(herd: &TempHerd, change: impl Fn(&str) -> String) {
    let copy = on_stick(herd);
    fs::write(&copy, change(&fs::read_to_string(&copy).unwrap())).unwrap();
}

fn stick_of_office(herd: &TempHerd) {
    put_office(herd, |text| text);
    on_stick(herd);
    fs::remove_dir_all(herd.path().join("ledgers/farm-office")).unwrap();
    fs::write(herd.around().join(format!("stick/quillmere/protocols/{}.ron", blake3::hash(b"()"))), "()").unwrap();
}

fn stick_elsewhere(herd: &TempHerd) {
    on_stick(herd);
    let ledgers = herd.around().join("stick/quillmere/ledgers");
    fs::rename(ledgers.join("crush-laptop"), ledgers.join("barn-tablet")).unwrap();
}

fn stick_protocol(herd: &TempHerd) {
    on_stick(herd);
    fs::write(herd.around().join(format!("stick/quillmere/protocols/{}.ron", "8d".repeat(32))), "()").unwrap();
}

fn no_time(text: &str) -> String {
    let at = text.find(" | ").unwrap() + 3;
    format!("{}2026-13-40{}", &text[..at], &text[at + 10..])
}
