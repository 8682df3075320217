//! A small herd, read in every way.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::scene::Scene;

const CRUSH: &[&str] = &[
    "2026-01-30 417 block on RH inner wood by kj",
    "2026-03-03 418 lesion WLA LH outer zone 3 grade 2 by kj: runs toward the heel",
    "2026-03-03 418 trim lame LH by kj",
    "2026-03-03 418 block on LH inner shoe by kj",
    "2026-03-03 418 recheck due 2026-03-31 LH by kj",
    "2026-03-03 419 trim routine LF RF LH RH by kj",
    "2026-03-03 419 lesion none LF RF LH RH by kj",
    "2026-03-03 421 lesion SW RH grade 2 by kj",
    "2026-03-03 421 dressing on RH by kj",
    "2026-03-03 421 refer RH by kj: hot to the fetlock",
];

const OFFICE: &[&str] = &[
    "2025-11-20 417 calved lactation 3 by ao | 2026-01-02T08:00:00Z",
    "2026-01-01 417 moved to high by ao",
    "2026-03-01 herd tally walked 40 zeros 20 ones 18 by ao",
    "2026-03-01 418 score 2 by ao",
    "2026-03-02 07:30 417 score 3 RH by ao",
    "2026-03-03 417 score 2 by mw",
    "2026-03-03 418 lesion WLA LH outer by ao",
    "2026-03-03 422 calved due 2026-03-20 by ao",
    "2025-01-01 422 joined by ao | 2026-01-02T08:00:00Z",
    "2026-03-03 423 block off LH by ao",
    "2026-03-03 423 joined by ao",
];

fn quillmere() -> Scene {
    Scene::of(&[("crush-laptop", CRUSH), ("farm-office", OFFICE)])
}

#[test]
fn due_reads_as_a_list_of_work() {
    let out = quillmere().read(&["due", "--on", "2026-03-04"]);
    let expected = "\
quillmere: due on 2026-03-04
6 cows: 1 to lift, 1 for the vet, 1 to leave alone, 3 without a reason. Never
scored: 4. 1 open question: see `footfold herd`.
Bring 1 block. About 14 min.

  1  417     SEVERELY LAME: 16 h late                                 group high
             scored 3 on 2 Mar, RH suspected, not lifted since; 2 on 3 Mar
             and RH inner wood block on 33 days, to look at or take off: 5 days
                 late
             now RH inner wood block 33 days
             bring 1 block, 14 min
           ! may be unfit to travel: lame
";
    assert!(out.starts_with(expected), "{out}");
    assert!(out.contains("  2  421     FOR THE VET, NOT FOR LIFTING: waits 1 day\n"), "{out}");
    assert!(out.contains("LEAVE ALONE FOR NOW (1)\n     422 "), "{out}");
    assert!(out.contains("Footfold records and reminds; it does not diagnose."), "{out}");
}

#[test]
fn hours_cut_the_list_and_name_what_is_left() {
    let scene = quillmere();
    let out = scene.read(&["due", "--on", "2026-03-31", "--hours", "0.3"]);
    assert!(out.contains("FITS into 18 min (14 min used)"), "{out}");
    assert!(out.contains("NO TIME for 2 cows\n\n  2  421 "), "{out}");
    let due = scene.json(&["due", "--on", "2026-03-31", "--hours", "0.3"]);
    assert_eq!(due["fits"]["left_over"], serde_json::json!(["421", "418"]));
}

#[test]
fn minutes_and_setting_up_come_from_the_settings() {
    let scene = quillmere();
    scene.settings("(minutes: (lame: 20, block: 1, visit: 30))");
    let due = scene.json(&["due", "--on", "2026-03-04", "--hours", "1"]);
    assert_eq!((&due["rows"][0]["minutes"], &due["fits"]["minutes_given"]), (&21.into(), &30.into()));
}

#[test]
fn the_card_shows_late_and_double_entries() {
    let out = quillmere().read(&["cow", "418", "--on", "2026-03-04"]);
    assert!(out.contains("ao on farm-office says the same; counted once"), "{out}");
    assert!(out.contains("[COUNTED ONCE] lesion WLA LH outer"), "{out}");
    let late = quillmere().read(&["cow", "417", "--at", "2026-03-04"]);
    assert!(late.contains("- kept 43 days later"), "{late}");
    assert!(late.contains("walking   scored 2 on 2026-03-03, LAME"), "{late}");
}

