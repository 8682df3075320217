//! What editors make of a ledger's blanks, line ends and lines: nothing of it is sealed again.

use std::fs;

use crate::machine::Machine;

#[test]
fn lines_that_an_editor_padded_or_tabbed_are_not_sealed_again() {
    let pad: fn(&str) -> String = |text| text.replace('\n', "  \n");
    let tab: fn(&str) -> String = |text| text.replace(' ', "\t");
    let pad_one: fn(&str) -> String = |text| text.replacen('\n', " \n", 1);
    for change in [pad, tab, pad_one] {
        let machine = Machine::new("crush-laptop");
        machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
        let before = machine.text();
        fs::write(machine.ledger(), change(&before)).unwrap();
        machine.run(&["seal"]).fine().says("nothing new to keep");
        assert_eq!(machine.text(), before);
        fs::write(machine.ledger(), change(&format!("{before}2026-03-14 419 score 1\n"))).unwrap();
        machine.run(&["seal"]).fine().says("Kept: 1 line");
        let after = machine.text();
        assert!(after.starts_with(&before) && after[before.len()..].starts_with("2026-03-14 419 score 1 by kj | "));
        assert_eq!(after.lines().count(), before.lines().count() + 1, "{after}");
        machine.run(&["check", "--every-mark"]).fine();
    }
}

#[test]
fn a_doubled_file_and_pasted_sealed_lines_are_not_sealed_again() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
    let before = machine.text();
    fs::write(machine.ledger(), format!("{before}{before}419 note: new\n")).unwrap();
    machine.run(&["seal"]).fine().says("already kept, lines 1 to 5").says("Kept: 1 line");
    let after = machine.text();
    assert!(after.starts_with(&before) && after[before.len()..].contains(" 419 note by kj: new | "), "{after}");
    assert_eq!(after.lines().count(), before.lines().count() + 1, "{after}");
    let line = before.lines().nth(3).unwrap();
    machine.types(format!("{line}  \n"));
    machine.run(&["seal"]).fine().says("already kept, line 4").says("nothing new to keep");
    assert_eq!(machine.text(), after);
    machine.run(&["write", "420 score 1"]).fine();
    let aside = String::from_utf8(machine.aside()).unwrap();
    assert!(aside.contains(&format!("{before}{before}")), "the doubled text is kept for good: {aside}");
    machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn cows_of_padded_lines_stay_on_the_due_list_until_the_next_sealing() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 3"]).fine();
    let before = machine.text();
    let due = ["due", "--on", "2026-03-15"];
    let told = machine.run(&due).fine().out.clone();
    for padded in [
        before.replace('\n', "  \n"),
        before.replace(' ', "\t"),
        format!("{}  \n", before.trim_end_matches('\n')),
        before.replace('\n', "\r\n"),
    ] {
        fs::write(machine.ledger(), &padded).unwrap();
        let said = machine.run(&due);
        assert_eq!((said.out.as_str(), said.err.as_str()), (told.as_str(), ""), "{padded:?}");
        machine.run(&["check"]).fine().says("only looks changed");
    }
}
