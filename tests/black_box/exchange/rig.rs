//! Machines on one loopback, each with its own configuration and folders, and a hand that speaks the protocol itself.

use std::fs;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use daemon::keys::DeviceKey;
use daemon::net::peers::{self, Peer};
use daemon::net::tls::{self, Expect};
use ledger_format::line::read_utc;
use ledger_format::mark::{Chain, FullMark, Head, Statement};
use rustls::pki_types::ServerName;
use rustls::{ClientConnection, StreamOwned};

use crate::machine::{Machine, copy_folder, path};
use crate::watching::{Daemon, until};

/// A port that was free a moment ago.
pub(super) fn free_port() -> SocketAddr {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap()
}

/// A machine of the herd, and where it may be called.
pub(super) struct Site {
    pub(super) machine: Machine,
    pub(super) address: SocketAddr,
    pub(super) device: &'static str,
}

impl Site {
    /// The machine that begins the herd.
    pub(super) fn founder(device: &'static str) -> Self {
        let site = Self { machine: Machine::new(device), address: free_port(), device };
        site.configure(&[site.machine.herd()]);
        site
    }

    /// A machine that got a copy of the herd's folder by hand, has written a line, and is admitted.
    pub(super) fn joined(device: &'static str, founder: &Self) -> Self {
        let machine = Machine::bare(device);
        copy_folder(&founder.machine.herd(), &machine.herd());
        fs::remove_dir_all(machine.herd().join(".footfold")).unwrap();
        fs::create_dir_all(machine.config()).unwrap();
        let site = Self { machine, address: free_port(), device };
        site.configure(&[site.machine.herd()]);
        site.writes("herd note: a first line");
        founder.writes(&format!("herd admit {device} key {} as writer", site.key().public()));
        site
    }

    pub(super) fn configure(&self, herds: &[PathBuf]) {
        let herds: Vec<String> = herds.iter().map(|herd| format!("{:?}", path(herd))).collect();
        let text = format!(
            "(device: {:?}, by: \"kj\", herds: [{}], settle_seconds: 1, listen: \"{}\")",
            self.device,
            herds.join(", "),
            self.address
        );
        fs::write(self.machine.config().join("footfold.ron"), text).unwrap();
    }

    pub(super) fn key(&self) -> DeviceKey {
        DeviceKey::open_or_make(&self.machine.config()).unwrap()
    }

    pub(super) fn public(&self) -> FullMark {
        FullMark::read(self.key().public()).unwrap()
    }

    pub(super) fn writes(&self, line: &str) {
        self.machine.run(&["write", line]).fine();
    }

    /// Will call the other, at this address.
    pub(super) fn calls(&self, other: &Self, address: SocketAddr, founder: &Self) {
        let (key, herd) = (other.public(), founder.public());
        let peer = Peer { address: address.to_string(), key, device: other.device.to_owned(), herd };
        peers::add(&self.machine.config(), peer).unwrap();
    }

    pub(super) fn starts(&self) -> Daemon {
        let daemon = Daemon::start(&self.machine, "daemon", &[]);
        daemon.says("others may call");
        daemon
    }

    /// A device's file here.
    pub(super) fn file(&self, device: &str) -> Vec<u8> {
        let folder = self.machine.herd().join("ledgers").join(device);
        let files = fs::read_dir(folder).into_iter().flatten().flatten().map(|file| file.path());
        let file =
            files.filter(|file| file.file_name().is_some_and(|name| name.len() == 8 && !path(file).ends_with("sig")));
        file.max().and_then(|file| fs::read(file).ok()).unwrap_or_default()
    }

    pub(super) fn holds(&self, device: &str, words: &str) -> bool {
        String::from_utf8_lossy(&self.file(device)).contains(words)
    }

    /// In the end the same bytes of each device's file stand on all: one writes a witness line after it has heard.
    #[track_caller]
    pub(super) fn all_agree(sites: &[&Self], devices: &[&str]) {
        until("all to all", || {
            devices.iter().all(|device| sites.iter().all(|site| site.file(device) == sites[0].file(device)))
        });
        for device in devices {
            let first = sites[0].file(device);
            assert!(!first.is_empty(), "{device}");
            for site in sites {
                assert_eq!(String::from_utf8_lossy(&site.file(device)), String::from_utf8_lossy(&first), "{device}");
            }
        }
        for site in sites {
            site.machine.run(&["check", "--every-mark"]).fine();
        }
    }
}

/// A device that speaks for itself: its key and its ledger, line by line.
pub(super) struct Hand {
    pub(super) key: DeviceKey,
    pub(super) device: &'static str,
    pub(super) herd: String,
    pub(super) bytes: Vec<u8>,
    pub(super) chain: Chain,
    pub(super) marks: Vec<(usize, FullMark)>,
}