#[test]
fn a_cow_nobody_wrote_about_is_told() {
    let output = quillmere().run(&["cow", "999"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("nothing is written about a cow 999"));
}

#[test]
fn the_herd_page_gives_no_rate_without_its_denominator_and_day() {
    let out = quillmere().read(&["herd", "--on", "2026-03-04"]);
    assert!(out.contains("1 of 40 cows lame (2.5 %), 0 severely, on 2026-03-01; aim is under 5 %"), "{out}");
    assert!(out.contains("no block was on LH; nothing changes: 423"), "{out}");
    assert!(out.contains("farm-office/2026: 11 lines, last sealed 2026-03-03T20:00:00Z"), "{out}");
    let percents = out.lines().filter(|line| line.contains('%')).count();
    assert_eq!(percents, 1, "{out}");
}

#[test]
fn known_hides_what_was_sealed_later() {
    let scene = quillmere();
    let due = scene.json(&["due", "--on", "2026-03-04", "--known", "2026-03-01"]);
    assert_eq!(due["seen"]["known"], "2026-03-01T23:59:59Z");
    assert_eq!(due["counts"]["present"], 3);
}

#[test]
fn between_in_words_and_in_lines() {
    let scene = quillmere();
    let out = scene.read(&["between", "2026-02-01", "2026-03-04"]);
    assert!(out.contains("BECAME LAME (2)\n  417     scored 2 on 2026-03-03\n"), "{out}");
    let lines = scene.read(&["between", "2026-02-01", "2026-03-04", "--lines"]);
    assert!(lines.starts_with("--- quillmere on 2026-02-01\n+++ quillmere on 2026-03-04\n@@"), "{lines}");
    assert!(lines.contains("\n+418 LH inner block shoe since 2026-03-03\n"), "{lines}");
    assert_eq!(scene.run(&["between", "2026-03-04", "2026-02-01"]).status.code(), Some(2));
}

const PRICES: &str = r#"(currency: "GBP", vat_percent: "20",
    prices: (lift: "6.00", trim: "14.00", block: {"shoe": "18.00"}, call_out: "45.00"))"#;

#[test]
fn the_sheet_and_what_it_costs() {
    let scene = quillmere();
    scene.settings(PRICES);
    let out = scene.read(&["sheet", "2026-03-03", "--by", "kj", "--charges"]);
    let found = "    LH  outer white line abscess (WLA), zone 3, grade 2 moderate: runs toward\n        the heel\n";
    assert!(out.contains(found), "{out}");
    assert!(out.contains("    LF RF LH RH  no lesion\n"), "{out}");
    assert!(out.contains("to pay                                                 116.40"), "{out}");
    assert!(out.contains("not charged, no price: dressings: 1"), "{out}");
    assert!(out.contains("rounded half up to the penny"), "{out}");
    let answer = scene.json(&["sheet", "2026-03-03", "--by", "kj", "--charges"]);
    assert_eq!((&answer["charges"]["net"], &answer["charges"]["total"]), (&"97.00".into(), &"116.40".into()));
}

#[test]
fn charges_need_a_price_list() {
    let output = quillmere().run(&["sheet", "2026-03-03", "--charges"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("no price list"));
}

#[test]
fn a_broken_ledger_is_told_first_and_the_vouched_part_is_shown() {
    let scene = quillmere();
    let path = scene.herd().join("ledgers/crush-laptop/2026.txt");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("trim lame LH", "trim lame RH")).unwrap();
    let output = scene.run(&["due", "--on", "2026-03-04"]);
    assert!(output.status.success());
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(err, "footfold: crush-laptop/2026 holds only up to line 3; run `footfold check`\n");
    assert!(String::from_utf8_lossy(&output.stdout).contains("417     SEVERELY LAME"));
    let again = scene.run(&["between", "2026-02-01", "2026-03-04"]);
    assert_eq!(String::from_utf8_lossy(&again.stderr).lines().count(), 1);
}

