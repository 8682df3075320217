//! F1: editors that save, each by its own calls, while we seal again and again.

use std::fs;
use std::io::{Seek, Write};
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use crate::rig::{self, Round, Scene, Watching, typed};

/// Saves of each stand-in; each is one line that nobody else types.
const SAVES: usize = 1500;

/// A way to save: the ledger, and one line more.
type Save = fn(&Path, &str);

fn saves(ledger: &Path, save: Save, count: usize) {
    for n in 0..count {
        save(ledger, &format!("{} note: save {n} end\n", n + 1));
        thread::sleep(Duration::from_millis(n as u64 % 5));
    }
}

/// How often each line is sealed, once all is quiet.
fn times(round: &Round, count: usize) -> Vec<usize> {
    let sealed = round.run(&["seal"], &[]);
    assert_eq!(sealed.code, Some(0), "{sealed:?}");
    round.verifies("after the race");
    let text = round.text();
    let tail = text.as_bytes().strip_prefix(round.shadow().as_slice()).map(String::from_utf8_lossy);
    assert_eq!(tail.as_deref(), Some(""), "nothing typed is left");
    (0..count).map(|n| text.matches(&format!(": save {n} end | ")).count()).collect()
}

/// Saves lines while `seal` runs again and again; then how often each is sealed.
fn race(save: Save) -> Vec<usize> {
    let scene = Scene::bare();
    let round = scene.round();
    let (done, ledger) = (AtomicBool::new(false), round.ledger());
    thread::scope(|scope| {
        scope.spawn(|| {
            saves(&ledger, save, SAVES);
            done.store(true, Ordering::Release);
        });
        while !done.load(Ordering::Acquire) {
            round.run(&["seal"], &[]);
        }
    });
    times(&round, SAVES)
}

/// The same while a daemon watches that waits for nothing: each save may meet a sealing.
fn race_with_a_daemon(save: Save) -> Vec<usize> {
    let count = rig::rounds(SAVES);
    let scene = Scene::bare();
    let round = scene.round();
    round.settles_after(0);
    let daemon = Watching::start(&round, "daemon", &[]);
    daemon.says("watched");
    let ledger = round.ledger();
    saves(&ledger, save, count);
    // An editor may be about to write; the accepted copy is the daemon's alone.
    let kept = || String::from_utf8(round.shadow()).unwrap().matches(" note by kj: save ").count();
    rig::until("the daemon keeps all", || kept() >= count);
    drop(daemon);
    times(&round, count)
}

#[track_caller]
fn all_once(times: &[usize], editor: &str) {
    let of = |wanted: fn(&usize) -> bool| times.iter().filter(|times| wanted(times)).count();
    eprintln!("{editor}: {} saves, {} lost, {} sealed twice", times.len(), of(|n| *n == 0), of(|n| *n > 1));
    assert!(times.iter().all(|times| *times == 1), "{editor}: {times:?}");
}

/// Reads anew, waits for the file to have a text, and adds a line: an editor that reloads.
fn with_line(ledger: &Path, line: &str) -> String {
    fs::read_to_string(ledger).unwrap() + line
}

fn truncates_and_writes(ledger: &Path, line: &str) {
    fs::write(ledger, with_line(ledger, line)).unwrap();
}

fn writes_in_place(ledger: &Path, line: &str) {
    let text = with_line(ledger, line);
    let mut file = fs::File::options().write(true).open(ledger).unwrap();
    file.rewind().and_then(|()| file.write_all(text.as_bytes())).unwrap();
    file.set_len(text.len() as u64).unwrap();
}

fn writes_beside_and_renames(ledger: &Path, line: &str) {
    let beside = ledger.with_extension("editor");
    fs::write(&beside, with_line(ledger, line)).unwrap();
    fs::rename(&beside, ledger).unwrap();
}

fn keeps_a_backup(ledger: &Path, line: &str) {
    let text = with_line(ledger, line);
    fs::rename(ledger, ledger.with_extension("txt~")).unwrap();
    fs::write(ledger, text).unwrap();
}

#[test]
fn f01_an_editor_that_appends() {
    let times = race(|ledger, line| {
        let mut file = fs::File::options().append(true).open(ledger).unwrap();
        file.write_all(line.as_bytes()).unwrap();
    });
    all_once(&times, "append");
}

#[test]
fn f01_an_editor_that_truncates_and_writes() {
    all_once(&race(truncates_and_writes), "truncate, write");
}

#[test]
fn f01_an_editor_that_writes_in_place() {
    all_once(&race(writes_in_place), "write in place");
}

#[test]
fn f01_an_editor_that_writes_beside_and_renames() {
    all_once(&race(writes_beside_and_renames), "write beside, rename");
}

#[test]
fn f01_f14_an_editor_that_keeps_a_backup_and_writes_anew() {
    all_once(&race(keeps_a_backup), "backup, new file");
}

#[test]
fn f01_a_daemon_and_an_editor_that_truncates_and_writes() {
    all_once(&race_with_a_daemon(truncates_and_writes), "daemon; truncate, write");
}

#[test]
fn f01_a_daemon_and_an_editor_that_writes_in_place() {
    all_once(&race_with_a_daemon(writes_in_place), "daemon; write in place");
}

#[test]
fn f01_a_daemon_and_an_editor_that_writes_beside_and_renames() {
    all_once(&race_with_a_daemon(writes_beside_and_renames), "daemon; write beside, rename");
}

#[test]
fn f01_f14_a_daemon_and_an_editor_that_keeps_a_backup_and_writes_anew() {
    all_once(&race_with_a_daemon(keeps_a_backup), "daemon; backup, new file");
}

