//! The daemon that watches: what is typed is kept by itself, whatever editors, disks and other daemons do.

use std::fs::{self, File, Permissions};
use std::io::Write;
use std::os::unix::fs::{PermissionsExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};
use serde_json::Value;

use crate::copies::conflict_copy;
use crate::disk_faults::{NOBODY, open_to_all};
use crate::machine::{Machine, only_file, path};

/// Nothing here takes so long on any machine that works.
const DEADLINE: Duration = Duration::from_secs(60);

/// Waits for a condition, and fails if it never comes.
#[track_caller]
pub(crate) fn until(what: &str, is_so: impl Fn() -> bool) {
    let since = Instant::now();
    while !is_so() {
        assert!(since.elapsed() < DEADLINE, "waited in vain: {what}");
        sleep(Duration::from_millis(20));
    }
}

/// A daemon that runs, and is ended with the test.
pub(crate) struct Daemon {
    child: Child,
    log: PathBuf,
}

impl Daemon {
    /// Watches these folders; none: those in the settings, which is the machine's herd.
    pub(crate) fn start(machine: &Machine, name: &str, folders: &[&Path]) -> Self {
        Self::start_as(None, machine, name, folders)
    }

    /// The same, as a user of this number.
    fn start_as(user: Option<u32>, machine: &Machine, name: &str, folders: &[&Path]) -> Self {
        let log = machine.place().join(format!("{name}.log"));
        let mut command = machine.command(&["watch"]);
        command.args(folders).env("FOOTFOLD_LOG", "debug").stdout(Stdio::null()).stderr(File::create(&log).unwrap());
        user.map(|user| command.uid(user));
        let child = command.current_dir(machine.place()).spawn().unwrap();
        Self { child, log }
    }

    pub(crate) fn log(&self) -> String {
        fs::read_to_string(&self.log).unwrap()
    }

    #[track_caller]
    pub(crate) fn says(&self, words: &str) {
        let since = Instant::now();
        while !self.log().contains(words) {
            assert!(since.elapsed() < DEADLINE, "expected `{words}` in the log:\n{}", self.log());
            sleep(Duration::from_millis(20));
        }
    }

