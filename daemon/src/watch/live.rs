//! Herds held folded in memory, as many as there is room for: the one that was asked for longest ago goes first.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use chrono::{NaiveDate, NaiveDateTime};
use ledger_format::fold::Herd;
use ledger_format::mark;

use super::settle::Facts;
use super::{Folded, Reader, facts};
use crate::Trouble;
use crate::disk::{HerdFolder, LedgerName};

/// Text of ledgers that is held. A folded herd takes some four times its text, so this is some 500 MB.
const TEXT_BYTES: u64 = 120_000_000;
/// A file that changed so lately may change again and keep its times: it is read, not trusted.
const DOUBTFUL_SECONDS: i64 = 3;

/// The herds in memory, the last asked for at the end.
#[derive(Default)]
pub(super) struct Live {
    held: Vec<Held>,
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
        while used + needed > TEXT_BYTES && !self.held.is_empty() {
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
    let known = ledgers[at].bytes().len();
    let check = mark::check(bytes);
    if !bytes.starts_with(ledgers[at].bytes()) || !check.is_unbroken() || check.vouched_bytes < known {
        return false;
    }
    herd.append(at, &bytes[known..check.vouched_bytes]);
    herd.log().ledgers()[at].unreadable.is_empty()
}
