//! What people do to a ledger in an editor, and how the file stands after it (`keep.md`).

use std::fs;

use crate::machine::Machine;

/// A machine with three observations, and its text.
fn begun() -> (Machine, String) {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2", "2026-03-14 419 score 1"]).fine();
    let text = machine.text();
    (machine, text)
}

/// Saves a text as an editor does, and seals.
fn save(machine: &Machine, text: impl AsRef<[u8]>) -> String {
    fs::write(machine.ledger(), text).unwrap();
    machine.run(&["seal"]);
    machine.run(&["check", "--every-mark"]).fine();
    machine.text()
}

fn mark_of(text: &str, line: usize) -> &str {
    text.lines().nth(line - 1).unwrap().rsplit(' ').next().unwrap()
}

fn sealed(text: &str, body: &str) -> usize {
    text.matches(&format!("{body} | ")).count()
}

#[test]
fn f02_a_text_opened_hours_ago_takes_nothing_away() {
    let (machine, old) = begun();
    machine.run(&["write", "2026-03-14 420 score 2", "2026-03-14 421 score 2"]).fine();
    let now = machine.text();
    let after = save(&machine, format!("{old}2026-03-14 422 score 3\n"));
    assert!(after.starts_with(&now), "{after}");
    assert_eq!(sealed(&after, "2026-03-14 422 score 3 by kj"), 1);
    let remark: Vec<&str> = after.lines().filter(|line| line.starts_with(";!")).collect();
    assert_eq!(remark, [";! kept since this text was opened: lines 7 to 8; reload to see them"], "{after}");
    assert!(!save(&machine, machine.text()).contains(";!"), "the remark goes when the text is next read");
}

#[test]
fn f03_an_editor_that_never_reloads_has_each_line_sealed_once() {
    let (machine, mut text) = begun();
    for n in 0..12 {
        text = format!("{text}{} note: round {n} end\n", 430 + n);
        let after = save(&machine, &text);
        assert_eq!((0..=n).map(|n| after.matches(&format!(": round {n} end | ")).count()).sum::<usize>(), n + 1);
    }
    let twice = format!("{text}441 note: round 11 end\n");
    let after = save(&machine, &twice);
    assert_eq!(after.matches(": round 11 end | ").count(), 2, "typed twice on purpose: twice\n{after}");
    assert_eq!(save(&machine, &twice), after, "and no more");
}

#[test]
fn f03_a_line_changed_in_an_editor_that_never_reloads_is_a_correction() {
    let (machine, text) = begun();
    let after = save(&machine, format!("{text}2026-03-14 430 score 3\n"));
    let mark = mark_of(&after, 7).to_owned();
    let after = save(&machine, format!("{text}2026-03-14 430 score 2\n"));
    assert_eq!(sealed(&after, &format!("2026-03-14 430 score 2 replaces {mark} by kj")), 1, "{after}");
}

#[test]
fn f03_of_a_changed_line_of_several_acts_only_what_changed_is_corrected() {
    let (machine, text) = begun();
    let after = save(&machine, format!("{text}2026-03-14 430 wla rh outer z3, trim\n"));
    let mark = mark_of(&after, 7).to_owned();
    let changed = |zone: &str| format!("{text}2026-03-14 430 wla rh outer {zone}, trim\n");
    let after = save(&machine, changed("z44"));
    assert!(after.contains("\n2026-03-14 430 wla rh outer z44, trim\n;! "), "it waits\n{after}");
    for again in 0..2 {
        let after = save(&machine, changed("z4"));
        let body = format!("2026-03-14 430 lesion WLA RH outer zone 4 replaces {mark} by kj");
        assert_eq!(sealed(&after, &body), 1, "{again}\n{after}");
        assert_eq!(after.matches("430 trim").count(), 1, "{again}\n{after}");
        assert!(!after.contains("z44"), "{again}\n{after}");
    }
}

#[test]
fn f03_a_change_that_waits_corrects_what_it_changed_in_whatever_editor_it_is_mended() {
    let (machine, text) = begun();
    let after = save(&machine, format!("{text}2026-03-14 430 wla rh outer z3, trim\n"));
    let mark = mark_of(&after, 7).to_owned();
    save(&machine, format!("{text}2026-03-14 430 wla rh outer z44, trim\n"));
    machine.run(&["write", "2026-03-14 431 score 2"]).fine();
    let after = save(&machine, machine.text().replace("z44", "z4"));
    assert_eq!(
        sealed(&after, &format!("2026-03-14 430 lesion WLA RH outer zone 4 replaces {mark} by kj")),
        1,
        "{after}"
    );
    assert_eq!(after.matches("430 trim").count(), 1, "{after}");
}

