//! What changed, and that the lines lead from one state to the other.

use super::*;
use crate::fold::sample::{herd, herd_of, ledger};
use proptest::prelude::*;

fn words(lines: &[&str], from: &str, to: &str) -> Vec<String> {
    let found = between(&herd(from, lines), &herd(to, lines));
    found.changes.iter().map(|c| format!("{} {}: {}", c.cow, c.kind.words(), c.words)).collect()
}

#[test]
fn the_worst_comes_first() {
    let lines = [
        "2026-01-01 1 joined by ao",
        "2026-01-01 1 moved to high by ao",
        "2026-01-02 2 score 2 by ao",
        "2026-01-02 3 score 2 by ao",
        "2026-01-02 4 score 0 by ao",
        "2026-01-02 5 block on LH inner wood by kj",
        "2026-01-02 6 lesion SU RH outer by kj",
        "2026-01-02 6 recheck due 2026-02-10 RH by kj",
        "2026-01-02 7 joined by ao",
        "2026-02-01 1 moved to low by ao",
        "2026-02-02 2 score 3 by ao",
        "2026-02-02 3 score 1 by ao",
        "2026-02-02 4 score 2 by ao",
        "2026-02-02 5 block off LH inner by kj",
        "2026-02-02 8 joined by ao",
        "2026-02-03 7 left culled feet by ao",
    ];
    assert_eq!(
        words(&lines, "2026-01-31", "2026-02-20"),
        [
            "2 became severely lame: scored 3 on 2026-02-02, was 2 on 2026-01-02",
            "4 became lame: scored 2 on 2026-02-02, was 0 on 2026-01-02",
            "6 recheck missed: RH was due 2026-02-10",
            "5 block off: LH inner wood block, on since 2026-01-02",
            "3 got better: scored 1 on 2026-02-02, was 2 on 2026-01-02",
            "8 joined: joined 2026-02-02",
            "7 left: culled 2026-02-03, for her feet",
            "1 moved: from high to low",
        ]
    );
}

#[test]
fn lesions_open_and_close() {
    let lines = [
        "2026-01-02 1 lesion DD M2 LH by kj",
        "2026-02-02 1 recheck found sound LH by kj",
        "2026-02-02 1 lesion WLA RH outer zone 3 by kj",
        "2026-02-02 1 block on RH inner shoe by kj",
    ];
    assert_eq!(
        words(&lines, "2026-01-31", "2026-02-20"),
        [
            "1 new lesion: RH outer WLA zone 3, first seen 2026-02-02",
            "1 block put on: RH inner shoe block, on since 2026-02-02",
            "1 lesion closed: LH DD M2, found sound 2026-02-02",
        ]
    );
}

#[test]
fn a_renumbered_cow_is_the_same_cow() {
    let lines = [
        "2026-01-02 417 score 2 by ao",
        "2026-02-01 417 renumbered to 900 by ao",
        "2026-02-02 417 joined by ao",
        "2026-02-02 900 score 3 by ao",
    ];
    assert_eq!(
        words(&lines, "2026-01-31", "2026-02-20"),
        [
            "900 became severely lame: scored 3 on 2026-02-02, was 2 on 2026-01-02",
            "417 joined: joined 2026-02-02",
            "900 renumbered: was 417",
        ]
    );
}

#[test]
fn nothing_between_a_state_and_itself() {
    let lines = ["2026-01-02 417 score 0 by ao", "2026-01-02 418 joined by ao"];
    let (a, b) = (herd("2026-02-01", &lines), herd("2026-02-01", &lines));
    assert_eq!((between(&a, &b).changes, between(&a, &b).unchanged), (Vec::new(), 2));
    assert_eq!(super::lines(&a, &b), "");
}

#[test]
fn what_was_struck_is_told_too() {
    let first = ["2026-01-02 417 joined by ao", "2026-01-03 418 joined by ao"];
    let mark = ledger("crush-laptop", &first).entries()[1].mark;
    let strike = format!("2026-01-10 418 strike {mark} by ao: not ours");
    let a = herd("2026-01-05", &first);
    let b = herd("2026-01-20", &[first[0], first[1], &strike]);
    assert!(between(&a, &b).changes.iter().any(|change| change.cow == "418"));
}

