//! Members: who may read, write and admit, by the ledgers alone (`spec/members.md`).

mod judge;
mod known;
mod lines;
mod rights;

use crate::mark::FullMark;
use crate::merge::{EntryId, Log};
use crate::vocabulary::Capacity;

use judge::Judge;
use lines::{Lines, is_of_members};
use rights::{FileRights, Grant};

/// Why a line is kept apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Apart {
    /// Nobody let its device in.
    NotAdmitted,
    /// Its device may only read.
    MayOnlyRead,
    /// Its device was let in, and this line is cut off.
    Revoked,
}

/// One device's name with a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// The device.
    pub device: String,
    /// Its key.
    pub key: FullMark,
    /// Whether it began the herd.
    pub is_founder: bool,
    /// What it may do now.
    pub now: Option<Capacity>,
    /// The line that admitted it: the first that gives what it may do now, or else the last that gave it a right.
    pub admitted: Option<EntryId>,
    /// The last line that revokes it, where it has no right now.
    pub revoked: Option<EntryId>,
}

/// Who may do what in a herd.
#[derive(Clone, Debug, Default)]
pub struct Members {
    founder: Option<FullMark>,
    files: Vec<FileRights>,
    holders: Vec<(String, FullMark)>,
    grants: Vec<Grant>,
    /// Revocations that count: line and device.
    revoked: Vec<(EntryId, String)>,
    not_a_keeper: Vec<EntryId>,
    waiting: Vec<(usize, u64)>,
}

impl Members {
    /// Works it out from all lines that are here.
    pub fn of(log: &Log) -> Self {
        let Some(founder) = lines::founder(log) else { return Self::default() };
        let lines = Lines::of(log, founder);
        let judge = Judge::of(log, &lines);
        let keepers = judge.now();
        let not_counted = |number: &usize| !judge.counted.iter().any(|cut| cut.number == *number);
        let revocations = (0..lines.revocations.len()).filter(not_counted).map(|n| lines.revocations[n].deed.id);
        let admissions = lines.admissions.iter().zip(&keepers.admits).filter(|(_, counts)| !**counts);
        let mut not_a_keeper: Vec<EntryId> = lines.too_many.clone();
        not_a_keeper.extend(revocations.chain(admissions.map(|(admission, _)| admission.deed.id)));
        not_a_keeper.sort_by_key(|id| log.key(*id));
        let given = rights::given(&judge, &keepers);
        let counted = judge.counted.iter().map(|cut| &lines.revocations[cut.number]);
        let mut holders: Vec<(String, FullMark)> = lines
            .ledgers
            .iter()
            .copied()
            .chain(given.iter().filter_map(|admission| judge.holder(*admission)))
            .map(|holder| (holder.device.to_owned(), holder.key))
            .collect();
        holders.sort();
        holders.dedup();
        Self {
            founder: Some(founder),
            files: rights::of_files(log, &judge, &given),
            holders,
            grants: given.iter().filter_map(|admission| Grant::of(&judge, *admission)).collect(),
            revoked: counted.map(|by| (by.deed.id, by.device.to_owned())).collect(),
            not_a_keeper,
            waiting: judge.waiting.clone(),
        }
    }

    /// The key that began the herd; none if it is open.
    pub fn founder(&self) -> Option<FullMark> {
        self.founder
    }

    /// The right of a ledger at one of its lines.
    ///
    /// # Errors
    /// When the line is to be kept apart.
    #[inline]
    pub fn right_at(&self, id: EntryId) -> Result<Capacity, Apart> {
        match self.founder {
            None => Ok(Capacity::Keeper),
            Some(_) => self.files[usize::from(id.ledger)].at(id.index),
        }
    }

    /// What a device with this key may do now.
    pub fn right_now(&self, device: &str, key: FullMark) -> Option<Capacity> {
        if self.founder.is_none() {
            return Some(Capacity::Keeper);
        }
        let of_key = self.grants.iter().filter(|grant| grant.key == key);
        let names: Vec<&str> = of_key.clone().map(|grant| grant.device.as_str()).collect();
        let right = of_key.filter_map(|grant| {
            let is_lost = |name: &str| self.cuts_unknown_to(grant).any(|(_, device)| device == name);
            if is_lost(device) {
                None
            } else if grant.device == device {
                Some(grant.capacity)
            } else {
                (!names.iter().any(|name| is_lost(name))).then_some(grant.capacity.max(Capacity::Writer))
            }
        });
        right.min()
    }

    /// Whether who has this key may read now, under whatever name.
    pub fn may_read(&self, key: FullMark) -> bool {
        let named = self.holders.iter().filter(|(_, of)| *of == key);
        self.founder.is_none() || named.into_iter().any(|(device, _)| self.right_now(device, key).is_some())
    }

    /// Everybody who has a ledger here or was ever admitted, by device, then key. Of an open herd, nobody.
    pub fn members(&self) -> Vec<Member> {
        self.holders.iter().map(|(device, key)| self.member(device, *key)).collect()
    }

    /// Admissions and revocations that do not count, in the order of the log.
    pub fn not_a_keeper(&self) -> &[EntryId] {
        &self.not_a_keeper
    }

    /// All lines that are kept apart.
    pub fn apart(&self, log: &Log) -> Vec<EntryId> {
        let each = self.files.iter().zip(log.ledgers()).enumerate();
        let of_file = |(file, (rights, ledger)): (usize, (&FileRights, &crate::merge::Ledger))| {
            let ids = (rights.first_apart()..ledger.entries().len() as u32)
                .map(move |index| EntryId { ledger: file as u16, index });
            ids.collect::<Vec<_>>()
        };
        each.flat_map(of_file).collect()
    }

    /// Of each file, the first entry that is kept apart, be it here yet or not.
    pub(crate) fn first_apart(&self) -> Vec<u32> {
        self.files.iter().map(|file| file.first_apart()).collect()
    }

    /// Whether lines just added to a file may change anybody's right at lines that were here before.
    pub(crate) fn may_change(&self, log: &Log, added: &[EntryId], file: usize) -> bool {
        let reached = |(of, length): &(usize, u64)| *of == file && log.ledgers()[file].length() as u64 >= *length;
        self.founder.is_some()
            && (self.waiting.iter().any(reached) || added.iter().any(|id| is_of_members(log.entry(*id).event)))
    }

    /// Whether every line has the right that it had, and everything counts that did.
    pub(crate) fn says_the_same(&self, other: &Self) -> bool {
        self.files == other.files && self.not_a_keeper == other.not_a_keeper
    }

    fn member(&self, device: &str, key: FullMark) -> Member {
        let now = self.right_now(device, key);
        let of_it: Vec<&Grant> =
            self.grants.iter().filter(|grant| grant.device == device && grant.key == key).collect();
        let gives_now = |grant: &&&Grant| {
            Some(grant.capacity) == now && !self.cuts_unknown_to(grant).any(|(_, revoked)| revoked == device)
        };
        let admitted = of_it.iter().find(gives_now).or(of_it.last()).and_then(|grant| grant.line);
        let revoked = self.revoked.iter().rev().find(|(_, revoked)| now.is_none() && revoked == device);
        let is_founder = of_it.iter().any(|grant| grant.line.is_none());
        Member { device: device.to_owned(), key, is_founder, now, admitted, revoked: revoked.map(|(id, _)| *id) }
    }

    fn cuts_unknown_to(&self, grant: &Grant) -> impl Iterator<Item = &(EntryId, String)> {
        grant.unaware_of.iter().map(|at| &self.revoked[*at])
    }
}
