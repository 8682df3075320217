//! What devices said that they hold of each other's ledgers, compared with what is here.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::HolderRow;
use crate::line::{Act, date_text};
use crate::mark::{Claim, ClaimFinding, FullMark, complete_up_to};
use crate::merge::{EntryId, Event, Ledger, Log};
use crate::vocabulary::ActWord;

/// All witness lines, by the file that they speak of.
pub(super) struct Witnesses(BTreeMap<(String, u16), Vec<Said>>);

struct Said {
    claim: Claim,
    on: NaiveDate,
}

/// What one device said of another's ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Heard {
    pub(super) by: String,
    /// The furthest that agrees with what is here: how many lines, heads not counted, and the day it was said.
    pub(super) holds: Option<(usize, NaiveDate)>,
    /// The file of which it saw more than is here, and how long that was.
    pub(super) ahead: Option<(u16, u64)>,
    /// The file of which it saw another history.
    pub(super) differs: Option<u16>,
}

impl Witnesses {
    pub(super) fn of(log: &Log) -> Self {
        let mut all: BTreeMap<(String, u16), Vec<Said>> = BTreeMap::new();
        for (at, ledger) in log.ledgers().iter().enumerate() {
            for index in ledger.herd_lines() {
                let id = EntryId { ledger: at as u16, index: *index };
                if log.entry(id).event != Event::Other(ActWord::Witness) {
                    continue;
                }
                let Act::Witness { device, year, length, mark } = log.body(id).act else { continue };
                let Some(mark) = FullMark::read(mark).filter(|_| device != ledger.device) else { continue };
                let claim = Claim { by: ledger.device.clone(), length: Some(length.into()), mark };
                let said = Said { claim, on: log.entry(id).observed.date };
                all.entry((device.to_owned(), year)).or_default().push(said);
            }
        }
        Self(all)
    }

    /// What each other device said of these files of one device, the oldest first.
    pub(super) fn heard(&self, files: &[&Ledger]) -> Vec<Heard> {
        let mut heard: BTreeMap<&str, Heard> = BTreeMap::new();
        let mut before = 0;
        for file in files {
            let said = self.0.get(&(file.device.clone(), file.year)).map_or(&[][..], Vec::as_slice);
            let mut by_device: BTreeMap<&str, Vec<&Said>> = BTreeMap::new();
            for said in said {
                by_device.entry(&said.claim.by).or_default().push(said);
            }
            for (by, said) in by_device {
                let new = || Heard { by: by.to_owned(), holds: None, ahead: None, differs: None };
                heard.entry(by).or_insert_with(new).add(file, &said, before);
            }
            before += file.entries().len() + file.unreadable.len();
        }
        heard.into_values().collect()
    }
}

impl Heard {
    fn add(&mut self, file: &Ledger, said: &[&Said], before: usize) {
        let claims: Vec<Claim> = said.iter().map(|said| said.claim.clone()).collect();
        let (newest, findings) = complete_up_to(&file.bytes(), &claims);
        if let Some((length, _)) = newest {
            let of_it = |said: &&&Said| said.claim.length == Some(length);
            let upto = usize::try_from(length).unwrap_or(usize::MAX).min(file.bytes().len());
            let lines = memchr::memchr_iter(b'\n', &file.bytes()[..upto]).count().saturating_sub(1);
            self.holds = said.iter().rev().find(of_it).map(|said| (before + lines, said.on)).or(self.holds);
        }
        for finding in findings {
            match finding {
                ClaimFinding::Shorter(claim) => {
                    let seen = (file.year, claim.length.unwrap_or(0));
                    self.ahead = self.ahead.max(Some(seen));
                }
                ClaimFinding::Different(_) => self.differs = Some(file.year),
            }
        }
    }
}

/// Those that hold anything, the furthest first.
pub(super) fn holders(heard: &[Heard], lines: usize) -> Vec<HolderRow> {
    let row = |heard: &Heard| {
        let (held, on) = heard.holds?;
        let behind = lines.saturating_sub(held);
        Some(HolderRow { device: heard.by.clone(), on: date_text(on), lines: held, behind })
    };
    let mut rows: Vec<HolderRow> = heard.iter().filter_map(row).collect();
    rows.sort_by(|a, b| a.behind.cmp(&b.behind).then_with(|| a.device.cmp(&b.device)));
    rows
}
