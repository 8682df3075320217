//! F27: killed at every step, at every call and at any moment, up to three times in a row.

use std::process::Stdio;
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::rig::{self, Scene, typed};

/// The steps of sealing, in order.
pub(crate) const STEPS: [&str; 11] = [
    "read",
    "saved",
    "planned",
    "prepared",
    "appended",
    "shadow-synced",
    "stated",
    "swapped",
    "folder-synced",
    "aside",
    "cleared",
];

#[test]
fn f27_kill_after_each_step_and_again_after_each_step_of_the_recovery() {
    let scene = Scene::new();
    let record = scene.round().calls(&["seal"], &[]);
    let mut steps: Vec<&str> = record.iter().filter_map(|line| line.strip_prefix("step ")).collect();
    steps.retain(|step| *step != "unlocked");
    steps.dedup();
    assert_eq!(steps, STEPS, "the steps of a sealing");
    rig::for_each(0..STEPS.len().pow(2), |n| {
        let (first, second) = (STEPS[n / STEPS.len()], STEPS[n % STEPS.len()]);
        let round = scene.round();
        let killed = round.run(&["seal"], &[("FOOTFOLD_FAULT", &format!("kill@{first}"))]);
        assert_eq!(killed.code, None, "killed at {first}");
        round.run(&["seal"], &[("FOOTFOLD_FAULT", &format!("kill@{second}"))]);
        round.whole(&typed(&[]), &format!("killed at {first}, then at {second}"));
    });
}

#[test]
fn f27_f28_kill_at_each_call_with_torn_writes_and_in_the_middle_of_the_recovery() {
    let scene = Scene::new();
    let places = rig::after_changes(&scene.round().calls(&["seal"], &[]));
    let calls = places.len();
    rig::for_each(0..2 * calls, |n| {
        // One call earlier, a write is torn.
        let (number, torn) = (places[n / 2] - n % 2 * usize::from(n > 1), n % 2 == 1);
        let tear = if torn { format!("short@call:{number},") } else { String::new() };
        let fault = format!("{tear}kill@call:{}", number + usize::from(torn));
        let round = scene.round();
        round.run(&["seal"], &[("FOOTFOLD_FAULT", &fault)]);
        // The recovery is killed too, at two places that differ from round to round.
        let mut all = typed(&[]);
        for (again, number) in [places[n * 7 % calls], places[n * 13 % calls]].into_iter().enumerate() {
            let line = format!("{} note: more {again} end", 500 + again);
            round.types(&format!("{line}\n"));
            all.push(line);
            round.run(&["seal"], &[("FOOTFOLD_FAULT", &format!("kill@call:{number}"))]);
        }
        assert_eq!(round.judge(&all), Ok(()), "{fault}, then killed again");
        std::fs::remove_dir_all(round.place()).unwrap();
    });
}

/// Writes two lines under a fault; afterwards both are kept or neither, and as the command said.
pub(crate) fn both_or_neither(scene: &Scene, fault: &str, mutant: &str) -> Result<(), String> {
    let round = scene.round();
    let given = ["write", "500 note: more 0 end", "501 note: more 1 end"];
    let end = round.run(&given, &[("FOOTFOLD_FAULT", fault), ("FOOTFOLD_MUTANT", mutant)]);
    round.run(&["seal"], &[]);
    let text = round.text();
    let kept = given[1..].iter().filter(|line| text.contains(&format!("{} | ", &line[8..]))).count();
    let said = end.said.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = end.code == Some(0) || said.contains("are kept, but the ledger does not show them");
    if kept == 1 || (end.code.is_some() && told != (kept == 2)) {
        return Err(format!("{kept} of 2 lines are kept\n{end:#?}\n{text}"));
    }
    let given: Vec<String> = given[1..].iter().map(|line| (*line).to_owned()).collect();
    let judged = round.judge(&[typed(&[]), if kept == 2 { given } else { Vec::new() }].concat());
    std::fs::remove_dir_all(round.place()).unwrap();
    judged
}

#[test]
fn f27_f28_a_write_that_is_killed_keeps_all_its_lines_or_none() {
    let scene = Scene::new();
    let places = rig::after_changes(&scene.round().calls(&["write", "500 note: more 0 end"], &[]));
    rig::for_each(1..places.len(), |n| {
        let n = places[n] - 1;
        for fault in [format!("kill@call:{n}"), format!("short@call:{n},kill@call:{}", n + 1), format!("cut@call:{n}")]
        {
            assert_eq!(both_or_neither(&scene, &fault, "none"), Ok(()), "{fault}");
        }
    });
}

/// A number that follows from another and looks like chance.
fn chance(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Rounds of one folder that is typed in, sealed and killed at random moments.
const ROUNDS: usize = 300;
const ROUNDS_OF_ONE: usize = 50;

#[test]
fn f27_kill_at_any_moment_loses_nothing_and_seals_nothing_twice() {
    let scene = Scene::bare();
    let started = Instant::now();
    scene.round().run(&["seal"], &[]);
    let whole = started.elapsed().max(Duration::from_millis(2));
    let folders = rig::rounds(ROUNDS).div_ceil(ROUNDS_OF_ONE);
    rig::for_each(0..folders, |folder| {
        let (round, mut all) = (scene.round(), Vec::new());
        for n in 0..ROUNDS_OF_ONE {
            let seed = (folder * ROUNDS_OF_ONE + n) as u64;
            let line = format!("{} note: round {n} end", n + 1);
            round.types(&format!("{line}\n"));
            all.push(line);
            for again in 0..=chance(seed) % 3 {
                let mut command = round.command(&["seal"]);
                let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
                sleep(whole * (chance(seed * 3 + again) % 1500) as u32 / 1000);
                let _ = child.kill();
                child.wait().unwrap();
            }
            if n % 10 == 9 {
                assert_eq!(round.judge(&all), Ok(()), "folder {folder}, round {n}");
            }
        }
        if folder % 10 == 0 {
            round.verifies(&format!("folder {folder}"));
        }
        round.whole(&all, &format!("folder {folder}"));
    });
    eprintln!("{} rounds of kills", folders * ROUNDS_OF_ONE);
}
