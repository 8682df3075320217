//! What every line meets when it is folded, and the folding of many units.

use chrono::NaiveDate;

use super::apply::Context;
use super::protocol::Timeline;
use super::register::{Unit, UnitState};
use super::rounds::Tallies;
use crate::merge::{Entry, EntryId, Log, Standing, Standings};

/// How many entries are asked for together.
const TOGETHER: usize = 32;

/// Fewer lines than this are folded sooner than a second thread begins.
const FEW: usize = 1 << 15;

/// What every line meets.
#[derive(Clone, Copy)]
pub(super) struct Rules<'a> {
    pub(super) log: &'a Log,
    pub(super) standings: &'a Standings,
    pub(super) timeline: &'a Timeline,
    pub(super) tallies: &'a Tallies,
    /// The day of the view.
    pub(super) on: NaiveDate,
}

impl Rules<'_> {
    /// Folds units from their first line on: no unit knows of another. Where there is much to do, several files, which
    /// were read side by side, are folded in two threads; one file takes one thread from end to end.
    pub(super) fn fold(&self, units: &mut [Unit]) {
        let lines: usize = units.iter().map(|unit| unit.lines.len()).sum();
        let is_one_enough = lines < FEW || self.log.ledgers().len() < 2;
        let (some, others) = units.split_at_mut(if is_one_enough { 0 } else { units.len() / 2 });
        if some.is_empty() {
            return self.fold_each(others);
        }
        std::thread::scope(|scope| {
            scope.spawn(|| self.fold_each(some));
            self.fold_each(others);
        });
    }

    /// Unit by unit, so that the state of one animal at a time is at hand.
    fn fold_each(&self, units: &mut [Unit]) {
        // A cow's lines lie far apart. Asking for some together is several times as fast as for one after the other.
        let mut entries: Vec<Entry> = Vec::with_capacity(TOGETHER);
        for unit in units {
            unit.state = UnitState::default();
            for ids in unit.lines.chunks(TOGETHER) {
                entries.clear();
                entries.extend(ids.iter().map(|id| *self.log.entry(*id)));
                for (id, entry) in ids.iter().zip(&entries) {
                    self.apply(&mut unit.state, *id, entry);
                }
            }
        }
    }

    /// Applies a line to its unit, if it stands and its day has come.
    #[inline]
    pub(super) fn apply(&self, state: &mut UnitState, id: EntryId, entry: &Entry) {
        if self.standings.get(id) != Standing::Standing {
            return;
        }
        if entry.observed.date <= self.on {
            let protocol = self.timeline.on(entry.observed.date);
            state.apply(Context { log: self.log, protocol, rounds: self.tallies }, id, entry);
        } else if is_ahead_of_its_seal(entry) {
            state.not_yet(id, entry);
        }
    }
}

/// Whether a line says a day that had not come when it was sealed. Zones differ by less than a day.
fn is_ahead_of_its_seal(entry: &Entry) -> bool {
    entry.observed.date.and_time(chrono::NaiveTime::MIN).and_utc().timestamp() > entry.sealed
}
