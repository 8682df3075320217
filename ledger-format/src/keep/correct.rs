//! What becomes of lines that were changed, and what a person reads of it (`keep.md` §7, §9, §10, §12, §13).

use std::collections::HashMap;

use super::Saved;
use super::base::{Fate, Remembered};
use super::lines::{Lines, Was};
use super::sealed::places;
use crate::limits::REMARK_COLUMNS;
use crate::line::{self, Act, Line, Mark, Reference};
use crate::text;

/// What one of the lines says that a changed line gives.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// What the line with this mark says.
    Again(Mark),
    /// This body, as a line of its own or in the place of another.
    Anew(String),
}

/// A changed line beside the lines that it was: what each of the bodies that it gives `now` says, and the lines that
/// it gives no more. `before` are the bodies that its words before the change would give now: a day or person that
/// the change did not touch is that of the line it was.
pub fn changed<'a>(now: &[String], before: &[String], was: &'a [Was]) -> (Vec<Said>, Vec<&'a Was>) {
    let bodies: Vec<String> = was.iter().map(|was| was.body.clone()).collect();
    let before = if before.len() == was.len() { before } else { &bodies };
    let (Some(lines), Some(before), Some(were)) = (read_all(now), read_all(before), read_all(&bodies)) else {
        // A line of a later format.
        let first = was.first().map(|was| was.mark);
        let anew = |body: &String| first.map_or_else(|| body.clone(), |mark| as_correction(body, mark, None));
        return (now.iter().map(|body| Said::Anew(anew(body))).collect(), Vec::new());
    };
    let (partners, free) = side_by_side(&lines, &before);
    let said = lines.iter().zip(now).zip(partners).map(|((line, body), partner)| match partner {
        Some(Partner::Same(old)) => Said::Again(was[old].mark),
        Some(Partner::Other(old)) => Said::Anew(in_place_of(line, &before[old], &were[old], was[old].mark)),
        None if line.replaces.is_some_and(|of| was.iter().any(|was| was.mark == of.mark)) => {
            Said::Anew(Line { replaces: None, ..*line }.to_string())
        }
        None => Said::Anew(body.clone()),
    });
    (said.collect(), free.into_iter().map(|old| &was[old]).collect())
}

fn read_all(bodies: &[String]) -> Option<Vec<Line<'_>>> {
    bodies.iter().map(|body| line::read(body).ok()).collect()
}

/// Which of the lines before a line stands for.
#[derive(Clone, Copy)]
enum Partner {
    Same(usize),
    Other(usize),
}

/// Lines that say the same first, then those of one kind about one cow, then the rest in order; and the lines before
/// that are left over. A strike takes no line's place (`line.md` §10).
fn side_by_side(now: &[Line<'_>], before: &[Line<'_>]) -> (Vec<Option<Partner>>, Vec<usize>) {
    let rules: [Rule; 3] = [(is_same, Partner::Same), (is_alike, Partner::Other), (may_replace, Partner::Other)];
    let (mut partners, mut free) = (vec![None; now.len()], (0..before.len()).collect::<Vec<_>>());
    for (fits, partner) in rules {
        for (line, found) in now.iter().zip(&mut partners).filter(|(_, found)| found.is_none()) {
            let place = free.iter().position(|old| fits(line, &before[*old]));
            *found = place.map(|place| partner(free.remove(place)));
        }
    }
    (partners, free)
}

type Fits = fn(&Line<'_>, &Line<'_>) -> bool;
/// Which lines fit, and what that makes of them.
type Rule = (Fits, fn(usize) -> Partner);

fn is_same(now: &Line<'_>, before: &Line<'_>) -> bool {
    Line { replaces: before.replaces, ..*now } == *before
}

fn is_alike(now: &Line<'_>, before: &Line<'_>) -> bool {
    now.subject == before.subject && now.act.word() == before.act.word() && may_replace(now, before)
}

