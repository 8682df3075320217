//! The vectors of mark, merge and fold.

#![allow(clippy::disallowed_methods, reason = "tests read the vectors; the crate itself opens nothing")]

mod cases;

use cases::{Case, check, same};
use chrono::NaiveDateTime;
use ledger_format::fold::{Herd, Protocol, View, state_text};
use ledger_format::line::{Mark, read_date, read_utc};
use ledger_format::mark::{self, Chain, StreamCheck};
use ledger_format::merge::{EntryId, Ledger, Log, Standing};

fn from_hex(text: &str) -> Vec<u8> {
    let digits: Vec<u8> = text.bytes().filter(u8::is_ascii_hexdigit).collect();
    let pair = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap();
    digits.chunks(2).map(pair).collect()
}

#[test]
fn marks_hold_or_break_where_they_should() {
    check("mark", 22, |case| {
        let bytes = from_hex(&case.rest.replace("bytes:", ""));
        let found = mark::check(&bytes);
        let verdict = found.first_broken.map_or("unbroken".to_owned(), |line| format!("broken at {line}"));
        same("verdict", &case.header("expect").to_owned(), &verdict)?;
        same("vouched", &case.header("vouched").to_owned(), &found.vouched_bytes.to_string())?;
        let mut stream = StreamCheck::default();
        bytes.chunks(97).for_each(|piece| stream.push(piece));
        same("piece by piece", &found.is_unbroken(), &stream.finish().unbroken)
    });
}

#[test]
fn blake3_is_as_published() {
    let text =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../spec/vectors/mark/blake3.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let cases = json["cases"].as_array().unwrap();
    assert!(cases.len() >= 20);
    for case in cases {
        let length = case["length"].as_u64().unwrap() as usize;
        let input: Vec<u8> = (0..length).map(|i| (i % 251) as u8).collect();
        assert_eq!(mark::FullMark::over(&input).to_string(), case["hash"].as_str().unwrap(), "{length}");
    }
}

/// The lines of a case, sealed row by row into one file for each device.
struct Sealed {
    log: Log,
    rows: Vec<EntryId>,
}

fn seal(case: &Case) -> Result<Sealed, String> {
    let mut devices: Vec<(String, Chain, Vec<u8>)> = Vec::new();
    let mut marks: Vec<(usize, Mark)> = Vec::new();
    for row in case.needed("lines") {
        let [device, sealed, body] = row.splitn(3, ' ').collect::<Vec<_>>()[..] else { return Err(row.to_owned()) };
        let at = devices.iter().position(|(name, ..)| name == device).unwrap_or_else(|| {
            devices.push(begun(device));
            devices.len() - 1
        });
        let mut body = body.to_owned();
        for (i, (_, mark)) in marks.iter().enumerate() {
            body = body.replace(&format!("{{{}}}", i + 1), &mark.to_string());
        }
        let (_, chain, bytes) = &mut devices[at];
        let full = chain.seal(&body, time(sealed)?, bytes);
        marks.push((at, full.mark()));
    }
    let read = |(device, _, bytes): &(String, Chain, Vec<u8>)| Ledger::read(device, 2026, bytes.clone());
    let ledgers: Vec<Ledger> = devices.iter().map(|device| read(device).unwrap()).collect();
    let log = Log::union(ledgers);
    let ids: Vec<EntryId> = log.in_order().collect();
    let find = |(device, mark): &(usize, Mark)| {
        let is = |id: &&EntryId| log.ledger(**id).device == devices[*device].0 && log.entry(**id).mark == *mark;
        ids.iter().find(is).copied()
    };
    // A row that is not canonical has no entry; it keeps its number all the same.
    let rows = marks.iter().map(|row| find(row).unwrap_or(ids[0])).collect();
    Ok(Sealed { log, rows })
}

fn begun(device: &str) -> (String, Chain, Vec<u8>) {
    let key = "8".repeat(64);
    let head = format!("footfold 1 herd quillmere device {device} key {key} zone Europe/London");
    let (mut chain, mut bytes) = (Chain::default(), Vec::new());
    chain.seal(&head, time("2026-01-01T08:00:00Z").unwrap(), &mut bytes);
    (device.to_owned(), chain, bytes)
}

fn time(text: &str) -> Result<NaiveDateTime, String> {
    read_utc(text.as_bytes()).ok_or_else(|| format!("{text} is no time"))
}

fn check_log(case: &Case) -> Result<(), String> {
    let Sealed { log, rows } = seal(case)?;
    let on = read_date(case.header("on").as_bytes()).ok_or("no date in `on:`")?;
    let known = case.header.get("known").map(|text| time(text)).transpose()?;
    let order: Vec<EntryId> = log.in_order().collect();
    let number_of = |key: &str| case.header.get(key).map(|text| text.parse::<u16>().unwrap());
    let mut agreed = Protocol::default_of_the_trade();
    agreed.repeat_case_days = number_of("repeat").unwrap_or(agreed.repeat_case_days);
    agreed.recheck_early_days = number_of("early").unwrap_or(agreed.recheck_early_days);
    let herd = Herd::fold_from(log, Vec::new(), agreed, View { on, known });
    let number = |id: EntryId| (rows.iter().position(|row| *row == id).unwrap() + 1).to_string();
    let owned = |rows: Vec<&str>| rows.into_iter().map(str::to_owned).collect::<Vec<_>>();
    if let Some(expected) = case.section("standing") {
        let word = |id: &EntryId| match herd.standings().get(*id) {
            Standing::Standing => "standing",
            Standing::Withdrawn => "withdrawn",
            Standing::Superseded => "superseded",
            Standing::SetAside => "aside",
            Standing::Apart => "apart",
        };
        same("standing", &owned(expected), &rows.iter().map(word).map(str::to_owned).collect())?;
    }
    if let Some(expected) = case.section("order") {
        let got: Vec<String> = order.iter().map(|id| number(*id)).collect();
        same("order", &expected.join(" "), &got.join(" "))?;
    }
    if let Some(expected) = case.section("twice") {
        let got = herd.typed_twice().iter().map(|(a, b)| format!("{} {}", number(*a), number(*b))).collect();
        same("twice", &owned(expected), &got)?;
    }
    let state = state_text(&herd);
    same("state", &owned(case.needed("state")), &owned(state.lines().collect()))
}

#[test]
fn logs_merge() {
    check("merge", 30, check_log);
}

#[test]
fn cows_fold() {
    check("fold", 60, check_log);
}
