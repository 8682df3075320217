//! One line typed into a large year file: sealed, accepted and shown, beside what the disk needs for such a file.

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use chrono::{NaiveDate, TimeDelta};
use daemon::disk::{HerdFolder, LedgerName};
use daemon::keys::DeviceKey;
use daemon::seal::{Desk, tend};

const LINES: u64 = 100_000;
const TIMES: i64 = 21;

pub(crate) fn one_line() {
    println!(
        "one line typed into a file of {LINES} lines, sealed, accepted and shown, median of {TIMES} (goal: 50 ms)"
    );
    for others in [0, 3] {
        println!("  beside {others} other files as large: {:.1?}", median(&folder(others)));
    }
    println!("  such a file written beside, synced and exchanged, no more: {:.1?}\n", bare(&folder(0)));
}

fn folder(others: u64) -> tempfile::TempDir {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    for n in 0..=others {
        let device = if n == 0 { "crush-laptop".to_owned() } else { format!("tablet-{n}") };
        let place = folder.path().join("ledgers").join(&device);
        fs::create_dir_all(&place).unwrap();
        fs::write(place.join("2026.txt"), super::ledger(&device, n, LINES)).unwrap();
    }
    folder
}

fn median(folder: &tempfile::TempDir) -> Duration {
    let herd = HerdFolder::open(folder.path()).unwrap();
    let key = DeviceKey::of_secret(&[7; 32]);
    let begin = NaiveDate::from_ymd_opt(2026, 6, 1).unwrap().and_hms_opt(6, 0, 0).unwrap();
    let ledger = folder.path().join("ledgers/crush-laptop/2026.txt");
    let name = LedgerName::new("crush-laptop", 2026).unwrap();
    let mut times = Vec::new();
    for n in 0..TIMES {
        let mut file = File::options().append(true).open(&ledger).unwrap();
        writeln!(file, "{} note: line {n}", 1000 + n).unwrap();
        let (now, device, by) = (begin + TimeDelta::minutes(n), "crush-laptop", "kj");
        let desk = Desk { herd: &herd, device, by, key: &key, now, today: now.date() };
        let began = Instant::now();
        let done = tend(&desk, std::slice::from_ref(&name)).unwrap();
        times.push(began.elapsed());
        assert_eq!(done.kept.len(), 1, "{done:?}");
    }
    times.sort();
    times[times.len() / 2]
}

fn bare(folder: &tempfile::TempDir) -> Duration {
    let ledger = folder.path().join("ledgers/crush-laptop/2026.txt");
    let bytes = fs::read(&ledger).unwrap();
    let mut times: Vec<Duration> = (0..TIMES).map(|_| replaced(&ledger, &bytes)).collect();
    times.sort();
    times[times.len() / 2]
}

fn replaced(ledger: &Path, bytes: &[u8]) -> Duration {
    let began = Instant::now();
    let mut beside = File::create(ledger.with_extension("new")).unwrap();
    beside.write_all(bytes).unwrap();
    beside.sync_all().unwrap();
    fs::rename(ledger.with_extension("new"), ledger).unwrap();
    File::open(ledger.parent().unwrap()).unwrap().sync_all().unwrap();
    began.elapsed()
}