#[test]
fn f03_a_line_changed_back_in_an_editor_that_never_reloads_is_offered_once() {
    let (machine, text) = begun();
    let stale = |score: u8| format!("{text}2026-03-14 430 score {score}\n");
    save(&machine, stale(3));
    let after = save(&machine, stale(2));
    let mark = mark_of(&after, 8).to_owned();
    let offer = format!(
        "; changed back, or not seen yet how it was changed, to keep it here take the `; ` away:\n\
         ; 2026-03-14 430 score 3 replaces {mark} by kj\n"
    );
    for more in ["", "", "2026-03-14 431 score 1\n"] {
        let after = save(&machine, stale(3) + more);
        assert_eq!(after.matches(&offer).count(), 1, "{after}");
        assert_eq!(after.matches("430 score").count(), 3, "{after}");
    }
    let taken = machine.text().replace("; 2026-03-14 430", "2026-03-14 430");
    assert_eq!(sealed(&save(&machine, taken), &format!("2026-03-14 430 score 3 replaces {mark} by kj")), 1);
}

#[test]
fn f04_a_line_carried_over_does_not_come_under_the_other_editors_heading() {
    let (machine, old) = begun();
    save(&machine, format!("{old}430 wlx rh outer z3\n"));
    fs::write(machine.ledger(), format!("{old}2026-03-10 by ao\n431 score 2\n")).unwrap();
    machine.run(&["write", "2026-03-14 432 score 1"]).fine();
    let after = save(&machine, machine.text().replace("wlx", "wla"));
    assert_eq!(sealed(&after, "2026-03-10 431 score 2 by ao"), 1, "{after}");
    assert!(after.contains(" 430 lesion WLA RH outer zone 3 by kj | ") && !after.contains("2026-03-10 430"), "{after}");
}

#[test]
fn f04_two_editors_and_the_command_at_once_are_all_kept() {
    let (machine, old) = begun();
    save(&machine, format!("{old}430 wla rh otuer z3\n"));
    let after = save(&machine, format!("{old}2026-03-14 431 score 2\n"));
    assert!(after.contains("430 wla rh otuer z3\n;! "), "the other's line waits on\n{after}");
    assert_eq!(sealed(&after, "2026-03-14 431 score 2 by kj"), 1);
    machine.run(&["write", "2026-03-14 432 score 2"]).fine();
    assert!(machine.text().contains("430 wla rh otuer z3\n"));
    let mended = machine.text().replace("otuer", "outer");
    let after = save(&machine, mended);
    assert!(after.contains("430 lesion WLA RH outer zone 3 by kj | ") && !after.contains(";!"), "{after}");
}

#[test]
fn f03_a_correction_in_an_editor_that_never_reloads_is_sealed_once() {
    let (machine, text) = begun();
    let changed = text.replace("417 score 3", "417 score 2");
    let after = save(&machine, &changed);
    for more in ["", "430 note: more\n", "431 note: more\n"] {
        let after_more = save(&machine, format!("{changed}{more}"));
        assert_eq!(after_more.matches("417 score 2 replaces").count(), 1, "{after_more}");
    }
    assert!(machine.text().starts_with(&after));
}

#[test]
fn f03_a_line_that_waited_for_a_command_is_sealed_once() {
    let (machine, text) = begun();
    let stale = format!("{text}430 note: waited\n");
    fs::write(machine.ledger(), &stale).unwrap();
    machine.run(&["write", "431 note: by the command"]).fine();
    machine.run(&["seal"]).fine();
    let after = save(&machine, format!("{stale}432 note: more\n"));
    assert_eq!(after.matches(": waited | ").count(), 1, "{after}");
    assert_eq!(after.matches(": more | ").count(), 1, "{after}");
}

#[test]
fn f04_a_line_carried_over_stays_whatever_the_other_editor_saves() {
    let (machine, old) = begun();
    save(&machine, format!("{old}418 wlx: rr\n"));
    for more in ["; c\n", "; c\n; d\n", "; c\n; d\n430 note: new\n"] {
        let after = save(&machine, format!("{old}{more}"));
        assert!(after.contains("418 wlx: rr\n;! "), "{more:?}\n{after}");
    }
    let deleted = machine.text().replace("418 wlx: rr\n", "");
    assert!(!save(&machine, deleted).contains("418 wlx: rr"), "taken out by one who saw it");
}

