//! Every disk call of a command fails, one after the other, once and for ever.

use std::fs;

use crate::rig::{self, Round, Scene, TYPED, typed};

/// What a call meets. A short write followed by a full disk leaves half of the bytes.
const FATES: [&str; 8] = [
    "ENOSPC@call:{}",
    "ENOSPC@call:{}+",
    "EIO@call:{}",
    "EIO@call:{}+",
    "EACCES@call:{}",
    "EACCES@call:{}+",
    "short@call:{},ENOSPC@call:{next}+",
    "short@call:{}+",
];

fn fault(fate: &str, number: usize) -> String {
    fate.replace("{}", &number.to_string()).replace("{next}", &(number + 1).to_string())
}

/// Whether a call can meet this: a full disk still reads, and rights are asked for at the door.
fn can(record: &[String], number: usize, fate: &str) -> bool {
    let lead = format!("{number} ");
    let call = record.iter().find_map(|line| line.strip_prefix(&lead)).unwrap();
    let kind = call.split(' ').next().unwrap();
    match fate.split('@').next().unwrap() {
        "ENOSPC" => ["create", "makefolder", "write", "sync", "syncfolder", "exchange", "rename"].contains(&kind),
        "EACCES" => !["read", "write", "sync", "syncfolder"].contains(&kind),
        "EIO" => true,
        _ => ["read", "write"].contains(&kind),
    }
}

/// Lets each call of a command fail in a copy of the scene, and hands each copy to the judge.
fn each_call_fails(scene: &Scene, args: &[&str], fates: &[&str], judge: impl Fn(&Round, &rig::End, &str) + Sync) {
    let record = scene.round().calls(args, &[]);
    let calls = rig::count(&record);
    assert!(calls > 20, "the calls of {args:?} are counted: {calls}");
    let faults: Vec<String> = (1..=calls)
        .flat_map(|n| fates.iter().map(move |fate| (n, *fate)))
        .filter(|(n, fate)| can(&record, *n, fate))
        .map(|(n, fate)| fault(fate, n))
        .collect();
    rig::for_each(0..faults.len(), |n| {
        let (fault, round) = (&faults[n], scene.round());
        let end = round.run(args, &[("FOOTFOLD_FAULT", fault)]);
        judge(&round, &end, &format!("{} under {fault}", args[0]));
        fs::remove_dir_all(round.place()).unwrap();
    });
    eprintln!("{} has {calls} calls, and was broken {} times", args[0], faults.len());
}

fn judged(round: &Round, what: &str) {
    if let Err(found) = round.judge(&typed(&[])) {
        panic!("{what}: {found}");
    }
}

#[test]
fn f29_f30_f31_f37_every_call_of_a_seal_fails() {
    each_call_fails(&Scene::in_memory(), &["seal"], &FATES, |round, end, what| {
        round.kept_its_word(end, &typed(&[]), what);
        judged(round, what);
    });
}

#[test]
fn f29_f30_f31_every_call_of_a_start_after_an_interrupted_seal_fails() {
    for step in ["appended", "swapped"] {
        let scene = Scene::in_memory();
        let killed = scene.round_zero().run(&["seal"], &[("FOOTFOLD_FAULT", &format!("kill@{step}"))]);
        assert_eq!(killed.code, None, "{step}");
        each_call_fails(&scene, &["seal"], &["ENOSPC@call:{}+", "EIO@call:{}+"], |round, end, what| {
            round.kept_its_word(end, &typed(&[]), what);
            judged(round, &format!("killed at {step}, then {what}"));
        });
    }
}

#[test]
fn f29_f30_f31_every_call_of_a_write_fails_and_what_it_says_is_so() {
    let given = "419 note: line 2 end";
    each_call_fails(&Scene::in_memory(), &["write", given], &FATES, |round, end, what| {
        let said = end.said.split_whitespace().collect::<Vec<_>>().join(" ");
        let told_kept = end.code == Some(0) || said.contains("are kept, but the ledger does not show them");
        round.run(&["seal"], &[]);
        let is_kept = round.text().contains(": line 2 end | ");
        assert!(is_kept == told_kept || said.contains("may be kept later"), "{what}: {end:#?}\n{}", round.text());
        let kept = if is_kept { typed(&[given]) } else { typed(&[]) };
        round.judge(&kept).unwrap_or_else(|found| panic!("{what}, which said {end:#?}: {found}"));
    });
}

