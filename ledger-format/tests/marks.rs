//! Marks hold for any file and find any damage (`spec/mark.md`).

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use ledger_format::mark::{
    Chain, Claim, ClaimFinding, FullMark, StreamCheck, broken_marks, check, complete_up_to, mend,
};
use proptest::prelude::*;

fn time(n: usize) -> NaiveDateTime {
    NaiveDate::from_ymd_opt(2026, 1, 2).unwrap().and_hms_opt(8, 0, 0).unwrap() + TimeDelta::minutes(n as i64)
}

/// A ledger of `lines` lines after its head.
fn ledger(lines: usize) -> Vec<u8> {
    let head = format!("footfold 1 herd quillmere device crush-laptop key {} zone Europe/London", "8d".repeat(32));
    let (mut chain, mut file) = (Chain::default(), Vec::new());
    chain.seal(&head, time(0), &mut file);
    for n in 1..=lines {
        chain.seal(&format!("2026-01-02 {} score {} by kj", 100 + n % 7, n % 4), time(n), &mut file);
    }
    assert_eq!(chain.length(), file.len() as u64);
    file
}

fn line_starts(file: &[u8]) -> Vec<usize> {
    std::iter::once(0).chain(file.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i + 1)).collect()
}

fn line_of(file: &[u8], at: usize) -> usize {
    file[..at].iter().filter(|b| **b == b'\n').count() + 1
}

#[test]
fn a_mark_is_what_two_everyday_commands_print() {
    let file = ledger(3);
    let end = file.len();
    let shown = std::str::from_utf8(&file[end - 17..end - 1]).unwrap();
    assert!(FullMark::over(&file[..end - 17]).to_string().starts_with(shown));
}

#[test]
fn f10_nul_bytes_and_empty_files_are_no_ledgers() {
    for bytes in [&b""[..], &[0; 5_000], b"\n", b"\n\n\n", &b"x".repeat(100_000)] {
        let found = check(bytes);
        assert_eq!((found.vouched_bytes, found.first_broken), (0, Some(1)));
        let mut stream = StreamCheck::default();
        stream.push(bytes);
        assert!(!stream.finish().unbroken);
    }
}

#[test]
fn f06_a_sealed_line_copied_into_the_tail_is_not_sealed() {
    let mut file = ledger(9);
    let starts = line_starts(&file);
    let copy = file[starts[3]..starts[4]].to_vec();
    file.extend(copy);
    let found = check(&file);
    assert_eq!((found.first_broken, found.lines), (Some(11), 10));
}

#[test]
fn the_tail_is_not_checked() {
    let mut file = ledger(9);
    let sealed = file.len();
    file.extend(b"\n2026-03-14 by kj\n417 score 3\n;! col 1: a remark\n418 scor");
    let found = check(&file);
    assert!(found.is_unbroken());
    assert_eq!((found.sealed_bytes, found.lines), (sealed, 10));
}

#[test]
fn a_file_cut_at_a_line_end_is_unbroken_but_not_complete() {
    let file = ledger(20);
    let starts = line_starts(&file);
    let whole = Claim { by: "farm-office".into(), length: Some(file.len() as u64), mark: check(&file).full.unwrap() };
    let cut = &file[..starts[15]];
    assert!(check(cut).is_unbroken());
    assert_eq!(complete_up_to(cut, std::slice::from_ref(&whole)).1, [ClaimFinding::Shorter(whole.clone())]);
    let (seen, findings) = complete_up_to(&file, std::slice::from_ref(&whole));
    assert_eq!((seen, findings.len()), (Some((file.len() as u64, "farm-office".to_owned())), 0));
    let other = Claim { mark: FullMark([7; 32]), ..whole };
    assert_eq!(complete_up_to(&file, std::slice::from_ref(&other)).1, [ClaimFinding::Different(other)]);
}

