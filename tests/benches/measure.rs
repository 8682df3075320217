//! Whole processes: wall time, processor time, peak memory.
//!
//! The kernel tells a process only of all its children together, so each run has a parent of its own: this program
//! again, which runs one command and prints what the kernel says of it.

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use nix::sys::resource::{UsageWho, getrusage};

/// The word that makes this program the parent of one run.
pub(crate) const MEASURE: &str = "--measure-one";

/// What one process took.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Run {
    pub(crate) wall: Duration,
    pub(crate) cpu: Duration,
    pub(crate) peak_kilobytes: u64,
}

/// Runs a command and prints what it took.
pub(crate) fn run_and_tell(command: &[String]) {
    let began = Instant::now();
    let status = Command::new(&command[0]).args(&command[1..]).stdout(Stdio::null()).stderr(Stdio::null()).status();
    let wall = began.elapsed();
    assert!(status.is_ok_and(|status| status.success()), "{command:?} failed");
    let usage = getrusage(UsageWho::RUSAGE_CHILDREN).unwrap();
    let micros = |time: nix::sys::time::TimeVal| time.tv_sec() as u128 * 1_000_000 + time.tv_usec() as u128;
    println!("{} {} {}", wall.as_micros(), micros(usage.user_time()) + micros(usage.system_time()), usage.max_rss());
}

fn once(command: &[String]) -> Run {
    let out = Command::new(std::env::current_exe().unwrap()).arg(MEASURE).args(command).output().unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    let [wall, cpu, peak] = text.split_whitespace().map(|word| word.parse::<u64>().unwrap()).collect::<Vec<_>>()[..]
    else {
        panic!("{command:?}: {}", String::from_utf8_lossy(&out.stderr))
    };
    Run { wall: Duration::from_micros(wall), cpu: Duration::from_micros(cpu), peak_kilobytes: peak }
}

/// The median of some runs.
pub(crate) fn measured(command: &[String]) -> Run {
    median((0..5).map(|_| once(command)).collect())
}

/// Ours and theirs in turn: our median, and the medians of the pairs' ratios in wall and processor time.
pub(crate) fn pairs(ours: &[String], theirs: &[String], times: usize) -> (Run, f64, f64) {
    let runs: Vec<(Run, Run)> = (0..times).map(|_| (once(ours), once(theirs))).collect();
    let ratio = |of: fn(&Run) -> Duration| {
        let mut ratios: Vec<f64> =
            runs.iter().map(|(a, b)| of(a).as_secs_f64() / of(b).as_secs_f64().max(1e-6)).collect();
        ratios.sort_by(f64::total_cmp);
        ratios[ratios.len() / 2]
    };
    (median(runs.iter().map(|(ours, _)| *ours).collect()), ratio(|run| run.wall), ratio(|run| run.cpu))
}

fn median(mut runs: Vec<Run>) -> Run {
    runs.sort_by_key(|run| run.wall);
    let middle = runs[runs.len() / 2];
    runs.sort_by_key(|run| run.cpu);
    Run { cpu: runs[runs.len() / 2].cpu, ..middle }
}
