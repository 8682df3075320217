//! The union of all ledgers in one order, the same on every machine (`merge.md` §3).

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::line::{Line, Observed, SealedLine, read_sealed};

use super::{Entry, Ledger};

/// An entry of the log: which ledger, which of its lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryId {
    pub(crate) ledger: u16,
    pub(crate) index: u32,
}

/// All ledgers of a herd.
#[derive(Debug, Default)]
pub struct Log {
    ledgers: Vec<Ledger>,
}

/// What the order compares. Ledgers stand by device, then year, so `EntryId` ends it.
pub(crate) type Key = (Observed, i64, EntryId);

impl Log {
    /// The union. Files may come in any order.
    pub fn union(mut ledgers: Vec<Ledger>) -> Self {
        ledgers.sort_by(|a, b| (&a.device, a.year).cmp(&(&b.device, b.year)));
        Self { ledgers }
    }

    /// The ledgers, by device, then year.
    pub fn ledgers(&self) -> &[Ledger] {
        &self.ledgers
    }

    /// The ledger of an entry.
    pub fn ledger(&self, id: EntryId) -> &Ledger {
        &self.ledgers[usize::from(id.ledger)]
    }

    /// An entry.
    #[inline]
    pub fn entry(&self, id: EntryId) -> &Entry {
        &self.ledgers[usize::from(id.ledger)].entries()[id.index as usize]
    }

    /// An entry's line, read again from its text.
    pub fn line(&self, id: EntryId) -> SealedLine<'_> {
        match read_sealed(self.text(id)) {
            Ok(line) => line,
            Err(problem) => unreachable!("an entry was read from canonical text: {problem}"),
        }
    }

    /// An entry's whole text, with its seal.
    pub fn text(&self, id: EntryId) -> &str {
        let ledger = self.ledger(id);
        ledger.text(self.entry(id))
    }

    /// An entry's observation.
    pub fn body(&self, id: EntryId) -> Line<'_> {
        self.line(id).line
    }

    /// How many entries there are.
    pub fn len(&self) -> usize {
        self.ledgers.iter().map(|ledger| ledger.entries().len()).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Adds sealed lines to a ledger that is here already; gives the new entries.
    pub fn append(&mut self, ledger: usize, lines: &[u8]) -> impl Iterator<Item = EntryId> + use<> {
        let range = self.ledgers[ledger].append(lines);
        range.map(move |index| EntryId { ledger: ledger as u16, index })
    }

    /// All entries in order: a merge of each file's lines that came in order, and of its few that did not.
    pub fn in_order(&self) -> impl Iterator<Item = EntryId> {
        let stragglers: Vec<Vec<EntryId>> = (0..self.ledgers.len()).map(|ledger| self.stragglers(ledger)).collect();
        let mut runs: Vec<Run<'_>> = Vec::new();
        for (i, (ledger, late)) in self.ledgers.iter().zip(stragglers).enumerate() {
            runs.push(Run::Prompt { entries: ledger.entries(), ledger: i as u16, next: 0 });
            runs.push(Run::Late { ids: late.into_iter() });
        }
        let mut waiting: BinaryHeap<Reverse<(Key, usize)>> =
            runs.iter_mut().enumerate().filter_map(|(i, run)| Some(Reverse((self.key(run.next()?), i)))).collect();
        let ahead = waiting.pop().map(|Reverse(first)| first);
        Merged { log: self, runs, waiting, ahead }
    }

    #[inline]
    pub(crate) fn key(&self, id: EntryId) -> Key {
        let entry = self.entry(id);
        (entry.observed, entry.sealed, id)
    }

    /// Whether two entries come from different devices.
    pub(crate) fn devices_differ(&self, a: EntryId, b: EntryId) -> bool {
        a.ledger != b.ledger && self.ledger(a).device != self.ledger(b).device
    }

    fn stragglers(&self, ledger: usize) -> Vec<EntryId> {
        let entries = self.ledgers[ledger].entries().iter().enumerate();
        let late = entries.filter(|(_, entry)| entry.out_of_order);
        let mut ids: Vec<EntryId> =
            late.map(|(index, _)| EntryId { ledger: ledger as u16, index: index as u32 }).collect();
        ids.sort_by_key(|id| self.key(*id));
        ids
    }
}

/// The runs merged. Lines of one run mostly follow each other, so the heap is asked only where another run begins.
struct Merged<'a> {
    log: &'a Log,
    runs: Vec<Run<'a>>,
    waiting: BinaryHeap<Reverse<(Key, usize)>>,
    ahead: Option<(Key, usize)>,
}

impl Iterator for Merged<'_> {
    type Item = EntryId;

    #[inline]
    fn next(&mut self) -> Option<EntryId> {
        let ((_, _, id), run) = self.ahead.take()?;
        self.ahead = match self.runs[run].next().map(|next| (self.log.key(next), run)) {
            Some(next) if self.waiting.peek().is_none_or(|Reverse(first)| next <= *first) => Some(next),
            next => {
                self.waiting.extend(next.map(Reverse));
                self.waiting.pop().map(|Reverse(first)| first)
            }
        };
        Some(id)
    }
}

enum Run<'a> {
    Prompt { entries: &'a [Entry], ledger: u16, next: usize },
    Late { ids: std::vec::IntoIter<EntryId> },
}

impl Run<'_> {
    #[inline]
    fn next(&mut self) -> Option<EntryId> {
        match self {
            Self::Late { ids } => ids.next(),
            Self::Prompt { entries, ledger, next } => {
                while entries.get(*next)?.out_of_order {
                    *next += 1;
                }
                let id = EntryId { ledger: *ledger, index: *next as u32 };
                *next += 1;
                Some(id)
            }
        }
    }
}
