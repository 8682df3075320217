//! Many lines, devices and years: limits hold.

use chrono::{NaiveDate, TimeDelta};
use ledger_format::fold::{Herd, View};
use ledger_format::mark::{Chain, Follows, Head, check};
use ledger_format::merge::{Ledger, Log};

const DEVICES: usize = 10;
const YEARS: u16 = 5;

/// One device's files, year by year, `lines` lines each.
fn files(device: usize, lines: u64) -> Vec<(u16, Vec<u8>)> {
    let (name, key) = (format!("device-{device}"), "8d".repeat(32));
    let mut follows = None;
    let mut files = Vec::new();
    for year in 0..YEARS {
        let (mut chain, mut bytes) = (Chain::default(), Vec::new());
        let begin = NaiveDate::from_ymd_opt(2021 + i32::from(year), 1, 1).unwrap().and_hms_opt(6, 0, 0).unwrap();
        let head = Head { herd: "quillmere", device: &name, key: &key, zone: "Europe/London", founder: None, follows };
        let mut full = chain.seal(&head.to_string(), begin, &mut bytes);
        for (n, body) in examples_make::ledger_lines(device as u64, 200, lines).enumerate() {
            full = chain.seal(&body, begin + TimeDelta::minutes(n as i64), &mut bytes);
        }
        follows = Some(Follows { year: 2021 + year, mark: full });
        files.push((2021 + year, bytes));
    }
    files
}

#[test]
fn f58_ten_devices_and_five_years_merge_to_one_herd() {
    let lines = 400;
    let mut ledgers = Vec::new();
    for device in 0..DEVICES {
        for (year, bytes) in files(device, lines) {
            assert!(check(&bytes).is_unbroken());
            ledgers.push(Ledger::read(&format!("device-{device}"), year, bytes).unwrap());
        }
    }
    let log = Log::union(ledgers);
    assert_eq!(log.len() as u64, DEVICES as u64 * u64::from(YEARS) * lines);
    let in_order: Vec<_> = log.in_order().map(|id| (log.entry(id).observed, log.entry(id).sealed)).collect();
    assert_eq!(in_order.len(), log.len());
    assert!(in_order.is_sorted());
    let herd = Herd::fold(log, Vec::new(), View { on: NaiveDate::from_ymd_opt(2030, 1, 1).unwrap(), known: None });
    assert_eq!(herd.animals().len(), 200);
}
