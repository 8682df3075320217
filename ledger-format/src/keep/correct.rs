//! What a person reads of it: corrections, offers and remarks (`keep.md` §7, §12, §13).

use super::Saved;
use super::sealed::places;
use crate::limits::REMARK_COLUMNS;
use crate::line::{self, Mark, Reference};
use crate::text;

/// A changed line as typed text that replaces what it was; `device` where that is another's.
pub fn as_correction(changed: &str, of: Mark, device: Option<&str>) -> String {
    let reference = Reference { mark: of, device };
    if let Ok(mut line) = line::read(changed) {
        line.replaces = Some(reference);
        return line.to_string();
    }
    let (says, words) = match changed.find(": ") {
        Some(at) => changed.split_at(at),
        None => (changed, ""),
    };
    let says = match says.find(" replaces ") {
        Some(at) => without_reference(says, at),
        None => says.to_owned(),
    };
    format!("{says} replaces {reference}{words}")
}

/// A sentence without its `replaces MARK of DEVICE`.
fn without_reference(says: &str, at: usize) -> String {
    let (before, rest) = says.split_at(at);
    let mut words = rest.split(' ').skip(3).peekable();
    if words.peek() == Some(&"of") {
        words.nth(1);
    }
    words.fold(before.to_owned(), |text, word| text + " " + word)
}

/// A line typed in another device's file, offered in one's own tail.
pub fn offer(text: &str) -> String {
    format!("; {text}")
}

/// At most this many deleted lines are told one by one.
const ONE_BY_ONE: usize = 3;

/// What is said of a save in the tail.
pub fn remarks(saved: &Saved, accepted: &[u8]) -> Vec<String> {
    let mut remarks = Vec::new();
    if saved.shown == 0 {
        // The whole file was lost or emptied: nobody withdraws lines like that.
        return remarks;
    }
    let mut say = |text: String| remarks.extend(text::wrapped(&text, REMARK_COLUMNS));
    let deleted = &saved.deleted;
    if deleted.len() > ONE_BY_ONE {
        let lines = places(deleted);
        say(format!("sealed, and put back: {lines}"));
        say("to withdraw a sealed line, type: NUMBER strike MARK because WHY".to_owned());
    }
    for at in deleted.iter().filter(|_| deleted.len() <= ONE_BY_ONE) {
        say(format!("sealed, and put back: line {}", at + 1));
        if let Some(how) = how_to_strike(accepted, *at) {
            say(how);
        }
    }
    if !saved.unseen.is_empty() {
        let lines = places(&saved.unseen);
        say(format!("kept since this text was opened: {lines}; reload to see them"));
    }
    remarks
}

fn how_to_strike(accepted: &[u8], at: usize) -> Option<String> {
    let text = std::str::from_utf8(accepted.split(|b| *b == b'\n').nth(at)?).ok()?;
    let sealed = line::read_sealed(text).ok()?;
    Some(format!("to withdraw it: {} strike {} because WHY", sealed.line.subject, sealed.seal.mark))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn corrected(changed: &str, device: Option<&str>) -> String {
        as_correction(changed, Mark::read(b"0123456789abcdef").unwrap(), device)
    }

    #[test]
    fn a_canonical_line_says_what_it_replaces_before_who() {
        assert_eq!(
            corrected("2026-03-14 417 score 2 by kj", None),
            "2026-03-14 417 score 2 replaces 0123456789abcdef by kj"
        );
        assert_eq!(
            corrected("2026-03-14 417 score 2 by kj: slow: left", None),
            "2026-03-14 417 score 2 replaces 0123456789abcdef by kj: slow: left"
        );
    }

    #[test]
    fn an_older_replaces_gives_way() {
        for old in ["replaces 5a5a5a5a5a5a5a5a", "replaces 5a5a5a5a5a5a5a5a of farm-office"] {
            let canonical = corrected(&format!("2026-03-14 417 score 2 {old} by kj: slow"), None);
            assert_eq!(canonical, "2026-03-14 417 score 2 replaces 0123456789abcdef by kj: slow");
            let loose = corrected(&format!("2026-03-14 417 score 9 {old} by kj: slow"), None);
            assert_eq!(loose, "2026-03-14 417 score 9 by kj replaces 0123456789abcdef: slow");
        }
    }

    #[test]
    fn a_line_of_another_device_names_it() {
        let of = Some("farm-office");
        assert_eq!(
            corrected("2026-03-14 417 score 2 by kj", of),
            "2026-03-14 417 score 2 replaces 0123456789abcdef of farm-office by kj"
        );
        assert_eq!(corrected("417 s2", of), "417 s2 replaces 0123456789abcdef of farm-office");
    }

    #[test]
    fn what_is_said_in_the_file_fits_its_columns() {
        let saved = Saved { shown: 90, deleted: (0..90).step_by(2).collect(), unseen: vec![91], ..Saved::default() };
        let said = remarks(&saved, b"");
        assert!(said.len() > 4 && said.iter().all(|line| line.len() <= REMARK_COLUMNS), "{said:?}");
        assert!(said.join(" ").starts_with("sealed, and put back: lines 1, 3, 5, "), "{said:?}");
    }

    #[test]
    fn in_typed_text_it_stands_before_the_words() {
        assert_eq!(corrected("417 WLA rh outr", None), "417 WLA rh outr replaces 0123456789abcdef");
        assert_eq!(corrected("417 note: replaces old: x", None), "417 note replaces 0123456789abcdef: replaces old: x");
    }
}
