//! Many lines corrected at once, each by a line of its own.

use std::fs;

use crate::machine::Machine;

/// A day's work under a heading of the wrong day, and a line before and after it.
fn wrong_day() -> (Machine, String) {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-10 416 score 1"]).fine();
    let work = [
        "2026-03-14 by kj",
        "417 su rh outer z4 g2, trim lame rh, rc 28d: deep",
        "09:12 418 score 3",
        "herd bath copper 5%",
    ];
    machine.run(&[&["write"], work.as_slice()].concat()).fine();
    machine.run(&["write", "2026-03-14 419 score 2 by ao"]).fine();
    let text = machine.text();
    (machine, text)
}

fn sealed(text: &str, body: &str) -> usize {
    text.matches(&format!("{body} | ")).count()
}

fn mark_of<'a>(text: &'a str, body: &str) -> &'a str {
    let line = text.lines().find(|line| line.contains(&format!("{body} | "))).unwrap();
    line.rsplit(' ').next().unwrap()
}

#[test]
fn f17_a_days_work_under_a_wrong_heading_is_redated_by_one_command() {
    let (machine, text) = wrong_day();
    let shown = machine.run(&["redate", "2026-03-13", "--on", "2026-03-14"]).fine();
    assert_eq!(machine.text(), text, "it is only shown");
    let shown = shown.says("Would be written, 6 lines:").says("Nothing is written yet").says("2026-04-11");
    let done = machine.run(&["redate", "2026-03-13", "--on", "2026-03-14", "--yes"]).fine().fits();
    let after = machine.text();
    assert!(after.starts_with(&text), "nothing is rewritten\n{after}");
    for (body, words) in [
        ("417 lesion SU RH outer zone 4 grade 2", ""),
        ("417 trim lame RH", ""),
        ("417 recheck due 2026-04-11 RH", ": deep"),
        ("09:12 418 score 3", ""),
        ("herd bath copper 5%", ""),
    ] {
        let mark = mark_of(&text, &format!("2026-03-14 {body} by kj{words}"));
        let new = format!("2026-03-13 {body} replaces {mark} by kj{words}");
        assert_eq!(sealed(&after, &new), 1, "{new}\n{after}");
        assert!(shown.out.contains(&new) && done.out.contains(&new), "{new}\n{shown:?}\n{done:?}");
    }
    let others = format!("2026-03-13 419 score 2 replaces {} by ao", mark_of(&text, "419 score 2 by ao"));
    assert_eq!(sealed(&after, &others), 1, "who saw it stays\n{after}");
    assert_eq!(after.lines().count(), text.lines().count() + 6, "{after}");
    machine.run(&["check", "--every-mark"]).fine();
    machine.run(&["redate", "2026-03-13", "--on", "2026-03-14", "--yes"]).ends(1).says("no line of crush-laptop fits");
    let card = machine.run(&["cow", "418", "--on", "2026-03-13"]).fine();
    assert!(card.out.contains("score 3"), "{card:?}");
}

#[test]
fn f17_cows_marks_and_saves_name_a_part_of_the_day() {
    let (machine, text) = wrong_day();
    machine.run(&["redate", "2026-03-13", "--on", "2026-03-14", "--cow", "418", "--yes"]).fine();
    let (from, to) =
        (mark_of(&text, "417 trim lame RH by kj"), mark_of(&text, "417 recheck due 2026-04-11 RH by kj: deep"));
    machine.run(&["strike", "--because", "typed for another herd", "--from", from, "--to", to, "--yes"]).fine();
    let after = machine.text();
    let more: Vec<&str> = after.strip_prefix(&text).unwrap().lines().collect();
    assert_eq!(more.len(), 3, "{after}");
    for (line, mark) in more[1..].iter().zip([from, to]) {
        assert!(line.contains(&format!(" 417 strike {mark} by kj: typed for another herd | ")), "{line}");
    }
    machine.run(&["strike", "--because", "x", "--from", "0123456789abcdef", "--yes"]).ends(1).says("has no line with");
    machine.run(&["strike", "--because", " ", "--on", "2026-03-10"]).ends(2).says("needs its reason");
    machine.run(&["strike", "--because", "all of it"]).ends(2);
    assert_eq!(machine.text(), after);
}

#[test]
fn f07_what_find_and_replace_did_is_told_as_one_group_and_struck_by_one_word() {
    let (machine, text) = wrong_day();
    fs::write(machine.ledger(), text.replace(" 417 ", " 471 ")).unwrap();
    let said = machine.run(&["seal"]).fine();
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = flat.split("to take all of them back: footfold ").nth(1).unwrap_or_else(|| panic!("{said:?}"));
    let mut words: Vec<&str> = told.split(' ').take(6).collect();
    assert_eq!(words.pop(), Some("WHY"), "{told}");
    let changed = machine.text();
    assert_eq!(changed.matches(" 471 ").count(), 3, "{changed}");
    machine.run(&[&words, ["not meant", "--yes"].as_slice()].concat()).fine();
    let after = machine.text();
    assert!(after.starts_with(&changed) && after.matches(" 471 strike ").count() == 3, "{after}");
    let card = machine.run(&["cow", "417", "--on", "2026-03-20"]).fine();
    assert!(card.out.contains("trim lame RH"), "she has her lines again\n{card:?}");
    assert!(!machine.run(&["herd", "--on", "2026-03-20"]).fine().out.contains("471"));
}
