//! Which file lines go to when the clock turns, jumps, or the year changes between sealing and typing.

use std::path::Path;

use chrono::{NaiveDate, NaiveDateTime};
use daemon::disk::HerdFolder;
use daemon::keys::DeviceKey;
use daemon::seal::{Desk, NewHerd, Sealed, begin_herd, seal_tail, seal_text};

const DEVICE: &str = "crush-laptop";

fn at(text: &str) -> NaiveDateTime {
    ledger_format::line::read_utc(text.as_bytes()).unwrap()
}

fn herd(folder: &Path, now: &str) -> HerdFolder {
    let key = DeviceKey::of_secret(&[7; 32]);
    let (herd, zone, by, now) = ("quillmere", "Europe/London", "kj", at(now));
    let new = NewHerd { herd, zone, device: DEVICE, key: &key, by, now, today: now.date(), protocol: None };
    begin_herd(&folder.join("quillmere"), &new).unwrap()
}

fn seal(herd: &HerdFolder, now: &str, text: Option<&str>) -> Sealed {
    let (key, now) = (DeviceKey::of_secret(&[7; 32]), at(now));
    let today: NaiveDate = now.date();
    let desk = Desk { herd, device: DEVICE, by: "kj", key: &key, now, today };
    text.map_or_else(|| seal_tail(&desk), |text| seal_text(&desk, text.as_bytes())).unwrap()
}

fn year(sealed: &Sealed) -> u16 {
    sealed.file.as_ref().unwrap().year
}

fn read(herd: &HerdFolder, file: &str) -> String {
    std::fs::read_to_string(herd.path().join("ledgers").join(DEVICE).join(file)).unwrap()
}

#[test]
fn a_new_year_begins_a_file_that_follows_and_takes_the_old_tail_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let herd = herd(folder.path(), "2026-11-02T08:00:00Z");
    let old = herd.path().join("ledgers").join(DEVICE).join("2026.txt");
    std::fs::write(&old, read(&herd, "2026.txt") + "2026-12-31 417 3\n; a thought\n").unwrap();
    let sealed = seal(&herd, "2027-01-01T00:00:05Z", None);
    assert_eq!((year(&sealed), sealed.kept.len()), (2027, 1));
    assert!(read(&herd, "2026.txt").ends_with("\n; a thought\n") && !read(&herd, "2026.txt").contains("417 3"));
    let (before, after) = (read(&herd, "2026.txt"), read(&herd, "2027.txt"));
    let last = ledger_format::mark::check(before.as_bytes()).full.unwrap();
    assert!(after.lines().next().unwrap().contains(&format!(" follows 2026 {last} | ")), "{after}");
    let daemon::audit::Findings { reports, findings, .. } = daemon::audit::herd(&herd, true).unwrap();
    assert!(findings.is_empty() && reports.iter().all(|report| report.state.is_unbroken()));
    assert!(reports.iter().any(|report| report.complete.as_ref().is_some_and(|seen| seen.by.ends_with("2027.txt"))));
}

#[test]
fn f44_a_clock_that_jumps_refuses_no_line_and_begins_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let herd = herd(folder.path(), "2026-03-14T08:00:00Z");
    for clock in ["2031-01-01T00:00:00Z", "1970-01-01T00:00:09Z", "2026-03-15T08:00:00Z", "2028-06-01T08:00:00Z"] {
        let day = &clock[..10];
        let sealed = seal(&herd, clock, Some(&format!("{day} 417 3")));
        assert_eq!((year(&sealed), sealed.kept.len()), (2026, 1), "{clock}");
    }
    assert_eq!(year(&seal(&herd, "2027-02-01T08:00:00Z", Some("417 2"))), 2027);
    assert_eq!(year(&seal(&herd, "2026-12-30T08:00:00Z", Some("417 1"))), 2027, "it goes on in its newest file");
    assert!(daemon::audit::herd(&herd, true).unwrap().reports.iter().all(|report| report.state.is_unbroken()));
}

#[test]
fn typed_lines_in_an_old_years_file_are_still_kept() {
    let folder = tempfile::tempdir().unwrap();
    let herd = herd(folder.path(), "2026-11-02T08:00:00Z");
    seal(&herd, "2027-01-02T08:00:00Z", Some("417 3"));
    let old = herd.path().join("ledgers").join(DEVICE).join("2026.txt");
    std::fs::write(&old, read(&herd, "2026.txt") + "418 2\n").unwrap();
    let sealed = seal(&herd, "2027-01-03T08:00:00Z", None);
    assert_eq!((year(&sealed), sealed.kept[0].body.as_str()), (2027, "2027-01-03 418 score 2 by kj"));
    assert!(!read(&herd, "2026.txt").contains("418"));
}

#[test]
fn an_old_text_of_last_years_file_seals_nothing_twice() {
    let folder = tempfile::tempdir().unwrap();
    let herd = herd(folder.path(), "2026-11-02T08:00:00Z");
    let old = herd.path().join("ledgers").join(DEVICE).join("2026.txt");
    let stale = read(&herd, "2026.txt") + "417 3\n418 trim, recheck 28d\n";
    std::fs::write(&old, &stale).unwrap();
    assert_eq!(seal(&herd, "2027-01-01T08:00:00Z", None).kept.len(), 3);
    let kept = read(&herd, "2027.txt");
    for more in ["", "419 2\n", "419 2\n"] {
        std::fs::write(&old, format!("{stale}{more}")).unwrap();
        seal(&herd, "2027-01-03T08:00:00Z", None);
        let after = read(&herd, "2026.txt");
        assert!(after.contains(";! kept already, in the file of another year: 417 3\n"), "{after}");
    }
    let after = read(&herd, "2027.txt");
    assert!(after.starts_with(&kept) && after.lines().count() == kept.lines().count() + 1, "{after}");
    std::fs::write(&old, format!("{stale}419 2\n").replace("417 3", "417 2")).unwrap();
    let changed = seal(&herd, "2027-01-03T08:00:00Z", None);
    let bodies: Vec<&str> = changed.kept.iter().map(|kept| kept.body.as_str()).collect();
    let was = kept.lines().find_map(|line| line.contains(" 417 score 3 ").then(|| line.rsplit(' ').next())).flatten();
    assert_eq!(bodies, [format!("2027-01-01 417 score 2 replaces {} by kj", was.unwrap())], "as in a file of one year");
}
