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
    assert_eq!(strays.len(), 1, "{strays:?}");
}
