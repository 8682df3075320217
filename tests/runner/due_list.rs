//! The due list of the invented herd is right: held against plain rules over the state that the independent
//! verifier folds from the same ledgers.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use chrono::NaiveDate;
use examples_make::{SEED, herd_of, story};
use serde_json::Value;

use crate::{TempHerd, root};

/// A cow's facts, each as its words.
type Facts = Vec<Vec<String>>;

fn states(herd: &TempHerd, day: &str) -> BTreeMap<String, Facts> {
    let folder = herd.path();
    let out =
        Command::new("python3").arg(root().join("spec/verifier")).arg(folder).args(["--state", day]).output().unwrap();
    let mut cows: BTreeMap<String, Facts> = BTreeMap::new();
    for line in String::from_utf8(out.stdout).unwrap().lines() {
        let mut words = line.split(' ').map(str::to_owned);
        cows.entry(words.next().unwrap()).or_default().push(words.collect());
    }
    cows.retain(|_, facts| facts.iter().any(|fact| fact.contains(&"present".to_owned())));
    cows
}

fn due(herd: &TempHerd, day: &str) -> Vec<Value> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
    command.args(["due", "--on", day, "--format", "json", "--herd"]).arg(herd.path());
    let out = command.env("FOOTFOLD_CONFIG", herd.config()).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let list: Value = serde_json::from_slice(&out.stdout).unwrap();
    list["rows"].as_array().unwrap().clone()
}

/// Cows of the list with a reason of a class that was set.
fn with_reason(rows: &[Value], class: &str) -> BTreeSet<String> {
    with(rows, |reason| reason["class"] == class && !is_not_set(reason))
}

fn is_not_set(reason: &Value) -> bool {
    reason["words"].as_str().unwrap().starts_with("no recheck set")
}

/// Cows of the list with such a reason.
fn with(rows: &[Value], is: impl Fn(&Value) -> bool) -> BTreeSet<String> {
    let has = |row: &&Value| row["reasons"].as_array().unwrap().iter().any(&is);
    rows.iter().filter(has).map(|row| row["cow"].as_str().unwrap().to_owned()).collect()
}

fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// What stands after a word of a fact.
fn after<'a>(fact: &'a [String], word: &str) -> Option<&'a str> {
    fact.iter().position(|w| w == word).and_then(|at| fact.get(at + 1)).map(String::as_str)
}

/// Cows with a fact of which something holds.
fn cows(states: &BTreeMap<String, Facts>, holds: impl Fn(&[String]) -> bool) -> BTreeSet<String> {
    let has = |facts: &Facts| facts.iter().any(|fact| holds(fact));
    states.iter().filter(|(_, facts)| has(facts)).map(|(cow, _)| cow.clone()).collect()
}

/// Cows whose newest score on the usual scale is at least `least` and who were lifted on no day since.
fn not_lifted_since(states: &BTreeMap<String, Facts>, least: u8) -> BTreeSet<String> {
    let waits = |facts: &Facts| {
        let score = facts.iter().find(|fact| fact[0] == "score" && !fact.contains(&"scale".to_owned()))?;
        let value = score[1][..1].parse::<u8>().ok()?;
        let lifted = facts.iter().find(|fact| fact[0] == "lifted").map(|fact| date(&fact[1]));
        (value >= least && lifted.is_none_or(|lifted| lifted < date(after(score, "on").unwrap()))).then_some(())
    };
    states.iter().filter(|(_, facts)| waits(facts).is_some()).map(|(cow, _)| cow.clone()).collect()
}

/// How many days ago a fact ends with.
fn days_since(fact: &[String], on: NaiveDate) -> i64 {
    (on - date(fact.last().unwrap())).num_days()
}

/// A block past its days by kind (shoe and bio 42, others 28), or a dressing past 7.
fn is_on_too_long(fact: &[String], on: NaiveDate) -> bool {
    let is = |word: &str| fact.iter().any(|w| w == word);
    match (is("block"), is("dressing")) {
        (true, _) => days_since(fact, on) >= if is("shoe") || is("bio") { 42 } else { 28 },
        (false, true) => days_since(fact, on) >= 7,
        (false, false) => false,
    }
}

/// Whether something of this name waits and its day has come.
fn waits(fact: &[String], word: &str, on: NaiveDate) -> bool {
    fact.iter().any(|w| w == word) && after(fact, "due").is_some_and(|due| date(due) <= on)
}

/// A painful lesion that nobody has seen for four weeks (Fürmann 2024; Cramer 2015).
fn is_painful_and_old(fact: &[String], on: NaiveDate) -> bool {
    let Some(code) = after(fact, "lesion") else { return false };
    let painful = match code {
        "DD" => fact.iter().any(|word| word == "M2"),
        "WLF" => after(fact, "grade").is_some_and(|grade| grade != "1"),
        code => ["U", "SU", "BU", "TU", "TN", "WLA", "IP", "SW"].contains(&code),
    };
    painful && days_since(fact, on) >= 28
}

fn missing(from: &BTreeSet<String>, listed: &BTreeSet<String>) -> Vec<String> {
    from.difference(listed).cloned().collect()
}

#[test]
fn the_due_list_of_the_invented_herd_is_right() {
    let herd = TempHerd::of(&herd_of(&story(SEED)));
    let mut seen = 0;
    for day in ["2025-05-20", "2025-11-12", "2026-03-31"] {
        let (states, rows, on) = (states(&herd, day), due(&herd, day), date(day));
        let too_long = cows(&states, |fact| is_on_too_long(fact, on));
        assert_eq!(with_reason(&rows, "on-too-long"), too_long, "{day}: blocks and dressings");
        let rechecks = cows(&states, |fact| waits(fact, "recheck", on));
        assert_eq!(with_reason(&rows, "recheck"), rechecks, "{day}: rechecks");
        let not_set = with(&rows, is_not_set);
        let painful = cows(&states, |fact| is_painful_and_old(fact, on));
        assert_eq!(missing(&not_set, &painful), [""; 0], "{day}: no recheck set");
        let vet = cows(&states, |fact| waits(fact, "vet", on) || fact.iter().any(|word| word == "referred"));
        assert_eq!(with_reason(&rows, "vet"), vet, "{day}: the vet");
        let severe = with_reason(&rows, "severely-lame");
        let first = ["getting-worse", "lame"]
            .iter()
            .flat_map(|class| with_reason(&rows, class))
            .chain(severe.clone())
            .collect();
        assert_eq!(missing(&not_lifted_since(&states, 3), &severe), [""; 0], "{day}: severely lame");
        assert_eq!(missing(&not_lifted_since(&states, 2), &first), [""; 0], "{day}: lame and not lifted");
        seen += too_long.len() + rechecks.len() + vet.len() + severe.len();
    }
    assert!(seen > 10, "too little to tell: {seen}");
}
