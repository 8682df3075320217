//! `new`, `write`, `seal`: what is kept, what stays, what is said.

use crate::machine::{Machine, path};

#[test]
fn a_herd_begins_with_a_head_its_device_and_a_protocol() {
    let machine = Machine::new("crush-laptop");
    let text = machine.text();
    assert!(text.starts_with("footfold 1 herd quillmere device crush-laptop key "), "{text}");
    assert!(text.contains(" herd admit crush-laptop key ") && text.contains(" as keeper by kj | "));
    let adopted = text.split("herd adopt ").nth(1).unwrap().split(' ').next().unwrap();
    let protocol = machine.herd().join("protocols").join(format!("{adopted}.ron"));
    assert_eq!(blake3::hash(&std::fs::read(protocol).unwrap()).to_string(), adopted);
    machine.run(&["check"]).fine().says("unbroken").fits();
}

#[test]
fn the_mark_of_a_line_is_two_everyday_commands() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3"]).fine();
    let text = machine.text();
    let (before, mark) = text.trim_end().rsplit_once(' ').unwrap();
    let hash = blake3::hash(format!("{before} ").as_bytes()).to_string();
    assert_eq!(&hash[..16], mark);
}

#[test]
fn f41_names_that_cannot_be_files_everywhere_are_refused() {
    let machine = Machine::bare("crush-laptop");
    for (device, by) in [("con", "kj"), ("Crush", "kj"), ("crush-laptop", "K J"), ("../x", "kj")] {
        machine.run_in(machine.place(), &["new", "quillmere", "--device", device, "--by", by]).ends(1).says("to do:");
        assert!(!machine.herd().exists(), "{device} {by}");
    }
    let wrong_zone = ["new", "quillmere", "--device", "a", "--by", "kj", "--zone", "Mars/Olympus"];
    machine.run_in(machine.place(), &wrong_zone).ends(2).says("no time zone");
}

#[test]
fn a_folder_that_holds_anything_is_left_alone_and_settings_are_never_changed() {
    let machine = Machine::new("crush-laptop");
    let settings = std::fs::read(machine.config().join("footfold.ron")).unwrap();
    let folder = machine.herd();
    let again = ["new", path(&folder), "--device", "crush-laptop", "--by", "kj"];
    machine.run_in(machine.place(), &again).ends(1).says("expected an empty folder");
    let other = ["new", "thornholt", "--device", "crush-laptop", "--by", "kj"];
    machine.run_in(machine.place(), &other).fine().says("add this line to `herds`");
    assert_eq!(std::fs::read(machine.config().join("footfold.ron")).unwrap(), settings);
}

#[test]
fn write_keeps_all_or_nothing() {
    let machine = Machine::new("crush-laptop");
    let before = machine.text();
    let wrong =
        machine.run(&["write", "418 3", "417 WLA RH outr z3", "9 score 7"]).ends(1).says("Nothing was kept").fits();
    assert!(wrong.out.contains("line 2:\n  417 WLA RH outr z3\n             ^^^^\n"), "{}", wrong.out);
    assert!(wrong.out.contains("line 3:"), "all mistakes are told: {}", wrong.out);
    assert_eq!(machine.text(), before);
    let kept = machine.run(&["write", "2026-03-14 by ao", "417 WLA RH outer z3 g2, trim lame RH", "418 3"]).fine();
    assert_eq!(
        kept.out,
        "2026-03-14 417 lesion WLA RH outer zone 3 grade 2 by ao\n2026-03-14 417 trim lame RH by ao\n\
         2026-03-14 418 score 3 by ao\n"
    );
}

#[test]
fn write_leaves_the_tail_alone_and_reads_files_and_input() {
    let machine = Machine::new("crush-laptop");
    machine.types("417 WLA RH outr\n; a thought\n");
    let file = machine.place().join("visit.txt");
    std::fs::write(&file, "418 3\r\n419 2").unwrap();
    machine.run(&["write", "--file", path(&file)]).fine();
    assert!(machine.text().ends_with("417 WLA RH outr\n; a thought\n"), "{}", machine.text());
    let mut command = machine.command(&["write", "-"]);
    command.current_dir(machine.herd()).stdin(std::fs::File::open(&file).unwrap());
    crate::machine::said(&mut command).fine().says("418 score 3");
    machine.run(&["write"]).ends(2).says("nothing was typed");
    machine.run(&["check"]).fine();
}

