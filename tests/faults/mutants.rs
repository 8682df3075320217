//! Mistakes made on purpose: each must be noticed, or the tests of this folder prove nothing.

use crate::kills::both_or_neither;
use crate::rig::{self, Scene};
use crate::{power, races};

/// Whether a fault lets `write` keep half of what it was given, or say what is not so.
fn a_write_shows(mutant: &str, fates: &[&str]) -> Option<String> {
    let scene = Scene::in_memory();
    let calls = rig::count(&scene.round().calls(&["write", "500 note: more 0 end"], &[]));
    let place = |fate: &str, n: usize| fate.replace("{}", &n.to_string()).replace("{next}", &(n + 1).to_string());
    let faults = (1..=calls).flat_map(|n| fates.iter().map(move |fate| place(fate, n)));
    faults.into_iter().find_map(|fault| first_line(&fault, both_or_neither(&scene, &fault, mutant)))
}

fn first_line(fault: &str, judged: Result<(), String>) -> Option<String> {
    judged.err().map(|found| format!("{fault}: {}", found.lines().next().unwrap_or_default()))
}

/// What the rules of order have against the record of a sealing.
fn the_record_shows(mutant: &str) -> Option<&'static str> {
    let record = Scene::new().round().calls(&["seal"], &[("FOOTFOLD_MUTANT", mutant)]);
    power::broken_rule(&record)
}

#[test]
fn f28_the_rules_of_order_notice_each_sync_that_is_left_out() {
    assert_eq!(the_record_shows("none"), None);
    for mutant in [
        "skip-shadow-sync",
        "skip-state-sync",
        "skip-new-sync",
        "no-dir-sync",
        "swap-steps",
        "rename-over",
        "no-move-sync",
        "keep-plan",
    ] {
        let found = the_record_shows(mutant);
        eprintln!("{mutant}: {found:?}");
        assert!(found.is_some(), "{mutant} is not noticed");
    }
}

#[test]
fn f27_f30_kills_and_failing_calls_notice_what_they_are_for() {
    let found = [
        ("drop-plan", a_write_shows("drop-plan", &["short@call:{},kill@call:{next}"])),
        ("leave-torn", a_write_shows("leave-torn", &["EIO@call:{}"])),
    ];
    for (mutant, found) in found {
        eprintln!("{mutant}: {found:?}");
        assert!(found.is_some(), "{mutant} is not noticed");
    }
}

#[test]
fn f01_a_save_that_lands_before_the_exchange_is_missed_when_it_is_not_looked_for() {
    assert_eq!(races::save_at("shadow-synced", races::APPENDS, "none"), Ok(()));
    for mutant in ["rename-over", "drop-displaced"] {
        let found = races::save_at("shadow-synced", races::APPENDS, mutant);
        eprintln!("{mutant}: {:?}", found.as_ref().map_err(|found| found.lines().next()));
        assert!(found.is_err(), "{mutant} is not noticed");
    }
}
