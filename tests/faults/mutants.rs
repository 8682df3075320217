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
fn f30_failing_calls_notice_a_torn_line_that_is_left() {
    let found = a_write_shows("leave-torn", &["EIO@call:{}"]);
    eprintln!("leave-torn: {found:?}");
    assert!(found.is_some(), "leave-torn is not noticed");
}

/// The number of the call that writes to the accepted copy.
fn appends(record: &[String]) -> usize {
    let call = record.iter().find(|line| line.contains(" write ") && line.contains("/accepted/")).unwrap();
    call.split(' ').next().unwrap().parse().unwrap()
}

/// Two lines of one length, of which half are on the disk when the kill comes: without a plan, one is kept.
#[test]
fn f27_half_of_what_was_written_is_kept_when_there_is_no_plan() {
    let scene = Scene::new();
    let half = |mutant: &str| {
        let given = ["write", "500 note: more 0 end", "501 note: more 1 end"];
        let call = appends(&scene.round().calls(&given, &[("FOOTFOLD_MUTANT", mutant)]));
        both_or_neither(&scene, &format!("short@call:{call},kill@call:{}", call + 1), mutant)
    };
    assert_eq!(half("none"), Ok(()));
    let found = half("drop-plan").expect_err("drop-plan is not noticed");
    assert!(found.starts_with("1 of 2 lines are kept"), "{found}");
}

/// What lies beside the ledger when the power goes at the very end of a sealing.
#[test]
fn f28_what_went_aside_comes_back_after_a_power_cut_when_its_move_was_not_synced() {
    let beside = |mutant: &str| {
        let scene = Scene::new();
        let round = scene.round();
        let with = [("FOOTFOLD_FAULT", "cut-names@unlocked"), ("FOOTFOLD_MUTANT", mutant)];
        assert_eq!(round.run(&["seal"], &with).code, None, "the power went");
        let names = rig::names(round.ledger().parent().unwrap());
        names.iter().filter(|name| name.starts_with(".2026")).count()
    };
    assert_eq!(beside("none"), 0);
    assert_eq!(beside("no-move-sync"), 1, "no-move-sync is not noticed");
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