#[test]
fn a_ledger_that_is_none_is_left_out_and_told() {
    let scene = quillmere();
    std::fs::create_dir_all(scene.herd().join("ledgers/vet-tablet")).unwrap();
    std::fs::write(scene.herd().join("ledgers/vet-tablet/2026.txt"), "hello\n").unwrap();
    let output = scene.run(&["herd", "--on", "2026-03-04"]);
    assert!(output.status.success());
    assert!(String::from_utf8_lossy(&output.stderr).starts_with("footfold: vet-tablet/2026 is left out: "));
}

#[test]
fn the_cautions_stand_under_due_cow_and_sheet() {
    let scene = quillmere();
    for arguments in [&["due"][..], &["cow", "417"], &["sheet", "2026-03-03"]] {
        let out = scene.read(arguments);
        for part in ["does not diagnose", "go to the vet", "withdrawal kept", "unfit to travel", "licensed practice"] {
            assert!(out.contains(part), "{arguments:?}: {out}");
        }
    }
}

#[test]
fn ron_holds_the_same_rows() {
    let out = quillmere().read(&["due", "--on", "2026-03-04", "--format", "ron"]);
    let due: ron::Value = ron::from_str(&out).unwrap();
    assert!(matches!(due, ron::Value::Map(_)), "{out}");
}

/// The fields that a chapter of the specification documents under a heading.
fn documented(chapter: &str, name: &str) -> BTreeSet<String> {
    let path = format!("{}/../spec/{chapter}.md", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let heading = format!("### `{name}`");
    let rows = text.lines().skip_while(|line| *line != heading).skip(1).take_while(|line| !line.starts_with('#'));
    let fields: BTreeSet<String> =
        rows.filter_map(|row| Some(row.strip_prefix("| `")?.split_once('`')?.0.to_owned())).collect();
    assert!(!fields.is_empty(), "{chapter}: {name}");
    fields
}

fn check_fields(chapter: &str, name: &str, value: &Value) {
    let object = value.as_object().unwrap_or_else(|| panic!("{name}: {value}"));
    assert_eq!(object.keys().cloned().collect::<BTreeSet<_>>(), documented(chapter, name), "{chapter}: {name}");
}

#[test]
fn every_json_field_is_documented_and_there() {
    let scene = quillmere();
    scene.settings(PRICES);
    let due = scene.json(&["due", "--on", "2026-03-04", "--hours", "1"]);
    let card = scene.json(&["cow", "417", "--on", "2026-03-04"]);
    let herd = scene.json(&["herd", "--on", "2026-03-04"]);
    let answer = scene.json(&["sheet", "2026-03-03", "--charges"]);
    let between = scene.json(&["between", "2026-02-01", "2026-03-04"]);
    let sheet = &answer["sheet"];
    for (name, value) in [
        ("seen", &due["seen"]),
        ("due", &due),
        ("counts", &due["counts"]),
        ("row", &due["rows"][0]),
        ("score", &due["rows"][0]["score"]),
        ("reason", &due["rows"][0]["reasons"][0]),
        ("on_foot", &due["rows"][0]["on_feet"][0]),
        ("bring", &due["bring"]),
        ("fits", &due["fits"]),
        ("card", &card),
        ("breeding", &card["breeding"]),
        ("line", &card["history"][0]),
        ("herd", &herd),
        ("group", &herd["groups"][0]),
        ("round", &herd["rounds"][0]),
        ("note", &herd["blocks"][0]),
        ("lesion", &herd["lesions"][0]),
        ("question", &herd["questions"][0]),
        ("ledger", &herd["ledgers"][0]),
        ("answer", &answer),
        ("sheet", sheet),
        ("sheet_row", &sheet["cows"][0]),
        ("foot", &sheet["cows"][0]["feet"][0]),
        ("totals", &sheet["totals"]),
        ("count", &sheet["totals"]["lesions"][0]),
        ("charges", &answer["charges"]),
        ("charge", &answer["charges"]["lines"][0]),
    ] {
        check_fields("work", name, value);
    }
    check_fields("between", "between", &between);
    check_fields("between", "change", &between["changes"][0]);
}
