//! Witness lines: what this device holds of the others' files (`sync.md` §10).

use std::collections::HashMap;

use chrono::NaiveDate;
use ledger_format::line::{self, Act, date_text, read_sealed};
use ledger_format::mark::{self, FullMark};
use ledger_format::vocabulary::Capacity;

use super::stand::Stand;
use super::{Desk, target};
use crate::Trouble;
use crate::disk::{LedgerName, accepted};

const WITNESS: &[u8] = b" herd witness ";

/// What one's own ledger last said of a file: its length, and on which day.
type Last = HashMap<LedgerName, (u64, NaiveDate)>;

/// The witness lines that are due: for each file of another device that grew since this one last spoke of it, once
/// a day. Growth by witness lines alone does not count, or two machines would answer each other for ever. Who may not
/// write is no witness.
pub(super) fn due(desk: &Desk, stand: &Stand) -> Result<Vec<String>, Trouble> {
    let last = last_said(stand);
    let mut bodies = Vec::new();
    for name in accepted::names(desk.herd)?.into_iter().filter(|name| name.device != desk.device) {
        let (length, day) = last.get(&name).copied().unzip();
        if day == Some(desk.today) {
            continue;
        }
        if accepted::length(desk.herd, &name)? == length {
            continue;
        }
        let bytes = accepted::look(desk.herd, &name)?.unwrap_or_default();
        let new = usize::try_from(length.unwrap_or(0)).ok().and_then(|length| bytes.get(length..));
        if new.is_none_or(|new| !says_more(new)) {
            continue;
        }
        let check = mark::check(&bytes);
        let Some(full) = check.full.filter(|_| check.vouched_bytes == bytes.len()) else { continue };
        let LedgerName { device, year } = &name;
        let (day, length) = (date_text(desk.today), bytes.len());
        let body = format!("{day} herd witness {device} {year:04} length {length} mark {full} by {}", desk.by);
        bodies.extend(line::read(&body).is_ok().then_some(body));
    }
    if bodies.is_empty() || may_write(desk)? { Ok(bodies) } else { Ok(Vec::new()) }
}

fn may_write(desk: &Desk) -> Result<bool, Trouble> {
    let Some(key) = FullMark::read(desk.key.public()) else { return Ok(false) };
    let right = target::members(desk)?.right_now(desk.device, key);
    Ok(matches!(right, Some(Capacity::Writer | Capacity::Keeper)))
}

/// Whether any of these lines is more than a witness line.
fn says_more(new: &[u8]) -> bool {
    let lines = new.split(|b| *b == b'\n').filter(|line| !line.is_empty());
    lines.into_iter().any(|line| memchr::memmem::find(line, WITNESS).is_none())
}

fn last_said(stand: &Stand) -> Last {
    let mut last = Last::new();
    for bytes in stand.files.iter().map(|file| file.accepted.bytes()) {
        for at in memchr::memmem::find_iter(bytes, WITNESS) {
            let begin = memchr::memrchr(b'\n', &bytes[..at]).map_or(0, |lf| lf + 1);
            let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |lf| at + lf);
            note(&mut last, &bytes[begin..end]);
        }
    }
    last
}

fn note(last: &mut Last, line: &[u8]) {
    let Some(sealed) = std::str::from_utf8(line).ok().and_then(|line| read_sealed(line).ok()) else { return };
    let Act::Witness { device, year, length, .. } = sealed.line.act else { return };
    let Some(name) = LedgerName::new(device, year) else { return };
    let known = last.entry(name).or_insert((0, sealed.line.observed.date));
    if known.0 <= u64::from(length) {
        *known = (length.into(), sealed.line.observed.date);
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use chrono::NaiveDateTime;
    use ledger_format::line::read_utc;

    use super::*;
    use crate::disk::HerdFolder;
    use crate::keys::DeviceKey;
    use crate::seal::{NewHerd, begin_herd, seal_text, tend};

    fn day(day: u32) -> NaiveDateTime {
        read_utc(format!("2026-03-{day}T09:00:00Z").as_bytes()).unwrap()
    }

    struct Scene {
        herd: HerdFolder,
        crush: DeviceKey,
        office: DeviceKey,
    }

    impl Scene {
        fn new(folder: &Path) -> Self {
            let (crush, office) = (DeviceKey::of_secret(&[7; 32]), DeviceKey::of_secret(&[8; 32]));
            let (herd, zone, device, now) = ("quillmere", "Europe/London", "crush-laptop", day(14));
            let new = NewHerd { herd, zone, device, key: &crush, by: "kj", now, today: now.date(), protocol: None };
            Self { herd: begin_herd(folder, &new).unwrap(), crush, office }
        }

        fn desk<'a>(&'a self, device: &'a str, on: u32) -> Desk<'a> {
            let key = if device == "crush-laptop" { &self.crush } else { &self.office };
            Desk { herd: &self.herd, device, by: "kj", key, now: day(on), today: day(on).date() }
        }

        fn writes(&self, device: &str, line: &str) {
            assert!(seal_text(&self.desk(device, 14), line.as_bytes()).unwrap().refused.is_empty(), "{line}");
        }

        /// How many witness lines a device seals on a day.
        fn witnesses(&self, device: &str, on: u32) -> usize {
            tend(&self.desk(device, on), &[]).unwrap().witnessed.len()
        }
    }

    #[test]
    fn each_file_that_grew_is_witnessed_once_a_day_by_who_may_write() {
        let place = tempfile::tempdir().unwrap();
        let scene = Scene::new(&place.path().join("quillmere"));
        assert_eq!(scene.witnesses("crush-laptop", 14), 0, "there is nobody else");
        scene.writes("farm-office", "417 score 3");
        assert_eq!(scene.witnesses("farm-office", 14), 0, "nobody let it in");
        assert_eq!(scene.witnesses("crush-laptop", 14), 1);
        scene.writes("farm-office", "418 score 3");
        assert_eq!(scene.witnesses("crush-laptop", 14), 0, "once a day");
        assert_eq!(scene.witnesses("crush-laptop", 15), 1);
        assert_eq!(scene.witnesses("crush-laptop", 16), 0, "it did not grow");
        let key = scene.office.public();
        scene.writes("crush-laptop", &format!("herd admit farm-office key {key} as writer"));
        assert_eq!(scene.witnesses("farm-office", 16), 1);
        assert_eq!(scene.witnesses("crush-laptop", 17), 0, "a witness line alone is no news");
        scene.writes("farm-office", "419 score 3");
        assert_eq!(scene.witnesses("crush-laptop", 17), 1);
    }
}
