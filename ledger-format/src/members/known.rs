//! What a line knows of the other ledgers, by witness lines (§5).

use std::collections::{BTreeMap, BTreeSet};

use super::lines::{Deed, Lines, Place};
use crate::line::Act;
use crate::mark::{FullMark, agreeing, showing};
use crate::merge::{EntryId, Event, Ledger, Log};
use crate::vocabulary::ActWord;

/// Up to where a line knows each ledger.
pub(super) type Clock = Vec<Place>;

/// What is known, and where the lines are that revocations name.
#[derive(Debug, Default)]
pub(super) struct Known {
    /// Of each ledger, in order: what is known from one witness line on.
    clocks: Vec<Vec<(Place, Clock)>>,
    cuts: BTreeMap<EntryId, (Place, Option<usize>)>,
    /// Files that are shorter than somebody saw, or lack the line that a revocation names; and the length to wait for.
    pub(super) waiting: Vec<(usize, u64)>,
}

/// One witness line.
struct Seen {
    /// Where it ends.
    at: Place,
    /// The file that was seen, its length and full mark then.
    file: usize,
    length: u64,
    mark: FullMark,
}

type Claims = Vec<Vec<(u64, FullMark)>>;

impl Known {
    pub(super) fn of(log: &Log, lines: &Lines<'_>) -> Self {
        let mut known = Self::default();
        let seen = witnessed(log, lines);
        let mut claims: Claims = vec![Vec::new(); log.ledgers().len()];
        for seen in seen.iter().flatten() {
            if seen.length > log.ledgers()[seen.file].length() as u64 {
                known.waiting.push((seen.file, seen.length));
            } else {
                claims[seen.file].push((seen.length, seen.mark));
            }
        }
        let named = each_named(log, lines);
        for (_, file, mark) in &named {
            claims[*file].extend(showing(&log.ledgers()[*file].bytes(), *mark).map(|end| (end, *mark)));
        }
        let agree = |(file, claims): (&Ledger, Vec<_>)| {
            if claims.is_empty() { claims } else { agreeing(&file.bytes(), claims) }
        };
        let true_of: Claims = log.ledgers().iter().zip(claims).map(agree).collect();
        known.find_cuts(log, lines, &named, &true_of);
        let is_true = |seen: &Seen| true_of[seen.file].binary_search(&(seen.length, seen.mark)).is_ok();
        let seen: Vec<Vec<Seen>> = seen.into_iter().map(|seen| seen.into_iter().filter(is_true).collect()).collect();
        known.clocks = clocks(log, lines, &seen);
        known
    }

    /// What a line knows.
    pub(super) fn clock(&self, deed: &Deed, ledgers: usize) -> Clock {
        let mut clock = self.clocks.get(deed.of).and_then(|of| at(of, deed.start)).cloned().unwrap_or_default();
        clock.resize(ledgers, Place::FIRST);
        clock[deed.of] = deed.start;
        clock
    }

    /// Behind which place a revocation cuts off, and the ledger of the line that it names, if it names one; none if
    /// that line is not here.
    pub(super) fn cut(&self, revocation: EntryId) -> Option<(Place, Option<usize>)> {
        self.cuts.get(&revocation).copied()
    }

    fn find_cuts(&mut self, log: &Log, lines: &Lines<'_>, named: &[(EntryId, usize, FullMark)], true_of: &Claims) {
        for revocation in &lines.revocations {
            if revocation.after == FullMark([0; 32]) {
                self.cuts.insert(revocation.deed.id, (Place::FIRST, None));
            }
        }
        for (id, file, mark) in named {
            if let Some((end, _)) = true_of[*file].iter().find(|(_, known)| known == mark) {
                let place = Place { year: log.ledgers()[*file].year, end: *end };
                self.cuts.entry(*id).or_insert((place, Some(lines.of_file[*file])));
            }
        }
        let lacking = named.iter().filter(|(id, ..)| !self.cuts.contains_key(id)).map(|(_, file, _)| (*file, 0));
        let lacking: BTreeSet<(usize, u64)> = lacking.collect();
        self.waiting.extend(lacking);
    }
}

