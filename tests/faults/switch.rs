//! A machine goes on in the other history of its own ledger: broken off anywhere, each line is entered once.

use std::fs;

use crate::calls_fail::each_call_fails;
use crate::rig::{self, Round, Scene};

const GATHER: [&str; 2] = ["gather", "../stick"];

/// Both histories, as they stood before they met.
struct Two {
    ours: String,
    theirs: String,
    year: String,
}

impl Two {
    /// A machine with one history in its folder and another on its stick.
    fn make(scene: &Scene) -> Self {
        let here = scene.round_zero();
        assert_eq!(here.run(&["seal"], &[]).code, Some(0));
        let stick = here.place().join("stick");
        rig::copy_folder(&here.herd(), &stick);
        let there = ["write", "500 note: far 0 end", "--herd", "../stick"];
        assert_eq!(here.run(&there, &[]).code, Some(0));
        assert_eq!(here.run(&["write", "501 note: near 0 end"], &[]).code, Some(0));
        fs::remove_dir_all(stick.join(".footfold")).unwrap();
        let theirs = fs::read_to_string(rig::only_file(&stick.join("ledgers/crush-laptop"))).unwrap();
        let year = here.ledger().file_stem().unwrap().to_str().unwrap().to_owned();
        Self { ours: here.text(), theirs, year }
    }

    /// After another try with nothing in its way all is as it should be.
    fn judge(&self, round: &Round, what: &str) {
        for again in [&GATHER[..], &["seal"]] {
            let again = round.run(again, &[]);
            assert_eq!(again.code, Some(0), "{what}: {again:#?}");
        }
        let text = round.text();
        let more: Vec<&str> =
            text.strip_prefix(&self.theirs).unwrap_or_else(|| panic!("{what}: {text}")).lines().collect();
        let names = more.last().is_some_and(|line| line.contains(" herd witness crush-laptop "));
        assert!(more.len() == 2 && more[0].contains(": near 0 end (first sealed ") && names, "{what}: {text}");
        assert_eq!(round.shadow(), text.as_bytes(), "{what}");
        let forks = round.herd().join(".footfold/forks/crush-laptop");
        let lead = format!("{}-given-up-", self.year);
        let kept = rig::names(&forks).into_iter().filter(|name| name.starts_with(&lead));
        let kept: Vec<String> = kept.map(|name| fs::read_to_string(forks.join(name)).unwrap()).collect();
        assert_eq!(kept, [self.ours.as_str()], "{what}");
    }
}

#[test]
fn f21_f30_every_call_of_a_change_of_history_fails() {
    let scene = Scene::in_memory();
    let two = Two::make(&scene);
    each_call_fails(&scene, &GATHER, &["ENOSPC@call:{}+", "EIO@call:{}", "EIO@call:{}+"], |round, end, what| {
        two.judge(round, &format!("{what}, which said {end:#?}"));
    });
}

#[test]
fn f21_f27_f28_a_change_of_history_is_killed_and_the_power_goes_at_each_call() {
    let scene = Scene::new();
    let two = Two::make(&scene);
    let record = scene.round().calls(&GATHER, &[]);
    let mut places = rig::after_changes(&record);
    places.retain(|place| *place <= rig::count(&record));
    assert!(places.len() > 20, "{places:?}");
    let fates = ["kill", "cut", "cut-names"];
    rig::for_each(0..places.len() * fates.len(), |n| {
        let fault = format!("{}@call:{}", fates[n % fates.len()], places[n / fates.len()]);
        let round = scene.round();
        assert_eq!(round.run(&GATHER, &[("FOOTFOLD_FAULT", &fault)]).code, None, "{fault}");
        two.judge(&round, &fault);
        fs::remove_dir_all(round.place()).unwrap();
    });
}