#[test]
fn f04_of_an_editor_opened_before_all_nothing_is_taken_for_deleted() {
    let machine = Machine::new("crush-laptop");
    let opened = machine.text();
    save(&machine, format!("{opened}418 wlx rh\n"));
    let after = save(&machine, format!("{opened}419 score 2\n"));
    assert!(after.contains("418 wlx rh\n;! ") && after.contains(" 419 score 2 by kj | "), "{after}");
    save(&machine, "");
    assert!(machine.text().contains("418 wlx rh\n"), "an emptied file takes nothing back\n{}", machine.text());
}

#[test]
fn f05_deleted_moved_doubled_and_joined_lines_stand_as_they_were() {
    let (machine, text) = begun();
    let lines: Vec<&str> = text.lines().collect();
    let without = text.replacen(&format!("{}\n", lines[4]), "", 1);
    let after = save(&machine, &without);
    assert!(after.starts_with(&text), "{after}");
    assert_eq!(
        &after[text.len()..],
        format!(";! sealed, and put back: line 5\n;! to withdraw it: 418 strike {} because WHY\n", mark_of(&text, 5))
    );
    let mut moved = lines.clone();
    moved.swap(3, 5);
    let doubled = format!("{text}{}\n", lines[4]);
    let joined = text.replacen(&format!("{}\n", lines[3]), lines[3], 1);
    for save_of in [moved.join("\n") + "\n", doubled, joined] {
        assert_eq!(save(&machine, &save_of), text, "{save_of}");
    }
}

#[test]
fn f06_a_copied_line_with_another_cow_is_new_and_the_original_stays() {
    let (machine, text) = begun();
    let copy = text.lines().nth(3).unwrap().replace(" 417 ", " 471 ");
    let after = save(&machine, format!("{text}{copy}\n"));
    assert!(after.starts_with(&text));
    assert_eq!(sealed(&after, "2026-03-14 471 score 3 by kj"), 1, "{after}");
}

#[test]
fn f07_find_and_replace_leaves_the_originals_and_makes_corrections() {
    let (machine, text) = begun();
    let after = save(&machine, text.replace("2026-03-14 ", "2026-03-13 "));
    assert!(after.starts_with(&text), "{after}");
    for (line, (cow, score)) in [(4, (417, 3)), (5, (418, 2)), (6, (419, 1))] {
        let body = format!("2026-03-13 {cow} score {score} replaces {} by kj", mark_of(&text, line));
        assert_eq!(sealed(&after, &body), 1, "{after}");
    }
}

#[test]
fn f07_a_change_that_cannot_be_stays_typed_with_its_mark_and_a_remark() {
    let (machine, text) = begun();
    let after = save(&machine, text.replace("417 score 3", "417 score 9"));
    let left = format!("2026-03-14 417 score 9 by kj replaces {}\n;! ", mark_of(&text, 4));
    assert!(after.starts_with(&text) && after[text.len()..].starts_with(&left), "{after}");
    let after = save(&machine, machine.text().replace("score 9", "score 2"));
    assert_eq!(sealed(&after, &format!("2026-03-14 417 score 2 replaces {} by kj", mark_of(&text, 4))), 1, "{after}");
    assert!(!after.contains(";!"));
}

#[test]
fn f07_a_changed_strike_is_a_strike_of_its_own_and_the_old_one_can_be_withdrawn() {
    let (machine, text) = begun();
    let (one, other) = (mark_of(&text, 4), mark_of(&text, 5));
    machine.run(&["write", &format!("2026-03-14 417 strike {one}: wrong cow")]).fine();
    let struck = machine.text();
    let line = struck.lines().nth(6).unwrap();
    let after = save(&machine, struck.replace(line, &line.replace(one, other)));
    assert!(after.starts_with(&struck), "{after}");
    assert_eq!(sealed(&after, &format!("2026-03-14 417 strike {other} by kj: wrong cow")), 1, "{after}");
    let how =
        format!(";! sealed, and put back: line 7\n;! to withdraw it: 417 strike {} because WHY\n", mark_of(&struck, 7));
    assert!(after.ends_with(&how), "{after}");
}

#[test]
fn f31_damage_that_a_broken_off_mending_left_beside_the_ledger_is_no_correction() {
    let (machine, text) = begun();
    let damaged = text.replace("417 score 3", "417 score 2") + "2026-03-14 430 score 1\n";
    fs::write(machine.ledger(), &damaged).unwrap();
    machine.run(&["check", "--mend"]).fine();
    // As if the power had failed before what came out of the ledger's place went aside.
    let beside =
        machine.ledger().with_file_name(format!(".{}.displaced-1", machine.ledger().file_name().unwrap().display()));
    fs::write(&beside, &damaged).unwrap();
    machine.run(&["seal"]).fine();
    let after = machine.text();
    assert!(after.starts_with(&text) && !after.contains(" replaces ") && !beside.exists(), "{after}");
    assert_eq!(sealed(&after, "2026-03-14 430 score 1 by kj"), 1, "{after}");
}

