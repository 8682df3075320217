//! F28: the power goes, and what was not synced goes with it.

use crate::rig::{self, Scene, typed};

const CUTS: [&str; 4] = ["cut", "cut-names", "cut-data", "cut-zeros"];

#[test]
fn f10_f28_power_cut_at_each_call_of_a_seal() {
    let scene = Scene::new();
    let places = rig::after_changes(&scene.round().calls(&["seal"], &[]));
    rig::for_each(0..places.len() * CUTS.len(), |n| {
        let (number, cut) = (places[n / CUTS.len()], CUTS[n % CUTS.len()]);
        let fault = format!("{cut}@call:{number}");
        let round = scene.round();
        assert_eq!(round.run(&["seal"], &[("FOOTFOLD_FAULT", &fault)]).code, None, "{fault}");
        if n % 40 == 0 {
            round.judge(&typed(&[])).unwrap();
            round.verifies(&fault);
        }
        round.whole(&typed(&[]), &fault);
    });
}

/// What must follow upon what in a sealing: a call, and a part of its path.
const ORDER: [(&str, &str, &str); 14] = [
    ("sync", "/plan/.crush-laptop.ron.new", "the plan is on the disk"),
    ("rename", "/plan/crush-laptop.ron", "the plan takes its name"),
    ("syncfolder", "/plan", "the plan's name is on the disk"),
    ("sync", ".txt.new", "the new text is on the disk, beside the old one"),
    ("write", "/accepted/", "the lines go to the accepted copy"),
    ("sync", "/accepted/", "the lines are on the disk"),
    ("write", ".sig", "how far they go is stated"),
    ("sync", ".sig", "the statement is on the disk"),
    ("exchange", "/ledgers/", "the new text is shown, in exchange for the old one"),
    ("syncfolder", "/ledgers/", "the exchange is on the disk"),
    ("rename", "/aside/", "the old text goes aside"),
    ("syncfolder", "/aside/", "its new name is on the disk"),
    ("syncfolder", "/ledgers/", "its old name is gone from the disk"),
    ("remove", "/plan/crush-laptop.ron", "the plan is cleared"),
];

/// The first step that a record of calls does not have where it belongs.
pub(crate) fn broken_rule(record: &[String]) -> Option<&'static str> {
    let mut rest = record.iter();
    ORDER.iter().find_map(|(call, path, rule)| {
        let is_it = |line: &&String| line.split(' ').nth(1) == Some(call) && line.contains(path);
        if rest.find(is_it).is_some() { None } else { Some(*rule) }
    })
}
