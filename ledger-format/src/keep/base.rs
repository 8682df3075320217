//! What earlier saves of a file were, and what an editor may have started from (`keep.md` §1, §2, §8).

use std::cmp::Reverse;

use serde::{Deserialize, Serialize};

use super::align::{self, Apart};
use crate::line::Mark;
use crate::text;

/// What became of a line that was typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Fate {
    /// It was sealed as these lines.
    Kept(Vec<Mark>),
    /// It stays in the tail, as these lines.
    Left(Vec<String>),
    /// A heading whose day is over, a remark that was mended, an empty line.
    Gone,
}

/// A typed line of an earlier save.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TypedBefore {
    /// As it was saved.
    pub text: String,
    /// What became of it.
    pub fate: Fate,
    /// What it changes, while it waits in the tail.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changes: Option<Changed>,
}

/// A line that was changed, and what it had become before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Changed {
    /// As it was typed before.
    pub before: String,
    /// The lines that it had become.
    pub marks: Vec<Mark>,
}

/// An earlier save, and what the file was left with.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remembered {
    /// How many accepted lines the save showed, up to the last of them.
    pub shown: usize,
    /// Those among them that it lacked, counted from 0.
    pub lacking: Vec<usize>,
    /// Its typed lines.
    pub typed: Vec<TypedBefore>,
    /// How many accepted lines the file was left with.
    pub shown_after: usize,
    /// The tail that it was left with.
    pub left: Vec<String>,
    /// What became of lines of an earlier tail that it lacked and that were carried over.
    #[serde(default)]
    pub carried: Vec<TypedBefore>,
    /// Whether its tail was not read: it was only left as it stood.
    #[serde(default)]
    pub unread: bool,
}

/// A text that an editor may have started from.
#[derive(Clone, Copy, Debug)]
pub(super) enum Base<'a> {
    /// The text as it was saved.
    Saved(&'a Remembered),
    /// The text that the file was left with.
    After(&'a Remembered),
}

/// What is compared with the bases.
pub(super) struct Facts<'a> {
    /// The typed lines of the save, cleaned.
    pub(super) typed: &'a [String],
    /// How many accepted lines it shows, up to the last of them.
    pub(super) shown: usize,
    /// Those among them that it lacks.
    pub(super) lacking: &'a [usize],
}

impl Remembered {
    /// What a line of the tail that it left changes.
    pub(super) fn changed(&self, left: &String) -> Option<&Changed> {
        let is_it = |typed: &&TypedBefore| matches!(&typed.fate, Fate::Left(lines) if lines.contains(left));
        self.typed.iter().chain(&self.carried).filter(is_it).find_map(|typed| typed.changes.as_ref())
    }
}

impl<'a> Base<'a> {
    /// The base that a save differs least from, and by how much; among equals the one that more of its lines come from,
    /// then the newest, and of one save the text as it was saved: editors that do not reload are many, people who take
    /// sealed lines out are few. `remembered` begins with the newest.
    pub(super) fn choose(remembered: &'a [Remembered], save: &Facts<'_>) -> Option<(usize, Self)> {
        let bases = remembered.iter().flat_map(|one| [Self::Saved(one), Self::After(one)]);
        let possible = bases.filter_map(|base| Some((base.difference(save)?, base)));
        let nearest = possible.min_by_key(|(apart, _)| (apart.changes, Reverse(apart.shared)));
        nearest.map(|(apart, base)| (apart.changes, base))
    }

    pub(super) fn shows(self, line: usize) -> bool {
        match self {
            Self::Saved(one) => line < one.shown && !one.lacking.contains(&line),
            Self::After(one) => line < one.shown_after,
        }
    }

    pub(super) fn shown(self) -> usize {
        match self {
            Self::Saved(one) => one.shown,
            Self::After(one) => one.shown_after,
        }
    }

    /// Its typed lines.
    pub(super) fn lines(self) -> Vec<&'a str> {
        match self {
            Self::Saved(one) => one.typed.iter().map(|typed| typed.text.as_str()).collect(),
            Self::After(one) => one.left.iter().map(String::as_str).collect(),
        }
    }

    /// What became of one of its lines; nothing yet, if it was left.
    pub(super) fn fate(self, line: usize) -> Option<&'a Fate> {
        match self {
            Self::Saved(one) => one.typed.get(line).map(|typed| &typed.fate),
            Self::After(_) => None,
        }
    }

    /// The lines of the tail that stand for one of its lines.
    pub(super) fn left(self, line: usize) -> &'a [String] {
        match self {
            Self::Saved(_) => match self.fate(line) {
                Some(Fate::Left(left)) => left,
                _ => &[],
            },
            Self::After(one) => one.left.get(line..=line).unwrap_or_default(),
        }
    }

    /// What one of its lines changes, if it waits in the tail.
    pub(super) fn changes(self, line: usize) -> Option<&'a Changed> {
        match self {
            Self::Saved(one) => one.typed.get(line)?.changes.as_ref(),
            Self::After(one) => one.changed(one.left.get(line)?),
        }
    }

    /// Whether any of its lines changes another.
    pub(super) fn has_changes(self) -> bool {
        let (Self::Saved(one) | Self::After(one)) = self;
        one.typed.iter().chain(&one.carried).any(|typed| typed.changes.is_some())
    }

    /// Lines that its editor had in hand, in any of their forms.
    pub(super) fn had(self) -> Vec<&'a str> {
        match self {
            Self::Saved(one) => {
                let left = one.typed.iter().flat_map(|typed| match &typed.fate {
                    Fate::Left(left) => left.as_slice(),
                    _ => &[],
                });
                self.lines().into_iter().chain(left.map(String::as_str)).collect()
            }
            Self::After(_) => self.lines(),
        }
    }

    fn difference(self, save: &Facts<'_>) -> Option<Apart> {
        let is_lacking = |line: &usize| save.lacking.binary_search(line).is_ok();
        let shown = self.shown();
        let beyond = save.shown > shown && (shown..save.shown).any(|line| !is_lacking(&line));
        let hidden = match self {
            Self::Saved(one) => one.lacking.iter().any(|line| *line < save.shown && !is_lacking(line)),
            Self::After(_) => false,
        };
        if beyond || hidden {
            return None;
        }
        let deleted = save.lacking.iter().filter(|line| self.shows(**line)).count() + shown.saturating_sub(save.shown);
        let lines: Vec<String> = self.lines().into_iter().map(|line| text::clean(line).text).collect();
        let said = |lines: &[String]| lines.iter().filter(|line| is_said(line)).cloned().collect::<Vec<_>>();
        let apart = align::apart(&said(&lines), &said(save.typed));
        Some(Apart { changes: deleted + apart.changes, ..apart })
    }
}

impl Facts<'_> {
    /// Whether the save may as well be of a text that was opened before anything was remembered: its typed lines
    /// are fewer than what it differs by.
    pub(super) fn may_be_older_than(&self, difference: Option<usize>) -> bool {
        let new = self.typed.iter().filter(|line| is_said(line)).count();
        new > 0 && difference.is_none_or(|difference| new < difference)
    }
}

/// Remarks and empty lines come and go; they tell nothing of where a text comes from.
fn is_said(line: &str) -> bool {
    !line.is_empty() && !line.starts_with(";!")
}
