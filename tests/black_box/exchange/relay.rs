//! A machine that types nothing and holds herds of several owners.

use std::fs;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};

use super::pairing::{Shows, newcomer};
use super::rig::{Site, free_port, get};
use crate::machine::{Machine, copy_folder, path};
use crate::watching::until;

/// Lets the relay in as a reader; gives the folder that it holds the herd in.
fn lets_in(founder: &Site, relay: &Site, folder: &str) -> std::path::PathBuf {
    let shows = Shows::start(founder, &["--as", "reader"]);
    let (address, herd) = (founder.address.to_string(), relay.machine.place().join(folder));
    let args = ["pair", &shows.code, path(&herd), "--at", &address, "--device", "server", "--by", "sv"];
    relay.machine.run_in(relay.machine.place(), &args).says("Let in: server, reader of quillmere");
    assert_eq!(shows.ends().0, 0);
    founder.calls(relay, relay.address, founder);
    herd
}

fn metrics(address: SocketAddr, path: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: x\r\n\r\n").unwrap();
    let mut text = String::new();
    stream.read_to_string(&mut text).unwrap();
    text
}

fn figure(text: &str, name: &str) -> u64 {
    let row = text.lines().find(|row| row.split(' ').next() == Some(name)).unwrap_or_else(|| panic!("{name}: {text}"));
    row.split(' ').nth(1).unwrap().parse().unwrap()
}

#[test]
fn s3_s5_a_relay_that_may_only_read_passes_each_herd_on_to_its_own_and_writes_nothing() {
    let (crush, hill) = (Site::founder("crush-laptop"), Site::founder("hill-laptop"));
    let relay = newcomer("server");
    let figures = free_port();
    let running = (crush.starts(), hill.starts());
    let folders = [lets_in(&crush, &relay, "one"), lets_in(&hill, &relay, "two")];
    let herds = folders.each_ref().map(|folder| format!("{:?}", path(folder))).join(", ");
    let settings = format!(
        "(device: \"server\", by: \"sv\", herds: [{herds}], listen: \"{}\", metrics: \"{figures}\")",
        relay.address
    );
    fs::write(relay.machine.config().join("footfold.ron"), settings).unwrap();
    drop(running);
    let office = Site::joined("farm-office", &crush);
    office.calls(&relay, relay.address, &crush);
    let (between, first) = (relay.starts(), crush.starts());
    let theirs = |folder: &std::path::Path, device: &str| -> String {
        let files = fs::read_dir(folder.join("ledgers").join(device)).into_iter().flatten().flatten();
        files.filter_map(|file| fs::read_to_string(file.path()).ok()).collect()
    };
    until("the relay heard of the office", || theirs(&folders[0], "crush-laptop").contains("admit farm-office"));
    drop(first);
    // They are never on at one time.
    crush.writes("417 score 3");
    let first = crush.starts();
    until("up", || figure(&metrics(figures, "/metrics"), "footfold_ledgers") >= 2);
    drop(first);
    let second = office.starts();
    office.writes("418 score 2");
    until("down", || office.holds("crush-laptop", "admit farm-office"));
    until("up from the office", || theirs(&folders[0], "farm-office").contains(" 418 score 2 "));
    drop(second);
    let first = crush.starts();
    until("down to the one who began", || crush.holds("farm-office", " 418 score 2 "));
    for device in ["farm-office", "crush-laptop"] {
        assert_eq!(theirs(&folders[1], device), "", "herds are kept apart");
    }
    for (site, of) in [(&hill, &crush), (&crush, &hill)] {
        let asked = format!("/herds/{}/ledgers", of.public());
        assert_eq!(get(&relay, &site.key(), &asked).0, 404, "{}", site.device);
    }

    let text = metrics(figures, "/metrics");
    assert!(
        text.starts_with("HTTP/1.1 200") && text.contains("openmetrics-text") && text.ends_with("# EOF\n"),
        "{text}"
    );
    assert_eq!((figure(&text, "footfold_herds"), figure(&text, "footfold_herds_shared")), (2, 2), "{text}");
    assert!(
        figure(&text, "footfold_connections_total") > 1 && figure(&text, "footfold_taken_bytes_total") > 100,
        "{text}"
    );
    assert!(
        !text.contains("quillmere") && !text.contains("crush") && !text.contains(&crush.key().public()[..16]),
        "{text}"
    );
    assert!(metrics(figures, "/").starts_with("HTTP/1.1 404"));

    // What it writes all the same is kept apart by all.
    relay.machine.run_in(&folders[0], &["write", "417 score 0"]);
    until("the line of the relay", || crush.holds("server", " 417 score 0 "));
    crush.machine.run(&["members"]).says("server: reader").says("1 line is kept apart").says("it may only read");
    crush.machine.run(&["cow", "417"]).says("its device may only read");

    // A backup is a copy of its folder, made while it runs.
    let backup = Machine::bare("backup");
    copy_folder(&folders[0], &backup.herd());
    backup.run(&["check", "--every-mark"]).says("unbroken");
    drop((between, first));
}
