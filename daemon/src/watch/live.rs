//! Herds held folded in memory, as many as there is room for: the one that was asked for longest ago goes first.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use chrono::{NaiveDate, NaiveDateTime};
use ledger_format::fold::Herd;
use ledger_format::{keep, mark};

use super::settle::Facts;
use super::{Folded, Reader, facts};
use crate::Trouble;
use crate::disk::{HerdFolder, LedgerName};

/// Text of ledgers that is held. A folded herd takes some three times its text (measured on 120 herds of 1 MB), so
/// this is some 700 MB: the herds of a practice that are in use, not all of them.
const TEXT_BYTES: u64 = 240_000_000;
/// A file that changed so lately may change again and keep its times: it is read, not trusted.
const DOUBTFUL_SECONDS: i64 = 3;

/// The herds in memory, the last asked for at the end.
pub(super) struct Live {
    held: Vec<Held>,
    room: u64,
}

impl Default for Live {
    fn default() -> Self {
        Self { held: Vec::new(), room: TEXT_BYTES }
    }
}

struct Held {
    path: PathBuf,
    facts: BTreeMap<String, Facts>,
    folded: Folded,
}

impl Live {
    /// The herd as it stands now: held, gone on with, or folded anew.
    pub(super) fn herd(
        &mut self,
        path: &Path,
        on: NaiveDate,
        now: NaiveDateTime,
        reader: &dyn Reader,
    ) -> Result<&Folded, Trouble> {
        let at = self.held.iter().position(|held| held.path == path);
        let mut held = at.map(|at| self.held.remove(at));
        // Before the bytes: what changes in between is then found to be newer.
        let herd = HerdFolder::open(path)?;
        let facts = facts::of_all(&herd)?;
        let goes_on = held.as_mut().map_or(Ok(false), |held| held.goes_on(&herd, &facts, on, now))?;
        let fresh = match held.filter(|_| goes_on) {
            Some(held) => Held { facts, ..held },
            None => Held { path: path.to_owned(), facts, folded: reader.fold(path, on)? },
        };
        self.make_room(fresh.text_bytes());
        self.held.push(fresh);
        // It was just put there.
        self.held.last().map(|held| &held.folded).ok_or_else(|| Trouble::new("no herd is held", "ask again"))
    }

    /// How many are held.
    pub(super) fn len(&self) -> usize {
        self.held.len()
    }

    fn make_room(&mut self, needed: u64) {
        let mut used: u64 = self.held.iter().map(Held::text_bytes).sum();
        while used + needed > self.room && !self.held.is_empty() {
            used -= self.held.remove(0).text_bytes();
        }
    }
}

impl Held {
    fn text_bytes(&self) -> u64 {
        self.facts.values().map(|facts| facts.length).sum()
    }

