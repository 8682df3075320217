//! Whatever an editor does to accepted lines and tail, nothing of either is lost (`spec/keep.md`).

use std::collections::HashSet;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use ledger_format::keep::{Remembered, What, compare};
use ledger_format::limits::SEAL_BYTES;
use ledger_format::mark::Chain;
use ledger_format::text::clean;
use proptest::prelude::*;

fn time(n: i64) -> NaiveDateTime {
    NaiveDate::from_ymd_opt(2026, 3, 14).unwrap().and_hms_opt(8, 0, 0).unwrap() + TimeDelta::minutes(n)
}

/// A ledger of these scores, and its lines.
fn ledger(scores: &[(u16, u8)]) -> (Vec<u8>, Vec<String>) {
    let head = format!("footfold 1 herd quillmere device crush-laptop key {} zone Europe/London", "8d".repeat(32));
    let (mut chain, mut bytes) = (Chain::default(), Vec::new());
    chain.seal(&head, time(0), &mut bytes);
    for (n, (cow, score)) in (1..).zip(scores) {
        chain.seal(&format!("2026-03-14 {cow} score {score} by kj"), time(n), &mut bytes);
    }
    let lines = String::from_utf8(bytes.clone()).unwrap().lines().map(str::to_owned).collect();
    (bytes, lines)
}

/// What an editor does to the lines of a text, each at a place.
#[derive(Clone, Debug)]
enum Edit {
    Delete(usize),
    Double(usize),
    Swap(usize, usize),
    Join(usize),
    Pad(usize),
    Replace(usize, char, char),
    Cut(usize, usize),
    Type(usize, String),
}

impl Edit {
    fn make(&self, lines: &mut Vec<String>) {
        let len = lines.len();
        if len == 0 {
            return;
        }
        match self {
            Self::Delete(at) => drop(lines.remove(at % len)),
            Self::Double(at) => lines.push(lines[at % len].clone()),
            Self::Swap(one, other) => lines.swap(one % len, other % len),
            Self::Join(at) if at % len + 1 < len => {
                let next = lines.remove(at % len + 1);
                lines[at % len] += &next;
            }
            Self::Join(_) => {}
            Self::Pad(at) => lines[at % len] = format!("\t{}  ", lines[at % len]),
            Self::Replace(at, from, to) => {
                lines[at % len] = lines[at % len].replace(*from, &to.to_string());
            }
            Self::Cut(at, length) => lines[at % len].truncate(*length),
            Self::Type(at, text) => lines.insert(at % len, text.clone()),
        }
    }
}

fn any_edit() -> impl Strategy<Value = Edit> {
    let at = 0..40_usize;
    prop_oneof![
        at.clone().prop_map(Edit::Delete),
        at.clone().prop_map(Edit::Double),
        (at.clone(), at.clone()).prop_map(|(one, other)| Edit::Swap(one, other)),
        at.clone().prop_map(Edit::Join),
        at.clone().prop_map(Edit::Pad),
        (at.clone(), prop::sample::select(vec!['3', '4', '|', 'Z', ' ']), prop::sample::select(vec!['3', '2', 'x']))
            .prop_map(|(at, from, to)| Edit::Replace(at, from, to)),
        (at.clone(), 0..90_usize).prop_map(|(at, length)| Edit::Cut(at, length)),
        (at, any_typed()).prop_map(|(at, text)| Edit::Type(at, text)),
    ]
}

fn any_typed() -> impl Strategy<Value = String> {
    prop_oneof!["4[12][0-9] [0-3]", "by (ao|kj)", "4[12][0-9] wla rh otuer z3", "; [a-z ]{0,12}"]
}

fn any_scores() -> impl Strategy<Value = Vec<(u16, u8)>> {
    prop::collection::vec((410..430_u16, 0..4_u8), 0..10)
}

/// Saves of files that had fewer lines, with whatever tails.
fn any_remembered() -> impl Strategy<Value = Vec<Remembered>> {
    let one = (1..12_usize, 0..12_usize, prop::collection::vec(any_typed(), 0..4)).prop_map(|(shown, after, left)| {
        Remembered { shown, shown_after: shown.max(after), left, ..Remembered::default() }
    });
    prop::collection::vec(one, 0..3)
}