fn may_replace(now: &Line<'_>, _: &Line<'_>) -> bool {
    !matches!(now.act, Act::Strike(_))
}

/// A line in the place of one that was: what the change did not touch is as it was.
fn in_place_of(now: &Line<'_>, before: &Line<'_>, was: &Line<'_>, mark: Mark) -> String {
    let observed = if now.observed == before.observed { was.observed } else { now.observed };
    let by = if now.by == before.by { was.by } else { now.by };
    Line { observed, by, replaces: Some(Reference { mark, device: None }), ..*now }.to_string()
}

/// How many corrections of one line are followed.
const DEEP: usize = 64;

/// Lines in an editor that shows them as they were before it changed them: what would change each back, and the mark
/// of what it says now. Whether its editor changed it back or never saw the change, nobody can tell; so it is
/// offered, once.
pub(super) fn changed_back(marks: &[Mark], remembered: &[Remembered], lines: &Lines<'_>) -> Vec<(String, Mark)> {
    let later = changed_in_editors(remembered, lines);
    let offered = |text: &String| remembered.iter().any(|save| save.left.contains(&offer(text)));
    let mut found: Vec<(String, Mark)> = Vec::new();
    for mark in marks {
        let newest = std::iter::successors(Some(*mark), |mark| later.get(mark).copied()).take(DEEP).last();
        let Some(newest) = newest.filter(|newest| newest != mark) else { continue };
        let (Some(then), Some(now)) = (lines.body(*mark), lines.body(newest)) else { continue };
        let back = as_correction(then, newest, None);
        let says_it = as_correction(now, newest, None) == back;
        if !says_it && !offered(&back) && lines.is_missing(newest) {
            found.push((back, newest));
        }
    }
    found
}

/// Lines and what replaced them in an editor that showed them as typed still.
fn changed_in_editors(remembered: &[Remembered], lines: &Lines<'_>) -> HashMap<Mark, Mark> {
    let mut later = HashMap::new();
    for save in remembered {
        for fate in save.typed.iter().map(|typed| &typed.fate) {
            let Fate::Kept(marks) = fate else { continue };
            for mark in marks {
                let Some(body) = lines.body(*mark).filter(|body| body.contains(" replaces ")) else { continue };
                let Some(of) = line::read(body).ok().and_then(|line| line.replaces) else { continue };
                if of.device.is_none() && lines.place(of.mark).is_some_and(|place| place >= save.shown) {
                    later.entry(of.mark).or_insert(*mark);
                }
            }
        }
    }
    later
}

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

