//! Lines of a history that is given up, entered anew (`forks.md` §6).

use std::collections::HashMap;

use crate::limits::TYPED_LINE_BYTES;
use crate::line::{Act, Line, Mark, Reference, SealedLine, read_sealed, utc_text};

/// The lines to type anew of the sealed lines in which one history parts from another. Each names when and as what it
/// was first sealed. What they corrected among themselves is entered as it stood in the end, and what the other
/// history says in the same words is not entered a second time.
pub fn entered_again(given_up: &[u8], other: &[u8]) -> Vec<String> {
    let mut said = HashMap::<String, Vec<Mark>>::new();
    for sealed in sealed_lines(other) {
        said.entry(sealed.line.to_string()).or_default().push(sealed.seal.mark);
    }
    let mut theirs = HashMap::<Mark, Mark>::new();
    let mut lines: Vec<Option<String>> = Vec::new();
    let mut stands = HashMap::<Mark, usize>::new();
    for sealed in sealed_lines(given_up) {
        let SealedLine { line, seal } = sealed;
        if let Act::Witness { .. } = line.act {
            continue;
        }
        let line = referring_to(line, &theirs);
        if let Some(known) = said.get_mut(&line.to_string()).filter(|known| !known.is_empty()) {
            theirs.insert(seal.mark, known.remove(0));
            continue;
        }
        if let Act::Strike(target) = line.act
            && let Some(at) = own(Some(target)).and_then(|mark| stands.remove(&mark))
        {
            lines[at] = None;
            continue;
        }
        let corrected = own(line.replaces).filter(|mark| stands.contains_key(mark));
        if let Some(mark) = corrected {
            lines[stands[&mark]] = None;
            stands.insert(mark, lines.len());
        }
        stands.insert(seal.mark, lines.len());
        let replaces = if corrected.is_some() { None } else { line.replaces };
        lines.push(Some(with_origin(Line { replaces, ..line }, &utc_text(seal.sealed), seal.mark)));
    }
    lines.into_iter().flatten().collect()
}

fn sealed_lines(bytes: &[u8]) -> impl Iterator<Item = SealedLine<'_>> {
    let lines = bytes.split(|b| *b == b'\n').filter_map(|line| std::str::from_utf8(line).ok());
    lines.filter_map(|line| read_sealed(line).ok())
}

/// The mark of a line of the same device that is referred to.
fn own(reference: Option<Reference>) -> Option<Mark> {
    reference.filter(|reference| reference.device.is_none()).map(|reference| reference.mark)
}

/// A line, referring to the other history's line where both have it.
fn referring_to<'a>(mut line: Line<'a>, theirs: &HashMap<Mark, Mark>) -> Line<'a> {
    let moved = |reference: Reference<'a>| {
        let mark = own(Some(reference)).and_then(|mark| theirs.get(&mark)).copied();
        Reference { mark: mark.unwrap_or(reference.mark), ..reference }
    };
    line.replaces = line.replaces.map(moved);
    if let Act::Strike(target) = line.act {
        line.act = Act::Strike(moved(target));
    }
    line
}

fn with_origin(line: Line, sealed: &str, mark: Mark) -> String {
    let words = match line.words {
        Some(words) => format!("{words} (first sealed {sealed} as {mark})"),
        None => format!("first sealed {sealed} as {mark}"),
    };
    let whole = Line { words: Some(&words), ..line }.to_string();
    if whole.len() <= TYPED_LINE_BYTES { whole } else { line.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::read_utc;
    use crate::mark::Chain;

    /// Lines sealed behind each other; `{0}` in a body is the mark of the first.
    fn sealed(bodies: &[&str]) -> (Vec<u8>, Vec<Mark>) {
        let (mut chain, mut bytes, mut marks) = (Chain::default(), Vec::new(), Vec::new());
        for body in bodies {
            let mut body = (*body).to_owned();
            for (n, mark) in marks.iter().enumerate() {
                body = body.replace(&format!("{{{n}}}"), &Mark::to_string(mark));
            }
            marks.push(chain.seal(&body, read_utc(b"2026-03-14T09:20:11Z").unwrap(), &mut bytes).mark());
        }
        (bytes, marks)
    }

    fn again(given_up: &[&str], other: &[&str]) -> (Vec<String>, Vec<Mark>) {
        let (bytes, marks) = sealed(given_up);
        (entered_again(&bytes, &sealed(other).0), marks)
    }

    #[test]
    fn each_line_names_when_and_as_what_it_was_first_sealed() {
        let (lines, marks) = again(&["2026-03-14 417 score 3 by kj", "2026-03-14 418 score 2 by kj: slow; left"], &[]);
        assert_eq!(
            lines[0],
            format!("2026-03-14 417 score 3 by kj: first sealed 2026-03-14T09:20:11Z as {}", marks[0])
        );
        let words = format!("slow; left (first sealed 2026-03-14T09:20:11Z as {})", marks[1]);
        assert_eq!(lines[1], format!("2026-03-14 418 score 2 by kj: {words}"));
    }

    #[test]
    fn what_was_corrected_is_entered_as_it_stood_in_the_end() {
        let (lines, marks) = again(
            &[
                "2026-03-14 417 score 3 by kj",
                "2026-03-14 417 score 2 replaces {0} by kj",
                "2026-03-14 417 score 1 replaces {0} by kj",
                "2026-03-14 418 score 3 by kj",
                "2026-03-14 418 strike {3} by kj: wrong cow",
                "2026-03-14 419 score 2 replaces 0123456789abcdef by kj",
            ],
            &[],
        );
        let first = |n: usize| format!("first sealed 2026-03-14T09:20:11Z as {}", marks[n]);
        let expected = [
            format!("2026-03-14 417 score 1 by kj: {}", first(2)),
            format!("2026-03-14 419 score 2 replaces 0123456789abcdef by kj: {}", first(5)),
        ];
        assert_eq!(lines, expected);
    }

    #[test]
    fn what_the_other_history_says_too_and_what_was_witnessed_is_not_entered() {
        let full = "5e".repeat(32);
        let witness = format!("2026-03-14 herd witness farm-office 2026 length 99 mark {full} by kj");
        let (lines, _) = again(
            &["2026-03-14 417 score 3 by kj", "2026-03-14 417 score 3 by kj", &witness],
            &["2026-03-14 417 score 3 by kj"],
        );
        assert_eq!(lines.len(), 1, "{lines:?}");
    }

    #[test]
    fn a_correction_of_a_line_that_both_have_refers_to_the_other_history() {
        let other = ["2026-03-14 419 score 1 by ao", "2026-03-14 417 score 3 by kj"];
        let (lines, _) = again(&["2026-03-14 417 score 3 by kj", "2026-03-14 417 score 2 replaces {0} by kj"], &other);
        let there = sealed(&other).1[1];
        assert!(lines.len() == 1 && lines[0].contains(&format!(" replaces {there} by kj: first")), "{lines:?}");
    }
}
