//! What was found of a herd when it was last read: the verdict stands while length, times and inode of all that it was
//! read from stand, and for a day at most, so that a disk that rots is found.

use std::collections::BTreeMap;
use std::time::{SystemTime, UNIX_EPOCH};

use chrono::{NaiveDate, NaiveDateTime};

use super::facts;
use super::report::{HerdRow, of_folder};
use super::settle::Facts;
use crate::disk::HerdFolder;

/// A file changed within this time before it was read may change again and look the same.
const RACY_NS: i128 = 2_000_000_000;
/// After this everything is read anew, in milliseconds.
const DAY_MS: u64 = 86_400_000;

/// A verdict.
pub(super) struct Known {
    facts: BTreeMap<String, Facts>,
    day: NaiveDate,
    at: u64,
    row: HerdRow,
}

/// When somebody asks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Asked {
    /// The clock, UTC.
    pub(super) now: NaiveDateTime,
    /// Milliseconds since the daemon began.
    pub(super) ms: u64,
    /// The time that files are stamped with, in nanoseconds since 1970.
    pub(super) stamp: i128,
}

impl Asked {
    pub(super) fn at(now: NaiveDateTime, ms: u64) -> Self {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        Self { now, ms, stamp: i128::try_from(since.as_nanos()).unwrap_or(0) }
    }
}

/// How a herd stands: as it is known, or read anew.
pub(super) fn row(known: &mut Option<Known>, herd: &HerdFolder, device: Option<&str>, asked: Asked) -> HerdRow {
    let facts = facts::of_verdict(herd).ok();
    if let (Some(known), Some(facts)) = (&known, &facts)
        && known.facts == *facts
        && known.day == asked.now.date()
        && asked.ms < known.at + DAY_MS
    {
        return known.row.clone();
    }
    let row = of_folder(herd, device, asked.now);
    *known = facts.filter(|facts| facts.values().all(|file| file.ctime + RACY_NS < asked.stamp)).map(|facts| Known {
        facts,
        day: asked.now.date(),
        at: asked.ms,
        row: row.clone(),
    });
    row
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;
    use crate::seal::{NewHerd, begin_herd};

    fn herd(folder: &Path) -> HerdFolder {
        let today = NaiveDate::from_ymd_opt(2026, 3, 14).unwrap();
        let new = NewHerd {
            herd: "quillmere",
            zone: "Europe/London",
            device: "crush-laptop",
            key: &"0".repeat(64),
            by: "kj",
            now: today.and_hms_opt(9, 0, 0).unwrap(),
            today,
            protocol: None,
        };
        begin_herd(folder, &new).unwrap()
    }

    fn later(ms: u64) -> Asked {
        let now = NaiveDate::from_ymd_opt(2026, 3, 14).unwrap().and_hms_opt(10, 0, 0).unwrap();
        let asked = Asked::at(now, ms);
        Asked { stamp: asked.stamp + 10_000_000_000, ..asked }
    }

    /// Says in the stored verdict that it is the stored one.
    fn signed(known: &mut Option<Known>) {
        known.as_mut().expect("a verdict that stands").row.notes = vec!["stored".into()];
    }

    fn is_stored(row: &HerdRow) -> bool {
        row.notes == ["stored"]
    }

    #[test]
    fn a_verdict_stands_while_nothing_of_the_herd_changes() {
        let place = tempfile::tempdir().unwrap();
        let herd = herd(&place.path().join("quillmere"));
        let mut known = None;
        let first = row(&mut known, &herd, Some("crush-laptop"), later(0));
        assert!(first.troubles.is_empty() && first.unsealed.is_empty(), "{first:?}");
        signed(&mut known);
        assert!(is_stored(&row(&mut known, &herd, Some("crush-laptop"), later(1))));
        assert!(
            !is_stored(&row(&mut known, &herd, Some("crush-laptop"), later(DAY_MS))),
            "after a day it is read anew"
        );
    }

    #[test]
    fn whatever_changes_is_read_anew() {
        let place = tempfile::tempdir().unwrap();
        let herd = herd(&place.path().join("quillmere"));
        let ledger = herd.path().join("ledgers/crush-laptop/2026.txt");
        let good = fs::read_to_string(&ledger).unwrap();
        let accepted = herd.path().join(".footfold/accepted/crush-laptop/2026.txt");
        let changes: [(&str, &dyn Fn()); 4] = [
            ("a line typed", &|| fs::write(&ledger, format!("{good}417 score 3\n")).unwrap()),
            ("a byte that rotted, of the same length", &|| {
                fs::write(&ledger, good.replace("quillmere", "quillmerf")).unwrap();
            }),
            ("the accepted copy", &|| fs::write(&accepted, "x").unwrap()),
            ("the ledger is gone", &|| fs::remove_file(&ledger).unwrap()),
        ];
        for (what, change) in changes {
            let mut known = None;
            row(&mut known, &herd, Some("crush-laptop"), later(0));
            signed(&mut known);
            change();
            assert!(!is_stored(&row(&mut known, &herd, Some("crush-laptop"), later(1))), "{what}");
        }
    }

    #[test]
    fn a_file_changed_a_moment_ago_is_not_trusted() {
        let place = tempfile::tempdir().unwrap();
        let herd = herd(&place.path().join("quillmere"));
        let mut known = None;
        let now = NaiveDate::from_ymd_opt(2026, 3, 14).unwrap().and_hms_opt(10, 0, 0).unwrap();
        row(&mut known, &herd, Some("crush-laptop"), Asked::at(now, 0));
        assert!(known.is_none());
    }
}
