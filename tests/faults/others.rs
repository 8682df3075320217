//! Other programs and other machines: who holds a file, and who writes on the same network disk (F35, F39, F40).

use std::fs;
use std::time::Instant;

use crate::rig::{self, Round, Scene, Watching, typed};

/// Calls of a kind that fail so often, each retry being a call of its own.
fn busy(kind: &str, times: usize) -> String {
    (1..=times).map(|n| format!("EBUSY@{kind}:{n}")).collect::<Vec<_>>().join(",")
}

const KINDS: [&str; 5] = ["open", "create", "exchange", "rename", "remove"];

#[test]
fn f39_a_file_that_another_program_holds_for_a_moment_is_tried_again() {
    let scene = Scene::in_memory();
    rig::for_each(0..KINDS.len(), |n| {
        let round = scene.round();
        let end = round.run(&["seal"], &[("FOOTFOLD_FAULT", &busy(KINDS[n], 5))]);
        assert_eq!(end.code, Some(0), "{}: {end:#?}", KINDS[n]);
        round.kept_its_word(&end, &typed(&[]), KINDS[n]);
        round.whole(&typed(&[]), KINDS[n]);
    });
}

#[test]
fn f39_a_file_that_is_held_for_longer_is_told_and_nothing_is_half_done() {
    let scene = Scene::in_memory();
    let record = scene.round().calls(&["seal"], &[]);
    let count = |kind: &str| record.iter().filter(|line| line.split(' ').nth(1) == Some(kind)).count();
    let places: Vec<String> =
        KINDS.iter().flat_map(|kind| (1..=count(kind)).map(move |n| format!("EBUSY@{kind}:{n}+"))).collect();
    assert!(places.len() > 20, "{places:?}");
    rig::for_each(0..places.len(), |n| {
        let (fault, round) = (&places[n], scene.round());
        let end = round.run(&["seal"], &[("FOOTFOLD_FAULT", fault)]);
        if end.code != Some(0) {
            let said = end.said.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(said.contains("another program holds it") && said.contains("to do:"), "{fault}: {end:#?}");
        }
        round.whole(&typed(&[]), fault);
    });
}

#[test]
fn f39_a_daemon_tries_later_and_keeps_what_waited() {
    let scene = Scene::new();
    let round = scene.round();
    round.settles_after(1);
    let daemon = Watching::start(&round, "daemon", &[("FOOTFOLD_FAULT", &busy("exchange", 8))]);
    daemon.says("another program holds it");
    daemon.says("kept again");
    drop(daemon);
    round.whole(&typed(&[]), "held for eight calls");
}

const ONE: [(&str, &str); 2] = [("FOOTFOLD_DISK", "no-locks"), ("FOOTFOLD_HOST", "barn/1")];
const OTHER: [(&str, &str); 2] = [("FOOTFOLD_DISK", "no-locks"), ("FOOTFOLD_HOST", "house/2")];

fn kept(round: &Round, words: &str) -> bool {
    String::from_utf8(round.shadow()).unwrap().contains(&format!(": {words} | "))
}

#[test]
fn f35_on_a_disk_without_locks_one_machine_writes_and_the_next_takes_over_when_it_went() {
    let scene = Scene::new();
    let round = scene.round();
    round.settles_after(1);
    let one = Watching::start(&round, "one", &ONE);
    one.says("lies on a network disk");
    rig::until("the first keeps what is typed", || kept(&round, "line 1 end"));
    let other = Watching::start(&round, "other", &OTHER);
    other.says("another footfold writes in this folder, on a network disk: process");
    let refused = round.run(&["write", "500 note: refused end"], &OTHER);
    let said = refused.said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(refused.code == Some(1) && said.contains("on barn; nothing is written here"), "{refused:#?}");
    assert_eq!(round.run(&["write", "419 note: beside 0 end"], &ONE).code, Some(0), "the same machine may");
    drop(one);
    round.types("420 note: later 0 end\n");
    rig::until("the second takes over", || kept(&round, "later 0 end"));
    drop(other);
    round.whole(&typed(&["419 note: beside 0 end", "420 note: later 0 end"]), "two machines on one disk");
}

#[test]
fn f35_a_network_disk_is_told_polled_and_advised_against() {
    let scene = Scene::new();
    let round = scene.round();
    round.settles_after(1);
    let far = [("FOOTFOLD_DISK", "network")];
    let told = round.run(&["status"], &far);
    assert!(
        told.said.split_whitespace().collect::<Vec<_>>().join(" ").contains("only one machine can write"),
        "{told:#?}"
    );
    let daemon = Watching::start(&round, "daemon", &far);
    daemon.says("lies on a network disk");
    let socket = round.place().join("daemon.sock");
    let asked = round.run(&["status"], &[("FOOTFOLD_SOCKET", socket.to_str().unwrap())]);
    assert!(asked.said.contains("by polling"), "{asked:#?}");
    rig::until("kept", || kept(&round, "line 1 end"));
    assert_eq!(daemon.log().matches("lies on a network disk").count(), 1, "{}", daemon.log());
    drop(daemon);
    round.whole(&typed(&[]), "a network disk");
}

#[test]
fn f35_a_command_on_a_disk_without_locks_waits_until_nobody_else_speaks_up() {
    let scene = Scene::new();
    let round = scene.round();
    let began = Instant::now();
    assert_eq!(round.run(&["seal"], &ONE).code, Some(0));
    assert!(began.elapsed().as_secs() >= 5, "it looked only once");
    assert!(!round.herd().join(".footfold/writer").exists(), "the next one need not wait for it");
    round.whole(&typed(&[]), "alone on such a disk");
}

/// The number of a call on a path.
fn call(record: &[String], kind: &str, path: &str) -> usize {
    let line = record.iter().find(|line| line.split(' ').nth(1) == Some(kind) && line.ends_with(path)).unwrap();
    line.split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn f40_a_placeholder_that_will_not_open_is_absent_and_not_empty() {
    let scene = Scene::new();
    let here = scene.round_zero();
    let office = ["write", "500 note: far 0 end", "--device", "farm-office", "--by", "ao"];
    assert_eq!(here.run(&office, &[]).code, Some(0));
    let theirs = rig::only_file(&here.herd().join("ledgers/farm-office"));
    let (year, before) = (theirs.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&theirs).unwrap());
    let file = format!("ledgers/farm-office/{year}");
    // Everybody else's records are still read: without its text, a file is passed over and told.
    let due = ["herd"];
    let round = scene.round();
    let number = call(&round.calls(&due, &[]), "open", &file);
    let end = round.run(&due, &[("FOOTFOLD_FAULT", &format!("EIO@call:{number}"))]);
    assert!(end.code == Some(0) && end.said.contains("is left out"), "{end:#?}");
    // And a sealing neither takes it for emptied nor offers its lines as deleted.
    let record = round.calls(&["seal"], &[]);
    let round = scene.round();
    let number = call(&record, "open", &file);
    let end = round.run(&["seal"], &[("FOOTFOLD_FAULT", &format!("EIO@call:{number}+"))]);
    assert!(!round.text().contains("far 0 end") && !round.text().contains(';'), "{end:#?}\n{}", round.text());
    round.run(&["seal"], &[]);
    assert_eq!(fs::read(round.herd().join(&file)).unwrap(), before);
    round.whole(&typed(&[]), "a placeholder");
}
