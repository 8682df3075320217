//! Which lines stand when some replace or strike others (`merge.md` §6 to §10).

use std::collections::{HashMap, HashSet};

use crate::limits::CORRECTION_DEPTH;
use crate::line::{Act, Mark, Reference};

use super::{EntryId, Log};

/// What became of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It says what it says.
    Standing,
    /// Struck: it says nothing and replaces nothing.
    Withdrawn,
    /// Replaced: it says nothing, but what it replaced stays replaced.
    Superseded,
    /// One of several concurrent corrections, and not the last of them.
    SetAside,
    /// Its writer had no right to it: it says nothing and corrects nothing.
    Apart,
}

/// The lines that corrections touch. Any other line stands.
#[derive(Clone, Debug, Default)]
pub struct Standings {
    touched: HashMap<EntryId, Standing>,
    /// Corrections whose target is not here.
    pub waiting: Vec<EntryId>,
    /// Concurrent corrections of one line, in order; the last one stands.
    pub concurrent: Vec<Vec<EntryId>>,
    /// Corrections too deep in a chain, which correct nothing.
    pub too_deep: Vec<EntryId>,
    targets: HashMap<EntryId, EntryId>,
    first_apart: Vec<u32>,
}

impl Standings {
    /// Works out which lines stand, as known at a sealed time. Of each file, the entries from `first_apart` on are kept
    /// apart; of no file, if it is empty.
    pub fn of(log: &Log, known: Option<i64>, first_apart: Vec<u32>) -> Self {
        let mut standings = Self { first_apart, ..Self::default() };
        let links = Links::of(log, |id| known.is_none_or(|at| log.entry(id).sealed <= at), |id| standings.is_apart(id));
        standings.waiting.clone_from(&links.waiting);
        for target in links.correctors.keys() {
            links.standing(*target, &mut standings.touched);
        }
        standings.set_concurrent_aside(log, &links);
        standings.too_deep.clone_from(&links.too_deep);
        standings.targets = links.target_of;
        standings
    }

    /// What became of a line.
    #[inline]
    pub fn get(&self, id: EntryId) -> Standing {
        if self.is_apart(id) {
            return Standing::Apart;
        }
        if self.touched.is_empty() {
            return Standing::Standing;
        }
        self.touched.get(&id).copied().unwrap_or(Standing::Standing)
    }

    #[inline]
    fn is_apart(&self, id: EntryId) -> bool {
        self.first_apart.get(usize::from(id.ledger)).is_some_and(|first| id.index >= *first)
    }

    /// The line that this one corrects, if it is here.
    pub fn target(&self, id: EntryId) -> Option<EntryId> {
        self.targets.get(&id).copied()
    }

    /// Whether some correction waits for exactly this line.
    pub(crate) fn awaits(&self, log: &Log, id: EntryId) -> bool {
        let (mark, device) = (log.entry(id).mark, log.ledger(id).device.as_str());
        self.waiting.iter().any(|waiting| {
            let (_, wanted_device, wanted) = read_correction(log, *waiting);
            wanted == mark && wanted_device == device
        })
    }

    /// Lines whose standing is not what it was.
    pub(crate) fn changed_since(&self, before: &Self) -> Vec<EntryId> {
        let both = self.touched.keys().chain(before.touched.keys());
        both.filter(|id| self.get(**id) != before.get(**id)).copied().collect()
    }

    fn set_concurrent_aside(&mut self, log: &Log, links: &Links) {
        let mut by_root: HashMap<EntryId, Vec<EntryId>> = HashMap::new();
        for (&id, &target) in &links.target_of {
            if !links.strikes.contains(&id) && self.get(id) == Standing::Standing {
                by_root.entry(links.root(target)).or_default().push(id);
            }
        }
        let mut concurrent: Vec<Vec<EntryId>> = by_root.into_values().filter(|ids| ids.len() > 1).collect();
        for ids in &mut concurrent {
            ids.sort_by_key(|id| log.key(*id));
            let before_last = ids.len() - 1;
            for id in &ids[..before_last] {
                self.touched.insert(*id, Standing::SetAside);
            }
        }
        concurrent.sort();
        self.concurrent = concurrent;
    }
}

/// Who corrects whom.
#[derive(Default)]
struct Links {
    correctors: HashMap<EntryId, Vec<Corrector>>,
    target_of: HashMap<EntryId, EntryId>,
    strikes: HashSet<EntryId>,
    waiting: Vec<EntryId>,
    too_deep: Vec<EntryId>,
}

#[derive(Clone, Copy)]
struct Corrector {
    id: EntryId,
    strikes: bool,
}

