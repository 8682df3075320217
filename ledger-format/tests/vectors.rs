//! Every vector of `spec/vectors/` that this crate can check: text, line, typing, keep.

#![allow(clippy::disallowed_methods, reason = "tests read the vectors; the crate itself opens nothing")]

mod cases;
mod saves;

use cases::{Case, check, same};
use ledger_format::keep::{compare, remarks};
use ledger_format::line::{read as read_line, read_date};
use ledger_format::text::{Encoding, clean, decode, split};
use ledger_format::typing::{Context, Outcome, Typed, read};
use saves::{Accepted, becomes, outcome, remembered, saved_bytes, sentences, typed as typed_rows};

fn typed(case: &Case) -> String {
    match case.rest.lines().find_map(|row| row.strip_prefix("typed-json: ")) {
        Some(json) => from_json(json),
        None => case.needed("typed").join("\n"),
    }
}

fn from_json(text: &str) -> String {
    serde_json::from_str(text).unwrap_or_else(|why| panic!("{text}: {why}"))
}

fn check_typing(case: &Case) -> Result<(), String> {
    let today = read_date(case.header("today").as_bytes()).ok_or("no date in `today:`")?;
    case.header("comment");
    let context = Context { today, by: case.header("by"), device: case.header("device") };
    let read_lines = read(&typed(case), &context);
    let (mut lines, mut doubts, mut remarks) = (Vec::new(), Vec::new(), Vec::new());
    for Typed { number, outcome, .. } in &read_lines {
        match outcome {
            Outcome::Kept(kept) => {
                for kept in kept {
                    lines.push(kept.body.clone());
                    doubts.extend(kept.doubts.iter().map(|doubt| format!("{number}: {doubt}")));
                }
            }
            Outcome::Refused(found) => remarks.extend(found.iter().map(|remark| format!("{number}: {remark}"))),
            _ => {}
        }
    }
    let owned = |rows: Vec<&str>| rows.into_iter().map(str::to_owned).collect::<Vec<_>>();
    same("remarks", &owned(case.section("remarks").unwrap_or_default()), &remarks)?;
    same("lines", &owned(case.needed("lines")), &lines)?;
    same("doubts", &owned(case.section("doubts").unwrap_or_default()), &doubts)
}

#[test]
fn typing_understands() {
    check("typing/right", 45, |case| {
        if case.needed("lines").is_empty() {
            return Err("expects no lines".to_owned());
        }
        check_typing(case)
    });
}

#[test]
fn typing_refuses() {
    check("typing/wrong", 45, |case| {
        if case.needed("remarks").is_empty() {
            return Err("expects no remarks".to_owned());
        }
        check_typing(case)
    });
}

#[test]
fn lines_have_one_spelling() {
    check("line", 1, |case| {
        let body = case.rest.strip_suffix('\n').ok_or("no line feed at its end")?;
        let got = read_line(body).map(|line| line.to_string());
        match (case.header("expect"), got) {
            ("ok", got) => same("the line written back", &Ok(body.to_owned()), &got),
            ("refused", Err(_)) => Ok(()),
            ("refused", Ok(_)) => Err(format!("accepted against {}", case.header("rule"))),
            (other, _) => Err(format!("expects {other:?}")),
        }
    });
}

#[test]
fn bytes_become_lines() {
    check("text", 1, |case| {
        let bytes = from_hex(&case.needed("bytes").concat()).ok_or("bytes are not hexadecimal")?;
        let decoded = decode(&bytes);
        let encoding = match decoded.encoding {
            Encoding::Utf8 => "utf-8",
            Encoding::Utf16Le => "utf-16le",
            Encoding::Utf16Be => "utf-16be",
            Encoding::Windows1252 => "windows-1252",
        };
        same("encoding", &case.header("encoding"), &encoding)?;
        let cleaned: Vec<_> = split(&decoded.text).map(clean).collect();
        let lines: Vec<String> = cleaned.iter().map(|line| line.text.clone()).collect();
        same("lines", &case.needed("lines").into_iter().map(from_json).collect(), &lines)?;
        let reports = [
            (decoded.guessed, "guessed"),
            (cleaned.iter().any(|line| line.invisible), "invisible"),
            (cleaned.iter().any(|line| line.control), "control"),
            (cleaned.iter().any(|line| line.too_long), "too-long"),
        ];
        let mut reported: Vec<&str> = reports.iter().filter(|(is, _)| *is).map(|(_, word)| *word).collect();
        let mut expected = case.needed("reports");
        reported.sort_unstable();
        expected.sort_unstable();
        same("reports", &expected, &reported)
    });
}

#[test]
fn a_save_says_what_was_typed() {
    check("keep", 24, |case| {
        case.header("comment");
        let accepted = Accepted::of(&case.needed("accepted"));
        let accepted = case.section("elsewhere").iter().fold(accepted, |accepted, other| accepted.with(other));
        let before = remembered(case, &accepted);
        let saved = compare(&saved_bytes(case, &accepted), &accepted.bytes, &accepted.others(), &before);
        let rows = |name: &str| -> Vec<String> {
            case.section(name).unwrap_or_default().into_iter().map(|row| accepted.filled(row)).collect()
        };
        same("typed", &rows("typed"), &typed_rows(&saved.typed, &accepted))?;
        let carried: Vec<String> = saved.carried.iter().map(|typed| typed.text.clone()).collect();
        same("carried", &rows("carried"), &carried)?;
        same("outcome", &rows("outcome"), &outcome(&saved))?;
        same("sentences", &rows("sentences"), &sentences(&saved))?;
        same("becomes", &rows("becomes"), &becomes(&saved, &accepted))?;
        same("offers", &rows("offers"), &saved.changed_back)?;
        same("remarks", &rows("remarks"), &remarks(&saved, &[], &accepted.bytes))
    });
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let (pairs, rest) = text.as_bytes().as_chunks::<2>();
    let pair = |pair: &[u8; 2]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    if rest.is_empty() { pairs.iter().map(pair).collect() } else { None }
}