/// Each revocation with each file that may hold the line that it names.
fn each_named(log: &Log, lines: &Lines<'_>) -> Vec<(EntryId, usize, FullMark)> {
    let of = |device: &str| {
        let device = device.to_owned();
        let files = log.ledgers().iter().enumerate();
        files.filter(move |(_, file)| file.device == device).map(|(at, _)| at)
    };
    let each = lines.revocations.iter().filter(|revocation| revocation.after != FullMark([0; 32]));
    each.flat_map(|by| of(by.device).map(|file| (by.deed.id, file, by.after))).collect()
}

/// The witness lines of each ledger, in order, that name a file which is here.
fn witnessed(log: &Log, lines: &Lines<'_>) -> Vec<Vec<Seen>> {
    let files: BTreeMap<(&str, u16), usize> =
        log.ledgers().iter().enumerate().map(|(at, file)| ((file.device.as_str(), file.year), at)).collect();
    let mut seen: Vec<Vec<Seen>> = lines.ledgers.iter().map(|_| Vec::new()).collect();
    for (at, ledger) in log.ledgers().iter().enumerate() {
        for index in ledger.herd_lines() {
            let entry = &ledger.entries()[*index as usize];
            if entry.event != Event::Other(ActWord::Witness) {
                continue;
            }
            let Act::Witness { device, year, length, mark } =
                log.body(EntryId { ledger: at as u16, index: *index }).act
            else {
                continue;
            };
            if let (Some(file), Some(mark)) = (files.get(&(device, year)), FullMark::read(mark)) {
                let at_place = Place { year: ledger.year, end: entry.end() };
                seen[lines.of_file[at]].push(Seen { at: at_place, file: *file, length: length.into(), mark });
            }
        }
    }
    seen
}

/// What each ledger knows from each of its witness lines on. Hashes cannot name each other in a ring, so this comes
/// to its end; a ring would give no knowledge.
fn clocks(log: &Log, lines: &Lines<'_>, seen: &[Vec<Seen>]) -> Vec<Vec<(Place, Clock)>> {
    let mut clocks: Vec<Vec<(Place, Clock)>> = seen.iter().map(|_| Vec::new()).collect();
    let mut done = vec![0; seen.len()];
    let mut goes_on = true;
    while goes_on {
        goes_on = false;
        for of in 0..seen.len() {
            while let Some(next) = seen[of].get(done[of]) {
                let other = lines.of_file[next.file];
                let upto = Place { year: log.ledgers()[next.file].year, end: next.length };
                if done[other] < seen[other].partition_point(|seen| seen.at <= upto) {
                    break;
                }
                learn(&mut clocks, of, next.at, (other, upto));
                done[of] += 1;
                goes_on = true;
            }
        }
    }
    clocks
}

/// Adds to what a ledger knows: another up to a place, and what is known there.
fn learn(clocks: &mut [Vec<(Place, Clock)>], of: usize, from: Place, (other, upto): (usize, Place)) {
    let before = clocks[of].last().map_or_else(|| vec![Place::FIRST; clocks.len()], |(_, clock)| clock.clone());
    let mut clock = before.clone();
    for (known, there) in clock.iter_mut().zip(at(&clocks[other], upto).into_iter().flatten()) {
        *known = (*known).max(*there);
    }
    clock[other] = clock[other].max(upto);
    if clock != before {
        clocks[of].push((from, clock));
    }
}

/// What is known at a place of a ledger.
fn at(clocks: &[(Place, Clock)], place: Place) -> Option<&Clock> {
    let after = clocks.partition_point(|(from, _)| *from <= place);
    Some(&clocks.get(after.checked_sub(1)?)?.1)
}
