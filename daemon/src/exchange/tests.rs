//! Two and three machines in memory, on a cable that is cut anywhere.

use std::collections::BTreeMap;

use ed25519_dalek::SigningKey;
use ledger_format::line::read_utc;
use ledger_format::mark::{Chain, FullMark, Head, Statement};
use proptest::prelude::*;

use super::*;
use crate::disk::LedgerName;

fn key(seed: u8) -> SigningKey {
    SigningKey::from_bytes(&[seed; 32])
}

fn public(seed: u8) -> FullMark {
    FullMark(key(seed).verifying_key().to_bytes())
}

fn name(device: &str) -> LedgerName {
    LedgerName::new(device, 2026).unwrap()
}

const FOUNDER: u8 = 1;

fn asked(name: &LedgerName) -> Asked<'_> {
    Asked { herd: "quillmere", founder: Some(public(FOUNDER)), name }
}

/// A device's file, and a statement of it at each line's end.
#[derive(Clone)]
struct Written {
    bytes: Vec<u8>,
    said: Vec<Said>,
}

fn written(herd: &str, device: &str, seed: u8, lines: &[&str]) -> Written {
    let at = read_utc(b"2026-03-14T09:20:11Z").unwrap();
    let (key_text, founder) = (public(seed).to_string(), public(FOUNDER).to_string());
    let founder = (seed != FOUNDER).then_some(founder.as_str());
    let head = Head { herd, device, key: &key_text, zone: "Europe/London", founder, follows: None }.to_string();
    let (mut chain, mut file) = (Chain::default(), Written { bytes: Vec::new(), said: Vec::new() });
    for body in std::iter::once(head.as_str()).chain(lines.iter().copied()) {
        let mark = chain.seal(body, at, &mut file.bytes);
        let length = file.bytes.len() as u64;
        let said = Statement { herd, device, year: 2026, length, mark, at }.signed(&key(seed));
        file.said.push(Said::read(&said).unwrap());
    }
    file
}

const LINES: &[&str] =
    &["2026-03-14 417 score 3 by kj", "2026-03-14 418 score 2 by kj", "2026-03-15 419 note by kj: a | b"];

fn crush() -> Written {
    written("quillmere", "crush-laptop", FOUNDER, LINES)
}

/// Up to the end of the line of this number, the head being 0.
fn up_to(file: &Written, line: usize) -> &[u8] {
    &file.bytes[..usize::try_from(file.said[line].length).unwrap()]
}

#[test]
fn f49_a_tail_cut_anywhere_is_not_taken_and_whole_it_is() {
    let (file, name) = (crush(), name("crush-laptop"));
    for from in 0..LINES.len() {
        let held = if from == 0 { &[][..] } else { up_to(&file, from) };
        let (tail, said) = (&file.bytes[held.len()..], &file.said[LINES.len()]);
        for cut in 0..tail.len() {
            let refused = judge(&asked(&name), held, &tail[..cut], said);
            assert!(matches!(refused, Err(Refusal::Length { .. } | Refusal::NoHead)), "{cut}: {refused:?}");
        }
        assert_eq!(judge(&asked(&name), held, tail, said), Ok(Judged::Take(tail)));
        let longer = [tail, b"x"].concat();
        assert!(judge(&asked(&name), held, &longer, said).is_err());
    }
}

#[test]
fn f51_no_changed_byte_of_tail_or_statement_is_taken() {
    let (file, name) = (crush(), name("crush-laptop"));
    let held = up_to(&file, 1);
    let (tail, said) = (&file.bytes[held.len()..], &file.said[LINES.len()]);
    for at in 0..tail.len() {
        for change in [1, 0x20, 0x80] {
            let mut wrong = tail.to_vec();
            wrong[at] ^= change;
            let judged = judge(&asked(&name), held, &wrong, said);
            assert!(judged.is_err(), "byte {at} ^ {change}: {judged:?}");
        }
    }
    for at in 0..said.line().len() {
        let mut wrong = said.line().as_bytes().to_vec();
        wrong[at] ^= 1;
        let wrong = String::from_utf8(wrong).ok().and_then(|line| Said::read(&line));
        assert!(wrong.is_none_or(|wrong| judge(&asked(&name), held, tail, &wrong).is_err()), "byte {at}");
    }
}