/// What is said of a save in the tail. `gone` are lines that changed ones give no more.
pub fn remarks(saved: &Saved, gone: &[usize], accepted: &[u8]) -> Vec<String> {
    let mut remarks = Vec::new();
    let mut say = |text: String| remarks.extend(text::wrapped(&text, REMARK_COLUMNS));
    for typed in saved.typed.iter().filter(|typed| typed.is_offered()) {
        let text = text::clean(&typed.text).text;
        say(format!("it stood in front of a sealed line; to keep it take the `; ` away: {text}"));
    }
    if saved.elsewhere.len() > ONE_BY_ONE {
        say(format!("kept already, in the file of another year: {} lines", saved.elsewhere.len()));
    }
    for text in saved.elsewhere.iter().filter(|_| saved.elsewhere.len() <= ONE_BY_ONE) {
        say(format!("kept already, in the file of another year: {text}"));
    }
    if !saved.elsewhere.is_empty() {
        say("to keep it once more, type it there".to_owned());
    }
    if saved.shown == 0 {
        // The whole file was lost or emptied: nobody withdraws lines like that.
        return remarks;
    }
    let mut deleted = [saved.deleted.as_slice(), gone].concat();
    deleted.sort_unstable();
    deleted.dedup();
    if deleted.len() > ONE_BY_ONE {
        let lines = places(&deleted);
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

    /// What each body says, and how many lines are left over.
    fn said(now: &[&str], before: &[&str], was: &[&str]) -> (Vec<String>, usize) {
        let mark = |at: usize| Mark::read(format!("{at:016}").as_bytes()).unwrap();
        let was =
            was.iter().enumerate().map(|(at, body)| Was { at: Some(at), mark: mark(at), body: (*body).to_owned() });
        let was: Vec<Was> = was.collect();
        let owned = |all: &[&str]| -> Vec<String> { all.iter().map(|body| (*body).to_owned()).collect() };
        let (said, gone) = changed(&owned(now), &owned(before), &was);
        let texts = said.into_iter().map(|said| match said {
            Said::Again(mark) => format!("again {mark}"),
            Said::Anew(body) => body,
        });
        (texts.collect(), gone.len())
    }

    #[test]
    fn a_day_and_person_that_the_change_did_not_touch_stay() {
        let was = ["2026-03-14 417 score 3 by ao", "2026-03-14 417 trim lame RH by ao"];
        let before = ["2026-03-15 417 score 3 by kj", "2026-03-15 417 trim lame RH by kj"];
        let now = ["2026-03-15 417 score 2 by kj", "2026-03-15 417 trim lame RH by kj"];
        let expected = ["2026-03-14 417 score 2 replaces 0000000000000000 by ao", "again 0000000000000001"];
        assert_eq!(said(&now, &before, &was), (expected.map(str::to_owned).to_vec(), 0));
        let now = ["2026-03-10 417 score 3 by kj", "2026-03-10 417 trim lame RH by kj"];
        let expected = [
            "2026-03-10 417 score 3 replaces 0000000000000000 by ao",
            "2026-03-10 417 trim lame RH replaces 0000000000000001 by ao",
        ];
        assert_eq!(said(&now, &before, &was), (expected.map(str::to_owned).to_vec(), 0));
    }

    #[test]
    fn lines_of_one_kind_are_put_side_by_side_before_others() {
        let was = ["2026-03-14 417 score 3 by kj", "2026-03-14 417 trim lame RH by kj"];
        let now = ["2026-03-14 417 trim lame LH by kj", "2026-03-14 417 seen by kj", "2026-03-14 417 dried by kj"];
        let expected = [
            "2026-03-14 417 trim lame LH replaces 0000000000000001 by kj",
            "2026-03-14 417 seen replaces 0000000000000000 by kj",
            "2026-03-14 417 dried by kj",
        ];
        assert_eq!(said(&now, &was, &was), (expected.map(str::to_owned).to_vec(), 0));
    }

    #[test]
    fn a_strike_takes_no_lines_place() {
        let was = ["2026-03-14 417 strike 0123456789abcdef by kj: wrong"];
        let now = ["2026-03-14 417 strike fedcba9876543210 by kj: wrong"];
        assert_eq!(said(&now, &was, &was), (vec![now[0].to_owned()], 1));
        assert_eq!(said(&was, &was, &was), (vec!["again 0000000000000000".to_owned()], 0));
    }

    #[test]
    fn what_is_said_in_the_file_fits_its_columns() {
        let saved = Saved { shown: 90, deleted: (0..90).step_by(2).collect(), unseen: vec![91], ..Saved::default() };
        let said = remarks(&saved, &[], b"");
        assert!(said.len() > 4 && said.iter().all(|line| line.len() <= REMARK_COLUMNS), "{said:?}");
        assert!(said.join(" ").starts_with("sealed, and put back: lines 1, 3, 5, "), "{said:?}");
    }

    #[test]
    fn in_typed_text_it_stands_before_the_words() {
        assert_eq!(corrected("417 WLA rh outr", None), "417 WLA rh outr replaces 0123456789abcdef");
        assert_eq!(corrected("417 note: replaces old: x", None), "417 note replaces 0123456789abcdef: replaces old: x");
    }
}
