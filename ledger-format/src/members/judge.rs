//! Which admissions and revocations count (§7, §8).
//!
//! Each right that is given reaches from a ledger's first line up to where a revocation cuts it off that the admission
//! does not know of. So of each ledger one place says up to where its device is a keeper.

use super::known::{Clock, Known};
use super::lines::{Deed, Holder, Lines, Place};
use crate::merge::Log;
use crate::vocabulary::Capacity;

/// The lines, and what each knows.
pub(super) struct Judge<'a> {
    pub(super) lines: &'a Lines<'a>,
    /// The ledger to which each admission gives a right, if it is here.
    to: Vec<Option<usize>>,
    /// The admissions of each ledger, in its order.
    by: Vec<Vec<usize>>,
    clocks: Vec<Clock>,
    /// Revocations that count, each with where it cuts off, in the order of the lines.
    pub(super) counted: Vec<Cut>,
    pub(super) waiting: Vec<(usize, u64)>,
}

/// A revocation that counts.
#[derive(Clone, Copy)]
pub(super) struct Cut {
    /// Its number among the revocations.
    pub(super) number: usize,
    /// Behind this nothing; of a line that is not here, all stands before it.
    behind: Place,
    /// The ledger of the line that it names, if it is here.
    named: Option<usize>,
}

/// Who is a keeper, and by which admissions.
pub(super) struct Keepers {
    /// Which admissions count.
    pub(super) admits: Vec<bool>,
    /// Up to where each ledger's device is a keeper.
    upto: Vec<Place>,
}

impl<'a> Judge<'a> {
    pub(super) fn of(log: &Log, lines: &'a Lines<'a>) -> Self {
        let mut by = vec![Vec::new(); lines.ledgers.len()];
        for (number, admission) in lines.admissions.iter().enumerate() {
            by[admission.deed.of].push(number);
        }
        let to = lines.admissions.iter().map(|admission| lines.ledger(admission.to)).collect();
        let mut judge = Self { lines, to, by, clocks: Vec::new(), counted: Vec::new(), waiting: Vec::new() };
        // Who could not be a keeper even if nothing were ever revoked, revokes nothing.
        let ever = judge.keepers(&[], None);
        let asked = lines.revocations.iter().enumerate();
        let asked: Vec<usize> = asked.filter(|(_, by)| ever.is_keeper_at(&by.deed)).map(|(number, _)| number).collect();
        if !asked.is_empty() {
            judge.judge(log, asked);
        }
        judge
    }

    /// Those who know less come first: what a revocation knows is judged before it.
    fn judge(&mut self, log: &Log, asked: Vec<usize>) {
        let known = Known::of(log, self.lines);
        let clock = |deed: &Deed| known.clock(deed, self.lines.ledgers.len());
        self.clocks = self.lines.admissions.iter().map(|admission| clock(&admission.deed)).collect();
        let mut revocations: Vec<(usize, Clock)> =
            asked.into_iter().map(|number| (number, clock(&self.lines.revocations[number].deed))).collect();
        let size = |clock: &Clock| self.lines.revocations.iter().filter(|by| knows(clock, &by.deed)).count();
        revocations.sort_by_cached_key(|(number, clock)| (size(clock), *number));
        for (number, clock) in revocations {
            let deed = &self.lines.revocations[number].deed;
            // To who does not know the line that is named, it is not here, and nothing is behind it.
            let of_known = |cut: &&Cut| {
                knows(&clock, &self.lines.revocations[cut.number].deed)
                    && cut.named.is_none_or(|ledger| cut.behind <= clock[ledger])
            };
            let cuts: Vec<Cut> = self.counted.iter().filter(of_known).copied().collect();
            if self.keepers(&cuts, Some(&clock)).is_keeper_at(deed) {
                let (behind, named) = known.cut(deed.id).unwrap_or((Place::LAST, None));
                self.counted.push(Cut { number, behind, named });
            }
        }
        self.counted.sort_by_key(|cut| cut.number);
        self.waiting = known.waiting;
    }

    /// Who is a keeper by all lines here.
    pub(super) fn now(&self) -> Keepers {
        self.keepers(&self.counted, None)
    }

    /// Begins with the founder and adds the admissions that count, of the lines that are known, until no more do.
    fn keepers(&self, cuts: &[Cut], known: Option<&Clock>) -> Keepers {
        let mut keepers = Keepers {
            admits: vec![false; self.lines.admissions.len()],
            upto: vec![Place::FIRST; self.lines.ledgers.len()],
        };
        let mut next = vec![0; self.lines.ledgers.len()];
        let mut grown = Vec::new();
        if let Some((founder, number)) =
            self.lines.founder.and_then(|founder| Some((founder, self.lines.ledger(founder)?)))
        {
            keepers.upto[number] = self.reach(None, founder.device, cuts);
            grown.push(number);
        }
        while let Some(ledger) = grown.pop() {
            while let Some(&number) = self.by[ledger].get(next[ledger]) {
                let admission = &self.lines.admissions[number];
                let is_known = known.is_none_or(|clock| knows(clock, &admission.deed));
                if !is_known || admission.deed.place > keepers.upto[ledger] {
                    break;
                }
                next[ledger] += 1;
                keepers.admits[number] = true;
                if let (Capacity::Keeper, Some(to)) = (admission.capacity, self.to[number]) {
                    let reach = self.reach(Some(number), admission.to.device, cuts);
                    if reach > keepers.upto[to] {
                        keepers.upto[to] = reach;
                        grown.push(to);
                    }
                }
            }
        }
        keepers
    }

    /// Up to where an admission (none: the founder's own right) gives a right to a device's lines.
    pub(super) fn reach(&self, admission: Option<usize>, device: &str, cuts: &[Cut]) -> Place {
        let unknown = cuts
            .iter()
            .filter(|cut| self.lines.revocations[cut.number].device == device && !self.is_aware(admission, **cut));
        unknown.map(|cut| cut.behind).min().unwrap_or(Place::LAST)
    }

    /// Whether an admission knows a revocation.
    pub(super) fn is_aware(&self, admission: Option<usize>, cut: Cut) -> bool {
        let clock = admission.and_then(|number| self.clocks.get(number));
        clock.is_some_and(|clock| knows(clock, &self.lines.revocations[cut.number].deed))
    }

    /// To whom an admission, or the founder's own right, belongs.
    pub(super) fn holder(&self, admission: Option<usize>) -> Option<Holder<'a>> {
        admission.map_or(self.lines.founder, |number| Some(self.lines.admissions[number].to))
    }
}

impl Keepers {
    fn is_keeper_at(&self, deed: &Deed) -> bool {
        deed.place <= self.upto[deed.of]
    }
}

fn knows(clock: &Clock, deed: &Deed) -> bool {
    deed.place <= clock[deed.of]
}
