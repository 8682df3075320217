//! Peers that are cut, repeat themselves, tell what is not so, or hold on to the line.

use std::io::{Read, Write};
use std::time::{Duration, Instant};

use super::rig::{Hand, admit, answer, asks, call, scene};
use crate::watching::until;

#[test]
fn f49_an_offer_cut_at_every_byte_is_not_taken_and_whole_it_is() {
    let (site, _daemon, hand) = scene();
    let request = hand.offer(&site.public(), None, 1);
    for cut in 0..request.len() {
        let mut stream = call(&site, &hand.key);
        stream.write_all(&request[..cut]).unwrap();
        stream.flush().unwrap();
        drop(stream);
        assert!(site.file(hand.device).is_empty(), "cut at {cut}");
    }
    assert_eq!(asks(&site, &hand, &request), 204);
    assert_eq!(site.file(hand.device), hand.bytes);
    site.machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn f50_what_comes_twice_or_out_of_order_or_late_changes_nothing() {
    let (site, _daemon, mut hand) = scene();
    hand.seals("2026-03-15 418 score 2 by ao");
    let founder = site.public();
    let (first, second) = (hand.offer(&founder, None, 1), hand.offer(&founder, Some(1), 2));
    assert_eq!(asks(&site, &hand, &second), 412, "out of order");
    assert!(site.file(hand.device).is_empty());
    assert_eq!(asks(&site, &hand, &first), 204);
    assert_eq!(asks(&site, &hand, &first), 204, "twice");
    assert_eq!(site.file(hand.device), hand.bytes[..hand.end(1)]);
    assert_eq!(asks(&site, &hand, &second), 204);
    // From an old snapshot: shorter, and a beginning of what is held.
    for late in [&first, &second, &hand.offer(&founder, None, 0)] {
        assert_eq!(asks(&site, &hand, late), 204);
        assert_eq!(site.file(hand.device), hand.bytes);
    }
    hand.seals("2026-03-16 419 score 1 by ao");
    let (code, said) = answer(&mut call(&site, &hand.key), &hand.offer(&founder, None, 3));
    assert_eq!(code, 412, "it holds another length, and says which: {said}");
    assert!(said.contains(&hand.states(2)) && said.contains(&format!("etag: \"{}\"", hand.mark(2))), "{said}");
    assert_eq!(site.file(hand.device), hand.bytes[..hand.end(2)]);
}

#[test]
fn f51_wrong_marks_bad_statements_and_other_herds_files_are_not_taken() {
    let (site, daemon, mut hand) = scene();
    let founder = site.public();
    assert_eq!(asks(&site, &hand, &hand.offer(&founder, None, 1)), 204);
    let held = hand.bytes.clone();
    hand.seals("2026-03-15 418 score 2 by ao");
    hand.seals("2026-03-15 419 score 2 by ao");
    let tail = hand.bytes[hand.end(1)..].to_vec();
    let offered = |statement: &str, tail: &[u8]| {
        let body = [statement.as_bytes(), b"\n", tail].concat();
        asks(&site, &hand, &hand.post(&founder, Some(1), "", &body))
    };
    let changed = |at: usize| {
        let mut tail = tail.clone();
        tail[at] ^= 1;
        tail
    };
    assert_eq!(offered(&hand.states(3), &changed(tail.len() - 60)), 422, "marks");
    assert_eq!(offered(&hand.states(3), &changed(4)), 409, "perhaps another history");
    let forged =
        Hand { key: daemon::keys::DeviceKey::of_secret(&[9; 32]), ..Hand::new(hand.device, 7, "quillmere", &founder) };
    assert_eq!(offered(&forged.states(1).replace("crush", "x"), b""), 422, "signature");
    let mut elsewhere = Hand::new(hand.device, 7, "oakfold", &founder);
    elsewhere.seals("2026-03-15 418 score 2 by ao");
    assert_eq!(offered(&elsewhere.states(2), &elsewhere.bytes[elsewhere.end(1)..]), 422, "another herd");
    assert_eq!(offered(&hand.states(3), &tail[..tail.len() - 1]), 412, "too short: it would begin elsewhere");
    assert_eq!(offered("no statement", &tail), 422);
    assert_eq!(site.file(hand.device), held);
    daemon.says("lines offered were not taken");
    // Another history, rightly signed: nothing is merged, both statements are kept.
    let mut other = Hand::new(hand.device, 7, "quillmere", &founder);
    other.seals("2026-03-15 418 score 1 by ao");
    assert_eq!(asks(&site, &hand, &hand.offer(&founder, Some(1), 3)), 204, "what is right is taken all the same");
    assert_eq!(asks(&site, &other, &other.offer(&founder, Some(1), 2)), 409);
    assert_eq!(site.file(hand.device), hand.bytes);
    let signed = std::fs::read_to_string(site.machine.herd().join("ledgers/farm-office/2026.sig")).unwrap();
    assert!(signed.contains(&other.states(2)) && signed.contains(&hand.states(3)), "{signed}");
}

#[test]
fn f52_silent_slow_endless_and_flooding_peers_hold_up_nobody() {
    let (site, _daemon, mut hand) = scene();
    let founder = site.public();
    let silent: Vec<_> = (0..12).map(|_| call(&site, &hand.key)).collect();
    let mut slow = call(&site, &hand.key);
    slow.write_all(b"GET /herds/").unwrap();
    let mut endless = call(&site, &hand.key);
    let head = format!("POST /herds/{founder}/ledgers/farm-office/2026 HTTP/1.1\r\nHost: x\r\nIf-None-Match: *\r\n");
    endless.write_all(format!("{head}Content-Length: 900000000\r\n\r\n").as_bytes()).unwrap();
    let flood = vec![b'x'; 1 << 20];
    let since = Instant::now();
    let sent = (0..900).take_while(|_| endless.write_all(&flood).is_ok()).count();
    assert!(sent < 60, "{sent} MB were taken in");
    // Meanwhile somebody else is served.
    assert_eq!(asks(&site, &hand, &hand.offer(&founder, None, 1)), 204);
    assert!(since.elapsed() < Duration::from_secs(20));
    let body = vec![b'x'; 4_000_001];
    assert_eq!(asks(&site, &hand, &hand.post(&founder, None, "", &body)), 413);
    // A head that never ends is over soon.
    assert_eq!(slow.read(&mut [0; 16]).unwrap_or(0), 0);
    drop(silent);
    hand.seals("2026-03-15 418 score 2 by ao");
    until("served again", || asks(&site, &hand, &hand.offer(&founder, Some(1), 2)) == 204);
}

#[test]
fn s12_f52_a_device_that_writes_too_much_in_a_day_is_told_to_stop_and_others_go_on() {
    let (site, daemon, mut hand) = scene();
    let (founder, line) = (site.public(), format!("2026-03-15 418 note by ao: {}", "x".repeat(1900)));
    let (mut last, mut answers) = (None, Vec::new());
    for _ in 0..7 {
        for _ in 0..1800 {
            hand.seals(&line);
        }
        let end = 1 + 1800 * (answers.len() + 1);
        answers.push(asks(&site, &hand, &hand.offer(&founder, last, end)));
        last = Some(end);
    }
    assert_eq!(answers, [204, 204, 204, 204, 204, 429, 412]);
    daemon.says("than are taken in a day");
    let other = Hand::new("vet-tablet", 8, "quillmere", &founder);
    admit(&site, &other);
    assert_eq!(asks(&site, &other, &other.offer(&founder, None, 1)), 204);
}