/// How stand-ins save one line more, as commands of the shell; `$L` is the ledger.
pub(crate) const APPENDS: &str = "echo '$N' >> $L";
const EDITORS: [&str; 4] = [
    APPENDS,
    "T=$(cat $L); { echo \"$T\"; echo '$N'; } > $L",
    "{ cat $L; echo '$N'; } > $L.editor; mv $L.editor $L",
    "mv $L $L~; { cat $L~; echo '$N'; } > $L",
];

/// Seals, and at one step somebody saves. Says what is wrong afterwards.
pub(crate) fn save_at(step: &str, editor: &str, mutant: &str) -> Result<(), String> {
    let scene = Scene::new();
    let round = scene.round();
    let line = "419 note: between 0 end";
    let then = editor.replace("$L", round.ledger().to_str().unwrap()).replace("$N", line);
    let fault = format!("then@{step}");
    let with = [("FOOTFOLD_FAULT", fault.as_str()), ("FOOTFOLD_THEN", &then), ("FOOTFOLD_MUTANT", mutant)];
    let end = round.run(&["seal"], &with);
    // The mutant goes on with its mistake; then a healthy program looks.
    round.run(&["seal"], &with[2..]);
    round.judge(&typed(&[line])).map_err(|found| format!("{found}\nfirst: {end:#?}"))
}

#[test]
fn f01_f03_a_save_at_each_step_of_a_sealing_is_kept_once() {
    for step in crate::kills::STEPS {
        for editor in EDITORS {
            assert_eq!(save_at(step, editor, "none"), Ok(()), "{editor} at {step}");
        }
    }
}

#[test]
fn f01_a_slow_editor_that_still_holds_the_displaced_file_loses_nothing() {
    let scene = Scene::new();
    let round = scene.round();
    let line = "419 note: between 0 end";
    // Opened before the exchange, written after the sealing is done.
    let then = format!("exec 3>>{}; (sleep 1; echo '{line}' >&3) >/dev/null 2>&1 &", round.ledger().display());
    let end = round.run(&["seal"], &[("FOOTFOLD_FAULT", "then@prepared"), ("FOOTFOLD_THEN", &then)]);
    assert_eq!(end.code, Some(0), "{end:#?}");
    thread::sleep(Duration::from_millis(1500));
    round.judge(&typed(&[line])).unwrap_or_else(|found| panic!("{found}"));
}

/// A real editor adds a line at the end, by a script, and saves.
fn edits(editor: &str, round: &Round, line: &str) -> Option<bool> {
    let ledger = round.ledger();
    let file = ledger.to_str().unwrap();
    let is_tiny = editor == "vim" && Command::new("vim").arg("--version").output().is_err();
    let mut command = Command::new(if is_tiny { "vim.tiny" } else { editor });
    match editor {
        "vim" => command.args(["-u", "NONE", "-es", "-c", &format!("$put ='{line}'"), "-c", "wq", file]),
        "ed" => return ed(file, line),
        "nano" => return nano(file, line),
        "sed" => command.args(["-i", &format!("$a {line}"), file]),
        "emacs" => {
            let lisp = format!("(progn (goto-char (point-max)) (insert \"{line}\\n\") (save-buffer))");
            command.args(["-Q", "--batch", file, "--eval", &lisp])
        }
        _ => unreachable!("{editor}"),
    };
    Some(command.output().ok()?.status.success())
}

fn ed(file: &str, line: &str) -> Option<bool> {
    let mut child = Command::new("ed").args(["-s", file]).stdin(std::process::Stdio::piped()).spawn().ok()?;
    child.stdin.take().unwrap().write_all(format!("$a\n{line}\n.\nw\nq\n").as_bytes()).unwrap();
    Some(child.wait().unwrap().success())
}

/// Typed at a terminal: to the end, the line, write out, leave.
fn nano(file: &str, line: &str) -> Option<bool> {
    Command::new("nano").arg("--version").output().ok()?;
    let mut terminal = Command::new("script");
    terminal.args(["-qec", &format!("nano -I {file}"), "/dev/null"]).env("TERM", "xterm");
    let terminal = terminal.stdin(std::process::Stdio::piped()).stdout(std::process::Stdio::null());
    let mut child = terminal.spawn().ok()?;
    let mut keys = child.stdin.take().unwrap();
    for part in ["", "\x1b/", line, "\x0f", "\r", "\x18"] {
        keys.write_all(part.as_bytes()).unwrap();
        keys.flush().unwrap();
        thread::sleep(Duration::from_millis(300));
    }
    drop(keys);
    Some(child.wait().unwrap().success())
}

#[test]
fn f01_f14_real_editors_save_and_all_is_kept_once() {
    for editor in ["vim", "ed", "sed", "nano", "emacs"] {
        let scene = Scene::bare();
        let round = scene.round();
        for n in 0..5 {
            match edits(editor, &round, &format!("{} note: save {n} end", n + 1)) {
                Some(saved) => assert!(saved, "{editor} could not save"),
                None => break,
            }
            if n % 2 == 0 {
                assert_eq!(round.run(&["seal"], &[]).code, Some(0), "{editor}");
            }
        }
        if round.text().lines().count() == 3 {
            eprintln!("SKIPPED {editor}: it is not here");
            continue;
        }
        let lines: Vec<String> = (0..5).map(|n| format!("{} note: save {n} end", n + 1)).collect();
        round.verifies(editor);
        round.judge(&lines).unwrap_or_else(|found| panic!("{editor}: {found}"));
    }
}
