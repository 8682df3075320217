//! Reading, writing and typing hold for any line and any text (`spec/line.md` §19, `spec/typing.md`).

mod lines;

use chrono::NaiveDate;
use ledger_format::line::{Act, Line, Subject, read as read_line, read_sealed, read_utc};
use ledger_format::mark::Chain;
use ledger_format::merge::{Event, Ledger, Log, Whose};
use ledger_format::text::{clean, split};
use ledger_format::typing::{Context, Outcome, Typed, read, read_bytes};
use proptest::prelude::*;
use proptest::sample::select;

fn context(today: NaiveDate) -> Context<'static> {
    Context { today, by: "kj", device: "crush-laptop" }
}

fn day(text: &str) -> NaiveDate {
    ledger_format::line::read_date(text.as_bytes()).unwrap()
}

/// The bodies of what was typed; refused lines as their remarks.
fn bodies(typed: &[Typed]) -> Vec<String> {
    let of_line = |typed: &Typed| match &typed.outcome {
        Outcome::Kept(kept) => kept.iter().map(|kept| kept.body.clone()).collect(),
        Outcome::Refused(remarks) => remarks.iter().map(ToString::to_string).collect(),
        other => vec![format!("{other:?}")],
    };
    typed.iter().flat_map(of_line).collect()
}

/// Nothing is lost, and what is kept is canonical.
fn assert_nothing_lost(text: &str, typed: &[Typed]) {
    assert_eq!(typed.len(), split(text).count());
    for (index, (line, typed)) in split(text).zip(typed).enumerate() {
        assert_eq!((index + 1, clean(line).text), (typed.number, typed.text.clone()));
        assert_eq!(typed.text.is_empty(), typed.outcome == Outcome::Blank, "{:?}", typed.text);
        match &typed.outcome {
            Outcome::Kept(kept) => {
                assert!(!kept.is_empty());
                assert!(kept.iter().all(|kept| read_line(&kept.body).is_ok()), "{kept:?}");
            }
            Outcome::Refused(remarks) => {
                assert!(!remarks.is_empty(), "{:?}", typed.text);
                let width = typed.text.chars().count();
                assert!(remarks.iter().all(|remark| remark.column >= 1 && remark.column + remark.width <= width + 1));
            }
            Outcome::Comment | Outcome::OldRemark => assert!(typed.text.starts_with(';')),
            Outcome::Blank | Outcome::Heading => {}
        }
    }
}

/// A file of these bodies, whatever they are.
fn sealed(bodies: &[&str]) -> Vec<u8> {
    let head = format!("footfold 1 herd quillmere device crush-laptop key {} zone Europe/London", "8d".repeat(32));
    let (mut chain, mut bytes) = (Chain::default(), Vec::new());
    for body in std::iter::once(head.as_str()).chain(bodies.iter().copied()) {
        chain.seal(body, read_utc(b"2026-03-14T09:20:11Z").unwrap(), &mut bytes);
    }
    bytes
}