impl Hand {
    /// With a head and one line.
    pub(super) fn new(device: &'static str, secret: u8, herd: &str, founder: &FullMark) -> Self {
        let key = DeviceKey::of_secret(&[secret; 32]);
        let founder = founder.to_string();
        let founder = Some(founder.as_str());
        let head = Head { herd, device, key: key.public(), zone: "Europe/London", founder, follows: None }.to_string();
        let (bytes, chain, marks) = (Vec::new(), Chain::default(), Vec::new());
        let mut hand = Self { key, device, herd: herd.to_owned(), bytes, chain, marks };
        hand.seals(&head);
        hand.seals("2026-03-14 417 score 3 by ao");
        hand
    }

    pub(super) fn seals(&mut self, body: &str) {
        let at = read_utc(b"2026-03-14T09:20:11Z").unwrap();
        let mark = self.chain.seal(body, at, &mut self.bytes);
        self.marks.push((self.bytes.len(), mark));
    }

    /// Its statement at the end of the line of this number, the head being 0.
    pub(super) fn states(&self, line: usize) -> String {
        let (length, mark) = self.marks[line];
        let at = read_utc(b"2026-03-14T09:20:11Z").unwrap();
        let (herd, device) = (self.herd.as_str(), self.device);
        Statement { herd, device, year: 2026, length: length as u64, mark, at }.signed(self.key.signing())
    }

    pub(super) fn end(&self, line: usize) -> usize {
        self.marks[line].0
    }

    pub(super) fn mark(&self, line: usize) -> FullMark {
        self.marks[line].1
    }

    /// What offers the bytes up to a line's end, from the end of another on; none: from the beginning.
    pub(super) fn offer(&self, founder: &FullMark, after: Option<usize>, line: usize) -> Vec<u8> {
        let from = after.map_or(0, |after| self.end(after));
        let body = [self.states(line).as_bytes(), b"\n", &self.bytes[from..self.end(line)]].concat();
        self.post(founder, after, "", &body)
    }

    pub(super) fn post(&self, founder: &FullMark, after: Option<usize>, more: &str, body: &[u8]) -> Vec<u8> {
        let thought = after.map_or("If-None-Match: *".to_owned(), |line| format!("If-Match: \"{}\"", self.mark(line)));
        let head = format!(
            "POST /herds/{founder}/ledgers/{}/2026 HTTP/1.1\r\nHost: x\r\n{thought}\r\n{more}Content-Length: {}\r\n\r\n",
            self.device,
            body.len()
        );
        [head.as_bytes(), body].concat()
    }
}

pub(super) type Stream = StreamOwned<ClientConnection, TcpStream>;

/// Calls a site with a key.
pub(super) fn call(site: &Site, key: &DeviceKey) -> Stream {
    let tls = tls::client(key, Expect::Key(site.public())).unwrap();
    let stream = TcpStream::connect(site.address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let name = ServerName::IpAddress(site.address.ip().into());
    StreamOwned::new(ClientConnection::new(Arc::clone(&tls), name).unwrap(), stream)
}

/// What is answered to these bytes: the status, and all as it came but for the date.
pub(super) fn answer(stream: &mut Stream, request: &[u8]) -> (u16, String) {
    // Who ends the connection early may do so before all was written.
    let _ = stream.write_all(request);
    let (mut got, mut piece) = (Vec::new(), [0; 4096]);
    loop {
        let text = String::from_utf8_lossy(&got);
        if let Some((head, body)) = text.split_once("\r\n\r\n") {
            let lower = head.to_ascii_lowercase();
            let length =
                lower.lines().find_map(|line| line.strip_prefix("content-length: ")).map(|n| n.parse().unwrap());
            if body.len() >= length.unwrap_or(0) {
                let status = head.split(' ').nth(1).unwrap().parse().unwrap();
                let head: Vec<&str> = head.lines().filter(|line| !line.starts_with("date:")).collect();
                return (status, format!("{}\n\n{body}", head.join("\n")));
            }
        }
        match stream.read(&mut piece) {
            Ok(n) if n > 0 => got.extend_from_slice(&piece[..n]),
            _ => return (0, String::from_utf8_lossy(&got).into_owned()),
        }
    }
}

pub(super) fn get(site: &Site, key: &DeviceKey, what: &str) -> (u16, String) {
    answer(&mut call(site, key), format!("GET {what} HTTP/1.1\r\nHost: x\r\n\r\n").as_bytes())
}

pub(super) fn asks(site: &Site, hand: &Hand, request: &[u8]) -> u16 {
    answer(&mut call(site, &hand.key), request).0
}

/// A site whose daemon runs, and a hand that is admitted there.
pub(super) fn scene() -> (Site, Daemon, Hand) {
    let site = Site::founder("crush-laptop");
    let hand = Hand::new("farm-office", 7, "quillmere", &site.public());
    let daemon = site.starts();
    admit(&site, &hand);
    (site, daemon, hand)
}

pub(super) fn admit(site: &Site, hand: &Hand) {
    site.writes(&format!("herd admit {} key {} as writer", hand.device, hand.key.public()));
    let list = format!("/herds/{}/ledgers", site.public());
    until("admitted", || get(site, &hand.key, &list).0 == 200);
}