impl Links {
    fn of(log: &Log, is_known: impl Fn(EntryId) -> bool, is_apart: impl Fn(EntryId) -> bool) -> Self {
        let corrections = log.corrections().filter(|id| is_known(*id) && !is_apart(*id));
        let corrections: Vec<(Corrector, &str, Mark)> = corrections.map(|id| read_correction(log, id)).collect();
        let wanted: HashSet<Mark> = corrections.iter().map(|(.., mark)| *mark).collect();
        let found = if wanted.is_empty() { HashMap::new() } else { log.find_marks(&wanted) };
        let mut links = Self::default();
        for (corrector, device, mark) in corrections {
            match found.get(&(device, mark)).filter(|target| is_known(**target)) {
                Some(target) => {
                    links.correctors.entry(*target).or_default().push(corrector);
                    links.target_of.insert(corrector.id, *target);
                    if corrector.strikes {
                        links.strikes.insert(corrector.id);
                    }
                }
                None if log.has_unreadable(device, mark) => {}
                None => links.waiting.push(corrector.id),
            }
        }
        links.cut();
        links
    }

    /// What became of a line, and of all that correct it.
    fn standing(&self, id: EntryId, known: &mut HashMap<EntryId, Standing>) -> Standing {
        if let Some(standing) = known.get(&id) {
            return *standing;
        }
        let (mut superseded, mut struck) = (false, false);
        for by in self.correctors(id) {
            match self.standing(by.id, known) {
                Standing::Withdrawn => {}
                _ if !by.strikes => superseded = true,
                standing => struck |= standing == Standing::Standing,
            }
        }
        let standing = match (superseded, struck) {
            (true, _) => Standing::Superseded,
            (false, true) => Standing::Withdrawn,
            (false, false) => Standing::Standing,
        };
        known.insert(id, standing);
        standing
    }

    fn correctors(&self, id: EntryId) -> impl Iterator<Item = &Corrector> {
        self.correctors.get(&id).into_iter().flatten()
    }

    /// The first line of a chain of replacements.
    fn root(&self, id: EntryId) -> EntryId {
        let back = |id: &EntryId| self.target_of.get(id).filter(|_| !self.strikes.contains(id)).copied();
        std::iter::successors(Some(id), back).take(CORRECTION_DEPTH + 1).last().unwrap_or(id)
    }

    /// Corrections too deep correct nothing; what corrects them counts from 1 again.
    fn cut(&mut self) {
        let mut depths: HashMap<EntryId, usize> = HashMap::new();
        let mut ids: Vec<EntryId> = self.target_of.keys().copied().collect();
        ids.sort_unstable();
        for id in ids {
            for id in self.way_back(id, &depths) {
                let depth = self.target_of.get(&id).map_or(0, |target| depths.get(target).copied().unwrap_or(0) + 1);
                if depth > CORRECTION_DEPTH {
                    self.let_go(id);
                }
                depths.insert(id, if depth > CORRECTION_DEPTH { 0 } else { depth });
            }
        }
        self.too_deep.sort_unstable();
    }

    /// From the first line whose depth is not known yet to this one.
    fn way_back(&self, id: EntryId, depths: &HashMap<EntryId, usize>) -> Vec<EntryId> {
        let mut way: Vec<EntryId> = Vec::new();
        let mut at = Some(id);
        while let Some(id) = at.filter(|id| !depths.contains_key(id) && !way.contains(id)) {
            way.push(id);
            at = self.target_of.get(&id).copied();
        }
        way.reverse();
        way
    }

    fn let_go(&mut self, id: EntryId) {
        if let Some(target) = self.target_of.remove(&id)
            && let Some(correctors) = self.correctors.get_mut(&target)
        {
            correctors.retain(|by| by.id != id);
        }
        self.strikes.remove(&id);
        self.too_deep.push(id);
    }
}

fn read_correction(log: &Log, id: EntryId) -> (Corrector, &str, Mark) {
    let line = log.body(id);
    let (reference, strikes) = match (line.act, line.replaces) {
        (Act::Strike(reference), _) => (reference, true),
        (_, Some(reference)) => (reference, false),
        _ => unreachable!("only corrections are listed"),
    };
    let Reference { mark, device } = reference;
    (Corrector { id, strikes }, device.unwrap_or(&log.ledger(id).device), mark)
}

impl Log {
    fn corrections(&self) -> impl Iterator<Item = EntryId> {
        self.ledgers().iter().enumerate().flat_map(|(ledger, file)| {
            file.corrections().iter().map(move |index| EntryId { ledger: ledger as u16, index: *index })
        })
    }

    fn has_unreadable(&self, device: &str, mark: Mark) -> bool {
        let of_device = self.ledgers().iter().filter(|ledger| ledger.device == device);
        of_device.flat_map(|ledger| &ledger.unreadable).any(|line| line.mark == Some(mark))
    }

    /// The first line of each device that shows one of these marks.
    fn find_marks(&self, wanted: &HashSet<Mark>) -> HashMap<(&str, Mark), EntryId> {
        let mut found = HashMap::new();
        for (ledger, file) in self.ledgers().iter().enumerate() {
            for (index, entry) in file.entries().iter().enumerate() {
                if wanted.contains(&entry.mark) {
                    let id = EntryId { ledger: ledger as u16, index: index as u32 };
                    found.entry((file.device.as_str(), entry.mark)).or_insert(id);
                }
            }
        }
        found
    }
}
