//! Two real machines that are joined by a code, as two people do it.

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, ChildStdout, Command, Stdio};

use super::rig::{Site, free_port, get};
use crate::machine::{Machine, Said, path, said};
use crate::watching::{Daemon, until};

/// A keeper that shows a code.
pub(super) struct Shows {
    child: Child,
    out: BufReader<ChildStdout>,
    pub(super) code: String,
}

impl Shows {
    pub(super) fn start(site: &Site, more: &[&str]) -> Self {
        Self::show(site.machine.command(&[&["pair"], more].concat()), site)
    }

    fn show(mut command: Command, site: &Site) -> Self {
        let mut child = command.current_dir(site.machine.herd()).stdout(Stdio::piped()).spawn().unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        out.read_line(&mut line).unwrap();
        let code = line.strip_prefix("Code: ").unwrap_or_else(|| panic!("{line}"));
        let code = code.split("  ").next().unwrap().replace(' ', "");
        Self { child, out, code }
    }

    pub(super) fn ends(mut self) -> (i32, String) {
        let mut all = String::new();
        self.out.read_to_string(&mut all).unwrap();
        (self.child.wait().unwrap().code().unwrap(), all)
    }

    /// A code that is not the one shown.
    fn other_code(&self) -> String {
        let last = if self.code.ends_with('1') { "2" } else { "1" };
        format!("{}{last}", &self.code[..7])
    }
}

fn joins(machine: &Machine, code: &str, site: &Site, device: &str) -> Said {
    let (address, herd) = (site.address.to_string(), machine.herd());
    let args = ["pair", code, herd.to_str().unwrap(), "--at", &address, "--device", device, "--by", "ao"];
    machine.run_in(machine.place(), &args)
}

pub(super) fn newcomer(device: &'static str) -> Site {
    Site { machine: Machine::bare(device), address: free_port(), device }
}

#[test]
fn two_machines_are_joined_by_a_code_and_hold_the_same_soon_after() {
    let crush = Site::founder("crush-laptop");
    crush.writes("417 score 3");
    let _one = crush.starts();
    let shows = Shows::start(&crush, &[]);
    let office = newcomer("farm-office");
    let said = joins(&office.machine, &shows.code, &crush, "farm-office").fine().fits();
    said.says("Let in: farm-office, writer of quillmere").says(&crush.key().public()[..16]);
    let (code, told) = shows.ends();
    assert_eq!(code, 0, "{told}");
    assert!(told.contains("Let in: farm-office, writer of quillmere"), "{told}");
    assert!(told.contains(&office.key().public()[..16]), "{told}");

    let _other = Daemon::start(&office.machine, "daemon", &[]);
    until("what was there", || office.holds("crush-laptop", " 417 score 3 "));
    office.writes("418 score 2");
    crush.writes("419 score 1");
    until("there", || crush.holds("farm-office", " 418 score 2 "));
    until("here", || office.holds("crush-laptop", " 419 score 1 "));
    Site::all_agree(&[&crush, &office], &["crush-laptop", "farm-office"]);
    // With the settings of one machine: how long work takes is each machine's own.
    let due =
        |site: &Site| office.machine.run(&["--herd", path(&site.machine.herd()), "due", "--on", "2030-01-01"]).fine();
    assert_eq!(due(&crush).says("417").out, due(&office).out);
    crush.machine.run(&["members"]).says("farm-office: writer");
}

#[test]
fn a_machine_that_shows_a_code_is_found_nearby() {
    let crush = Site::founder("crush-laptop");
    let _one = crush.starts();
    let office = newcomer("farm-office");
    let herd = office.machine.herd();
    let asks = |code: &str, nearby: &str| {
        let args = ["pair", code, path(&herd), "--device", "farm-office", "--by", "ao"];
        let mut command = office.machine.command(&args);
        said(command.env("FOOTFOLD_NEARBY", nearby).current_dir(office.machine.place()))
    };
    asks("48217730", "off").ends(1).says("no machine nearby shows a code").says("--at ADDRESS");
    let mut command = crush.machine.command(&["pair"]);
    command.env("FOOTFOLD_NEARBY", "lo");
    let shows = Shows::show(command, &crush);
    asks(&shows.code, "lo").fine().says("Let in: farm-office, writer of quillmere");
    assert_eq!(shows.ends().0, 0);
}

#[test]
fn s4_a_code_is_good_for_one_use_and_three_tries() {
    let crush = Site::founder("crush-laptop");
    let _one = crush.starts();
    let shows = Shows::start(&crush, &[]);
    let (office, thief) = (newcomer("farm-office"), newcomer("thief"));
    joins(&office.machine, &shows.code, &crush, "farm-office").fine();
    joins(&thief.machine, &shows.code, &crush, "thief").ends(1).says("no code is shown there, or it is void");
    assert_eq!(shows.ends().0, 0);

    let shows = Shows::start(&crush, &[]);
    for _ in 0..3 {
        joins(&thief.machine, &shows.other_code(), &crush, "thief").ends(1).says("the code does not fit");
    }
    joins(&thief.machine, &shows.code, &crush, "thief").ends(1).says("no code is shown there, or it is void");
    assert_eq!(shows.ends().0, 1);
    assert!(!thief.machine.herd().exists(), "nothing is said of the herd before the proof");
    assert!(!crush.machine.text().contains("admit thief"));
}

#[test]
fn s5_who_was_let_in_by_a_code_and_is_revoked_is_answered_like_a_stranger() {
    let crush = Site::founder("crush-laptop");
    let _one = crush.starts();
    let shows = Shows::start(&crush, &["--as", "reader"]);
    let vet = newcomer("vet-tablet");
    joins(&vet.machine, &shows.code, &crush, "vet-tablet").fine().says("reader of quillmere");
    shows.ends();
    let list = format!("/herds/{}/ledgers", crush.public());
    assert_eq!(get(&crush, &vet.key(), &list).0, 200);
    crush.machine.run(&["members", "revoke", "vet-tablet", "--because", "stolen"]).fine();
    until("shut out", || get(&crush, &vet.key(), &list).0 == 404);
}

#[test]
fn without_a_daemon_that_listens_no_code_is_shown_and_it_is_said_what_to_do() {
    let crush = Site::founder("crush-laptop");
    crush.machine.run(&["pair"]).ends(1).says("no `footfold watch` runs here").says("set `listen` in the settings");
}
