//! Every message has its place in the gallery: the sources are searched for what a person can be told.

use std::fmt::Write;
use std::fs;
use std::io::{Error, ErrorKind};
use std::path::Path;

use daemon::Trouble;

use crate::root;

/// Where messages are said; the lists, cards and sheets have the README and tests of their own.
const SOURCES: &[&str] = &[
    "daemon/src",
    "cli/src/fail.rs",
    "cli/src/look.rs",
    "cli/src/place.rs",
    "cli/src/commands/amend.rs",
    "cli/src/commands/check.rs",
    "cli/src/commands/check/mending.rs",
    "cli/src/commands/gather.rs",
    "cli/src/commands/new.rs",
    "cli/src/commands/seal.rs",
    "cli/src/commands/write.rs",
];

/// What a daemon says while it runs on, and machines to each other. `tests/black_box` meets the most of it.
const FROM_SOURCE: &[&str] =
    &["daemon/src/watch/", "daemon/src/net/", "daemon/src/exchange/", "daemon/src/pairing/", "daemon/src/nearby.rs"];

/// What no run of this test can meet, each with the reason. A text that no source says any more fails the test.
pub(crate) const NOT_MET: &[(&str, &str)] = &[
    ("it is not there any more", "the file goes between listing and opening it"),
    ("run the check again", "the same"),
    ("no memory to read a file of this size", "needs a machine with less memory than the largest ledger"),
    ("expected the name of one file, not a path", "a guard: no command hands on a path"),
    ("leave out slashes", "the same"),
    ("a thread ended early", "a guard: no thread does"),
    ("reading it broke off", "the same"),
    ("tell the authors", "the same"),
    ("the file grows while it is read", "needs a program that writes faster than is read"),
    ("look what writes to it", "the same"),
    ("the file became shorter while it was read", "needs a save at that very moment"),
    ("the head names no device", "a guard: a head that can be read names one"),
    ("the ledger changed while it was gathered", "needs a save at that very moment"),
    (": a program keeps saving it; its last saves are taken over next time", "needs a save in each of eight rounds"),
    ("a program keeps saving the ledger; its last saves are kept and taken over next time", "the same"),
    ("this is no statement of this file, or its signature is wrong; it was not taken", "needs another machine's word"),
    ("only the machine that writes it can say how far it goes", "a guard: nobody else asks for it"),
    ("footfold 2026 machine", "no message: what a hash is made with"),
    ("the system gives no random bytes:", "no system of ours does that"),
    ("the file was saved by somebody while it was mended", "needs a save at that very moment"),
    ("run the command again; that save is kept beside the file", "the same"),
    ("herd admit … as keeper by", "a line that is sealed, not a message"),
    ("choose another name or zone", "a guard: names and zone were looked at before"),
    ("choose another name", "the same"),
    ("1 score 3", "a line to look with, not a message"),
    ("tell the makers of footfold", "a guard: a plan is plain text"),
    ("typed in the ledger of", "stands in the file, above what it speaks of"),
    ("changed back, or not seen yet how it was changed", "the same"),
    ("to keep it here take the `; ` away:", "the same"),
    ("another footfold watches this folder:", "needs a second daemon, which runs on; watching.rs has both"),
    ("nothing, if that is meant; else end it, and this one takes over", "the same"),
    ("there is no key of", "a daemon runs on without it, and only reads"),
    ("write a first line with `footfold write`, or put device.key back from a backup", "the same"),
    ("no configuration folder", "needs a machine without a home folder; the runs all have one"),
    ("set FOOTFOLD_CONFIG to a folder of your own", "the same"),
    ("could not write the output:", "needs an output that is a full disk; the runs are read"),
    ("could not write the rows:", "a guard: rows are plain values"),
    ("use `--format text`", "the same"),
    ("go into a folder that is there", "needs a folder that was taken away under the command"),
    ("are kept, but the ledger does not show them yet", "needs a disk that fails; `tests/faults` has one"),
    ("may be kept later: what was begun cannot be taken back", "the same"),
    ("do not type them again; once the disk is well, run `footfold seal` and look whether they are there", "the same"),
    ("what the record says of these lines could not be looked up:", "the same"),
    (", which an earlier gathering began", "needs a gathering that was stopped; `tests/faults` has one"),
    ("another program holds it", "needs a program that does; `tests/faults` has one"),
    (
        "wait until that program is done with it, or close it there; then run the command again; nothing was changed",
        "the same",
    ),
    (
        "this folder lies on a network disk, where locks and events cannot be relied on: it is looked at every 2 s, \
         and only one machine can write here; better: a folder on each machine's own disk, and `footfold gather`",
        "needs such a disk; `tests/faults` has one",
    ),
    ("another footfold writes in this folder, on a network disk:", "the same"),
    ("; nothing is written here", "the same"),
    ("let one machine write, and give the others a folder on their own disk, with `footfold gather`", "the same"),
    ("Type lines; Ctrl-D on an empty line keeps them.", "only at a terminal"),
];

/// A text of a source with its fixed pieces.
struct Told {
    place: String,
    pieces: Vec<String>,
    /// What a call of the system was to do: the page tells those from the source.
    doing: bool,
}

fn rust_files(path: &Path) -> Vec<std::path::PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let mut inside: Vec<_> = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
    inside.sort();
    // What tests break on purpose is in no program that a person has.
    inside.retain(|path| !path.ends_with("disk/faults") && !path.ends_with("tests.rs"));
    // What machines read, and no person.
    inside.retain(|path| {
        !["net/metrics.rs", "pairing/secret.rs", "pairing/words.rs"].iter().any(|of| path.ends_with(of))
    });
    inside.iter().flat_map(|path| rust_files(path)).filter(|p| p.extension().is_some_and(|e| e == "rs")).collect()
}

