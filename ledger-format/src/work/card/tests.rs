//! The card names everything: what was struck, what was kept late, who disagrees.

use super::*;
use crate::fold::View;
use crate::fold::sample::{day, herd, herd_of, ledger};
use crate::merge::Log;

fn number(word: &str) -> CowNumber {
    CowNumber::read(word).unwrap()
}

fn card_of(herd: &Herd, word: &str) -> Card {
    card(herd, number(word), &Asked::default()).unwrap()
}

/// The mark of a ledger's n-th line after the head.
fn mark_of(lines: &[&str], n: usize) -> String {
    ledger("crush-laptop", lines).entries()[n].mark.to_string()
}

#[test]
fn struck_and_replaced_lines_stay_in_sight() {
    let first = ["2026-03-03 417 lesion SU RH outer by kj", "2026-03-03 417 score 2 by kj"];
    let replaces = format!("2026-03-03 417 lesion WLA RH outer replaces {} by kj", mark_of(&first, 0));
    let strike = format!("2026-03-04 417 strike {} by kj: wrong cow", mark_of(&first, 1));
    let herd = herd("2026-03-05", &[first[0], first[1], &replaces, &strike]);
    let card = card_of(&herd, "417");
    let standing: Vec<(&str, &str)> = card.history.iter().map(|row| (row.says.as_str(), row.standing)).collect();
    assert_eq!(standing[0], (format!("strike {}", mark_of(&first, 1)).as_str(), "standing"));
    assert_eq!(
        standing[1..],
        [("lesion WLA RH outer", "standing"), ("score 2", "struck"), ("lesion SU RH outer", "replaced")]
    );
    assert!(card.history[3].remarks[0].starts_with("replaced by ") && card.history[3].remarks[0].ends_with(", kj"));
    assert!(card.history[1].remarks[0].ends_with(": lesion SU RH outer"));
    assert_eq!(card.score, None);
}

#[test]
fn late_entries_say_how_late_in_the_herds_own_days() {
    let lines = [
        "2026-03-01 417 note by kj: at once | 2026-03-01T23:30:00Z",
        "2026-07-01 417 note by kj: next day in summer | 2026-07-01T23:30:00Z",
        "2026-03-02 417 score 2 by kj | 2026-03-14T08:00:00Z",
    ];
    let card = card_of(&herd("2026-12-31", &lines), "417");
    let late: Vec<i64> = card.history.iter().map(|row| row.kept_later_days).collect();
    assert_eq!(late, [1, 12, 0]);
    assert_eq!(card.history[1].remarks, ["kept 12 days later"]);
}

#[test]
fn doubles_and_disagreements_are_named() {
    let crush = ledger("crush-laptop", &["2026-03-03 417 lesion SU RH outer by kj", "2026-03-03 417 score 2 by kj"]);
    let office = ledger("farm-office", &["2026-03-03 417 lesion SU RH outer by ao", "2026-03-03 417 score 3 by ao"]);
    let card = card_of(&herd_of("2026-03-03", vec![crush, office]), "417");
    let of = |says: &str, by: &str| card.history.iter().find(|row| row.says == says && row.by == by).unwrap();
    assert_eq!(of("lesion SU RH outer", "ao").standing, "counted once");
    assert_eq!(of("lesion SU RH outer", "kj").remarks, ["ao on farm-office says the same; counted once"]);
    assert!(of("score 3", "ao").remarks[0].starts_with("open question: scores differ"));
    assert_eq!((card.questions.len(), card.questions[0].lines.len()), (1, 2));
    assert_eq!(card.questions[0].remedy, "replace or strike one of the two scores");
    assert_eq!(card.score.as_ref().map(|score| score.value.as_str()), Some("3"));
}

#[test]
fn a_number_used_again_is_another_card() {
    let lines = [
        "2025-02-01 417 joined by ao",
        "2025-02-02 417 score 3 by ao",
        "2025-03-01 417 left culled feet by ao",
        "2026-01-01 417 joined by ao",
        "2026-03-01 417 score 1 by ao",
    ];
    let card = card_of(&herd("2026-03-02", &lines), "417");
    assert_eq!((card.use_of_number, card.history.len()), (2, 2));
    assert_eq!(card.other_uses[0].left.as_deref(), Some("culled 1 Mar 2025, for her feet"));
    let before = card_of(&herd("2025-06-01", &lines), "417");
    assert_eq!((before.present, before.history.len(), before.left.is_some()), (false, 3, true));
    assert!(before.due.is_empty());
}

#[test]
fn renumbered_her_history_goes_with_her() {
    let lines = [
        "2026-01-01 417 score 2 by ao",
        "2026-02-01 417 renumbered to 900 by ao",
        "2026-02-10 417 joined by ao",
        "2026-03-01 417 score 0 by ao",
        "2026-03-02 900 score 3 by ao",
    ];
    let herd = herd("2026-03-02", &lines);
    let old = card_of(&herd, "900");
    let says: Vec<(&str, Option<&str>)> =
        old.history.iter().map(|row| (row.says.as_str(), row.number.as_deref())).collect();
    assert_eq!(says, [("score 3", None), ("renumbered to 900", Some("417")), ("score 2", Some("417"))]);
    let new: Vec<String> = card_of(&herd, "417").history.into_iter().map(|row| row.says).collect();
    assert_eq!(new, ["score 0", "joined"]);
}

#[test]
fn later_lines_are_counted_and_unknown_ones_are_not() {
    let lines = ["2026-03-01 417 score 2 by ao", "2026-03-20 417 score 0 by ao"];
    let herd = herd("2026-03-10", &lines);
    assert_eq!((card_of(&herd, "417").history.len(), card_of(&herd, "417").later_lines), (1, 1));
    let view = View { on: day("2026-03-10"), known: day("2026-03-10").and_hms_opt(23, 0, 0) };
    let known = Herd::fold(Log::union(vec![ledger("crush-laptop", &lines)]), Vec::new(), view);
    assert_eq!(card_of(&known, "417").later_lines, 0);
    assert!(card(&known, number("9"), &Asked::default()).is_none());
}

#[test]
fn how_she_stands_now() {
    let lines = [
        "2025-11-20 417 calved lactation 3 by ao",
        "2026-03-01 417 score 2 RH by ao",
        "2026-03-02 417 lesion WLA RH outer zone 3 grade 2 by kj",
        "2026-03-02 417 trim lame RH by kj",
        "2026-03-02 417 block on RH inner wood by kj",
        "2026-03-02 417 recheck due 2026-03-30 RH by kj",
        "2026-03-03 417 refer RH by kj: deep",
    ];
    let card = card_of(&herd("2026-03-14", &lines), "417");
    assert_eq!((card.breeding.state, card.breeding.days, card.breeding.lactation), ("in milk", Some(114), Some(3)));
    let on_feet: Vec<&str> = card.on_feet.iter().map(|on| on.words.as_str()).collect();
    assert_eq!(on_feet, ["RH outer WLA zone 3 grade 2", "RH inner wood block 12 days"]);
    assert_eq!(card.waiting, ["RH recheck due 30 Mar, set 2 Mar", "RH referred 3 Mar, not yet seen by the vet: deep"]);
    assert_eq!(card.trimmed.as_deref(), Some("lame 2 Mar, 12 days ago"));
    assert!(card.careful.iter().any(|words| words.starts_with("may be unfit to travel: lame, waiting for the vet")));
}
