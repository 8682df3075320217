//! What the admissions that count give: at each line, and now (§8, §8a, §10).

use super::Apart;
use super::judge::{Judge, Keepers};
use super::lines::Place;
use crate::mark::FullMark;
use crate::merge::{EntryId, Log};
use crate::vocabulary::Capacity;

/// The rights along a file: every line before a place has them, none from there on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct FileRights {
    keeper: u32,
    writer: u32,
    reader: u32,
    was_let_in: bool,
}

impl FileRights {
    #[inline]
    pub(super) fn at(self, index: u32) -> Result<Capacity, Apart> {
        if index < self.keeper {
            Ok(Capacity::Keeper)
        } else if index < self.writer {
            Ok(Capacity::Writer)
        } else if index < self.reader {
            Err(Apart::MayOnlyRead)
        } else if self.was_let_in {
            Err(Apart::Revoked)
        } else {
            Err(Apart::NotAdmitted)
        }
    }

    /// The first entry that is kept apart, perhaps behind the last.
    pub(super) fn first_apart(self) -> u32 {
        self.keeper.max(self.writer)
    }
}

/// A right that was given.
#[derive(Clone, Debug)]
pub(super) struct Grant {
    pub(super) device: String,
    pub(super) key: FullMark,
    pub(super) capacity: Capacity,
    /// By which line; none: the founder's own.
    pub(super) line: Option<EntryId>,
    /// Revocations that count and that it does not know of, by their place among those.
    pub(super) unaware_of: Vec<usize>,
}

impl Grant {
    pub(super) fn of(judge: &Judge<'_>, admission: Option<usize>) -> Option<Self> {
        let holder = judge.holder(admission)?;
        let cuts = judge.counted.iter().enumerate();
        let unaware_of = cuts.filter(|(_, cut)| !judge.is_aware(admission, **cut)).map(|(at, _)| at).collect();
        Some(Self {
            device: holder.device.to_owned(),
            key: holder.key,
            capacity: admission.map_or(Capacity::Keeper, |number| judge.lines.admissions[number].capacity),
            line: admission.map(|number| judge.lines.admissions[number].deed.id),
            unaware_of,
        })
    }
}

/// The admissions that count, behind the founder's own right.
pub(super) fn given(judge: &Judge<'_>, keepers: &Keepers) -> Vec<Option<usize>> {
    let founder = judge.lines.founder.map(|_| None);
    let counted = keepers.admits.iter().enumerate().filter(|(_, counts)| **counts).map(|(number, _)| Some(number));
    founder.into_iter().chain(counted).collect()
}

/// The rights along each file.
pub(super) fn of_files(log: &Log, judge: &Judge<'_>, given: &[Option<usize>]) -> Vec<FileRights> {
    let of_ledgers: Vec<Reach> = (0..judge.lines.ledgers.len()).map(|ledger| Reach::of(judge, ledger, given)).collect();
    let files = log.ledgers().iter().zip(&judge.lines.of_file);
    let rights = files.map(|(file, ledger)| {
        let reach = &of_ledgers[*ledger];
        let entries = |upto: Place| match file.year.cmp(&upto.year) {
            std::cmp::Ordering::Less => u32::MAX,
            std::cmp::Ordering::Greater => 0,
            std::cmp::Ordering::Equal => file.entries().partition_point(|entry| entry.end() <= upto.end) as u32,
        };
        let [keeper, writer, reader] = reach.upto.map(entries);
        FileRights { keeper, writer, reader, was_let_in: reach.was_let_in }
    });
    rights.collect()
}

/// Up to where a ledger has each capacity, in the order of `Capacity`.
struct Reach {
    upto: [Place; 3],
    was_let_in: bool,
}

impl Reach {
    fn of(judge: &Judge<'_>, ledger: usize, given: &[Option<usize>]) -> Self {
        let me = judge.lines.ledgers[ledger];
        let of_key = |admission: &&Option<usize>| judge.holder(**admission).is_some_and(|to| to.key == me.key);
        let of_key: Vec<Option<usize>> = given.iter().filter(of_key).copied().collect();
        let names: Vec<&str> = of_key.iter().filter_map(|to| Some(judge.holder(*to)?.device)).collect();
        let mut reach = Self { upto: [Place::FIRST; 3], was_let_in: !of_key.is_empty() };
        for admission in &of_key {
            let capacity = admission.map_or(Capacity::Keeper, |number| judge.lines.admissions[number].capacity);
            let is_by_name = judge.holder(*admission) == Some(me);
            let upto = if is_by_name || is_aware_of_all(judge, *admission, &names) {
                judge.reach(*admission, me.device, &judge.counted)
            } else {
                Place::FIRST
            };
            let capacity = if is_by_name { capacity } else { capacity.max(Capacity::Writer) };
            let at = &mut reach.upto[capacity as usize];
            *at = (*at).max(upto);
        }
        reach
    }
}

/// Whether an admission knows every revocation that counts of these devices.
fn is_aware_of_all(judge: &Judge<'_>, admission: Option<usize>, devices: &[&str]) -> bool {
    let mut cuts = judge.counted.iter();
    cuts.all(|cut| !devices.contains(&judge.lines.revocations[cut.number].device) || judge.is_aware(admission, *cut))
}
