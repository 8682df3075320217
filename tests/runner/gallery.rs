//! What typing, open questions and common troubles say, gathered from runs into `spec/messages.md`.
//!
//! `FOOTFOLD_WRITE=1 cargo test -p footfold --test runner gallery` writes the page anew.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ledger_format::fold::Why;
use ledger_format::line::{CowNumber, read_date};
use ledger_format::typing::{Context, Outcome, read};
use ledger_format::vocabulary::Foot;

use crate::{TempHerd, root};

#[test]
fn the_gallery_is_what_runs_say() {
    let page = page();
    let path = root().join("spec/messages.md");
    if std::env::var_os("FOOTFOLD_WRITE").is_some() {
        fs::write(&path, &page).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let difference = page.lines().zip(kept.lines()).find(|(now, then)| now != then);
    assert!(page == kept, "spec/messages.md is not what runs say now: {difference:?}");
}

fn page() -> String {
    let mut page =
        "# Messages\n\nWhat typing, open questions and common troubles say, made by a run; a test compares it with what is said now. Rarer\ntroubles of disks and of gathering are not here yet.\n".to_owned();
    typed(&mut page, "wrong", "Typed and refused", "The line stays as it was typed, with the remark under it.");
    typed(&mut page, "right", "Typed and doubted", "The line is kept; the doubt is shown once.");
    questions(&mut page);
    commands(&mut page);
    page
}

fn files_of(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

/// What typing says of each vector that is typed in plain text.
fn typed(page: &mut String, folder: &str, title: &str, about: &str) {
    let _ = write!(page, "\n## {title}\n\n{about}\n");
    for path in files_of(&root().join("spec/vectors/typing").join(folder)) {
        let case = fs::read_to_string(&path).unwrap();
        let Some((header, rest)) = case.split_once("\n\n") else { continue };
        let Some(rest) = rest.strip_prefix("typed:\n") else { continue };
        let field = |name: &str| header.lines().find_map(|row| row.strip_prefix(name)).unwrap_or_default();
        let text: Vec<&str> = rest.lines().map_while(|row| row.strip_prefix("  ")).collect();
        if text.iter().any(|row| row.len() > 200) {
            continue;
        }
        let today = read_date(field("today: ").as_bytes()).unwrap();
        let context = Context { today, by: field("by: "), device: field("device: ") };
        let said = messages(&text.join("\n"), &context);
        if !said.is_empty() {
            let name = path.file_stem().unwrap().to_string_lossy().replace('_', " ");
            let _ = write!(page, "\n**{name}**\n```\n{}\n```\n", said.join("\n"));
        }
    }
}

fn messages(text: &str, context: &Context<'_>) -> Vec<String> {
    let mut said = Vec::new();
    for typed in read(text, context) {
        let remarks = match &typed.outcome {
            Outcome::Refused(remarks) => remarks.iter().map(|remark| format!(";! {remark}")).collect(),
            Outcome::Kept(kept) => {
                kept.iter().flat_map(|kept| &kept.doubts).map(|doubt| format!("doubt: {doubt}")).collect()
            }
            _ => Vec::new(),
        };
        if !remarks.is_empty() {
            said.push(typed.text);
            said.extend(remarks);
        }
    }
    said
}

fn questions(page: &mut String) {
    page.push_str("\n## Open questions\n\nWhat does not fit is kept and folded by a stated rule; this settles it.\n\n");
    page.push_str("| question | what settles it |\n| --- | --- |\n");
    let number = CowNumber::read("518").unwrap();
    for why in [
        Why::ScoresDiffer,
        Why::HadLeft,
        Why::LeftTwice,
        Why::JoinedTwice,
        Why::NumberInUse(number),
        Why::NothingToTakeOff { what: "block", foot: Foot::RH },
        Why::NothingToTakeOff { what: "dressing", foot: Foot::RH },
        Why::NotYet,
        Why::TargetNotHere,
        Why::Concurrent,
        Why::TooDeep,
        Why::ProtocolMissing("5e1f…".to_owned()),
    ] {
        let _ = writeln!(page, "| {why} | {} |", why.remedy());
    }
}

/// A situation: its name, what is done to a new herd's folder, and the command then given.
type Situation = (&'static str, fn(&TempHerd), &'static [&'static str]);

const SITUATIONS: &[Situation] = &[
    ("no herd here", |herd| fs::remove_dir_all(herd.path().join("ledgers")).unwrap(), &["due"]),
    ("a folder that is not empty", |_| (), &["new", ".", "--device", "crush-laptop", "--by", "kj"]),
    ("a device name that cannot be a file", |_| (), &["new", "other", "--device", "con", "--by", "kj"]),
    ("a person's name in capitals", |_| (), &["new", "other", "--device", "crush-laptop", "--by", "KJ"]),
    ("a typed line that is not understood", |_| (), &["write", "417 WLA RH outter z3 g2", "418 score 4"]),
    ("nothing typed", |_| (), &["write", " "]),
    ("a sealed line was changed", |herd| edit(herd, "417 score 3", "417 score 1"), &["seal"]),
    ("the same, checked", |herd| edit(herd, "417 score 3", "417 score 1"), &["check"]),
    (
        "the same, without a copy",
        |herd| {
            edit(herd, "417 score 3", "417 score 1");
            forget(herd);
        },
        &["check"],
    ),
    (
        "the same, without a copy, sealed",
        |herd| {
            edit(herd, "417 score 3", "417 score 1");
            forget(herd);
        },
        &["seal"],
    ),
    ("mended", |herd| edit(herd, "417 score 3", "417 score 1"), &["check", "--mend"]),
    ("a link where a ledger should be", link, &["check"]),
    ("a wrong day", |_| (), &["due", "--on", "2026-02-30"]),
    ("a cow that is not there", |_| (), &["cow", "999"]),
    (
        "settings with an unknown word",
        |herd| fs::write(herd.config().join("footfold.ron"), "(\n    devise: \"x\",\n)\n").unwrap(),
        &["write", "417 3"],
    ),
    ("a key that others can read", open_key, &["write", "417 3"]),
    (
        "typed, and not kept yet, without a daemon",
        |herd| {
            let typed = "2026-01-07 417 score 2\n2026-01-07 418 skore 2\n";
            fs::write(ledger(herd), fs::read_to_string(ledger(herd)).unwrap() + typed).unwrap();
        },
        &["status"],
    ),
    ("how a changed line stands", |herd| edit(herd, "417 score 3", "417 score 1"), &["status"]),
    ("nothing to watch", forget_settings, &["watch"]),
    ("a folder to gather that is not there", |_| (), &["gather", "stick"]),
];

fn ledger(herd: &TempHerd) -> PathBuf {
    files_of(&herd.path().join("ledgers/crush-laptop")).remove(0)
}

fn edit(herd: &TempHerd, from: &str, to: &str) {
    let text = fs::read_to_string(ledger(herd)).unwrap();
    assert!(text.contains(from));
    fs::write(ledger(herd), text.replace(from, to)).unwrap();
}

fn forget_settings(herd: &TempHerd) {
    fs::remove_file(herd.config().join("footfold.ron")).unwrap();
}

fn forget(herd: &TempHerd) {
    fs::remove_dir_all(herd.path().join(".footfold")).unwrap();
}

fn link(herd: &TempHerd) {
    let (place, elsewhere) = (ledger(herd), herd.around().join("elsewhere.txt"));
    fs::rename(&place, &elsewhere).unwrap();
    std::os::unix::fs::symlink(&elsewhere, place).unwrap();
    forget(herd);
}

fn open_key(herd: &TempHerd) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(herd.config().join("device.key"), fs::Permissions::from_mode(0o644)).unwrap();
}

fn footfold(herd: &TempHerd, arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
    let out = command.args(arguments).current_dir(herd.path()).env("FOOTFOLD_CONFIG", herd.config());
    // A daemon of whoever runs the tests is not asked.
    let out = out.env("FOOTFOLD_SOCKET", "").output().unwrap();
    [out.stdout, out.stderr].map(|bytes| String::from_utf8(bytes).unwrap()).concat()
}

fn commands(page: &mut String) {
    page.push_str("\n## What commands say when something is wrong\n");
    for (name, situation, arguments) in SITUATIONS {
        let herd = TempHerd::empty();
        footfold(&herd, &["new", ".", "--name", "quillmere", "--device", "crush-laptop", "--by", "kj"]);
        footfold(&herd, &["write", "2026-01-05 417 score 3", "2026-01-06 418 score 2"]);
        situation(&herd);
        let said = tame(&footfold(&herd, arguments), &herd);
        let shown: Vec<String> = arguments
            .iter()
            .map(|word| if word.contains(' ') { format!("\"{word}\"") } else { (*word).to_owned() })
            .collect();
        let _ = write!(page, "\n**{name}**\n```\n$ footfold {}\n{}\n```\n", shown.join(" "), said.trim_end());
    }
}

/// Takes out of a message what differs from run to run: where the folder is, the day and year, times, marks.
fn tame(said: &str, herd: &TempHerd) -> String {
    let around = herd.around().canonicalize().unwrap();
    let mut said = said.replace(around.to_str().unwrap(), "…").replace(herd.around().to_str().unwrap(), "…");
    let now = chrono::Utc::now().date_naive();
    for day in [now - chrono::TimeDelta::days(1), now, now + chrono::TimeDelta::days(1)] {
        said = said.replace(&day.to_string(), "2026-03-14");
    }
    said = said.replace(&format!("/{}", now.format("%Y")), "/2026");
    said.split_inclusive(|c: char| !c.is_ascii_alphanumeric() && c != ':').map(tame_word).collect()
}

/// A mark or a time of day, with the character after it.
fn tame_word(word: &str) -> String {
    let bare = word.trim_end_matches(|c: char| !c.is_ascii_alphanumeric());
    let is_mark = bare.len() == 16 && bare.bytes().all(|b| b.is_ascii_hexdigit());
    let is_time = bare.len() == 12 && bare.starts_with("14T") && bare.ends_with('Z');
    match (is_mark, is_time) {
        (true, _) => word.replace(bare, "0123456789abcdef"),
        (_, true) => word.replace(bare, "14T09:20:11Z"),
        _ => word.to_owned(),
    }
}
