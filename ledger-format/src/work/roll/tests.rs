//! A small herd's machines by hand.

use std::collections::BTreeMap;

use super::*;
use crate::line::read_utc;
use crate::mark::{Chain, Head};

const DAY: &str = "2026-03-14";

/// Ledgers that are written line by line.
#[derive(Default)]
struct Herd {
    files: BTreeMap<&'static str, (Chain, Vec<u8>)>,
}

fn key(device: &str) -> FullMark {
    FullMark::over(device.as_bytes())
}

impl Herd {
    /// The crush's laptop begins; the office is let in as a keeper, the vet's tablet as a writer.
    fn quillmere() -> Self {
        let mut herd = Self::default();
        herd.begin("crush", None);
        herd.admit("office", "keeper");
        herd.admit("tablet", "writer");
        herd.begin("office", Some("crush"));
        herd.begin("tablet", Some("crush"));
        herd
    }

    fn begin(&mut self, device: &'static str, founder: Option<&str>) {
        let (key, founder) = (key(device).to_string(), founder.map(|founder| key(founder).to_string()));
        let head =
            Head { herd: "quillmere", device, key: &key, zone: "UTC", founder: founder.as_deref(), follows: None };
        self.seal(device, &head.to_string());
    }

    fn seal(&mut self, device: &'static str, body: &str) -> FullMark {
        let (chain, bytes) = self.files.entry(device).or_insert_with(|| (Chain::default(), Vec::new()));
        chain.seal(body, read_utc(b"2026-03-14T09:20:11Z").unwrap(), bytes)
    }

    fn write(&mut self, device: &'static str, what: &str) -> FullMark {
        self.seal(device, &format!("{DAY} {what} by kj"))
    }

    fn admit(&mut self, device: &str, capacity: &str) {
        self.write("crush", &format!("herd admit {device} key {} as {capacity}", key(device)));
    }

    /// What a device holds of another's file, as it says.
    fn witness(&mut self, device: &'static str, of: &str) {
        let bytes = &self.files[of].1;
        let (length, mark) = (bytes.len(), FullMark::over(&bytes[..bytes.len() - 17]));
        self.write(device, &format!("herd witness {of} 2026 length {length} mark {mark}"));
    }

    fn roll(&self) -> Roll {
        let read =
            |(device, (_, bytes)): (&&str, &(Chain, Vec<u8>))| Ledger::read(device, 2026, bytes.clone()).unwrap();
        let log = Log::union(self.files.iter().map(read).collect());
        roll(&log, &Members::of(&log))
    }
}

fn row<'a>(roll: &'a Roll, device: &str) -> &'a DeviceRow {
    roll.devices.iter().find(|row| row.device == device).unwrap()
}

fn words(doubts: &[DoubtRow]) -> String {
    doubts.iter().map(|doubt| doubt.words.as_str()).collect::<Vec<_>>().join("; ")
}

#[test]
fn a_founder_alone_is_asked_for_a_second_keeper() {
    let mut herd = Herd::default();
    herd.begin("crush", None);
    let roll = herd.roll();
    assert_eq!((roll.keepers, roll.devices.len()), (1, 1));
    assert!(words(&roll.doubts).starts_with("crush is the only keeper"), "{roll:?}");
    assert!(roll.devices[0].founder && roll.devices[0].may == "keeper");
    let roll = Herd::quillmere().roll();
    assert_eq!((roll.keepers, roll.doubts.len()), (2, 0), "{roll:?}");
}

#[test]
fn each_device_has_its_lines_its_mark_and_who_else_holds_it() {
    let mut herd = Herd::quillmere();
    herd.write("tablet", "417 score 3");
    herd.witness("office", "tablet");
    herd.write("tablet", "418 score 1");
    let last = herd.write("tablet", "419 score 1");
    herd.witness("crush", "tablet");
    let roll = herd.roll();
    let tablet = row(&roll, "tablet");
    assert_eq!((tablet.may, tablet.lines, tablet.apart, tablet.year), ("writer", 3, 0, Some(2026)));
    assert_eq!(tablet.mark.as_deref(), Some(&*last.to_string()));
    assert_eq!(tablet.length, Some(herd.files["tablet"].1.len()));
    assert_eq!(tablet.admitted.as_deref(), Some(DAY));
    let held: Vec<_> = tablet.held_by.iter().map(|held| (held.device.as_str(), held.lines, held.behind)).collect();
    assert_eq!(held, [("crush", 3, 0), ("office", 1, 2)]);
    assert!(row(&roll, "crush").held_by.is_empty());
    assert!(tablet.doubts.is_empty());
}