    fn send(&mut self, what: Signal) -> i32 {
        kill_process(Pid::from_child(&self.child), what).unwrap();
        self.child.wait().unwrap().code().unwrap_or(-1)
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Sets the settling time, and whether to poll.
pub(crate) fn set(machine: &Machine, seconds: u16, polling: bool) {
    let file = machine.config().join("footfold.ron");
    let text = fs::read_to_string(&file).unwrap();
    assert!(text.contains("settle_seconds: 5,"));
    fs::write(&file, text.replace("settle_seconds: 5,", &format!("settle_seconds: {seconds}, polling: {polling},")))
        .unwrap();
}

fn watched(seconds: u16, polling: bool) -> (Machine, Daemon) {
    let machine = Machine::new("crush-laptop");
    set(&machine, seconds, polling);
    let daemon = Daemon::start(&machine, "daemon", &[]);
    daemon.says("watched");
    (machine, daemon)
}

pub(crate) fn status(machine: &Machine) -> Value {
    let said = machine.run_in(machine.place(), &["--herd", path(&machine.herd()), "status", "--format", "json"]);
    serde_json::from_str(&said.out).unwrap()
}

fn kept(machine: &Machine, words: &str) -> usize {
    machine.ledger_text().matches(&format!("{words} by kj | ")).count()
}

/// All is sealed, nothing waits, and each of these lines is kept once.
#[track_caller]
fn all_kept_once(machine: &Machine, lines: &[&str]) {
    for line in lines {
        until(line, || kept(machine, line) > 0);
    }
    until("all is quiet", || status(machine)["herds"][0]["unsealed"].as_array().unwrap().is_empty());
    for line in lines {
        assert_eq!(kept(machine, line), 1, "{line}: {}", machine.text());
    }
    machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn a_typed_line_is_kept_by_itself_and_the_log_says_so() {
    let (machine, daemon) = watched(1, false);
    machine.types("417 score 3\n418 skore 2\n");
    daemon.says("417 score 3 by kj");
    daemon.says("left as typed, with a remark: line 5");
    until("the remark", || machine.ledger_text().contains("\n;! col 5: not an act"));
    let text = machine.ledger_text().replace("418 skore 2", "418 score 2");
    fs::write(machine.ledger(), text).unwrap();
    all_kept_once(&machine, &["417 score 3", "418 score 2"]);
    assert!(!machine.text().contains(";!"), "{}", machine.text());
}

#[test]
fn f36_without_events_files_are_polled() {
    let (machine, daemon) = watched(1, true);
    daemon.says("polled: ");
    assert_eq!(status(&machine)["herds"][0]["found_by"], "polling");
    machine.types("417 score 3\n");
    all_kept_once(&machine, &["417 score 3"]);
}

#[test]
fn a_half_typed_line_in_a_file_that_keeps_changing_is_not_kept() {
    let settle = Duration::from_secs(3);
    let (machine, _daemon) = watched(3, false);
    let before = machine.text();
    for _ in 0..5 {
        let (began, mut last, mut longest, mut saves) = (Instant::now(), Instant::now(), Duration::ZERO, 0);
        while began.elapsed() < settle * 2 {
            saves += 1;
            // Understood at each moment, and not what is meant yet.
            fs::write(machine.ledger(), format!("{before}417 note: half {}", "x".repeat(saves))).unwrap();
            longest = longest.max(last.elapsed());
            last = Instant::now();
            sleep(Duration::from_millis(50));
        }
        if longest < settle / 2 {
            let text = machine.text();
            assert!(text.starts_with(&before), "{text}");
            // The editor writes over whatever we put there; the accepted copy would remember.
            assert_eq!(fs::read_to_string(machine.shadow()).unwrap(), before, "half a line was sealed");
            fs::write(machine.ledger(), format!("{before}417 score 3\n")).unwrap();
            return all_kept_once(&machine, &["417 score 3"]);
        }
    }
    panic!("this machine is too busy to save a file twice in three seconds");
}

#[test]
fn saves_by_rename_by_truncating_and_with_backups_are_kept_once() {
    let (machine, _daemon) = watched(1, false);
    let ledger = machine.ledger();
    let folder = ledger.parent().unwrap().to_owned();
    // Write aside, rename over.
    let beside = folder.join(".2026.txt.swp-new");
    fs::write(&beside, machine.text() + "417 score 3\n").unwrap();
    fs::rename(&beside, &ledger).unwrap();
    until("417", || kept(&machine, "417 score 3") == 1);
    // Empty, then slowly written.
    let text = machine.text() + "418 score 2\n";
    let mut file = File::create(&ledger).unwrap();
    for piece in text.as_bytes().chunks(100) {
        file.write_all(piece).unwrap();
        file.flush().unwrap();
        sleep(Duration::from_millis(30));
    }
    drop(file);
    until("418", || kept(&machine, "418 score 2") == 1);
    // The old one to a backup, a new one in its place, swap files about.
    for stray in [".2026.txt.swp", "4913", "#2026.txt#"] {
        fs::write(folder.join(stray), "419 score 3\n").unwrap();
    }
    let text = machine.ledger_text();
    let backup = folder.join("2026.txt~");
    fs::rename(&ledger, &backup).unwrap();
    fs::write(&ledger, text + "420 score 1\n").unwrap();
    until("420", || kept_in(&ledger, "420 score 1") == 1);
    assert_eq!(kept_in(&ledger, "419 score 3"), 0, "other files are none of ours");
    for stray in [".2026.txt.swp", "4913", "#2026.txt#", "2026.txt~"] {
        assert!(folder.join(stray).is_file(), "{stray} was taken away");
        fs::remove_file(folder.join(stray)).unwrap();
    }
    all_kept_once(&machine, &["417 score 3", "418 score 2", "420 score 1"]);
}

#[test]
fn f40_a_conflict_copy_that_a_sync_client_leaves_is_taken_in_by_itself_once() {
    let (machine, daemon) = watched(1, false);
    let ledger = machine.ledger();
    let copy = conflict_copy(&ledger);
    fs::write(&copy, machine.text() + "417 score 3\n").unwrap();
    all_kept_once(&machine, &["417 score 3"]);
    until("the copy is put away", || !copy.exists());
    assert_eq!(daemon.log().matches("a copy that a program left beside").count(), 1, "{}", daemon.log());
    machine.types("418 score 2\n");
    all_kept_once(&machine, &["417 score 3", "418 score 2"]);
}

#[test]
fn f01_saves_that_land_while_the_daemon_seals_are_all_kept_once() {
    let (machine, _daemon) = watched(1, false);
    let ledger = machine.ledger();
    let notes: Vec<String> = (0..24).map(|n| format!("save {n} end")).collect();
    for (n, note) in notes.iter().enumerate() {
        type_into(&ledger, &format!("417 note: {note}\n"));
        // Every third time it is about to be still: then the next save lands around the sealing.
        sleep(Duration::from_millis(if n % 3 == 2 { 985 + n as u64 * 3 } else { 40 }));
    }
    let times = |note: &String| machine.ledger_text().matches(&format!(": {note} | ")).count();
    until("all are kept", || notes.iter().all(|note| times(note) > 0));
    until("all is quiet", || status(&machine)["herds"][0]["unsealed"].as_array().unwrap().is_empty());
    for note in &notes {
        assert_eq!(times(note), 1, "{note}: {}", machine.text());
    }
    machine.run(&["check", "--every-mark"]).fine();
}

fn kept_in(ledger: &Path, words: &str) -> usize {
    fs::read_to_string(ledger).unwrap_or_default().matches(&format!("{words} by kj | ")).count()
}

/// A second herd on the same machine.
fn second_herd(machine: &Machine) -> PathBuf {
    let folder = machine.place().join("thornholt");
    machine.run_in(machine.place(), &["new", path(&folder), "--device", "crush-laptop", "--by", "kj"]).fine();
    folder
}

fn type_into(ledger: &Path, line: &str) {
    let mut file = File::options().append(true).open(ledger).unwrap();
    file.write_all(line.as_bytes()).unwrap();
}

#[test]
fn f34_a_second_daemon_says_who_watches_and_goes_on_with_its_other_herds() {
    let (machine, first) = watched(1, true);
    let other = second_herd(&machine);
    let second = Daemon::start(&machine, "second", &[&machine.herd(), &other]);
    second.says(&format!("another footfold watches this folder: process {} on ", first.child.id()));
    second.says("another daemon answers here already");
    let ledger = only_file(&other.join("ledgers/crush-laptop"));
    type_into(&ledger, "501 score 2\n");
    until("the other herd", || kept_in(&ledger, "501 score 2") == 1);
    machine.types("417 score 3\n");
    all_kept_once(&machine, &["417 score 3"]);
    assert!(!second.log().contains("417 score 3"), "{}", second.log());
    // The lock is freed however the first one ends, and the second takes over.
    drop(first);
    until("taken over", || second.log().matches("watched herd=").count() == 2);
    machine.types("418 score 2\n");
    until("kept by the second", || kept(&machine, "418 score 2") == 1);
}

#[test]
fn f34_a_command_waits_for_a_sealing_and_a_daemon_for_a_command() {
    let (machine, daemon) = watched(1, false);
    let held = File::options().append(true).open(machine.herd().join(".footfold/lock")).unwrap();
    held.try_lock().unwrap();
    machine.types("417 score 3\n");
    daemon.says("another footfold is writing in this folder");
    assert_eq!(kept(&machine, "417 score 3"), 0);
    drop(held);
    all_kept_once(&machine, &["417 score 3"]);
    let held = File::options().append(true).open(machine.herd().join(".footfold/lock")).unwrap();
    held.lock().unwrap();
    let waiting = std::thread::spawn(move || {
        sleep(Duration::from_millis(300));
        drop(held);
    });
    machine.run(&["write", "418 score 2"]).fine().says("418 score 2 by kj");
    waiting.join().unwrap();
    all_kept_once(&machine, &["418 score 2"]);
}

#[test]
fn told_to_end_it_leaves_what_is_not_settled_and_its_socket_is_gone() {
    for what in [Signal::TERM, Signal::INT] {
        let (machine, mut daemon) = watched(600, false);
        until("the socket", || machine.socket().exists());
        assert_eq!(fs::metadata(machine.socket()).unwrap().permissions().mode() & 0o777, 0o600);
        machine.types("417 score 3\n");
        until("seen", || status(&machine)["herds"][0]["unsealed"][0]["why"] == "not settled");
        let typed = machine.text();
        assert_eq!(daemon.send(what), 0, "{}", daemon.log());
        daemon.says("left as typed: from line 4 on");
        assert_eq!(machine.text(), typed);
        assert!(!machine.socket().exists());
        machine.run(&["seal"]).fine().says("Kept: 1 line");
    }
}

#[test]
fn f34_the_socket_of_a_killed_daemon_is_taken_over() {
    let (machine, mut daemon) = watched(1, false);
    until("the socket", || machine.socket().exists());
    daemon.send(Signal::KILL);
    assert!(machine.socket().exists());
    machine.run(&["status"]).says("No daemon runs here");
    machine.run(&["due"]).fine();
    let _second = Daemon::start(&machine, "second", &[]);
    until("it answers", || !status(&machine)["daemon"].is_null());
    machine.types("417 score 3\n");
    all_kept_once(&machine, &["417 score 3"]);
}

#[test]
fn f33_a_folder_that_goes_is_told_once_and_watched_again_when_it_is_back() {
    let (machine, daemon) = watched(1, true);
    let other = second_herd(&machine);
    drop(daemon);
    let daemon = Daemon::start(&machine, "daemon", &[&machine.herd(), &other]);
    until("both are watched", || daemon.log().matches("watched herd=").count() == 2);
    let away = machine.place().join("drive-away");
    fs::rename(machine.herd(), &away).unwrap();
    daemon.says("not watched: ");
    // The other herd goes on meanwhile, for several looks.
    let ledger = only_file(&other.join("ledgers/crush-laptop"));
    for n in 0..3 {
        type_into(&ledger, &format!("50{n} score 2\n"));
        until("the other herd", || kept_in(&ledger, &format!("50{n} score 2")) == 1);
    }
    assert!(!machine.herd().exists(), "nothing is made where the folder was");
    assert_eq!(daemon.log().matches("not watched: ").count(), 1, "{}", daemon.log());
    // An empty folder in its place, as a drive that is not mounted.
    fs::create_dir_all(machine.herd().join("ledgers")).unwrap();
    until("told that it is empty", || daemon.log().matches("not watched: ").count() == 2);
    assert_eq!(fs::read_dir(machine.herd()).unwrap().count(), 1, "nothing is written into it");
    fs::remove_dir_all(machine.herd()).unwrap();
    fs::rename(&away, machine.herd()).unwrap();
    until("watched again", || daemon.log().matches("watched herd=").count() == 3);
    machine.types("417 score 3\n");
    all_kept_once(&machine, &["417 score 3"]);
}

#[test]
fn f32_a_ledger_that_is_deleted_comes_back() {
    let (machine, _daemon) = watched(1, false);
    let (ledger, text) = (machine.ledger(), machine.text());
    until("all is quiet", || status(&machine)["herds"][0]["last_sealed"].is_string());
    fs::remove_file(&ledger).unwrap();
    until("it is back", || fs::read_to_string(&ledger).is_ok_and(|now| now == text));
    machine.run(&["check"]).fine();
}

#[test]
fn f37_a_ledger_that_cannot_be_written_is_told_and_other_herds_go_on() {
    let (machine, daemon) = watched(1, true);
    let other = second_herd(&machine);
    drop(daemon);
    machine.types("417 score 3\n");
    fs::set_permissions(machine.ledger(), Permissions::from_mode(0o444)).unwrap();
    let daemon = Daemon::start(&machine, "daemon", &[&machine.herd(), &other]);
    daemon.says("nothing was kept: ");
    daemon.says("chmod u+w");
    let ledger = only_file(&other.join("ledgers/crush-laptop"));
    type_into(&ledger, "501 score 2\n");
    until("the other herd", || kept_in(&ledger, "501 score 2") == 1);
    machine.run(&["status"]).ends(1).says("read-only").fits();
    fs::set_permissions(machine.ledger(), Permissions::from_mode(0o644)).unwrap();
    until("kept at last", || kept(&machine, "417 score 3") == 1);
    assert_eq!(daemon.log().matches("nothing was kept: ").count(), 1, "told once: {}", daemon.log());
}

#[test]
fn f37_a_folder_without_permission_is_told_and_watched_again_once_it_has_it() {
    let (machine, daemon) = watched(1, true);
    drop(daemon);
    // The superuser may do anything, so the daemon runs as nobody.
    let user = rustix::process::geteuid().is_root().then_some(NOBODY);
    open_to_all(machine.place());
    if let Some(user) = user {
        chown(machine.config().join("device.key"), Some(user), None).unwrap();
    }
    let daemon = Daemon::start_as(user, &machine, "second", &[]);
    daemon.says("watched herd=");
    fs::set_permissions(machine.herd(), Permissions::from_mode(0o000)).unwrap();
    daemon.says("no permission");
    fs::set_permissions(machine.herd(), Permissions::from_mode(0o777)).unwrap();
    machine.types("417 score 3\n");
    until("kept", || kept(&machine, "417 score 3") == 1);
    assert_eq!(daemon.log().matches("not watched: ").count(), 1, "told once: {}", daemon.log());
}

#[test]
fn f43_a_folder_of_a_newer_version_is_told_and_left() {
    let (machine, daemon) = watched(1, true);
    drop(daemon);
    let other = second_herd(&machine);
    let ledger = only_file(&other.join("ledgers/crush-laptop"));
    let newer = fs::read_to_string(&ledger).unwrap().replacen("footfold 1 ", "footfold 9 ", 1);
    assert!(newer.starts_with("footfold 9 "), "{newer}");
    fs::remove_dir_all(other.join(".footfold")).unwrap();
    fs::write(&ledger, newer.clone() + "501 score 2\n").unwrap();
    let daemon = Daemon::start(&machine, "daemon", &[&machine.herd(), &other]);
    daemon.says("not watched: ");
    machine.types("417 score 3\n");
    until("the other herd", || kept(&machine, "417 score 3") == 1);
    assert_eq!(fs::read_to_string(&ledger).unwrap(), newer + "501 score 2\n");
}

#[test]
fn nothing_to_watch_is_a_wrong_use() {
    let machine = Machine::bare("crush-laptop");
    machine.run_in(machine.place(), &["watch"]).ends(2).says("there is no herd to watch").fits();
}

#[test]
fn status_without_a_daemon_tells_what_is_unsealed_and_what_is_wrong() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["status"]).fine().says("No daemon runs here").says("nothing is unsealed").fits();
    machine.types("417 score 3\n418 skore 2\n");
    let said = machine.run(&["status"]).fine().fits();
    said.says("line 4: not sealed yet").says("line 5: left as typed: col 5: not an act");
    let text = machine.text().replacen("admit", "admitt", 1);
    fs::write(machine.ledger(), text).unwrap();
    machine
        .run(&["status"])
        .ends(1)
        .says("a sealed line was changed")
        .says("`footfold seal` puts the line back")
        .fits();
    let text = machine.text().replacen("admitt", "admit", 1);
    fs::write(machine.ledger(), text).unwrap();
}

#[test]
fn status_with_a_daemon_says_since_when_how_and_what_waits() {
    let (machine, daemon) = watched(600, false);
    until("events", || status(&machine)["herds"][0]["found_by"] == "events");
    let said = machine.run(&["status"]).fine().fits().says("Watching 1 herd since").says("by events");
    said.says(&format!("process {}", daemon.child.id())).says("Keeps what is typed as crush-laptop, 600 s");
    // Of a folder that is not watched, whoever stands in it hears too.
    let other = second_herd(&machine);
    let said = machine.run_in(&other, &["status"]).fine().fits().says("Watching 1 herd since");
    said.says("thornholt").says("not watched; last sealed");
    machine.types("417 score 3\n");
    until("it waits", || machine.run(&["status"]).out.contains("line 4: not settled"));
}

#[test]
fn the_unit_of_the_example_starts_a_command_that_is_there() {
    let unit = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/footfold.service");
    let text = fs::read_to_string(&unit).unwrap();
    let start = text.lines().find_map(|line| line.strip_prefix("ExecStart=")).unwrap();
    let words: Vec<&str> = start.split_whitespace().collect();
    assert!(words[0].ends_with("/footfold"), "{start}");
    let machine = Machine::bare("crush-laptop");
    machine.run_in(machine.place(), &[&words[1..], &["--help"]].concat()).fine().says("Watch herds' folders");
    for line in text.lines() {
        assert!(line.is_empty() || line.starts_with(['#', '[']) || line.contains('='), "{line}");
    }
    let Ok(verified) = std::process::Command::new("systemd-analyze").args(["verify", "--user"]).arg(&unit).output()
    else {
        eprintln!("SKIPPED the verification of the unit: there is no systemd-analyze here");
        return;
    };
    let said = String::from_utf8_lossy(&verified.stderr);
    // The command need not be installed where the tests run.
    let wrong: Vec<&str> =
        said.lines().filter(|line| line.contains("footfold.service") && !line.contains("executable")).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
}