#[test]
fn f29_f30_f31_every_call_of_a_gather_fails() {
    let scene = Scene::in_memory();
    let here = scene.round_zero();
    let stick = here.place().join("stick");
    rig::copy_folder(&here.herd(), &stick);
    fs::remove_dir_all(stick.join(".footfold")).unwrap();
    let there = ["write", "500 note: far 0 end", "--herd", "../stick", "--device", "farm-office", "--by", "ao"];
    assert_eq!(here.run(&there, &[]).code, Some(0));
    let office = rig::only_file(&stick.join("ledgers/farm-office"));
    let theirs = fs::read_to_string(&office).unwrap();
    each_call_fails(&scene, &["gather", "../stick"], &FATES, |round, end, what| {
        let taken = round.herd().join("ledgers/farm-office").join(office.file_name().unwrap());
        if end.code == Some(0) {
            assert_eq!(fs::read_to_string(&taken).unwrap(), theirs, "{what}: {end:#?}");
        }
        let again = round.run(&["gather", "../stick"], &[]);
        assert_eq!(again.code, Some(0), "{what}: {again:#?}");
        assert_eq!(fs::read_to_string(&taken).unwrap(), theirs, "{what}");
        let accepted = round.herd().join(".footfold/accepted/farm-office").join(office.file_name().unwrap());
        assert_eq!(fs::read_to_string(accepted).unwrap(), theirs, "{what}");
        assert_eq!(rig::names(taken.parent().unwrap()).len(), 1, "{what}: left beside it");
        judged(round, what);
    });
}

#[test]
fn f29_f30_f31_f32_every_call_of_a_mending_fails() {
    let scene = Scene::in_memory();
    let here = scene.round_zero();
    assert_eq!(here.run(&["seal"], &[]).code, Some(0));
    let good = here.text();
    let tail = "500 note: after 0 end\n";
    let damaged = good.replace("line 0 end", "line 7 end") + tail;
    fs::write(here.ledger(), &damaged).unwrap();
    each_call_fails(&scene, &["check", "--mend"], &FATES, |round, end, what| {
        if end.code == Some(0) {
            assert_eq!(round.text(), format!("{good}{tail}"), "{what}: {end:#?}");
        }
        assert_eq!(round.shadow(), good.as_bytes(), "{what}: the accepted copy");
        let again = round.run(&["check", "--mend"], &[]);
        assert_eq!(again.code, Some(0), "{what}: {end:#?} {again:#?}");
        assert_eq!(round.text(), format!("{good}{tail}"), "{what}");
        let sealed = round.run(&["seal"], &[]);
        let text = round.text();
        let more: Vec<&str> = text.strip_prefix(&good).unwrap().lines().collect();
        assert!(sealed.code == Some(0) && more[0].contains(": after 0 end | "), "{what}: {sealed:#?}\n{text}");
        assert_eq!(more.len(), 1, "{what}: damage is no correction\n{text}");
        assert_eq!(round.shadow(), text.as_bytes(), "{what}");
        assert_eq!(round.verdict(), "well", "{what}");
        let aside = round.herd().join(".footfold/aside/crush-laptop");
        let kept = rig::names(&aside).iter().any(|name| fs::read_to_string(aside.join(name)).unwrap() == damaged);
        assert!(kept, "{what}: what stood there is kept aside");
    });
}

#[test]
fn f31_a_call_that_is_interrupted_or_short_once_is_no_trouble() {
    let scene = Scene::in_memory();
    each_call_fails(&scene, &["seal"], &["EINTR@call:{}", "short@call:{}"], |round, end, what| {
        assert_eq!(end.code, Some(0), "{what}: {end:#?}");
        round.kept_its_word(end, &typed(&[]), what);
        judged(round, what);
    });
    let round = scene.round();
    round.run(&["seal"], &[]);
    assert!(TYPED.len() == 2 && round.judge(&typed(&[])).is_ok());
    round.verifies("a sealing with nothing against it");
}