    /// Brings the herd up to what the files say, if they only went on; else says no.
    fn goes_on(
        &mut self,
        herd: &HerdFolder,
        now_are: &BTreeMap<String, Facts>,
        on: NaiveDate,
        now: NaiveDateTime,
    ) -> Result<bool, Trouble> {
        let same_files = self.facts.keys().eq(now_are.keys());
        if self.folded.herd.view().on != on || !self.folded.warnings.is_empty() || !same_files {
            return Ok(false);
        }
        for (name, facts) in now_are {
            let is_sure = facts.ctime < i128::from(now.and_utc().timestamp() - DOUBTFUL_SECONDS) * 1_000_000_000;
            if self.facts.get(name) == Some(facts) && is_sure {
                continue;
            }
            let Some(name) = ledger_name(name) else { return Ok(false) };
            let Some(bytes) = herd.read(&name)? else { return Ok(false) };
            if !append(&mut self.folded.herd, &name, &bytes) {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

fn ledger_name(short: &str) -> Option<LedgerName> {
    let (device, file) = short.split_once('/').filter(|(device, _)| *device != "protocols")?;
    LedgerName::new(device, file.strip_suffix(".txt")?.parse().ok()?)
}

/// Adds what a file holds beyond what the herd has of it. Only sealed lines with right marks are a plain going on.
fn append(herd: &mut Herd, name: &LedgerName, bytes: &[u8]) -> bool {
    let ledgers = herd.log().ledgers();
    let Some(at) = ledgers.iter().position(|ledger| ledger.device == name.device && ledger.year == name.year) else {
        return false;
    };
    let known = ledgers[at].length();
    let check = mark::check(bytes);
    if keep::has_changed_blanks(bytes)
        || !ledgers[at].is_begun_by(bytes)
        || !check.is_unbroken()
        || check.vouched_bytes < known
    {
        return false;
    }
    herd.append(at, &bytes[known..check.vouched_bytes]);
    herd.log().ledgers()[at].unreadable.is_empty()
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;
    use std::rc::Rc;

    use ledger_format::fold::{View, state_text};
    use ledger_format::merge::{Ledger, Log};

    use super::*;
    use crate::keys::DeviceKey;
    use crate::seal::{Desk, NewHerd, begin_herd, seal_text};
    use crate::watch::{Answer, Show};

    const SECRET: [u8; 32] = [7; 32];

    fn now() -> NaiveDateTime {
        day(14).and_hms_opt(9, 0, 0).unwrap()
    }

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, day).unwrap()
    }

    /// Counts how often a folder is folded anew.
    #[derive(Clone, Default)]
    struct Counting(Rc<Cell<usize>>);

    impl Reader for Counting {
        fn fold(&self, folder: &Path, on: NaiveDate) -> Result<Folded, Trouble> {
            self.0.set(self.0.get() + 1);
            let herd = HerdFolder::open(folder)?;
            let read = |name: &LedgerName| Ledger::read(&name.device, name.year, herd.read(name).unwrap().unwrap());
            let ledgers = herd.ledgers()?.files.iter().map(|name| read(name).unwrap()).collect();
            let herd = Herd::fold(Log::union(ledgers), Vec::new(), View { on, known: None });
            Ok(Folded { herd, warnings: Vec::new() })
        }

        fn answer(&self, _: &Path, _: &Folded, _: &Show) -> Option<Answer> {
            None
        }
    }

    fn begin(folder: &Path, device: &str) {
        let (herd, zone) = ("quillmere", "Europe/London");
        let (now, today) = (now(), day(14));
        let key = &DeviceKey::of_secret(&SECRET);
        begin_herd(folder, &NewHerd { herd, zone, device, key, by: "kj", now, today, protocol: None }).unwrap();
    }

    fn write(folder: &Path, line: &str) {
        let herd = HerdFolder::open(folder).unwrap();
        let key = &DeviceKey::of_secret(&SECRET);
        let desk = Desk { herd: &herd, device: "crush-laptop", by: "kj", key, now: now(), today: day(14) };
        assert_eq!(seal_text(&desk, line.as_bytes()).unwrap().kept.len(), 1);
    }

    #[test]
    fn an_accepted_line_is_in_the_state_at_once_and_nothing_is_folded_anew() {
        let place = tempfile::tempdir().unwrap();
        let (folder, reader, mut live) = (place.path().join("a"), Counting::default(), Live::default());
        begin(&folder, "crush-laptop");
        let state = |live: &mut Live| state_text(&live.herd(&folder, day(14), now(), &reader).unwrap().herd);
        let before = state(&mut live);
        write(&folder, "417 score 3");
        let after = state(&mut live);
        assert_ne!(before, after);
        assert_eq!(reader.0.get(), 1);
        assert_eq!(after, state_text(&reader.fold(&folder, day(14)).unwrap().herd));
    }

    #[test]
    fn what_is_no_plain_going_on_is_folded_anew() {
        let place = tempfile::tempdir().unwrap();
        let (folder, reader, mut live) = (place.path().join("a"), Counting::default(), Live::default());
        begin(&folder, "crush-laptop");
        write(&folder, "417 score 3");
        let mut folds = |on| {
            live.herd(&folder, on, now(), &reader).unwrap();
            reader.0.get()
        };
        assert_eq!((folds(day(14)), folds(day(14))), (1, 1));
        // The next day; another device's file; a changed line.
        assert_eq!((folds(day(15)), folds(day(15))), (2, 2));
        begin(&place.path().join("b"), "farm-office");
        std::fs::rename(place.path().join("b/ledgers/farm-office"), folder.join("ledgers/farm-office")).unwrap();
        assert_eq!((folds(day(15)), folds(day(15))), (3, 3));
        let ledger = folder.join("ledgers/crush-laptop/2026.txt");
        let text = std::fs::read_to_string(&ledger).unwrap();
        std::fs::write(&ledger, text.replace("417 score 3", "417 score 1")).unwrap();
        assert_eq!(folds(day(15)), 4);
    }

    #[test]
    fn the_herd_asked_for_longest_ago_makes_room() {
        let place = tempfile::tempdir().unwrap();
        let (reader, mut live) = (Counting::default(), Live::default());
        let folders = ["a", "b", "c"].map(|name| place.path().join(name));
        for folder in &folders {
            begin(folder, "crush-laptop");
        }
        let one =
            facts::of_all(&HerdFolder::open(&folders[0]).unwrap()).unwrap().values().map(|f| f.length).sum::<u64>();
        live.room = 2 * one;
        let mut folds = |at: usize| {
            live.herd(&folders[at], day(14), now(), &reader).unwrap();
            (reader.0.get(), live.len())
        };
        assert_eq!([folds(0), folds(1), folds(0)], [(1, 1), (2, 2), (2, 2)]);
        // Room for two: `b` goes, `a` stays.
        assert_eq!([folds(2), folds(0), folds(1)], [(3, 2), (3, 2), (4, 2)]);
    }
}