/// The texts of three words and more in the sources, tests and comments left out.
fn told() -> Vec<Told> {
    let mut all = Vec::new();
    for path in SOURCES.iter().flat_map(|source| rust_files(&root().join(source))) {
        let source = fs::read_to_string(&path).unwrap();
        let source = source.split("#[cfg(test)]").next().unwrap_or_default();
        let code: Vec<&str> = source.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
        let place = path.strip_prefix(root()).unwrap().display().to_string();
        all.extend(literals(&code.join("\n").replace("'\"'", "' '"), &place));
    }
    all
}

/// The string literals of some code.
fn literals(code: &str, place: &str) -> Vec<Told> {
    let (mut found, mut rest, mut before) = (Vec::new(), code, String::new());
    while let Some(start) = rest.find('"') {
        before.push_str(&rest[..start]);
        let mut text = String::new();
        let mut characters = rest[start + 1..].char_indices();
        let mut end = rest.len();
        while let Some((at, c)) = characters.next() {
            match c {
                '"' => {
                    end = start + 1 + at + 1;
                    break;
                }
                '\\' => match characters.next() {
                    // The line goes on; blanks at the beginning of the next one are none of it.
                    Some((_, '\n')) => text.push('\u{0}'),
                    Some((_, 'n')) => text.push('\n'),
                    Some((_, other)) => text.push(other),
                    None => {}
                },
                other => text.push(other),
            }
        }
        let help = before.trim_end().ends_with("after_help =");
        let doing = before.trim_end().ends_with("Trouble::io(");
        let text: String =
            text.split('\u{0}').enumerate().map(|(i, part)| if i > 0 { part.trim_start() } else { part }).collect();
        let pieces: Vec<String> = fixed(&text);
        if doing || !help && pieces.iter().any(|piece| piece.split_whitespace().count() >= 3) {
            found.push(Told { place: place.to_owned(), pieces, doing });
        }
        rest = &rest[end..];
    }
    found
}

/// What stands between `{…}` and line ends, without blanks at both ends.
fn fixed(text: &str) -> Vec<String> {
    let (mut pieces, mut piece, mut depth) = (Vec::new(), String::new(), 0);
    for c in text.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ if depth == 0 && c != '\n' => {
                piece.push(c);
                continue;
            }
            _ => {}
        }
        pieces.push(std::mem::take(&mut piece));
    }
    pieces.push(piece);
    let words = |piece: &String| piece.split_whitespace().collect::<Vec<_>>().join(" ");
    pieces.iter().map(words).filter(|piece| piece.contains(' ')).collect()
}

/// What is said when a call of the system fails, from the one place that says it.
pub(crate) fn system(page: &mut String) {
    page.push_str("\n## When the system refuses\n\n");
    page.push_str("`PATH: could not DO IT: REASON`, where DO IT is one of: ");
    let mut doing: Vec<String> =
        told().into_iter().filter(|told| told.doing).map(|told| told.pieces.concat()).collect();
    doing.sort();
    doing.dedup();
    let _ = writeln!(page, "{}.\n", doing.join("; "));
    page.push_str("| said | to do |\n| --- | --- |\n");
    for kind in [
        ErrorKind::StorageFull,
        ErrorKind::ReadOnlyFilesystem,
        ErrorKind::PermissionDenied,
        ErrorKind::NotFound,
        ErrorKind::Interrupted,
    ] {
        let trouble = Trouble::io("keep the lines", Path::new("quillmere"), &Error::from(kind));
        let _ = writeln!(page, "| {trouble} | {} |", trouble.remedy);
    }
}

/// What a watching daemon says in its log and in `footfold status`: told from the source, for a log bears times, and
/// a daemon runs on.
pub(crate) fn daemon(page: &mut String) {
    page.push_str("\n## A daemon's log and status\n\nFrom the source; `…` stands for what differs.\n\n");
    let mut all: Vec<String> = told()
        .into_iter()
        .filter(|told| FROM_SOURCE.iter().any(|source| told.place.starts_with(source)) && !told.doing)
        .map(|told| told.pieces.join(" … "))
        .collect();
    all.sort();
    all.dedup();
    for text in all {
        let _ = writeln!(page, "- {text}");
    }
}

/// What no run can meet.
pub(crate) fn not_met(page: &mut String) {
    page.push_str("\n## Not met by a run\n\n| text | why |\n| --- | --- |\n");
    for (text, why) in NOT_MET {
        let _ = writeln!(page, "| {text} | {why} |");
    }
}

#[test]
fn every_message_is_met() {
    let page = fs::read_to_string(root().join("spec/messages.md")).unwrap();
    let page = page.split("\n## Not met by a run").next().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    let all = told();
    assert!(all.len() > 150, "the search finds too little: {}", all.len());
    let excused = |piece: &String| NOT_MET.iter().any(|(text, _)| text.contains(piece.as_str()));
    let missing: Vec<String> = all
        .iter()
        .flat_map(|told| told.pieces.iter().map(|piece| (&told.place, piece)))
        .filter(|(_, piece)| !page.contains(piece.as_str()) && !excused(piece))
        .map(|(place, piece)| format!("{place}: {piece}"))
        .collect();
    assert!(missing.is_empty(), "no situation of the gallery meets these: {missing:#?}");
    let idle: Vec<&str> = NOT_MET
        .iter()
        .map(|(text, _)| *text)
        .filter(|text| {
            page.contains(text) || !all.iter().any(|told| told.pieces.iter().any(|piece| text.contains(piece.as_str())))
        })
        .collect();
    assert!(idle.is_empty(), "these are met, or said nowhere: {idle:#?}");
}