#[test]
fn f01_a_line_typed_to_its_end_while_it_was_taken_in_is_one_line() {
    for part in ["2026-03-14 430 note:", "2026-03-14 430 scor 2", "2026-03-14 4"] {
        let (machine, text) = begun();
        let left = save(&machine, format!("{text}{part}\n2026-03-14 418 scor 1\n"));
        assert!(left.contains(&format!("{part}\n;!")), "{left}");
        // What its editor wrote into the file that we had taken out of its place.
        let ledger = machine.ledger();
        let beside = ledger.with_file_name(format!(".{}.displaced-1", ledger.file_name().unwrap().display()));
        fs::write(beside, format!("{text}2026-03-14 430 note: lame again\n2026-03-14 418 scor 1\n")).unwrap();
        machine.run(&["seal"]);
        let after = machine.text();
        assert_eq!(sealed(&after, "2026-03-14 430 note by kj: lame again"), 1, "{after}");
        assert!(!after.contains(&format!("{part}\n")) && after.contains("2026-03-14 418 scor 1\n;!"), "{after}");
    }
}

#[test]
fn f05_a_digit_changed_in_a_seal_says_nothing() {
    let (machine, text) = begun();
    let mark = mark_of(&text, 4).to_owned();
    let other = mark.chars().map(|c| if c == '0' { '1' } else { '0' }).collect::<String>();
    let stripped: String = text.lines().map(|line| line.split(" | ").next().unwrap().to_owned() + "\n").collect();
    let line = text.lines().nth(3).unwrap();
    let second = line.len() - mark.len() - 3;
    let digit = if line.as_bytes()[second] == b'7' { "8" } else { "7" };
    let late = text.replace(line, &format!("{}{digit}{}", &line[..second], &line[second + 1..]));
    assert_ne!(late, text);
    for save_of in [text.replace(&mark, &other), late, stripped] {
        assert_eq!(save(&machine, &save_of), text, "{save_of}");
    }
}

#[test]
fn f05_two_sealed_lines_that_say_the_same_stay_two_without_their_seals() {
    let (machine, _) = begun();
    machine.run(&["write", "2026-03-14 420 score 2", "2026-03-14 420 score 2"]).fine();
    let text = machine.text();
    let stripped: String = text.lines().map(|line| line.split(" | ").next().unwrap().to_owned() + "\n").collect();
    assert_eq!(save(&machine, stripped), text);
}

#[test]
fn f08_a_sealed_letter_saved_in_an_old_encoding_is_known() {
    let (machine, _) = begun();
    machine.run(&["write", "2026-03-14 420 note: trop serr\u{e9}"]).fine();
    let text = machine.text();
    let old = |text: &str| -> Vec<u8> { text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect() };
    assert_eq!(save(&machine, old(&text)), text);
    let after = save(&machine, old(&format!("{text}2026-03-14 421 note: caf\u{e9}\n")));
    assert!(after.starts_with(&text) && after.contains("421 note by kj: caf\u{e9} | "), "{after}");
}

#[test]
fn f05_words_joined_in_front_of_a_sealed_line_are_offered_and_the_line_is_there() {
    let (machine, text) = begun();
    let line = text.lines().nth(4).unwrap();
    let after = save(&machine, text.replace(line, &format!("430 note: joined{line}")));
    let remark = ";! it stood in front of a sealed line; to keep it take the `; ` away: 430 note:\n;! joined\n";
    assert_eq!(after, format!("{text}{remark}; 430 note: joined\n"));
    let after = save(&machine, after.replace("\n; 430", "\n430"));
    assert_eq!(after.matches("430 note by kj: joined | ").count(), 1, "{after}");
    assert!(!after.contains(" replaces ") && !after.contains(';'), "{after}");
}

#[test]
fn f05_a_seal_that_words_tell_of_splits_no_line() {
    let (machine, text) = begun();
    let line = text.lines().nth(3).unwrap();
    let after = save(&machine, format!("{text}2026-03-14 430 note: like {line} but worse\n"));
    assert_eq!(sealed(&after, &format!("2026-03-14 430 note by kj: like {line} but worse")), 1, "{after}");
    assert_eq!(save(&machine, &after), after);
}