#[test]
fn f51_each_refusal_has_its_reason() {
    let (file, name) = (crush(), name("crush-laptop"));
    let (held, last) = (up_to(&file, 1), &file.said[LINES.len()]);
    let tail = &file.bytes[held.len()..];
    let refused = |held: &[u8], tail: &[u8], said: &Said| judge(&asked(&name), held, tail, said).unwrap_err();
    let elsewhere = written("oakfold", "crush-laptop", FOUNDER, LINES);
    assert_eq!(refused(held, tail, &elsewhere.said[3]), Refusal::OtherHerd("oakfold".into()));
    assert_eq!(refused(&[], &elsewhere.bytes, last), Refusal::OtherHead);
    let office = written("quillmere", "farm-office", 2, LINES);
    assert_eq!(refused(held, tail, &office.said[3]), Refusal::OtherFile(office.said[3].name.clone()));
    let forged = written("quillmere", "crush-laptop", 9, LINES);
    assert_eq!(refused(held, tail, &forged.said[3]), Refusal::Signature);
    assert_eq!(refused(&[], b"417 score 3\n", last), Refusal::NoHead);
    let typed = [&tail[..tail.len() - 1], b" "].concat();
    assert_eq!(refused(held, &typed, last), Refusal::NoLine);
    let mut wrong = tail.to_vec();
    wrong[5] ^= 1;
    assert_eq!(refused(held, &wrong, last), Refusal::DoesNotGoOn);
    let second = usize::try_from(file.said[2].length).unwrap() - held.len();
    let mut wrong = tail.to_vec();
    wrong[second + 5] ^= 1;
    assert_eq!(refused(held, &wrong, last), Refusal::Marks(4));
    let stranger = Asked { founder: Some(public(7)), ..asked(&name) };
    assert_eq!(judge(&stranger, held, tail, last), Err(Refusal::OtherHead));
}

#[test]
fn f50_an_older_statement_says_nothing_and_a_different_one_proves_another_history() {
    let (file, name) = (crush(), name("crush-laptop"));
    for said in &file.said {
        assert_eq!(judge(&asked(&name), &file.bytes, &[], said), Ok(Judged::Nothing));
    }
    let other = written("quillmere", "crush-laptop", FOUNDER, &[LINES[0], LINES[2]]);
    assert_eq!(judge(&asked(&name), &file.bytes, &[], &other.said[2]), Err(Refusal::AnotherHistory));
    assert_eq!(judge(&asked(&name), &file.bytes, &[], &other.said[1]), Ok(Judged::Nothing));
}

#[test]
fn another_history_is_told_from_damage_by_the_whole_file() {
    let (file, name) = (crush(), name("crush-laptop"));
    let other = written("quillmere", "crush-laptop", FOUNDER, &[LINES[0], LINES[2], LINES[1], LINES[0]]);
    let held = up_to(&file, 2);
    let said = &other.said[4];
    let tail = &other.bytes[held.len().min(other.bytes.len())..];
    assert_eq!(judge(&asked(&name), held, tail, said), Err(Refusal::DoesNotGoOn));
    assert_eq!(judge_whole(&asked(&name), held, &other.bytes, said), Err(Refusal::AnotherHistory));
    let mut damaged = other.bytes.clone();
    damaged[other.bytes.len() - 60] ^= 1;
    assert!(matches!(judge_whole(&asked(&name), held, &damaged, said), Err(Refusal::Marks(_))));
    let more = &file.bytes[held.len()..];
    assert_eq!(judge_whole(&asked(&name), held, &file.bytes, &file.said[3]), Ok(Judged::Take(more)));
}

