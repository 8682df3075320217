//! Who should not, tries.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use daemon::keys::DeviceKey;
use daemon::net::tls::{self, Expect};
use ledger_format::mark::FullMark;
use rustls::pki_types::ServerName;
use rustls::{ClientConnection, StreamOwned};

use super::rig::{Hand, Site, answer, asks, call, get, scene};
use crate::machine::path;
use crate::watching::until;

#[test]
fn s1_a_stranger_cannot_tell_a_herd_that_is_here_from_one_that_is_not() {
    let (site, _daemon, hand) = scene();
    let stranger = DeviceKey::of_secret(&[66; 32]);
    let (here, nowhere) = (site.public(), FullMark([5; 32]));
    let paths = ["ledgers", "ledgers/crush-laptop/2026", "news", "protocols/00", "", "ledgers/../x"];
    for what in paths {
        let both = [here, nowhere].map(|herd| get(&site, &stranger, &format!("/herds/{herd}/{what}")));
        assert_eq!(both[0].0, 404, "{what}");
        assert_eq!(both[0], both[1], "{what}");
        assert_eq!(both[0], get(&site, &hand.key, &format!("/herds/{nowhere}/{what}")), "{what}");
    }
    for request in ["POST", "PUT", "DELETE", "OPTIONS", "HEAD"] {
        let both = [here, nowhere].map(|herd| {
            let text = format!("{request} /herds/{herd}/ledgers HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n");
            answer(&mut call(&site, &stranger), text.as_bytes())
        });
        assert_eq!(both[0], both[1], "{request}");
    }
    let theirs = Hand { key: stranger, ..Hand::new("farm-office", 7, "quillmere", &here) };
    assert_eq!(asks(&site, &theirs, &theirs.offer(&here, None, 1)), 404);
    assert!(site.file("farm-office").is_empty());
}

#[test]
fn s1_who_is_called_must_have_the_expected_key_and_who_shows_none_gets_nothing() {
    let (site, _daemon, hand) = scene();
    let tls = tls::client(&hand.key, Expect::Key(FullMark([5; 32]))).unwrap();
    let name = || ServerName::IpAddress(site.address.ip().into());
    let mut stream =
        StreamOwned::new(ClientConnection::new(tls, name()).unwrap(), TcpStream::connect(site.address).unwrap());
    assert!(stream.write_all(b"GET / HTTP/1.1\r\n\r\n").is_err(), "another machine at the address");
    let mut plain = TcpStream::connect(site.address).unwrap();
    plain.write_all(b"GET /herds HTTP/1.1\r\nHost: x\r\n\r\n").unwrap();
    let mut said = Vec::new();
    let _ = plain.read_to_end(&mut said);
    assert!(!String::from_utf8_lossy(&said).contains("HTTP"), "{said:?}");
}

#[test]
fn s3_a_member_of_one_herd_cannot_read_another_on_the_same_server() {
    let site = Site::founder("server");
    let second = site.machine.place().join("oakfold");
    let other = Site::founder("crush-laptop");
    crate::machine::copy_folder(&other.machine.herd(), &second);
    site.configure(&[site.machine.herd(), second.clone()]);
    let hand = Hand::new("farm-office", 7, "quillmere", &site.public());
    let outsider = Hand::new("vet-tablet", 8, "quillmere", &other.public());
    other.writes(&format!("herd admit vet-tablet key {} as writer", outsider.key.public()));
    site.machine.run_in(&second, &["gather", path(&other.machine.herd())]).fine();
    let daemon = site.starts();
    super::rig::admit(&site, &hand);
    let list = |herd: &Site| format!("/herds/{}/ledgers", herd.public());
    until("the other herd is served", || get(&site, &outsider.key, &list(&other)).0 == 200);
    let nowhere = get(&site, &hand.key, &format!("/herds/{}/ledgers", FullMark([5; 32])));
    assert_eq!(get(&site, &hand.key, &list(&other)), nowhere);
    assert_eq!(get(&site, &outsider.key, &list(&site)), nowhere);
    let (code, told) = get(&site, &outsider.key, &list(&other));
    assert!(code == 200 && told.contains("device crush-laptop") && !told.contains("device server"), "{told}");
    // The `ETag` of one herd says nothing of another.
    let tag = told.lines().find_map(|line| line.strip_prefix("etag: ")).unwrap();
    let ask = format!("GET {} HTTP/1.1\r\nHost: x\r\nIf-None-Match: {tag}\r\n\r\n", list(&other));
    assert_eq!(answer(&mut call(&site, &outsider.key), ask.as_bytes()).0, 304);
    assert_eq!(answer(&mut call(&site, &hand.key), ask.as_bytes()).0, 404);
    drop(daemon);
}

