//! Two and three real daemons that meet.

use std::io::{Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::spawn;

use super::rig::{Site, free_port};
use crate::watching::until;

#[test]
fn what_is_written_on_one_machine_soon_stands_on_the_other_both_ways() {
    let crush = Site::founder("crush-laptop");
    let office = Site::joined("farm-office", &crush);
    office.calls(&crush, crush.address, &crush);
    let (_one, _other) = (crush.starts(), office.starts());
    until("the first meeting", || crush.holds("farm-office", "a first line"));
    crush.writes("417 score 3");
    office.writes("418 score 2");
    until("there", || office.holds("crush-laptop", " 417 score 3 "));
    until("here", || crush.holds("farm-office", " 418 score 2 "));
    crush.machine.types("419 score 1\n");
    until("typed", || office.holds("crush-laptop", " 419 score 1 by kj | "));
    Site::all_agree(&[&crush, &office], &["crush-laptop", "farm-office"]);
    let typed = String::from_utf8_lossy(&crush.file("farm-office")).matches(" 418 score 2 ").count();
    assert_eq!(typed, 1, "kept once");
}

#[test]
fn f53_machines_that_never_meet_come_to_the_same_by_one_in_between() {
    let crush = Site::founder("crush-laptop");
    let (office, vet) = (Site::joined("farm-office", &crush), Site::joined("vet-tablet", &crush));
    let relay = Site::joined("server", &crush);
    for site in [&crush, &office, &vet] {
        site.calls(&relay, relay.address, &crush);
    }
    // The office's machine was off when the others met; the one that lets in goes off before the office's is on.
    let between = relay.starts();
    relay.machine.run(&["gather", crush.machine.herd().to_str().unwrap()]).fine();
    let (first, _third) = (crush.starts(), vet.starts());
    until("crush to vet", || vet.holds("crush-laptop", "admit server"));
    until("vet to crush", || crush.holds("vet-tablet", "a first line"));
    drop(first);
    let _second = office.starts();
    office.writes("418 score 2");
    until("office to vet", || vet.holds("farm-office", " 418 score 2 "));
    let _first = crush.starts();
    until("office to crush", || crush.holds("farm-office", " 418 score 2 "));
    let sites = [&crush, &office, &vet, &relay];
    Site::all_agree(&sites, &["crush-laptop", "farm-office", "vet-tablet", "server"]);
    drop(between);
}

/// Passes bytes on, and ends each connection once the called side has sent so many.
fn cable(to: SocketAddr, most: &Arc<AtomicUsize>) -> SocketAddr {
    let here = free_port();
    let (listener, most) = (TcpListener::bind(here).unwrap(), Arc::clone(most));
    spawn(move || {
        for caller in listener.incoming().flatten() {
            let Ok(called) = TcpStream::connect(to) else { continue };
            let left = most.load(Ordering::SeqCst);
            let (from, into) = (caller.try_clone().unwrap(), called.try_clone().unwrap());
            spawn(move || pass(from, &into, usize::MAX));
            spawn(move || pass(called, &caller, left));
        }
    });
    here
}

fn pass(mut from: TcpStream, mut to: &TcpStream, mut left: usize) {
    let mut piece = [0; 1024];
    while let Ok(n) = from.read(&mut piece) {
        let n = n.min(left);
        left -= n;
        if n == 0 || to.write_all(&piece[..n]).is_err() {
            break;
        }
    }
    let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
}

#[test]
fn f49_a_caller_whose_cable_is_cut_goes_on_and_takes_only_whole_lines() {
    let crush = Site::founder("crush-laptop");
    let office = Site::joined("farm-office", &crush);
    for first in [1000, 1100, 1200, 1300] {
        let lines: Vec<String> = (first..first + 100).map(|cow| format!("{cow} note: {}", "x".repeat(200))).collect();
        let lines: Vec<&str> = std::iter::once("write").chain(lines.iter().map(String::as_str)).collect();
        crush.machine.run(&lines).fine();
    }
    let most = Arc::new(AtomicUsize::new(1500));
    office.calls(&crush, cable(crush.address, &most), &crush);
    let (_one, other) = (crush.starts(), office.starts());
    let before = office.file("crush-laptop");
    other.says("the connection ended");
    assert_eq!(office.file("crush-laptop"), before);
    // Each call gets some way into the file, and none all the way.
    most.store(60_000, Ordering::SeqCst);
    until("it comes in pieces", || office.file("crush-laptop") != before);
    assert_eq!(office.file("crush-laptop"), crush.file("crush-laptop"), "whole or nothing");
    assert!(crush.file("crush-laptop").len() > 60_000 + before.len(), "one call cannot have brought it");
    most.store(usize::MAX, Ordering::SeqCst);
    until("the other way too", || crush.holds("farm-office", "a first line"));
    Site::all_agree(&[&crush, &office], &["crush-laptop", "farm-office"]);
}