#[test]
fn a_long_tail_is_asked_for_in_pieces_that_a_body_may_have() {
    let mut said = crush().said[3].clone();
    said.length = 2 * BODY_BYTES + 5;
    let mut intake = Intake::new(3, said);
    let mut asked_for = Vec::new();
    while let Some(range) = intake.wants() {
        intake.put(range.start, &vec![b'x'; usize::try_from(range.end - range.start).unwrap()]).unwrap();
        asked_for.push(range);
    }
    assert_eq!(
        asked_for,
        [3..BODY_BYTES + 3, BODY_BYTES + 3..2 * BODY_BYTES + 3, 2 * BODY_BYTES + 3..2 * BODY_BYTES + 5]
    );
    assert_eq!(intake.put(intake.said().length, b"x"), Err(OutOfPlace));
}

#[test]
fn f52_a_days_bytes_of_a_device_end_and_begin_again_the_next_day() {
    let day = |day| chrono::NaiveDate::from_ymd_opt(2026, 3, day).unwrap();
    let mut quota = Quota::default();
    assert!(quota.allows(day(14), "quillmere", "a", DAY_BYTES));
    quota.note("quillmere", "a", DAY_BYTES);
    assert!(!quota.allows(day(14), "quillmere", "a", 1));
    assert!(quota.allows(day(14), "quillmere", "b", 1) && quota.allows(day(14), "oakfold", "a", 1));
    assert!(!quota.allows(day(13), "quillmere", "a", 1), "a clock set back");
    assert!(quota.allows(day(15), "quillmere", "a", DAY_BYTES));
}

/// A machine with its herd in memory.
#[derive(Clone, Default)]
struct Machine {
    own: Option<String>,
    files: BTreeMap<LedgerName, (Vec<u8>, Vec<Said>)>,
    coming: BTreeMap<LedgerName, Intake>,
}

impl Machine {
    fn writes(own: &str, file: &Written, lines: usize) -> Self {
        let mut machine = Self { own: Some(own.to_owned()), ..Self::default() };
        machine.write(file, lines);
        machine
    }

    fn write(&mut self, file: &Written, lines: usize) {
        let entry = (up_to(file, lines).to_vec(), file.said[..=lines].to_vec());
        self.files.insert(file.said[0].name.clone(), entry);
    }

    fn holding(&self) -> Holding {
        let held = |(bytes, said): &(Vec<u8>, Vec<Said>)| Held {
            length: bytes.len() as u64,
            told: said.iter().max_by_key(|said| said.length).cloned(),
        };
        let files = self.files.iter().map(|(name, file)| (name.clone(), held(file))).collect();
        Holding { files, own: self.own.clone(), ..Holding::default() }
    }

    fn held(&self, name: &LedgerName) -> &[u8] {
        self.files.get(name).map_or(&[], |(bytes, _)| bytes)
    }

    /// Takes what is right, and nothing else.
    fn hear(&mut self, tail: &[u8], said: &Said) {
        if let Ok(judged) = judge(&asked(&said.name), self.held(&said.name), tail, said) {
            let file = self.files.entry(said.name.clone()).or_default();
            if let Judged::Take(more) = judged {
                file.0.extend_from_slice(more);
            }
            file.1.push(said.clone());
        }
    }