#[test]
fn seal_keeps_order_leaves_what_it_cannot_read_and_takes_its_remarks_back() {
    let machine = Machine::new("crush-laptop");
    machine.types("2026-03-14 by ao\n419 2\n420 lesion XX RH\n; a thought\n421 3");
    machine.run(&["seal"]).ends(1).says("Left as typed: 1 line").says("Kept: 2 lines");
    let text = machine.text();
    let tail = text.split("421 score 3").nth(1).unwrap().split_once('\n').unwrap().1;
    let lines: Vec<&str> = tail.lines().collect();
    assert_eq!((lines[0], lines[2]), ("2026-03-14 by ao 420 lesion XX RH", "; a thought"));
    assert!(lines[1].starts_with(";! col 29:"), "{}", lines[1]);
    assert!(text.find("419 score 2").unwrap() < text.find("421 score 3").unwrap());
    std::fs::write(machine.ledger(), text.replace("420 lesion XX RH", "420 lesion SU RH outer")).unwrap();
    machine.run(&["seal"]).fine().says("Kept: 1 line");
    let text = machine.text();
    assert!(text.contains("2026-03-14 420 lesion SU RH outer by ao"), "{text}");
    assert!(text.ends_with("; a thought\n") && !text.contains(";!") && !text.contains("\n2026-03-14 by ao\n"));
    machine.run(&["seal"]).fine().says("nothing new to keep");
    machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn a_heading_does_not_reach_what_is_typed_under_a_refused_line_later() {
    let machine = Machine::new("crush-laptop");
    machine.types("2026-11-20 by ao\n500 3\n501 wla rh otuer\n");
    machine.run(&["seal"]).ends(1).says("Kept: 1 line");
    assert!(machine.text().contains("\n2026-11-20 by ao 501 wla rh otuer\n;! col"), "{}", machine.text());
    machine.types("2026-11-25 502 2\n503 1\n");
    machine.run(&["seal"]).ends(1).says("Kept: 2 lines");
    let text = machine.text();
    assert!(text.contains("2026-11-25 502 score 2 by kj | ") && text.contains(" 503 score 1 by kj | "), "{text}");
    assert!(!text.contains("2026-11-20 503"), "{text}");
    std::fs::write(machine.ledger(), text.replace("otuer", "outer")).unwrap();
    machine.run(&["seal"]).fine().says("2026-11-20 501 lesion WLA RH outer by ao");
    machine.types("2026-11-20\nby K J\n504 3\n");
    machine.run(&["seal"]).ends(1);
    let text = machine.text();
    assert!(text.contains("\n2026-11-20\nby K J\n"), "a refused heading stays: {text}");
    std::fs::write(machine.ledger(), text.replace("by K J", "by ao")).unwrap();
    machine.run(&["seal"]).fine().says("2026-11-20 504 score 3 by ao");
}

#[test]
fn f06_a_copied_seal_is_a_new_line_and_the_original_stays() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3"]).fine();
    let before = machine.text();
    let last = before.lines().last().unwrap().to_owned();
    machine.types(format!("{}\n", last.replace(" 417 ", " 418 ")));
    machine.run(&["check"]).ends(1).says("bears a mark from elsewhere").says("footfold seal");
    machine.run(&["seal"]).fine().says("2026-03-14 418 score 3 by kj");
    assert!(machine.text().starts_with(&before));
    assert_eq!(machine.text().lines().count(), before.lines().count() + 1);
    machine.run(&["check", "--every-mark"]).fine();
}

#[test]
fn f05_an_edited_sealed_line_comes_back_and_the_change_is_a_correction() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-03-14 417 score 3", "2026-03-14 418 score 2"]).fine();
    let good = machine.text();
    let edited = good.replace("417 score 3", "417 score 0") + "419 1\n";
    std::fs::write(machine.ledger(), &edited).unwrap();
    machine.run(&["check"]).ends(1).says("broken at line 4").says("stood: 2026-03-14 417 score 3").fits();
    machine.run(&["check", "--mend"]).fine().says("line 4 put back").says("unbroken");
    assert_eq!(machine.text(), format!("{good}419 1\n"), "what was typed under it stays");
    assert!(String::from_utf8(machine.aside()).unwrap().contains("417 score 0"), "what stood there is kept");
    std::fs::write(machine.ledger(), &edited).unwrap();
    machine.run(&["seal"]).fine().says("Kept: 2 lines").says("419 score 1").says("the change is a correction");
    let (mark, after) = (good.lines().nth(3).unwrap().rsplit(' ').next().unwrap(), machine.text());
    assert!(after.starts_with(&good), "the sealed line is back");
    assert!(after.contains(&format!("417 score 0 replaces {mark} by kj | ")), "{after}");
    machine.run(&["seal"]).fine().says("nothing new to keep");
    assert_eq!(machine.text(), after);
    machine.run(&["check", "--every-mark"]).fine();
}