#[test]
fn a_stranger_and_a_revoked_device_stand_first_with_what_to_do() {
    let mut herd = Herd::quillmere();
    let last = herd.write("tablet", "417 score 3");
    herd.write("crush", &format!("herd revoke tablet after {last}"));
    herd.write("tablet", "418 score 3");
    herd.begin("stranger", Some("crush"));
    herd.write("stranger", "419 score 3");
    let roll = herd.roll();
    let order: Vec<_> = roll.devices.iter().map(|row| (row.device.as_str(), row.may)).collect();
    let expected = [("stranger", "not admitted"), ("tablet", "revoked"), ("crush", "keeper"), ("office", "keeper")];
    assert_eq!(order, expected);
    let tablet = row(&roll, "tablet");
    assert_eq!((tablet.lines, tablet.apart, tablet.revoked.as_deref()), (2, 1, Some(DAY)));
    assert!(words(&tablet.doubts).contains("1 line is kept apart and not counted: sealed behind its revocation"));
    let stranger = row(&roll, "stranger");
    assert!(words(&stranger.doubts).contains("nobody let this device in"));
    assert!(stranger.doubts[0].remedy.contains(&format!("herd admit stranger key {} as writer", key("stranger"))));
}

#[test]
fn a_reader_that_writes_and_a_writer_that_admits_are_told() {
    let mut herd = Herd::quillmere();
    herd.admit("relay", "reader");
    herd.begin("relay", Some("crush"));
    herd.write("relay", "417 score 3");
    let stranger = key("stranger");
    herd.write("tablet", &format!("herd admit stranger key {stranger} as writer"));
    let roll = herd.roll();
    assert!(words(&row(&roll, "relay").doubts).contains("it may only read"));
    assert!(words(&roll.doubts).contains("1 line that admits or revokes somebody does not count"), "{roll:?}");
    // Named, without a right and without a ledger.
    assert!(roll.devices.iter().all(|row| row.device != "stranger"));
}

#[test]
fn s13_what_another_saw_and_is_not_here_is_told() {
    let mut herd = Herd::quillmere();
    herd.write("tablet", "417 score 3");
    let before = herd.files["tablet"].1.clone();
    herd.write("tablet", "418 score 3");
    herd.witness("office", "tablet");
    herd.files.get_mut("tablet").unwrap().1 = before;
    let roll = herd.roll();
    let tablet = row(&roll, "tablet");
    assert!(words(&tablet.doubts).starts_with("office saw more of tablet/2026 than is here"), "{tablet:?}");
    assert!(tablet.held_by.is_empty());
    assert_eq!(roll.devices[0].device, "tablet");
}

#[test]
fn s14_another_history_is_told() {
    let mut herd = Herd::quillmere();
    herd.write("tablet", "417 score 3");
    let mut other = Herd::quillmere();
    other.write("tablet", "417 score 1");
    other.witness("office", "tablet");
    herd.files.insert("office", other.files.remove("office").unwrap());
    let roll = herd.roll();
    assert!(words(&row(&roll, "tablet").doubts).contains("office saw another history of tablet/2026"), "{roll:?}");
}

#[test]
fn of_an_open_herd_all_are_listed_and_it_is_told() {
    let mut herd = Herd::default();
    herd.begin("crush", None);
    herd.begin("office", None);
    let roll = herd.roll();
    assert_eq!((roll.founder, roll.devices.len()), (None, 2));
    assert!(roll.devices.iter().all(|row| row.may == "open" && row.apart == 0));
    assert!(words(&roll.doubts).starts_with("the herd is open"));
}
