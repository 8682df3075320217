//! What a visit's sheet says and sums.

use super::*;
use crate::fold::sample::{day, herd, herd_of, ledger};

fn visit(on: &str) -> Visit<'_> {
    Visit { day: day(on), by: None, device: None }
}

const LINES: [&str; 11] = [
    "2026-03-13 417 score 2 by ao",
    "2026-03-14 09:12 417 lesion WLA RH outer zone 3 grade 2 by kj: runs toward the heel",
    "2026-03-14 417 trim lame RH inner wall 82mm sole 6.5mm by kj",
    "2026-03-14 417 block on RH inner wood by kj",
    "2026-03-14 417 recheck due 2026-04-11 RH by kj",
    "2026-03-14 418 trim routine LF RF LH RH by kj",
    "2026-03-14 418 lesion none LF RF LH RH by kj",
    "2026-03-14 419 lesion DD M2 LH zone 10 by kj",
    "2026-03-14 419 refer LH by kj: not clearing",
    "2026-03-14 420 score 3 by ao",
    "2026-03-14 herd bath copper 5% passes 2 by ao",
];

#[test]
fn a_foot_reads_found_then_done() {
    let sheet = sheet(&herd("2026-03-14", &LINES), &visit("2026-03-14"));
    let row = sheet.cows.iter().find(|row| row.cow == "417").unwrap();
    assert_eq!(row.feet[0].found, ["outer white line abscess (WLA), zone 3, grade 2 moderate: runs toward the heel"]);
    assert_eq!(row.feet[0].done, ["lame trim, inner wall 82 mm sole 6.5 mm", "wood block on inner"]);
    assert_eq!(row.rechecks, ["RH recheck 11 Apr, in 28 days"]);
    assert_eq!(
        row.watch,
        [
            "RH recheck due 11 Apr, set 14 Mar",
            "RH inner wood block: look or take off by 11 Apr",
            "painful: RH outer WLA zone 3 grade 2"
        ]
    );
}

#[test]
fn the_worst_comes_first_and_those_not_lifted_apart() {
    let sheet = sheet(&herd("2026-03-14", &LINES), &visit("2026-03-14"));
    let cows: Vec<&str> = sheet.cows.iter().map(|row| row.cow.as_str()).collect();
    assert_eq!(cows, ["419", "417", "418"]);
    assert_eq!(sheet.not_lifted[0].cow_words, ["scored 3"]);
    assert_eq!(sheet.herd_lines, ["herd bath copper 5% passes 2"]);
    assert_eq!(sheet.people, ["ao", "kj"]);
}

#[test]
fn sums_count_cows_once() {
    let totals = sheet(&herd("2026-03-14", &LINES), &visit("2026-03-14")).totals;
    assert_eq!((totals.lifted, totals.trimmed_lame, totals.trimmed_routine, totals.lifted_only), (3, 1, 1, 1));
    assert_eq!((totals.with_lesion, totals.no_lesion, totals.not_said), (2, 1, 0));
    assert_eq!((totals.scored, totals.scored_lame, totals.referred), (1, 1, 1));
    assert_eq!(totals.blocks, [Count { what: "wood", count: 1 }]);
}

#[test]
fn one_persons_visit_holds_only_what_they_saw() {
    let herd = herd("2026-03-14", &LINES);
    let sheet = sheet(&herd, &Visit { by: Some("ao"), ..visit("2026-03-14") });
    assert!(sheet.cows.is_empty() && sheet.not_lifted.len() == 1);
}

#[test]
fn what_two_devices_say_is_there_once() {
    let crush = ledger("crush-laptop", &["2026-03-14 417 block on RH inner wood by kj"]);
    let office = ledger("farm-office", &["2026-03-14 417 block on RH inner by ao"]);
    let herd = herd_of("2026-03-14", vec![crush, office]);
    assert_eq!(sheet(&herd, &visit("2026-03-14")).totals.blocks, [Count { what: "wood", count: 1 }]);
    let theirs = sheet(&herd, &Visit { device: Some("farm-office"), ..visit("2026-03-14") });
    assert_eq!(theirs.totals.blocks, [Count { what: "not said", count: 1 }]);
}

#[test]
fn struck_lines_are_not_on_it() {
    let first = ["2026-03-14 417 block on RH inner wood by kj"];
    let mark = ledger("crush-laptop", &first).entries()[0].mark;
    let strike = format!("2026-03-14 417 strike {mark} by kj: wrong cow");
    let sheet = sheet(&herd("2026-03-14", &[first[0], &strike]), &visit("2026-03-14"));
    assert!(sheet.cows.is_empty() && sheet.totals.blocks.is_empty());
}

#[test]
fn a_block_over_its_time_says_since_when() {
    let lines = ["2026-01-01 417 block on LH inner wood by kj", "2026-03-14 417 trim check RH by kj"];
    let sheet = sheet(&herd("2026-03-14", &lines), &visit("2026-03-14"));
    assert_eq!(sheet.cows[0].watch, ["LH inner wood block: over its time since 29 Jan"]);
}

#[test]
fn a_painful_lesion_without_a_recheck_proposes_the_day() {
    let lines = ["2026-03-14 417 lesion WLA RH outer by kj", "2026-03-14 417 recheck due 2026-04-11 LH by kj"];
    let sheet = sheet(&herd("2026-03-14", &lines), &visit("2026-03-14"));
    let painful = "painful: RH outer WLA; no recheck set, look again by 11 Apr";
    assert!(sheet.cows[0].watch.iter().any(|words| words == painful), "{:?}", sheet.cows[0].watch);
}

#[test]
fn what_the_office_registers_is_no_part_of_the_visit() {
    let lines = [
        "2026-03-14 417 trim lame RH by kj",
        "2026-03-14 417 moved to straw by kj",
        "2026-03-14 417 dried due 2026-05-01 by fo",
        "2026-03-14 418 calved by fo",
        "2026-03-14 419 joined by ao",
        "2026-03-14 420 score 2 by ao",
    ];
    let sheet = sheet(&herd("2026-03-14", &lines), &visit("2026-03-14"));
    assert_eq!(sheet.cows[0].cow_words, ["moved to straw"]);
    let others: Vec<&str> = sheet.not_lifted.iter().map(|row| row.cow.as_str()).collect();
    assert_eq!((others, sheet.people), (vec!["420"], vec!["ao".to_owned(), "kj".to_owned()]));
}
