//! Ledgers as members know them, and their lines that admit or revoke.

use std::collections::BTreeMap;

use crate::limits::MEMBER_LINES;
use crate::line::Act;
use crate::mark::FullMark;
use crate::merge::{EntryId, Ledger};
use crate::merge::{Event, Log};
use crate::vocabulary::{ActWord, Capacity};

/// Where a line ends: the year of its file, then its bytes. All places of one ledger are in one order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    pub(super) year: u16,
    pub(super) end: u64,
}

impl Place {
    /// Before any line.
    pub(super) const FIRST: Self = Self { year: 0, end: 0 };
    /// Behind any line.
    pub(super) const LAST: Self = Self { year: u16::MAX, end: u64::MAX };
}

/// To whom a right belongs: a device's name with a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Holder<'a> {
    pub(super) device: &'a str,
    pub(super) key: FullMark,
}

/// A line that admits or revokes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Deed {
    pub(super) id: EntryId,
    /// Whose it is, by number of the ledger.
    pub(super) of: usize,
    /// Where it begins: all before is known to it.
    pub(super) start: Place,
    pub(super) place: Place,
}

/// `admit`.
#[derive(Debug)]
pub(super) struct Admission<'a> {
    pub(super) deed: Deed,
    pub(super) to: Holder<'a>,
    pub(super) capacity: Capacity,
}

/// `revoke`.
#[derive(Debug)]
pub(super) struct Revocation<'a> {
    pub(super) deed: Deed,
    pub(super) device: &'a str,
    pub(super) after: FullMark,
}

/// All that decides who is a member, but for witness lines.
#[derive(Debug)]
pub(super) struct Lines<'a> {
    /// The ledgers: files of one device and key.
    pub(super) ledgers: Vec<Holder<'a>>,
    /// The ledger of each file of the log.
    pub(super) of_file: Vec<usize>,
    pub(super) founder: Option<Holder<'a>>,
    pub(super) admissions: Vec<Admission<'a>>,
    pub(super) revocations: Vec<Revocation<'a>>,
    /// Beyond what one ledger may hold.
    pub(super) too_many: Vec<EntryId>,
}

impl<'a> Lines<'a> {
    pub(super) fn of(log: &'a Log, founder: FullMark) -> Self {
        let mut numbers: BTreeMap<Holder<'_>, usize> = BTreeMap::new();
        let mut ledgers = Vec::new();
        let mut of_file = Vec::new();
        for file in log.ledgers() {
            let holder = Holder { device: &file.device, key: file.key };
            of_file.push(*numbers.entry(holder).or_insert_with(|| {
                ledgers.push(holder);
                ledgers.len() - 1
            }));
        }
        let is_founder = |file: &&Ledger| file.key == founder && file.founder.is_none();
        let first = first_files(log).find(is_founder);
        let founder = first.map(|file| Holder { device: &file.device, key: file.key });
        let mut lines =
            Self { ledgers, of_file, founder, admissions: Vec::new(), revocations: Vec::new(), too_many: Vec::new() };
        lines.read(log);
        lines
    }

    fn read(&mut self, log: &'a Log) {
        let mut count = vec![0; self.ledgers.len()];
        for (file, ledger) in log.ledgers().iter().enumerate() {
            let of = self.of_file[file];
            for index in ledger.herd_lines() {
                let id = EntryId { ledger: file as u16, index: *index };
                if !is_of_members(log.entry(id).event) {
                    continue;
                }
                count[of] += 1;
                if count[of] > MEMBER_LINES {
                    self.too_many.push(id);
                } else {
                    self.take(log, id, of);
                }
            }
        }
    }

    fn take(&mut self, log: &'a Log, id: EntryId, of: usize) {
        let (year, entry) = (log.ledger(id).year, log.entry(id));
        let place = |end| Place { year, end };
        let deed = Deed { id, of, start: place(entry.start()), place: place(entry.end()) };
        let full = |digits| FullMark::read(digits).unwrap_or(FullMark([0; 32]));
        match log.body(id).act {
            Act::Admit { device, key, capacity } => {
                let to = Holder { device, key: full(key) };
                self.admissions.push(Admission { deed, to, capacity });
            }
            Act::Revoke { device, after } => self.revocations.push(Revocation { deed, device, after: full(after) }),
            _ => {}
        }
    }

    /// The number of somebody's ledger, if it is here.
    pub(super) fn ledger(&self, holder: Holder<'_>) -> Option<usize> {
        self.ledgers.iter().position(|ledger| *ledger == holder)
    }
}

/// Whether it admits or revokes.
pub(super) fn is_of_members(event: Event) -> bool {
    matches!(event, Event::Other(ActWord::Admit | ActWord::Revoke))
}

/// Each device's first file.
pub(super) fn first_files(log: &Log) -> impl Iterator<Item = &Ledger> {
    let mut before = None;
    log.ledgers().iter().filter(move |file| before.replace(file.device.as_str()) != Some(file.device.as_str()))
}

/// The key that began the herd (§2); none if it is open.
pub(super) fn founder(log: &Log) -> Option<FullMark> {
    let mut named: BTreeMap<FullMark, usize> = BTreeMap::new();
    for key in first_files(log).filter_map(|file| file.founder) {
        *named.entry(key).or_default() += 1;
    }
    let most = named.iter().rev().max_by_key(|(_, count)| **count).map(|(key, _)| *key);
    let mut all = first_files(log);
    let alone = match (all.next(), all.next()) {
        (Some(only), None) => Some(only.key),
        _ => None,
    };
    most.or(alone)
}
