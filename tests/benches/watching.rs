//! Many herds watched by one daemon: its memory, and the processor time of doing nothing.

use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

const HERDS: usize = 300;
const LINES: u64 = 30_000;
const IDLE: Duration = Duration::from_secs(60);

pub(crate) fn many_herds() {
    let place = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let key = device(place.path());
    let folders: Vec<String> = (0..HERDS).map(|n| herd(place.path(), n, &key)).collect();
    let began = Instant::now();
    let mut daemon = footfold(place.path()).arg("watch").args(&folders).stderr(Stdio::null()).spawn().unwrap();
    let ready = ready(&daemon, began);
    println!("{HERDS} herds of {LINES} lines watched by one daemon (goal: 1 GB, idle near nothing)");
    println!(
        "  at rest after {ready:.1?}, memory {} MB, at most {} MB",
        memory(&daemon, "VmRSS"),
        memory(&daemon, "VmHWM")
    );
    let before = processor(&daemon);
    sleep(IDLE);
    let idle = processor(&daemon).saturating_sub(before);
    println!(
        "  idle for {IDLE:?}: {idle:.1?} of one processor, {:.2} percent",
        100.0 * idle.as_secs_f64() / IDLE.as_secs_f64()
    );
    for folder in folders.iter().step_by(3) {
        let asked = footfold(place.path()).args(["herd", "--herd", folder]).output().unwrap();
        assert!(asked.status.success(), "{asked:?}");
    }
    println!("  after {} herds were asked for: memory {} MB\n", HERDS / 3, memory(&daemon, "VmRSS"));
    daemon.kill().unwrap();
    daemon.wait().unwrap();
}

fn footfold(place: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
    command.env("FOOTFOLD_CONFIG", place.join("config")).env("FOOTFOLD_SOCKET", place.join("socket"));
    command
}

/// Makes a device with a key of its own, and gives the key.
fn device(place: &Path) -> String {
    let first = place.join("first");
    let new = footfold(place).arg("new").arg(&first).args(["--device", "crush-laptop", "--by", "kj"]).output().unwrap();
    assert!(new.status.success(), "{new:?}");
    let ledgers = fs::read_dir(first.join("ledgers/crush-laptop")).unwrap();
    let head = fs::read_to_string(ledgers.map(|file| file.unwrap().path()).next().unwrap()).unwrap();
    head.split(" key ").nth(1).unwrap().split(' ').next().unwrap().to_owned()
}

fn herd(place: &Path, n: usize, key: &str) -> String {
    let folder = place.join(format!("herd-{n}"));
    let ledgers = folder.join("ledgers/crush-laptop");
    fs::create_dir_all(&ledgers).unwrap();
    fs::write(ledgers.join("2026.txt"), super::ledger_of("crush-laptop", key, n as u64, LINES)).unwrap();
    folder.display().to_string()
}

/// Waits until the daemon does nothing for three seconds.
fn ready(daemon: &Child, began: Instant) -> Duration {
    loop {
        let before = processor(daemon);
        sleep(Duration::from_secs(3));
        if processor(daemon).saturating_sub(before) < Duration::from_millis(30)
            && began.elapsed() > Duration::from_secs(12)
        {
            return began.elapsed();
        }
    }
}

/// Megabytes, as the system counts them.
fn memory(daemon: &Child, what: &str) -> u64 {
    let status = fs::read_to_string(format!("/proc/{}/status", daemon.id())).unwrap();
    let row = status.lines().find(|row| row.starts_with(what)).unwrap();
    row.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

/// Processor time so far. The system counts it in hundredths of a second.
fn processor(daemon: &Child) -> Duration {
    let stat = fs::read_to_string(format!("/proc/{}/stat", daemon.id())).unwrap();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap().split(' ').collect();
    let ticks: u64 = fields[11..13].iter().map(|ticks| ticks.parse::<u64>().unwrap()).sum();
    Duration::from_millis(ticks * 10)
}
