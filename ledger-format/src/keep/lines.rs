//! Accepted lines by their marks.

use std::cell::OnceCell;
use std::collections::HashMap;

use memchr::memchr_iter;

use super::base::Changed;
use super::compare::Correction;
use super::sealed;
use crate::line::{Mark, split_seal};

/// An accepted line that a typed one became.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Was {
    /// Its place in the file, from 0; none if it is in that of another year.
    pub at: Option<usize>,
    /// Its mark.
    pub mark: Mark,
    /// What it says.
    pub body: String,
}

/// Accepted lines by their marks: those of the file that are missing, and those that the base did not show; and those
/// of the device's other files.
pub(super) struct Lines<'a> {
    at: HashMap<Mark, (usize, &'a [u8])>,
    missing: &'a [usize],
    others: &'a [&'a [u8]],
    elsewhere: OnceCell<HashMap<Mark, &'a [u8]>>,
}

impl<'a> Lines<'a> {
    pub(super) fn of(accepted: &'a [u8], others: &'a [&'a [u8]], missing: &'a [usize], from: usize) -> Self {
        let first = missing.first().map_or(from, |first| from.min(*first));
        let lines = (first..).zip(sealed_lines(&accepted[start_of(first, accepted)..]));
        let at = lines.filter_map(|(at, (body, mark))| Some((mark?, (at, body)))).collect();
        Self { at, missing, others, elsewhere: OnceCell::new() }
    }

    pub(super) fn place(&self, mark: Mark) -> Option<usize> {
        self.at.get(&mark).map(|(at, _)| *at)
    }

    pub(super) fn body(&self, mark: Mark) -> Option<&'a str> {
        self.at.get(&mark).and_then(|(_, body)| std::str::from_utf8(body).ok())
    }

    pub(super) fn is_missing(&self, mark: Mark) -> bool {
        self.place(mark).is_some_and(|at| self.missing.binary_search(&at).is_ok())
    }

    /// Whether it is of a line in another file.
    pub(super) fn is_elsewhere(&self, mark: Mark) -> bool {
        self.body_elsewhere(mark).is_some()
    }

    fn body_elsewhere(&self, mark: Mark) -> Option<&'a [u8]> {
        let lines = || self.others.iter().flat_map(|file| sealed_lines(file));
        let all = || lines().filter_map(|(body, mark)| Some((mark?, body))).collect();
        if self.at.contains_key(&mark) {
            return None;
        }
        self.elsewhere.get_or_init(all).get(&mark).copied()
    }

    /// Whether it is of a line that the save does not show.
    pub(super) fn is_hidden(&self, mark: Mark) -> bool {
        self.is_missing(mark) || self.is_elsewhere(mark)
    }

    /// Whether there is none that the save does not show.
    pub(super) fn all_shown(&self) -> bool {
        self.missing.is_empty() && self.others.is_empty()
    }

    fn was(&self, mark: Mark) -> Option<Was> {
        let elsewhere = || std::str::from_utf8(self.body_elsewhere(mark)?).ok();
        let body = self.body(mark).or_else(elsewhere)?.to_owned();
        Some(Was { at: self.place(mark), mark, body })
    }

    /// A line that stands in the place of lines that are all accepted.
    pub(super) fn correction(&self, before: &str, marks: &[Mark], waits: bool) -> Option<Correction> {
        let was = marks.iter().map(|mark| self.was(*mark)).collect::<Option<Vec<Was>>>()?;
        let before = sealed::borne(before).map_or_else(|| before.to_owned(), |(body, _)| body);
        (!was.is_empty()).then_some(Correction { before, was, waits })
    }

    /// The same of a line that waits in the tail.
    pub(super) fn waiting(&self, changed: &Changed) -> Option<Correction> {
        self.correction(&changed.before, &changed.marks, true)
    }
}

/// Where a line begins. Lines before it need no look: there may be a year of them.
fn start_of(line: usize, accepted: &[u8]) -> usize {
    let Some(before) = line.checked_sub(1) else { return 0 };
    memchr_iter(b'\n', accepted).nth(before).map_or(accepted.len(), |lf| lf + 1)
}

/// Sealed lines, each with its body and its mark.
fn sealed_lines(accepted: &[u8]) -> impl Iterator<Item = (&[u8], Option<Mark>)> {
    let parts = |line| {
        let (body, seal) = split_seal(line)?;
        Some((body, Mark::read(seal.get(24..)?)))
    };
    accepted.split(|b| *b == b'\n').map(move |line| parts(line).unwrap_or((line, None)))
}