/// How an editor turns the text into bytes.
type Save = Box<dyn Fn(&str) -> Vec<u8>>;

#[test]
fn f08_whatever_an_editor_saves_is_understood_and_sealed_as_plain_text() {
    let utf16 = |text: &str| [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let saves: [(&str, Save); 5] = [
        ("crlf", Box::new(|text| text.replace('\n', "\r\n").into_bytes())),
        ("lone cr", Box::new(|text| text.replace('\n', "\r").into_bytes())),
        ("bom", Box::new(|text| format!("\u{FEFF}{text}").into_bytes())),
        ("utf-16", Box::new(utf16)),
        ("no last newline, blanks", Box::new(|text| text.replace("417 score 3\n", "417\tscore\u{a0}3  ").into_bytes())),
    ];
    for (what, save) in saves {
        let machine = Machine::new("crush-laptop");
        let before = machine.text();
        std::fs::write(machine.ledger(), save(&format!("{before}417 score 3\n"))).unwrap();
        machine.run(&["seal"]).fine().says("417 score 3 by kj");
        assert!(machine.text().starts_with(&before), "{what}: {}", machine.text());
        assert_eq!(machine.text().lines().count(), before.lines().count() + 1, "{what}");
        machine.run(&["check", "--every-mark"]).fine();
    }
}

#[test]
fn f08_a_guessed_encoding_keeps_the_raw_bytes_aside() {
    let machine = Machine::new("crush-laptop");
    machine.types(b"417 note: Gr\xFC\xDFe an alle\n");
    machine.run(&["seal"]).fine().says("417 note by kj: Grüße an alle");
    let raw = b"Gr\xFC\xDFe";
    assert!(machine.aside().windows(raw.len()).any(|bytes| bytes == raw));
}

#[test]
fn f08_a_file_that_only_looks_changed_is_well_and_put_back() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3"]).fine();
    let good = machine.text();
    for (from, to) in [("\n", "\r\n"), (" ", "\t"), ("\n", "  \n"), ("footfold", "\u{FEFF}footfold")] {
        for by in [&["seal"][..], &["check", "--mend"]] {
            std::fs::write(machine.ledger(), good.replace(from, to)).unwrap();
            machine.run(&["check"]).fine().says("an editor changed blanks or line ends; nothing is lost");
            machine.run(&["check", "--format", "json"]).fine().says("\"only looks changed\"");
            machine.run(by).fine();
            assert_eq!(machine.text(), good);
        }
    }
    std::fs::write(machine.ledger(), good.replace("score 3", "score\t1")).unwrap();
    machine.run(&["check"]).ends(1).says("broken at line 4");
    machine.run(&["check", "--format", "json"]).ends(1).says("\"line\": 4").says("\"well\": false");
}

#[test]
fn f09_other_separators_end_no_line() {
    let machine = Machine::new("crush-laptop");
    let lines = machine.text().lines().count();
    machine.types("417 note: one\u{2028}two\u{85}three\u{c}four\u{2029}five\n");
    machine.run(&["seal"]).fine().says("Kept: 1 line").says("one two three four five");
    assert_eq!(machine.text().lines().count(), lines + 1);
}

#[test]
fn f11_a_line_of_a_megabyte_stays_where_it_is() {
    let machine = Machine::new("crush-laptop");
    let long = format!("417 note: {}", "wet ".repeat(250_000));
    machine.types(format!("{long}\n418 3\n"));
    machine.run(&["seal"]).ends(1).says("too long").says("at most 2000 bytes").says("418 score 3").fits();
    assert!(machine.text().contains(&long), "not a byte of it is lost");
    machine.run(&["write", &long[..100_000]]).ends(1).says("Nothing was kept");
    machine.run(&["check"]).fine();
}