/// Words that mean something, in any order.
fn soup() -> impl Strategy<Value = String> {
    let words = "417 418 3 2a herd group dry cow # by kj ao 2026-03-14 14 Mar March 30 Feb yesterday 9:12 9.12 3/14 , , ; : \
        WLA DD SU M2 M5 ulcer sole white line abscess foul in the foot RH lh rf back right hinds all outer inner in z3 zone \
        13 g2 severe trim lame t block b on off lost wood dressing recheck rc 28d 4 weeks 1m found ok due refer because vet \
        seen medicine med Pedirel \" 15ml 15 ml im batch B44 milk 0 meat 4d for bath copper 5% passes calved lactation dried \
        joined left culled feet renumbered to tagged ear UK 123450 600001 UK123450600001 electronic 276000312312345 moved \
        note strike 3f9c2a7d51be4c08 of replaces farm-office admit key as tally zeros 101 ones 1s no lesion scale five wall 74 \
        sole 6.5 angle 48 was otuer é 🐄 \u{FFFD} ;! |";
    let words: Vec<&str> = words.split_whitespace().collect();
    prop::collection::vec(select(words), 0..24).prop_map(|words| words.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, max_global_rejects: 100_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_is_read_and_typed_as_the_same_line(line in lines::lines()) {
        let body = line.to_string();
        let back = read_line(&body);
        prop_assert_eq!(back.as_ref(), Ok(&line), "{}", body);
        prop_assert_eq!(&back.unwrap().to_string(), &body);
        prop_assert_eq!(bodies(&read(&body, &context(line.observed.date))), [body]);
    }

    /// A file is read in one go where its lines are usual. Each line comes out as the reader of all lines has it, also
    /// after a byte of it was changed before it was sealed.
    #[test]
    fn a_file_says_what_its_lines_say(line in lines::lines(), at in any::<prop::sample::Index>(), byte in select(b" :-0129|abfrzHLR".to_vec())) {
        let body = line.to_string();
        let mut changed = body.clone().into_bytes();
        let at = at.index(changed.len());
        changed[at] = byte;
        let changed = String::from_utf8(changed).unwrap_or_else(|_| body.clone());
        let bytes = sealed(&[&body, &changed, &body]);
        let text = String::from_utf8(bytes.clone()).unwrap();
        let log = Log::union(vec![Ledger::read("crush-laptop", 2026, bytes).unwrap()]);
        let expected: Vec<_> = text.lines().skip(1).filter_map(|line| read_sealed(line).ok()).collect();
        let entries = log.ledgers()[0].entries();
        prop_assert_eq!(entries.len(), expected.len());
        prop_assert_eq!(entries.len() + log.ledgers()[0].unreadable.len(), 3);
        for (entry, read) in entries.iter().zip(expected) {
            let whose = match read.line.subject {
                Subject::Cow(number) => Whose::Cow(number),
                Subject::Group(_) => Whose::Group,
                Subject::Herd => Whose::Herd,
            };
            prop_assert_eq!((entry.observed, entry.whose), (read.line.observed, whose), "{}", text);
            prop_assert_eq!(entry.event, Event::from(&read.line.act), "{}", text);
            prop_assert_eq!((entry.sealed, entry.mark), (read.seal.sealed.and_utc().timestamp(), read.seal.mark));
        }
    }

    /// The same again, past the reader of canonical bodies: without date and person, which come from the context.
    #[test]
    fn what_is_typed_without_date_and_person_is_the_same_line(line in lines::lines()) {
        let line = Line { by: "kj", ..line };
        prop_assume!(names_are_plain(&line));
        let body = line.to_string();
        let words = line.words.map_or(String::new(), |words| format!(": {words}"));
        let typed = body[11..body.len() - " by kj".len() - words.len()].to_owned() + &words;
        prop_assert_eq!(bodies(&read(&typed, &context(line.observed.date))), [body], "{}", typed);
    }

    #[test]
    fn small_letters_are_enough(line in lines::lines()) {
        let needs_words = line.act.needs_words() || matches!(line.act, Act::Medicine(_));
        prop_assume!(!needs_words && names_are_plain(&line));
        let line = Line { by: "kj", words: None, ..line };
        let typed = line.to_string().to_lowercase();
        prop_assert_eq!(bodies(&read(&typed, &context(line.observed.date))), [line.to_string()]);
    }

    #[test]
    fn any_text_is_read_and_none_is_lost(text in "(\\PC|[\n\r\t ,;:\"0-9a-z#-]){0,200}") {
        assert_nothing_lost(&text, &read(&text, &context(day("2026-03-14"))));
    }

    #[test]
    fn any_bytes_are_read(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let (decoded, typed) = read_bytes(&bytes, &context(day("2026-03-14")));
        assert_nothing_lost(&decoded.text, &typed);
    }

    #[test]
    fn any_order_of_words_is_read(lines in prop::collection::vec(soup(), 1..6)) {
        let text = lines.join("\n");
        assert_nothing_lost(&text, &read(&text, &context(day("2026-03-14"))));
    }
}

/// Whether every name is longer than most words of a line: `key` or `by` as a name needs the canonical form.
fn names_are_plain(line: &Line<'_>) -> bool {
    let group = if let Subject::Group(name) = line.subject { Some(name) } else { None };
    let named = match line.act {
        Act::Admit { device, .. } | Act::Revoke { device, .. } | Act::Witness { device, .. } => Some(device),
        Act::Moved(name) => Some(name),
        Act::Strike(reference) => reference.device,
        _ => None,
    };
    let replaced = line.replaces.and_then(|reference| reference.device);
    [group, named, replaced].into_iter().flatten().all(|name| name.len() > 6)
}

/// A line as long as a line may be is read in a moment, whatever is on it.
#[test]
fn f11_long_lines_take_no_long_time() {
    let context = context(day("2026-03-14"));
    for bit in [
        "x ",
        "trm ",
        "a,",
        "\"",
        "417 3, ",
        "417 WLX RH otuer, ",
        "3 ",
        "RH outer z3, ",
        "in ",
        "- ",
        "#",
        "zone ",
        ";",
        "ab-",
    ] {
        let line = bit.repeat(2_000 / bit.len());
        let text = format!("{line}\n").repeat(20);
        assert_nothing_lost(&text, &read(&text, &context));
    }
}

#[test]
fn f11_no_more_lines_than_the_limit() {
    let text = "; wet\n".repeat(ledger_format::limits::TYPED_LINES - 1) + "417 3\n417 3\n";
    let typed = read(&text, &context(day("2026-03-14")));
    assert!(matches!(typed[typed.len() - 2].outcome, Outcome::Kept(_)));
    assert!(matches!(typed[typed.len() - 1].outcome, Outcome::Refused(_)));
}