#[test]
fn f10_an_empty_file_or_one_of_nul_bytes_is_put_back() {
    let (machine, text) = begun();
    for save_of in [Vec::new(), vec![0; 2_000], text.as_bytes()[..text.len() / 2].to_vec()] {
        let after = save(&machine, &save_of);
        assert!(after.starts_with(&text), "{after}");
        fs::write(machine.ledger(), &text).unwrap();
        machine.run(&["seal"]);
    }
}

#[test]
fn f13_what_is_typed_in_another_devices_ledger_is_offered_in_ones_own() {
    let (machine, text) = begun();
    let theirs = machine.herd().join("ledgers/farm-office/2026.txt");
    machine.run(&["write", "--device", "farm-office", "2026-03-14 417 score 2"]).fine();
    let before = fs::read_to_string(&theirs).unwrap();
    fs::write(&theirs, before.replace("417 score 2", "417 score 0") + "420 score 1\n").unwrap();
    let after = save(&machine, &text);
    assert_eq!(fs::read_to_string(&theirs).unwrap(), before);
    let mark = mark_of(&before, before.lines().count());
    let offered = format!(
        "; typed in the ledger of farm-office, to keep it here take the `; ` away:\n\
         ; 2026-03-14 417 score 0 replaces {mark} of farm-office by kj\n; 420 score 1\n"
    );
    assert_eq!(after, format!("{text}{offered}"));
    fs::write(&theirs, format!("{before}421 score 1\n")).unwrap();
    let more = save(&machine, &after);
    assert_eq!(more, format!("{after}; 421 score 1\n"), "under the same heading");
    let after = save(&machine, more.replace("; 2026-03-14 417", "2026-03-14 417"));
    assert_eq!(sealed(&after, &format!("2026-03-14 417 score 0 replaces {mark} of farm-office by kj")), 1, "{after}");
}

#[test]
fn f15_a_line_that_is_not_understood_stays_once_with_one_remark() {
    let (machine, text) = begun();
    let mut after = save(&machine, format!("{text}430 score 2\n431 wla rh otuer\n432 score 2\n"));
    for _ in 0..3 {
        assert_eq!(after.matches("431 wla rh otuer").count(), 1, "{after}");
        assert_eq!(after.matches(";!").count(), 1, "{after}");
        assert!(after.contains(" 430 score 2 by kj | ") && after.contains(" 432 score 2 by kj | "));
        after = save(&machine, &after);
    }
}

#[test]
fn f16_remarks_edited_copied_or_typed_are_never_observations() {
    let (machine, text) = begun();
    let after = save(&machine, format!("{text}431 wla rh otuer\n"));
    let remark = after.lines().last().unwrap().to_owned();
    let copied = format!("{after}{remark} really\n;! 417 score 3\n; 417 score 3\n");
    let after = save(&machine, copied);
    assert_eq!(after.matches(";!").count(), 1, "{after}");
    assert!(after.contains("\n; 417 score 3\n"), "a person's comment stays\n{after}");
    assert_eq!(after.matches(" | ").count(), text.matches(" | ").count());
}

/// All that this machine keeps of its own, joined.
fn own(folder: &std::path::Path) -> String {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .map(
            |path| {
                if path.is_dir() { own(&path) } else { String::from_utf8_lossy(&fs::read(path).unwrap()).into_owned() }
            },
        )
        .collect()
}

#[test]
fn every_word_of_every_save_is_still_found() {
    let (machine, text) = begun();
    let lines: Vec<&str> = text.lines().collect();
    let saves = [
        format!("{text}430 score 3\n; it rained\n431 wla rh otuer\n"),
        text.replace("417 score 3", "417 score 2"),
        text.replace("418 score 2", "418 score nine, she limps"),
        text.replacen(&format!("{}\n", lines[4]), "", 1) + "432 note: typed over a deletion\n",
        format!("{text}{}\n433 note: behind a doubled line\n", lines[4]),
        text.replacen(&format!("{}\n", lines[3]), &format!("{} joined words ", lines[3]), 1),
        text.replace(" herd quillmere", " herd quilmere"),
        text.replace('\n', "\r\n") + "434 note: other line ends\r\n",
        "435 note: nothing else is here\n".to_owned(),
    ];
    for save_of in &saves {
        save(&machine, save_of);
    }
    let (ledger, own) = (machine.text(), own(&machine.herd().join(".footfold")));
    for line in saves.iter().flat_map(|save| save.lines()).map(str::trim_end) {
        let is_there = ledger.lines().any(|kept| kept == line) || own.contains(line);
        // A text in RON has its quotation marks and the like escaped; these lines have none.
        assert!(is_there, "of what was saved this is nowhere: {line}");
    }
}