    /// One conversation on a cable that ends after so many bytes; what was offered may arrive twice.
    fn calls(&mut self, other: &mut Self, list: &List, mut cable: usize, twice: bool) {
        for step in compare(&self.holding(), list) {
            match step {
                Move::Ask { from, said } => {
                    let known = self.coming.remove(&said.name).filter(|coming| coming.fits(from, &said));
                    let mut coming = known.unwrap_or_else(|| Intake::new(from, said.clone()));
                    while let Some(range) = coming.wants() {
                        let (at, end) = (usize::try_from(range.start).unwrap(), usize::try_from(range.end).unwrap());
                        let piece = other.held(&said.name).get(at..end).unwrap_or_default();
                        let sent = &piece[..piece.len().min(cable)];
                        coming.put(range.start, sent).unwrap();
                        cable -= sent.len();
                        if sent.len() < end - at {
                            self.coming.insert(said.name.clone(), coming);
                            return;
                        }
                    }
                    self.hear(coming.bytes(), &said);
                }
                Move::Look(said) => self.hear(&[], &said),
                Move::Offer { name, theirs } => {
                    let from = usize::try_from(theirs.map_or(0, |said| said.length)).unwrap();
                    let told = self.holding().files[&name].told.clone().unwrap();
                    let tail = self.held(&name)[from..usize::try_from(told.length).unwrap()].to_vec();
                    if tail.len() > cable {
                        return;
                    }
                    cable -= tail.len();
                    for _ in 0..=usize::from(twice) {
                        other.hear(&tail, &told);
                    }
                }
                Move::OwnIsLonger(_) | Move::AskProtocol(_) | Move::OfferProtocol(_) => {}
            }
        }
    }
}

/// What may happen: who calls whom, after how many bytes the cable is cut, which writer goes on, and whether the
/// list is one of long ago.
fn happening() -> impl Strategy<Value = (usize, usize, usize, Option<usize>, bool)> {
    (0..3usize, 0..3usize, prop_oneof![0..700usize, Just(usize::MAX)], proptest::option::of(0..2usize), any::<bool>())
}

proptest! {
    #[test]
    fn f50_in_any_order_with_any_cuts_and_repeats_all_come_to_the_same_and_nothing_is_taken_back(
        all in proptest::collection::vec(happening(), 1..40)
    ) {
        let truth = [crush(), written("quillmere", "farm-office", 2, LINES)];
        let relay = Machine { own: Some("server".into()), ..Machine::default() };
        let mut machines =
            [Machine::writes("crush-laptop", &truth[0], 0), Machine::writes("farm-office", &truth[1], 0), relay];
        let mut lines = [0, 0];
        let mut old = machines.each_ref().map(|machine| machine.holding().list());
        for (caller, called, cable, writes, is_old) in all {
            if let Some(writer) = writes.filter(|writer| lines[*writer] < LINES.len()) {
                lines[writer] += 1;
                machines[writer].write(&truth[writer], lines[writer]);
            }
            if caller == called {
                continue;
            }
            let before = machines.clone();
            let list = if is_old { old[called].clone() } else { machines[called].holding().list() };
            let list = List::read(&list.text(), "quillmere");
            let mut other = std::mem::take(&mut machines[called]);
            machines[caller].calls(&mut other, &list, cable, is_old);
            machines[called] = other;
            old[called] = machines[called].holding().list();
            for (before, now) in before.iter().zip(&machines) {
                for (name, (bytes, _)) in &now.files {
                    let whole = truth.iter().find(|file| file.said[0].name == *name).unwrap();
                    prop_assert!(whole.said.iter().any(|said| said.length == bytes.len() as u64));
                    prop_assert!(whole.bytes.starts_with(bytes));
                    prop_assert!(bytes.starts_with(before.held(name)));
                }
            }
        }
        // In the end the cable holds, and only the relay meets both.
        for meets in [0, 1, 0] {
            let list = machines[2].holding().list();
            let mut relay = std::mem::take(&mut machines[2]);
            machines[meets].calls(&mut relay, &list, usize::MAX, false);
            machines[2] = relay;
        }
        for machine in &machines {
            for (device, lines) in [0, 1].into_iter().zip(lines) {
                prop_assert_eq!(machine.held(&truth[device].said[0].name), up_to(&truth[device], lines));
            }
        }
    }

    #[test]
    fn any_text_reads_as_a_list_and_a_list_reads_back(noise in ".{0,200}", lines in 0..=LINES.len()) {
        let machine = Machine::writes("crush-laptop", &crush(), lines);
        let list = machine.holding().list();
        let text = format!("{}{}\n", list.text(), noise.replace("protocol", ""));
        prop_assert_eq!(List::read(&text, "quillmere"), list);
    }
}
