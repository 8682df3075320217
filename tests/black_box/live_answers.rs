//! What a daemon answers is what the folder says, byte for byte.

use std::fs;
use std::io::Write;
use std::os::unix::net::UnixStream;

use crate::machine::{Machine, Said, copy_folder, said};
use crate::watching::{Daemon, set, status, until};

const PAGES: &[&[&str]] = &[
    &["due"],
    &["due", "--hours", "3", "--ahead", "14"],
    &["due", "--format", "json"],
    &["cow", "417"],
    &["cow", "417", "--format", "json"],
    &["cow", "999"],
    &["herd"],
    &["herd", "--format", "ron"],
];

fn answered(machine: &Machine) -> u64 {
    status(machine)["daemon"]["answered"].as_u64().unwrap()
}

fn folder_says(machine: &Machine, page: &[&str]) -> Said {
    said(machine.command(page).env("FOOTFOLD_SOCKET", "").current_dir(machine.herd()))
}

/// The daemon answers each page, and as the folder does. Lists say the minute, so that of a later minute is asked anew.
fn same_everywhere(machine: &Machine) {
    for page in PAGES {
        let before = answered(machine);
        until(&page.join(" "), || {
            let (folder, live, after) = (folder_says(machine, page), machine.run(page), folder_says(machine, page));
            let is_same = |a: &Said, b: &Said| (a.code, &a.out, &a.err) == (b.code, &b.out, &b.err);
            if !is_same(&folder, &after) {
                return false;
            }
            assert!(is_same(&folder, &live), "{page:?}\n{folder:#?}\n{live:#?}");
            true
        });
        assert!(answered(machine) > before, "{page:?} was not answered by the daemon");
    }
}

#[test]
fn a_daemons_answer_is_the_folders_byte_for_byte() {
    let machine = Machine::new("crush-laptop");
    set(&machine, 1, false);
    machine.run(&["write", "2026-01-05 by kj", "417 calved", "417 score 3", "418 score 2", "420 b on lh outer"]).fine();
    let _daemon = Daemon::start(&machine, "daemon", &[]);
    until("it answers", || {
        !status(&machine)["daemon"].is_null() && status(&machine)["herds"][0]["found_by"].is_string()
    });
    same_everywhere(&machine);
    // Kept by the daemon, by a command, and late.
    machine.types("417 trim lame RH, su rh outer z4 g2\n");
    until("kept", || machine.text().contains("417 trim lame RH by kj | "));
    same_everywhere(&machine);
    machine.run(&["write", "2026-01-02 417 score 2"]).fine();
    same_everywhere(&machine);
    let mark = machine.text().lines().find(|line| line.contains("418 score 2")).unwrap()[..]
        .split(' ')
        .next_back()
        .unwrap()
        .to_owned();
    machine.run(&["write", &format!("2026-01-05 418 score 3 replaces {mark}")]).fine();
    same_everywhere(&machine);
    // Another device's ledger, and one that cannot be read.
    other_devices(&machine);
    same_everywhere(&machine);
    let stray = machine.herd().join("ledgers/vet-tablet");
    fs::create_dir(&stray).unwrap();
    fs::write(stray.join("2026.txt"), "no head\n").unwrap();
    let left_out = folder_says(&machine, &["due"]);
    assert!(left_out.err.contains("vet-tablet/2026 is left out"), "{left_out:#?}");
    same_everywhere(&machine);
    fs::remove_dir_all(stray).unwrap();
    same_everywhere(&machine);
}

/// Lines of another machine come in.
fn other_devices(machine: &Machine) {
    let stick = machine.place().join("stick");
    copy_folder(&machine.herd().join("ledgers"), &stick.join("ledgers"));
    let args = ["write", "--device", "farm-office", "--by", "ao", "419 score 3"];
    let config = machine.place().join("other-config");
    said(machine.command(&args).env("FOOTFOLD_CONFIG", config).current_dir(&stick)).fine();
    machine.run(&["gather", stick.to_str().unwrap()]).fine();
}

#[test]
fn another_day_another_folder_and_another_configuration_are_read_from_the_folder() {
    let machine = Machine::new("crush-laptop");
    set(&machine, 1, false);
    machine.run(&["write", "2026-01-05 417 score 3"]).fine();
    let _daemon = Daemon::start(&machine, "daemon", &[]);
    until("it answers", || {
        !status(&machine)["daemon"].is_null() && status(&machine)["herds"][0]["found_by"].is_string()
    });
    machine.run(&["due"]).fine();
    assert_eq!(answered(&machine), 1);
    machine.run(&["due", "--on", "2026-01-06"]).fine().says("quillmere: due on 2026-01-06");
    machine.run(&["due", "--known", "2026-01-06"]).fine();
    let config = machine.place().join("other-config");
    said(machine.command(&["due"]).env("FOOTFOLD_CONFIG", config).current_dir(machine.herd())).fine();
    let copy = machine.place().join("copy");
    copy_folder(&machine.herd(), &copy);
    machine.run_in(&copy, &["due"]).fine();
    assert_eq!(answered(&machine), 1);
    // A link to the folder is the folder.
    let link = machine.place().join("link");
    std::os::unix::fs::symlink(machine.herd(), &link).unwrap();
    machine.run_in(machine.place(), &["--herd", link.to_str().unwrap(), "due"]).fine();
    assert_eq!(answered(&machine), 2);
}

#[test]
fn strangers_at_the_socket_hold_up_nobody() {
    let machine = Machine::new("crush-laptop");
    set(&machine, 1, false);
    let daemon = Daemon::start(&machine, "daemon", &[]);
    until("it answers", || !status(&machine)["daemon"].is_null());
    // Silent ones, one that says too much, one that says nonsense, one of another version.
    let silent: Vec<UnixStream> = (0..5).map(|_| UnixStream::connect(machine.socket()).unwrap()).collect();
    let mut endless = UnixStream::connect(machine.socket()).unwrap();
    let much = vec![b'x'; 1 << 20];
    assert!(endless.write_all(&much).is_err(), "a megabyte without an end was taken");
    for (request, reply) in
        [("nonsense\n", "not understood"), ("{\"version\":\"0.0.0\",\"what\":\"Status\"}\n", "the command is 0.0.0")]
    {
        let mut stream = UnixStream::connect(machine.socket()).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let said = std::io::read_to_string(stream).unwrap();
        assert!(said.contains("Declined") && said.contains(reply), "{said}");
    }
    machine.run(&["due"]).fine();
    assert_eq!(answered(&machine), 1, "{}", daemon.log());
    drop(silent);
}

#[test]
fn a_daemon_that_does_not_answer_is_not_waited_for_long() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-01-05 417 score 3"]).fine();
    let _mute = std::os::unix::net::UnixListener::bind(machine.socket()).unwrap();
    machine.run(&["due"]).fine().says("SEVERELY LAME");
    machine.run(&["status"]).fine().says("the daemon did not answer within 5 s").says("nothing is unsealed").fits();
}
