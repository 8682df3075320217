//! Herds built in memory, for tests.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};

use super::{Herd, View};
use crate::line::{read, read_date, read_utc};
use crate::mark::Chain;
use crate::merge::{Ledger, Log};

pub(crate) fn day(text: &str) -> NaiveDate {
    read_date(text.as_bytes()).unwrap()
}

/// One device's file. A line may end in ` | 2026-03-14T09:20:11Z`; else it is sealed at 20:00 of its day.
pub(crate) fn ledger(device: &str, lines: &[impl AsRef<str>]) -> Ledger {
    let (mut file, mut chain) = (Vec::new(), Chain::default());
    let key = "8d".repeat(32);
    let head = format!("footfold 1 herd quillmere device {device} key {key} zone Europe/London");
    chain.seal(&head, read_utc(b"2025-01-01T08:00:00Z").unwrap(), &mut file);
    for line in lines.iter().map(AsRef::as_ref) {
        let (body, sealed) = match line.split_once(" | ") {
            Some((body, sealed)) => (body, read_utc(sealed.as_bytes()).unwrap()),
            None => (line, evening(read(line).unwrap().observed.date)),
        };
        read(body).unwrap_or_else(|problem| panic!("{body}: {problem}"));
        chain.seal(body, sealed, &mut file);
    }
    Ledger::read(device, 2026, file).unwrap()
}

fn evening(day: NaiveDate) -> NaiveDateTime {
    day.and_time(chrono::NaiveTime::MIN) + TimeDelta::hours(20)
}

/// A herd of several devices, seen from a day.
pub(crate) fn herd_of(on: &str, ledgers: Vec<Ledger>) -> Herd {
    Herd::fold(Log::union(ledgers), Vec::new(), View { on: day(on), known: None })
}

/// A herd of one device, seen from a day.
pub(crate) fn herd(on: &str, lines: &[impl AsRef<str>]) -> Herd {
    herd_of(on, vec![ledger("crush-laptop", lines)])
}

/// What is no further from another number than this.
#[track_caller]
pub(crate) fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b}");
}