proptest! {
    #[test]
    fn nothing_accepted_and_nothing_typed_is_lost(
        scores in any_scores(),
        tail in prop::collection::vec(any_typed(), 0..5),
        edits in prop::collection::vec(any_edit(), 0..6),
        remembered in any_remembered(),
    ) {
        let (accepted, sealed) = ledger(&scores);
        let mut lines = [sealed.clone(), tail].concat();
        for edit in &edits {
            edit.make(&mut lines);
        }
        let save = as_text(&lines);
        let saved = compare(save.as_bytes(), &accepted, &[], &remembered);
        prop_assert_eq!(&saved, &compare(save.as_bytes(), &accepted, &[], &remembered), "not twice the same");

        let (there, mut missing) = (whole(&save, &sealed), 0);
        for (at, line) in sealed.iter().enumerate().filter(|(_, line)| !there.contains(line.as_str())) {
            let told = saved.deleted.contains(&at) || saved.unseen.contains(&at);
            let mark = line.rsplit(' ').next().unwrap();
            let corrected = saved.typed.iter().any(|typed| matches!(&typed.what, What::Corrects(of) if of.was[0].mark.to_string() == mark));
            missing += usize::from(!told && !corrected);
        }
        prop_assert!(missing <= saved.damaged + saved.aside.len(), "{missing} accepted lines are nowhere: {saved:?}");

        let mut told: Vec<String> = saved.typed.iter().map(|typed| clean(&typed.text).text).collect();
        // A sealed line made a comment is one taken out (`keep.md` §5), and told as such: its `;` says nothing else.
        let taken_out = saved.deleted.iter().chain(&saved.unseen).map(|at| format!("; {}", sealed[*at]));
        told.extend(saved.aside.iter().cloned().chain(taken_out).chain(sealed.iter().cloned()));
        told.retain(|text| !text.is_empty());
        let dropped = lines.iter().filter(|line| !is_made_of(&clean(line).text, &told)).count();
        prop_assert!(dropped <= saved.damaged, "{dropped} typed lines are nowhere: {save}\n{saved:?}");
    }

    #[test]
    fn what_the_file_was_left_with_says_nothing_new(scores in any_scores(), tail in prop::collection::vec(any_typed(), 0..6)) {
        let (accepted, sealed) = ledger(&scores);
        let remembered = [Remembered {
            shown: sealed.len(), shown_after: sealed.len(), left: tail.clone(), ..Remembered::default()
        }];
        let text = as_text(&tail);
        let saved = compare(&[accepted.as_slice(), text.as_bytes()].concat(), &accepted, &[], &remembered);
        let texts: Vec<&String> = saved.typed.iter().map(|typed| &typed.text).collect();
        prop_assert_eq!(texts, tail.iter().collect::<Vec<_>>());
        prop_assert!(saved.typed.iter().all(|typed| typed.what == What::Left), "{:?}", saved);
        prop_assert!(saved.deleted.is_empty() && saved.unseen.is_empty() && saved.carried.is_empty(), "{:?}", saved);
        prop_assert!(!saved.irregular && !saved.moved && saved.damaged == 0 && saved.repeated.is_empty());
    }
}

fn as_text(lines: &[String]) -> String {
    lines.iter().flat_map(|line| [line.as_str(), "\n"]).collect()
}

/// Accepted lines that stand whole in a save, by themselves or joined with others.
fn whole<'a>(save: &str, sealed: &'a [String]) -> HashSet<&'a str> {
    let clean: Vec<String> = save.lines().map(|line| clean(line).text).collect();
    sealed.iter().map(String::as_str).filter(|line| clean.iter().any(|text| text.contains(line))).collect()
}

/// Whether a line is these texts and the seals of corrections, one behind the other.
fn is_made_of(line: &str, told: &[String]) -> bool {
    let line = line.trim_start();
    let after_seal = line.get(SEAL_BYTES - 1..).filter(|_| line.starts_with("| "));
    let rests = told.iter().filter_map(|text| line.strip_prefix(text.as_str())).chain(after_seal);
    line.is_empty() || rests.into_iter().any(|rest| is_made_of(rest, told))
}
