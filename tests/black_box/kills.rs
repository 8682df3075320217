//! F27: killed at any moment, a sealing is finished or never was; no typed line is lost, none is sealed twice.

use std::process::Stdio;
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::machine::Machine;

const ROUNDS: u32 = 60;

#[test]
fn f27_kill_at_any_moment_loses_nothing_and_seals_nothing_twice() {
    let machine = Machine::new("crush-laptop");
    let started = Instant::now();
    machine.run(&["seal"]).fine();
    let whole = started.elapsed().max(Duration::from_millis(2));
    for round in 0..ROUNDS {
        machine.types(format!("{} note: round {round} end\n", round + 1));
        let mut command = machine.command(&["seal"]);
        command.current_dir(machine.herd()).stdout(Stdio::null()).stderr(Stdio::null());
        let mut child = command.spawn().unwrap();
        // From before it has begun to after it is done.
        sleep(whole * 3 * (round * 7 % ROUNDS) / ROUNDS);
        let _ = child.kill();
        child.wait().unwrap();
    }
    machine.run(&["seal"]).fine();
    machine.run(&["check", "--every-mark"]).fine();
    let text = machine.text();
    for round in 0..ROUNDS {
        let sealed = text.lines().filter(|line| line.contains(&format!(": round {round} end | "))).count();
        assert_eq!(sealed, 1, "round {round}\n{text}");
    }
    let strays: Vec<_> = std::fs::read_dir(machine.ledger().parent().unwrap()).unwrap().collect();
    assert_eq!(strays.len(), 2, "the ledger and its statements: {strays:?}");
}

/// The calls that change a disk.
const CALLS: [&str; 10] =
    ["write", "fsync", "fdatasync", "renameat2", "renameat", "unlinkat", "ftruncate", "fchmod", "mkdirat", "openat"];

/// Runs `seal` under strace, which does something to the n-th of a call. None if strace is not here.
fn seal_with(machine: &Machine, call: &str, n: u32, fate: &str) -> Option<(bool, i32)> {
    use std::process::Command;
    let inject = format!("inject={call}:{fate}:when={n}");
    let log = machine.place().join("strace.log");
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-o"]).arg(&log).args(["-e", &format!("trace={call}"), "-e", &inject]);
    command.arg(env!("CARGO_BIN_EXE_footfold")).arg("seal").current_dir(machine.herd());
    let output = command
        .env("FOOTFOLD_CONFIG", machine.config())
        .env("FOOTFOLD_MACHINE", "one")
        .stdin(Stdio::null())
        .output()
        .ok()?;
    let reached = std::fs::read_to_string(&log).ok()?.lines().filter(|line| line.contains(&format!("{call}("))).count();
    Some((reached >= n as usize, output.status.code().unwrap_or(-1)))
}

/// Whether these lines, and no others, are sealed, each once, after one more sealing.
fn all_once(machine: &Machine, what: &str, typed: u32) {
    machine.run(&["seal"]).fine();
    let text = machine.text();
    for n in 0..typed {
        assert_eq!(text.matches(&format!(": line {n} end | ")).count(), 1, "{what}, line {n}\n{text}");
    }
    assert_eq!(text.lines().count(), 3 + typed as usize, "{what}\n{text}");
    assert_eq!(std::fs::read_to_string(machine.shadow()).unwrap(), text, "{what}");
}

fn at_every_call(fate: &str) {
    for call in CALLS {
        let (machine, mut typed) = (Machine::new("crush-laptop"), 0);
        for n in 1..60 {
            machine.types(format!("417 note: line {typed} end\n"));
            typed += 1;
            let Some((reached, _)) = seal_with(&machine, call, n, fate) else {
                eprintln!("SKIPPED {fate}: there is no strace here");
                return;
            };
            // Twice in a row at the same place, then left to finish.
            if n % 2 == 0 {
                machine.types(format!("417 note: line {typed} end\n"));
                typed += 1;
                seal_with(&machine, call, n, fate);
            }
            all_once(&machine, &format!("{call} number {n}: {fate}"), typed);
            if !reached {
                break;
            }
        }
        machine.run(&["check", "--every-mark"]).fine();
    }
}

#[test]
fn f27_kill_at_every_call_that_changes_the_disk() {
    at_every_call("signal=KILL");
}

#[test]
fn f29_every_call_meets_a_full_disk_once() {
    at_every_call("error=ENOSPC");
}

#[test]
fn f30_every_call_meets_a_failing_disk_once() {
    at_every_call("error=EIO");
}

#[test]
fn f30_a_fault_after_the_lines_are_kept_says_not_to_type_them_again() {
    let machine = Machine::new("crush-laptop");
    machine.types("417 note: line 0 end\n");
    let Some((reached, code)) = seal_with(&machine, "renameat2", 1, "error=EIO") else {
        eprintln!("SKIPPED f30: there is no strace here");
        return;
    };
    assert!(reached && code == 1);
    machine.run(&["seal"]).fine().says("an interrupted sealing was finished; lines kept: 1");
    all_once(&machine, "after the fault", 1);
}
