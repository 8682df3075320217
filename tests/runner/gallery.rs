//! What typing, open questions and common troubles say, gathered from runs into `spec/messages.md`.
//!
//! `FOOTFOLD_WRITE=1 cargo test -p footfold --test runner gallery` writes the page anew.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ledger_format::fold::Why;
use ledger_format::line::{CowNumber, read_date};
use ledger_format::typing::{Context, Outcome, Remark, read};
use ledger_format::vocabulary::Foot;

use crate::troubles::SITUATIONS;
use crate::{TempHerd, root, said};

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
        "# Messages\n\nWhat typing, open questions and troubles say, made by a run. One test compares it with what is said now, another\nlooks in the source for messages that it lacks.\n".to_owned();
    typed(&mut page, "wrong", "Typed and refused", "The line stays as it was typed, with the remark under it.");
    typed(&mut page, "right", "Typed and doubted", "The line is kept; the doubt is shown once.");
    questions(&mut page);
    commands(&mut page);
    said::system(&mut page);
    said::daemon(&mut page);
    said::not_met(&mut page);
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
            Outcome::Refused(remarks) => remarks.iter().flat_map(Remark::in_file).collect(),
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
        let mut said = tame(&footfold(&herd, arguments), &herd);
        // What a check proves is said under each; here once.
        if let Some(at) = said.find("\nUnbroken: no byte").filter(|_| page.contains("\nUnbroken: no byte")) {
            said.truncate(at);
        }
        let shown: Vec<String> = arguments
            .iter()
            .map(|word| if word.is_empty() || word.contains(' ') { format!("\"{word}\"") } else { (*word).to_owned() })
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