proptest! {
    #[test]
    fn every_changed_byte_is_found(lines in 1usize..40, at in any::<prop::sample::Index>(), flip in 1u8..=255) {
        let mut file = ledger(lines);
        let at = at.index(file.len());
        let line = line_of(&file, at);
        let starts = line_starts(&file);
        file[at] ^= flip;
        let found = check(&file);
        // The last line feed gone, the last line is typed text again: what is left holds. Elsewhere the line breaks.
        if line == lines + 1 && found.sealed_bytes < starts[line] {
            prop_assert_eq!(found.vouched_bytes, starts[line - 1]);
        } else {
            prop_assert_eq!(found.first_broken, Some(line));
            prop_assert_eq!(found.vouched_bytes, starts[line - 1]);
        }
    }

    #[test]
    fn halving_finds_what_comparing_every_mark_finds(
        lines in 1usize..60, cut in any::<prop::sample::Index>(), junk in prop::collection::vec(any::<u8>(), 0..80), drop in 0usize..200,
    ) {
        let mut file = ledger(lines);
        let at = cut.index(file.len());
        let end = (at + drop).min(file.len());
        file.splice(at..end, junk);
        let found = check(&file);
        let every = broken_marks(&file);
        if found.lines > 0 {
            prop_assert_eq!(found.first_broken, every.first().copied());
        }
        prop_assert_eq!(found.is_unbroken(), found.lines > 0 && every.is_empty());
    }

    #[test]
    fn pieces_of_any_size_check_like_the_whole(
        lines in 1usize..60, size in 1usize..700, at in any::<prop::sample::Index>(), damage in any::<bool>(), tail in "[a-z \n]{0,60}",
    ) {
        let mut file = ledger(lines);
        file.extend(tail.bytes());
        if damage {
            let at = at.index(file.len());
            file[at] ^= 1;
        }
        let mut stream = StreamCheck::default();
        file.chunks(size).for_each(|piece| stream.push(piece));
        let (verdict, whole) = (stream.finish(), check(&file));
        prop_assert_eq!(verdict.unbroken, whole.is_unbroken());
        if whole.is_unbroken() {
            prop_assert_eq!((verdict.lines, verdict.full), (whole.lines as u64, whole.full));
            prop_assert_eq!((verdict.sealed_bytes, verdict.bytes), (whole.sealed_bytes as u64, file.len() as u64));
        }
    }

    #[test]
    fn any_damage_is_mended_from_a_whole_copy(
        lines in 2usize..40, places in prop::collection::vec((any::<prop::sample::Index>(), 0usize..90, "[a-z \n]{0,30}"), 1..4), keep in 1usize..40,
    ) {
        let whole = ledger(lines);
        let head = line_starts(&whole)[1];
        let mut damaged = whole.clone();
        for (at, length, junk) in places {
            let at = at.index(damaged.len());
            let end = (at + length).min(damaged.len());
            damaged.splice(at..end, junk.bytes());
        }
        let mended = mend(&damaged, &[&whole]);
        prop_assert!(mended.bytes.starts_with(&whole));
        prop_assert!(mended.check.vouched_bytes >= whole.len());
        // A copy that holds less mends as far as it reaches and takes nothing away.
        let shorter = &whole[..line_starts(&whole)[keep.min(lines)].max(head)];
        let part = mend(&damaged, &[shorter]);
        prop_assert!(part.check.vouched_bytes >= check(&damaged).vouched_bytes.max(shorter.len().min(part.check.vouched_bytes)));
        prop_assert!(part.check.vouched_bytes >= check(&damaged).vouched_bytes);
    }

    #[test]
    fn damage_never_condemns_what_follows(lines in 5usize..40, at in any::<prop::sample::Index>(), held in 1usize..40) {
        let whole = ledger(lines);
        let starts = line_starts(&whole);
        let at = at.index(whole.len());
        let line = line_of(&whole, at);
        let mut damaged = whole.clone();
        damaged[at] = b'#';
        prop_assume!(whole[at] != b'\n');
        // The copy was made later than the damaged line but long before the end.
        let copy = &whole[..starts[(line + held).min(lines + 1)]];
        let mended = mend(&damaged, &[copy]);
        prop_assert!(mended.bytes == whole);
        prop_assert_eq!((mended.stretches[0].first_line, mended.stretches[0].last_line), (line, line));
    }
}