/// Applies a unified diff, as `patch` does.
fn patched(before: &str, diff: &str) -> String {
    let old: Vec<&str> = before.split_inclusive('\n').collect();
    let (mut out, mut at) = (String::new(), 0);
    for line in diff.split_inclusive('\n').skip_while(|line| !line.starts_with("@@")) {
        let (sign, rest) = line.split_at(1);
        match sign {
            "@" => {
                let start = line.split(['-', ',', ' ']).nth(2).unwrap().parse::<usize>().unwrap();
                let is_empty = line.contains(",0 +");
                let start = if is_empty { start } else { start - 1 };
                out.extend(old[at..start].iter().copied());
                at = start;
            }
            " " => {
                assert_eq!(old[at], rest);
                out.push_str(rest);
                at += 1;
            }
            "-" => {
                assert_eq!(old[at], rest);
                at += 1;
            }
            "+" => out.push_str(rest),
            _ => panic!("{line:?}"),
        }
    }
    out.extend(old[at..].iter().copied());
    out
}

fn a_line() -> impl Strategy<Value = String> {
    let acts = prop_oneof![
        (0..4u8).prop_map(|score| format!("score {score}")),
        Just("trim lame RH".to_owned()),
        Just("trim routine LF RF LH RH".to_owned()),
        Just("lesion SU RH outer".to_owned()),
        Just("lesion DD M2 LH".to_owned()),
        Just("block on RH inner wood".to_owned()),
        Just("block off RH".to_owned()),
        Just("dressing on LH".to_owned()),
        Just("recheck found sound".to_owned()),
        (1..29u8).prop_map(|day| format!("recheck due 2026-03-{day:02} RH")),
        Just("left sold".to_owned()),
        Just("joined".to_owned()),
        (1..6u8).prop_map(|to| format!("renumbered to {to}")),
        prop_oneof![Just("high"), Just("low")].prop_map(|group| format!("moved to {group}")),
        Just("calved".to_owned()),
        Just("dried".to_owned()),
    ];
    (1..29u8, 1..6u8, acts).prop_map(|(day, cow, act)| format!("2026-02-{day:02} {cow} {act} by ao"))
}

proptest! {
    #[test]
    fn the_lines_lead_from_one_state_to_the_other(
        mut crush in prop::collection::vec(a_line(), 0..60),
        office in prop::collection::vec(a_line(), 0..20),
        from in 1..29u8,
        to in 1..29u8,
    ) {
        crush.sort();
        let fold = |day: u8| {
            let files = [("crush-laptop", &crush), ("farm-office", &office)].map(|(device, lines)| {
                ledger(device, &lines.iter().map(String::as_str).collect::<Vec<_>>())
            });
            herd_of(&format!("2026-02-{day:02}"), files.into())
        };
        let (a, b) = (fold(from), fold(to));
        let (before, after) = (state_text(&a), state_text(&b));
        prop_assert_eq!(patched(&before, &super::lines(&a, &b)), &after[..]);
        let found = between(&a, &b);
        prop_assert!(found.changes.windows(2).all(|pair| pair[0].kind <= pair[1].kind));
        // No change of the text goes without a word, and words of change need a change of the text.
        if before == after {
            let stays = |change: &Change| matches!(change.kind, Kind::StillLame | Kind::RecheckMissed);
            prop_assert!(found.changes.iter().all(stays));
        } else {
            prop_assert!(!found.changes.is_empty());
        }
    }

    #[test]
    fn words_come_from_the_two_states_only(
        lines in prop::collection::vec(a_line(), 0..60),
        from in 1..29u8,
        to in 1..29u8,
    ) {
        let day = |day: u8| format!("2026-02-{day:02}");
        let all: Vec<&str> = lines.iter().map(String::as_str).collect();
        let up_to_then: Vec<&str> = all.iter().copied().filter(|line| line[..10] <= *day(from.max(to))).collect();
        let found = between(&herd(&day(from), &all), &herd(&day(to), &all));
        prop_assert_eq!(found, between(&herd(&day(from), &up_to_then), &herd(&day(to), &up_to_then)));
    }
}