#[test]
fn f12_hidden_characters_are_taken_out_told_and_never_reach_the_terminal() {
    let machine = Machine::new("crush-laptop");
    machine.types("417 note: a\u{202E}b\u{200B}c\n418 note: x\u{1b}[31my\n419 lesion \u{1b}]0;XX RH\n");
    let said = machine.run(&["seal"]).ends(1).says("Kept, but look again");
    let sealed: Vec<String> =
        machine.text().lines().filter(|line| line.contains(" note by ")).map(str::to_owned).collect();
    assert!(sealed[0].contains(": abc |") && sealed[1].contains(": x[31my |"), "{sealed:?}");
    assert!(!said.out.contains('\u{1b}') && !said.out.contains('\u{202E}'));
    let copy = machine.place().join("2026.txt");
    std::fs::write(&copy, machine.text().replace("note by", "note\u{1b}[2J\u{202E} by")).unwrap();
    let shown = machine.run(&["check", path(&copy)]).ends(1).says("\\u{1b}[2J\\u{202e}");
    assert!(!shown.out.contains('\u{1b}'));
}

#[test]
fn f23_a_folder_from_another_machine_is_not_sealed_in_with_its_name() {
    let (machine, other) = (Machine::new("crush-laptop"), Machine::bare("crush-laptop"));
    crate::machine::copy_folder(&machine.herd(), &other.herd());
    let write = ["write", "417 score 3", "--device", "crush-laptop", "--by", "ao"];
    other.run(&write).ends(1).says("another key").says("--device crush-laptop-2");
    other.run(&["write", "417 score 3", "--device", "farm-office", "--by", "ao"]).fine().says("417 score 3 by ao");
    let begun = std::fs::read_to_string(crate::machine::only_file(&other.herd().join("ledgers/farm-office"))).unwrap();
    assert!(begun.starts_with("footfold 1 herd quillmere device farm-office key "), "{begun}");
    other.run(&["check"]).fine();
}

#[test]
fn f43_a_newer_version_is_named_and_left_alone() {
    let machine = Machine::new("crush-laptop");
    let newer = machine.text().replace("footfold 1 herd", "footfold 2 herd");
    std::fs::write(machine.ledger(), &newer).unwrap();
    machine.run(&["seal"]).ends(1).says("version 2").says("newer footfold");
    machine.run(&["check"]).ends(1).says("version 2");
    assert_eq!(machine.text(), newer);
}

#[test]
fn settings_that_cannot_be_read_are_told_with_their_line() {
    let machine = Machine::new("crush-laptop");
    let file = machine.config().join("footfold.ron");
    std::fs::write(&file, "(\n    device: \"crush-laptop\",\n    devise: 3,\n)\n").unwrap();
    machine.run(&["write", "417 score 3"]).ends(1).says("line 3").says("devise");
}

#[test]
fn what_the_herds_record_says_against_a_line_is_told_and_the_line_is_kept() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "2026-01-05 417 WLA RH outer z3", "2026-01-05 418 left sold"]).fine();
    let block = machine.run(&["write", "2026-01-06 417 block on RH outer"]).fine();
    block.says("417 block on RH outer").says("a block goes on the sound claw");
    let second = machine.run(&["write", "2026-01-06 417 block on RH inner wood"]).fine();
    second.says("the other claw of RH has a block on already");
    machine.run(&["write", "2026-01-07 418 score 2"]).fine().says("418 left the herd on 2026-01-05");
    assert!(machine.text().contains("418 score 2"));
    machine.run(&["write", "2026-01-06 417 block on RH inner wood"]).fine().says("the very same line before");
    machine.run(&["write", "2026-01-07 419 x 0123456789abcdef: typo"]).fine().says("no line about 419 has the mark");
    machine.run(&["write", "2026-01-07 420 score 3", "2026-01-07 420 med Pedirel 10ml milk 0 meat 28d"]).fine();
    machine
        .run(&["write", "2026-01-08 420 left sold"])
        .fine()
        .says("may be unfit to travel: severely lame")
        .says("meat is held to");
}

#[test]
fn a_number_that_nothing_was_written_about_is_doubted_once_the_herd_is_known() {
    let machine = Machine::new("crush-laptop");
    let cows: Vec<String> = (101..=112).map(|cow| format!("{cow} 0")).collect();
    let typed: Vec<&str> = ["write"].into_iter().chain(cows.iter().map(String::as_str)).collect();
    machine.run(&typed).fine();
    let mistyped = machine.run(&["write", "1011 3"]).fine().says("is the number right?");
    assert!(mistyped.out.contains("1011 score 3"), "it is kept all the same");
    assert!(!machine.run(&["write", "113 joined"]).fine().out.contains("is the number right?"));
}
