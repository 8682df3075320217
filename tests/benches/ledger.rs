//! What the work costs, as ratios to what general tools need for like work in the same run.
//!
//! `cargo bench -p footfold` — the ledger and the binary; `-- --peers` adds `ledger` and `git fsck` where they are
//! installed; `-- --lines N` another size; `-- --daemon` what a watching daemon needs, `-- --exchange` what lines to another machine need, `-- --figures` what herd figures need, and nothing else. Whole processes are run in turn (A B A B); ratios are medians of pairs.

mod exchange;
mod figures;
mod measure;
mod peers;
mod sealing;
mod watching;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use chrono::{NaiveDate, TimeDelta};
use ledger_format::fold::{Herd, View};
use ledger_format::mark::{Chain, Head};
use ledger_format::merge::{Ledger, Log};

use measure::{Run, measured, pairs};

const COWS: u32 = 2_000;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let Some(at) = arguments.iter().position(|word| word == measure::MEASURE) {
        return measure::run_and_tell(&arguments[at + 1..]);
    }
    if arguments.iter().any(|word| word == "--daemon") {
        sealing::one_line();
        return watching::many_herds();
    }
    if arguments.iter().any(|word| word == "--figures") {
        return figures::all_figures();
    }
    if arguments.iter().any(|word| word == "--exchange") {
        return exchange::to_another_machine();
    }
    let after = |flag: &str| arguments.iter().position(|word| word == flag).and_then(|at| arguments.get(at + 1));
    let lines: u64 = after("--lines").and_then(|text| text.parse().ok()).unwrap_or(1_000_000);
    let one = herd("one", &[("crush-laptop", lines)]);
    let two = herd("two", &[("crush-laptop", lines / 2), ("farm-office", lines / 2)]);
    let file = one.join("ledgers/crush-laptop/2026.txt");
    let megabytes = std::fs::metadata(&file).unwrap().len() / 1_000_000;
    println!("{lines} lines over {COWS} cows, {megabytes} MB; two device files of {} lines\n", lines / 2);
    whole_processes(&one, &two, &file);
    refold(lines);
    if arguments.iter().any(|word| word == "--peers") {
        peers::compare(lines, &fold_command(&one));
    }
}

fn whole_processes(one: &Path, two: &Path, file: &Path) {
    let single = b3sum(file, true);
    println!("{:<44} {:>8} {:>8} {:>8}", "whole process, median of pairs", "wall", "cpu", "peak");
    tell("b3sum, one thread", &measured(&single), None);
    tell("b3sum, all cores", &measured(&b3sum(file, false)), None);
    let check = vec![footfold(), "check".into(), file.display().to_string()];
    compare("check : b3sum, all cores", &check, &b3sum(file, false), 1.3);
    compare("check : b3sum, one thread", &check, &single, 1.3);
    compare("verify, parse, merge, fold : b3sum, one thread", &fold_command(one), &single, 4.0);
    compare("the same, two device files : one file", &fold_command(two), &fold_command(one), 0.6);
    println!();
}

fn compare(name: &str, ours: &[String], theirs: &[String], at_most: f64) {
    let (run, ratio_wall, ratio_cpu) = pairs(ours, theirs, 7);
    tell(name, &run, Some((ratio_wall, ratio_cpu, at_most)));
}

fn tell(name: &str, run: &Run, ratio: Option<(f64, f64, f64)>) {
    let seconds = |time: Duration| format!("{:.3} s", time.as_secs_f64());
    print!("{name:<44} {:>8} {:>8} {:>6} M", seconds(run.wall), seconds(run.cpu), run.peak_kilobytes / 1024);
    match ratio {
        Some((wall, cpu, at_most)) => println!("   wall x {wall:.2}, cpu x {cpu:.2} (goal {at_most})"),
        None => println!(),
    }
}

fn footfold() -> String {
    env!("CARGO_BIN_EXE_footfold").to_owned()
}

fn fold_command(herd: &Path) -> Vec<String> {
    let herd = herd.display().to_string();
    [footfold(), "cow".into(), "1417".into(), "--herd".into(), herd, "--on".into(), "2040-01-01".into()].into()
}

fn b3sum(file: &Path, one_thread: bool) -> Vec<String> {
    let threads: &[&str] = if one_thread { &["--num-threads", "1"] } else { &[] };
    let words = std::iter::once("b3sum").chain(threads.iter().copied());
    words.map(str::to_owned).chain([file.display().to_string()]).collect()
}

/// A herd's folder under `target/`, made once for each size.
fn herd(name: &str, devices: &[(&str, u64)]) -> PathBuf {
    let lines: u64 = devices.iter().map(|(_, lines)| lines).sum();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-{name}-{lines}"));
    for (n, (device, lines)) in devices.iter().enumerate() {
        let place = folder.join("ledgers").join(device);
        let path = place.join("2026.txt");
        if !path.exists() {
            std::fs::create_dir_all(&place).unwrap();
            std::fs::write(path, ledger(device, n as u64, *lines)).unwrap();
        }
    }
    folder
}

pub(crate) fn ledger(device: &str, seed: u64, lines: u64) -> Vec<u8> {
    ledger_of(device, daemon::keys::DeviceKey::of_secret(&[7; 32]).public(), seed, lines)
}

pub(crate) fn ledger_of(device: &str, key: &str, seed: u64, lines: u64) -> Vec<u8> {
    let begin = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap().and_hms_opt(6, 0, 0).unwrap();
    let (mut chain, mut bytes) = (Chain::default(), Vec::new());
    let head = Head { herd: "quillmere", device, key, zone: "Europe/London", founder: None, follows: None };
    chain.seal(&head.to_string(), begin, &mut bytes);
    for (n, body) in examples_make::ledger_lines(seed, COWS, lines).enumerate() {
        chain.seal(&body, begin + TimeDelta::seconds(n as i64), &mut bytes);
    }
    bytes
}

/// One line more, at two sizes of history: what it costs must not grow.
fn refold(lines: u64) {
    println!("one line added to a herd in memory, median of 200 (goal: under 100 us at both sizes)");
    for size in [lines / 100, lines] {
        let (prompt, late) = (one_line(size, false), one_line(size, true));
        println!("{size:>10} lines of history: the newest {prompt:?}, a year late {late:?}");
    }
    println!();
}

fn one_line(size: u64, late: bool) -> Duration {
    let bytes = ledger("crush-laptop", 0, size);
    let mut chain = Chain::of(&bytes);
    let read = Ledger::read("crush-laptop", 2026, bytes).unwrap();
    let view = View { on: NaiveDate::from_ymd_opt(2040, 1, 1).unwrap(), known: None };
    let mut herd = Herd::fold(Log::union(vec![read]), Vec::new(), view);
    let mut times = Vec::new();
    for n in 0..200i64 {
        let seen = NaiveDate::from_ymd_opt(2039, 1, 1).unwrap() + TimeDelta::days(if late { -n } else { n });
        let mut line = Vec::new();
        let body = format!("{seen} {} score 2 RH by kj", 1000 + n % 50);
        chain.seal(&body, seen.and_hms_opt(12, 0, 0).unwrap(), &mut line);
        let began = Instant::now();
        herd.append(0, &line);
        times.push(began.elapsed());
    }
    times.sort();
    times[times.len() / 2]
}