#[test]
fn s10_compressed_bodies_are_refused_unread() {
    let (site, _daemon, hand) = scene();
    let founder = site.public();
    for encoding in ["gzip", "br", "deflate, gzip", "identity"] {
        let request = hand.post(&founder, None, &format!("Content-Encoding: {encoding}\r\n"), b"\x1f\x8b\x08bomb");
        assert_eq!(asks(&site, &hand, &request), 415, "{encoding}");
    }
    assert!(site.file(hand.device).is_empty());
}

#[test]
fn s11_slow_heads_large_heads_and_many_connections_are_ended() {
    let (site, _daemon, hand) = scene();
    let since = Instant::now();
    let mut slow = call(&site, &hand.key);
    while since.elapsed() < Duration::from_secs(30) {
        if slow.write_all(b"x").and_then(|()| slow.flush()).is_err() {
            break;
        }
        std::thread::sleep(Duration::from_millis(200));
    }
    assert!(since.elapsed() < Duration::from_secs(20), "a head that drips was waited for");
    let large = format!("GET / HTTP/1.1\r\nHost: x\r\nX: {}\r\n\r\n", "x".repeat(40_000));
    assert!([0, 431].contains(&answer(&mut call(&site, &hand.key), large.as_bytes()).0));
    // So many that there is no room for one more from here; before TLS, and for the silent too.
    let mut held: Vec<TcpStream> = (0..40).map(|_| TcpStream::connect(site.address).unwrap()).collect();
    let last = held.last_mut().unwrap();
    last.set_read_timeout(Some(Duration::from_secs(3))).unwrap();
    let is_closed = !matches!(last.read(&mut [0; 1]), Err(error) if error.kind() == std::io::ErrorKind::WouldBlock);
    assert!(is_closed, "the fortieth was let in");
    // Without a handshake they are out soon, and there is room again.
    let list = format!("/herds/{}/ledgers", site.public());
    until("room again", || {
        let tls = tls::client(&hand.key, Expect::Key(site.public())).unwrap();
        let name = ServerName::IpAddress(site.address.ip().into());
        let stream = TcpStream::connect(site.address).unwrap();
        let mut stream = StreamOwned::new(ClientConnection::new(tls, name).unwrap(), stream);
        answer(&mut stream, format!("GET {list} HTTP/1.1\r\nHost: x\r\n\r\n").as_bytes()).0 == 200
    });
}

#[test]
fn s13_an_older_copy_that_is_played_back_takes_nothing_away() {
    let (site, _daemon, mut hand) = scene();
    hand.seals("2026-03-15 418 score 2 by ao");
    let founder = site.public();
    assert_eq!(asks(&site, &hand, &hand.offer(&founder, None, 2)), 204);
    let list = format!("/herds/{founder}/ledgers");
    let before = get(&site, &hand.key, &list);
    assert!(before.1.contains(&hand.states(2)));
    for line in [0, 1] {
        assert_eq!(asks(&site, &hand, &hand.offer(&founder, None, line)), 204);
    }
    assert_eq!(site.file(hand.device), hand.bytes);
    assert_eq!(get(&site, &hand.key, &list), before, "the newest is told, not the last that came");
}

#[test]
fn s5_a_revoked_machine_is_out_on_the_connection_that_it_keeps_open() {
    let (site, _daemon, hand) = scene();
    let founder = site.public();
    assert_eq!(asks(&site, &hand, &hand.offer(&founder, None, 1)), 204);
    let ask = format!("GET /herds/{founder}/ledgers HTTP/1.1\r\nHost: x\r\n\r\n");
    let mut open = call(&site, &hand.key);
    assert_eq!(answer(&mut open, ask.as_bytes()).0, 200);
    let mut news = call(&site, &hand.key);
    news.write_all(format!("GET /herds/{founder}/news HTTP/1.1\r\nHost: x\r\n\r\n").as_bytes()).unwrap();
    let mut text = String::new();
    until_read(&mut news, &mut text, "data:");
    site.writes(&format!("herd revoke {} after {}", hand.device, hand.mark(1)));
    assert_eq!(answer(&mut open, ask.as_bytes()).0, 404, "asked at each request");
    until_read(&mut news, &mut text, "\r\n0\r\n");
    assert_eq!(text.matches("data:").count(), 1, "no news after it: {text}");
}

/// Reads on until the words have come.
fn until_read(stream: &mut super::rig::Stream, text: &mut String, words: &str) {
    let mut piece = [0; 4096];
    while !text.contains(words) {
        match stream.read(&mut piece) {
            Ok(n) if n > 0 => text.push_str(&String::from_utf8_lossy(&piece[..n])),
            ended => panic!("{ended:?} before `{words}` came: {text}"),
        }
    }
}
