//! General tools on as many records: plain-text accounting, and the check of a hash-linked history.

use std::fmt::Write;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::measure::pairs;

/// Compares with what is installed; says what is not.
pub(crate) fn compare(lines: u64, ours: &[String]) {
    println!("general tools, processor time (theirs : ours)");
    if installed("ledger") {
        let journal = journal(lines);
        let theirs = ["ledger", "-f", &journal.display().to_string(), "bal"].map(str::to_owned);
        let (_, _, ratio) = pairs(&theirs, ours, 3);
        println!("ledger bal, {lines} postings: {ratio:.1} times as much (aim 20)");
    } else {
        println!("ledger is not installed");
    }
    let history = history(lines);
    let theirs = ["git", "-C", &history.display().to_string(), "fsck", "--no-dangling"].map(str::to_owned);
    let (_, _, ratio) = pairs(&theirs, ours, 3);
    println!("git fsck, {lines} commits: {ratio:.1} times as much (aim 35)");
}

fn installed(program: &str) -> bool {
    Command::new(program).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok()
}

fn place(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

/// As many postings, two to a transaction.
fn journal(lines: u64) -> PathBuf {
    let path = place(&format!("bench-{lines}.journal"));
    if !path.exists() {
        let mut text = String::new();
        for n in 0..lines / 2 {
            let (month, day, cow) = (n / 28 % 12 + 1, n % 28 + 1, 1000 + n % 2000);
            let _ = writeln!(text, "2026-{month:02}-{day:02} visit\n  Cow:{cow}  {}\n  Herd\n", n % 4);
        }
        std::fs::write(&path, text).unwrap();
    }
    path
}

/// As many commits in one line, each with a record as its message, in one pack.
fn history(lines: u64) -> PathBuf {
    let path = place(&format!("bench-{lines}.git"));
    if !path.exists() {
        let git =
            |arguments: &[&str]| Command::new("git").args(arguments).arg(&path).stdout(Stdio::null()).status().unwrap();
        assert!(git(&["init", "--bare", "-q"]).success());
        let mut import = Command::new("git")
            .arg("-C")
            .arg(&path)
            .args(["fast-import", "--quiet"])
            .stdin(Stdio::piped())
            .spawn()
            .unwrap();
        let mut input = std::io::BufWriter::new(import.stdin.take().unwrap());
        for (n, body) in examples_make::ledger_lines(0, 2_000, lines).enumerate() {
            writeln!(
                input,
                "commit refs/heads/main\ncommitter kj <kj@quillmere> {n} +0000\ndata {}\n{body}",
                body.len()
            )
            .unwrap();
        }
        drop(input);
        assert!(import.wait().unwrap().success());
    }
    path
}
