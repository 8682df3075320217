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
}

/// The lines that corrections touch. Any other line stands.
#[derive(Clone, Debug, Default)]
pub struct Standings {
    touched: HashMap<EntryId, Standing>,
    /// Corrections whose target is not here.
    pub waiting: Vec<EntryId>,
    /// Concurrent corrections of one line, in order; the last one stands.
    pub concurrent: Vec<Vec<EntryId>>,
    /// First lines whose chain of corrections was cut for its length.
    pub too_deep: Vec<EntryId>,
    targets: HashMap<EntryId, EntryId>,
}

impl Standings {
    /// Works out which lines stand, as known at a sealed time.
    pub fn of(log: &Log, known: Option<i64>) -> Self {
        let links = Links::of(log, known);
        let mut standings = Self { waiting: links.waiting.clone(), ..Self::default() };
        for (&target, correctors) in &links.correctors {
            for id in correctors.iter().map(|corrector| corrector.id).chain([target]) {
                let standing = links.standing(id);
                standings.touched.insert(id, standing);
            }
        }
        standings.set_concurrent_aside(log, &links);
        standings.too_deep = links.too_deep();
        standings.targets = links.target_of;
        standings
    }

    /// What became of a line.
    #[inline]
    pub fn get(&self, id: EntryId) -> Standing {
        if self.touched.is_empty() {
            return Standing::Standing;
        }
        self.touched.get(&id).copied().unwrap_or(Standing::Standing)
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
}

#[derive(Clone, Copy)]
struct Corrector {
    id: EntryId,
    strikes: bool,
}

impl Links {
    fn of(log: &Log, known: Option<i64>) -> Self {
        let is_known = |id: EntryId| known.is_none_or(|known| log.entry(id).sealed <= known);
        let corrections: Vec<(Corrector, &str, Mark)> =
            log.corrections().filter(|id| is_known(*id)).map(|id| read_correction(log, id)).collect();
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
                None => links.waiting.push(corrector.id),
            }
        }
        links
    }

    fn standing(&self, id: EntryId) -> Standing {
        if self.is_withdrawn(id, 0) {
            Standing::Withdrawn
        } else if self.is_superseded(id, 0) {
            Standing::Superseded
        } else {
            Standing::Standing
        }
    }

    fn is_withdrawn(&self, id: EntryId, depth: usize) -> bool {
        depth < CORRECTION_DEPTH
            && self
                .correctors(id)
                .any(|by| by.strikes && !self.is_withdrawn(by.id, depth + 1) && !self.is_superseded(by.id, depth + 1))
    }

    fn is_superseded(&self, id: EntryId, depth: usize) -> bool {
        depth < CORRECTION_DEPTH && self.correctors(id).any(|by| !by.strikes && !self.is_withdrawn(by.id, depth + 1))
    }

    fn correctors(&self, id: EntryId) -> impl Iterator<Item = &Corrector> {
        self.correctors.get(&id).into_iter().flatten()
    }

    /// The first line of a chain of replacements.
    fn root(&self, id: EntryId) -> EntryId {
        self.chain(id).last().unwrap_or(id)
    }

    fn chain(&self, id: EntryId) -> impl Iterator<Item = EntryId> {
        std::iter::successors(Some(id), |id| self.target_of.get(id).filter(|_| !self.strikes.contains(id)).copied())
            .take(CORRECTION_DEPTH + 1)
    }

    fn too_deep(&self) -> Vec<EntryId> {
        let deep = self.target_of.keys().filter(|id| self.chain(**id).count() > CORRECTION_DEPTH);
        let roots: HashSet<EntryId> = deep.map(|id| self.root(*id)).collect();
        let mut roots: Vec<EntryId> = roots.into_iter().collect();
        roots.sort();
        roots
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
