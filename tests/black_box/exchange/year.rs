//! A herd's year, typed on three machines while the links between them go down and up.

use std::collections::BTreeMap;
use std::io::{ErrorKind, Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{sleep, spawn};
use std::time::Duration;

use examples_make::story_of;
use ledger_format::typing::{self, Context, Outcome, Typed};

use super::rig::{Site, free_port};
use crate::machine::path;

const DEVICES: [&str; 3] = ["crush-laptop", "farm-office", "vet-tablet"];
const LAST_DAY: &str = "2026-01-31";

/// A cable that can be pulled and put back.
struct Link {
    here: SocketAddr,
    is_up: Arc<AtomicBool>,
}

impl Link {
    fn to(there: SocketAddr) -> Self {
        let (here, is_up) = (free_port(), Arc::new(AtomicBool::new(true)));
        let (listener, up) = (TcpListener::bind(here).unwrap(), Arc::clone(&is_up));
        spawn(move || {
            for caller in listener.incoming().flatten().filter(|_| up.load(Ordering::SeqCst)) {
                let Ok(called) = TcpStream::connect(there) else { continue };
                for (from, to) in [(&caller, &called), (&called, &caller)] {
                    let (from, to, up) = (from.try_clone().unwrap(), to.try_clone().unwrap(), Arc::clone(&up));
                    spawn(move || carry(from, to, &up));
                }
            }
        });
        Self { here, is_up }
    }

    fn set(&self, is_up: bool) {
        self.is_up.store(is_up, Ordering::SeqCst);
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, is_up: &AtomicBool) {
    from.set_read_timeout(Some(Duration::from_millis(50))).unwrap();
    let mut piece = [0; 4096];
    while is_up.load(Ordering::SeqCst) {
        match from.read(&mut piece) {
            Ok(0) => break,
            Ok(n) if to.write_all(&piece[..n]).is_ok() => {}
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
            _ => break,
        }
    }
    let _ = (from.shutdown(Shutdown::Both), to.shutdown(Shutdown::Both));
}

/// What each device types in each month, under the days it was typed on. Left out are lines that name the mark of
/// another, and sittings with days said as one says them on that day: yesterday, 30 Dec.
fn months() -> BTreeMap<String, BTreeMap<&'static str, String>> {
    let mut months: BTreeMap<String, BTreeMap<&str, String>> = BTreeMap::new();
    for sitting in story_of(54, 40, 12) {
        let lines: Vec<&str> = sitting.typed.lines().filter(|line| !line.contains('{')).collect();
        let typed = format!("\n{}\n\n{}\n", sitting.today, lines.join("\n"));
        if !is_understood_today(&typed) {
            continue;
        }
        let text = months.entry(sitting.today.format("%Y-%m").to_string()).or_default();
        let text = text.entry(sitting.device).or_default();
        text.push_str(&typed);
    }
    months
}

fn is_understood_today(typed: &str) -> bool {
    let context = Context { today: chrono::Utc::now().date_naive(), by: "kj", device: "crush-laptop" };
    let is_kept = |typed: Typed| match typed.outcome {
        Outcome::Refused(_) => false,
        Outcome::Kept(lines) => lines.iter().all(|line| &line.body[..10] < LAST_DAY),
        _ => true,
    };
    typing::read(typed, &context).into_iter().all(is_kept)
}

#[test]
fn f53_f54_f55_a_year_typed_on_three_machines_is_one_year_on_all() {
    let crush = Site::founder(DEVICES[0]);
    let (office, vet) = (Site::joined(DEVICES[1], &crush), Site::joined(DEVICES[2], &crush));
    let sites = [&crush, &office, &vet];
    let links = [Link::to(crush.address), Link::to(crush.address), Link::to(office.address)];
    office.calls(&crush, links[0].here, &crush);
    vet.calls(&crush, links[1].here, &crush);
    vet.calls(&office, links[2].here, &crush);
    let daemons: Vec<_> = sites.iter().map(|site| site.starts()).collect();
    let months = months();
    assert!(months.len() >= 12, "{}", months.len());
    for (n, texts) in months.values().enumerate() {
        for (at, link) in links.iter().enumerate() {
            link.set((n + at) % 3 != 0);
        }
        for (site, device) in sites.iter().zip(DEVICES) {
            if let Some(text) = texts.get(device) {
                site.machine.types(text);
            }
        }
        // Two who disagree, and two who say the same, while nobody hears anybody.
        if n == 6 {
            for link in &links {
                link.set(false);
            }
            crush.machine.types("\n2025-08-02 9001 score 3\n2025-08-02 9002 lesion SU LH outer zone 4\n");
            vet.machine.types("\n2025-08-02 9001 score 1\n");
            office.machine.types("\n2025-08-02 9002 lesion SU LH outer\n");
        }
        sleep(Duration::from_millis(1500));
    }
    for link in &links {
        link.set(true);
    }
    for site in sites {
        site.machine.run(&["seal"]).fine();
    }
    Site::all_agree(&sites, &DEVICES);
    assert!(crush.file("farm-office").len() > 50_000, "{}", crush.file("farm-office").len());

    // With the settings of one machine: how long work takes is each machine's own.
    let shows =
        |site: &Site, args: &[&str]| crush.machine.run(&[&["--herd", path(&site.machine.herd())], args].concat());
    for asked in [&["due", "--on", LAST_DAY][..], &["herd", "--on", LAST_DAY], &["members"]] {
        let first = shows(&crush, asked).out;
        assert!(first.len() > 200, "{first}");
        for site in sites {
            assert_eq!(shows(site, asked).out, first, "{}", site.device);
        }
    }
    let disagree = shows(&vet, &["cow", "9001", "--on", LAST_DAY]).fine();
    assert_eq!(disagree.out.matches("? 9001: scores differ on one day").count(), 1, "{}", disagree.out);
    let twice = shows(&vet, &["cow", "9002", "--on", LAST_DAY]).fine();
    assert_eq!(twice.out.matches("counted once").count(), 1, "{}", twice.out);
    drop(daemons);
}
