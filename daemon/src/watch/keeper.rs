//! One herd that is watched: when a save is over, what was typed is kept.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};

use chrono::NaiveDateTime;
use ledger_format::line::utc_text;
use tracing::{debug, info, warn};

use super::known::Known;
use super::settle::{Settle, Verdict};
use super::{Writer, day_in, facts};
use crate::Trouble;
use crate::disk::far::{self, Claim, Turn};
use crate::disk::{HerdFolder, LedgerName, Lock, accepted};
use crate::seal::target::last_sealed;
use crate::seal::{Desk, Sealed, tend};

/// Everything is looked at as often as this, whatever the events say.
pub(super) const FULL_LOOK_MS: u64 = 30_000;
/// How often a herd without events is looked at.
const POLL_MS: u64 = 2_000;
/// A sealing that failed is tried again after this, then after twice as long, up to a full look.
const RETRY_MS: u64 = 1_000;
/// What was put right or odd stays in the status, the newest of it.
const REMEMBERED: usize = 20;

/// The time of a look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    /// Milliseconds since the daemon began; never goes back.
    pub(super) ms: u64,
    /// The clock, UTC.
    pub(super) now: NaiveDateTime,
}

/// One herd.
pub(super) struct Keeper {
    pub(super) path: PathBuf,
    pub(super) herd: Option<String>,
    pub(super) since: Option<NaiveDateTime>,
    /// Why it is not watched, if it is not.
    pub(super) trouble: Option<Trouble>,
    /// Why the last sealing failed, if it did.
    pub(super) unsealed: Option<Trouble>,
    /// What was put right and what was odd, lately.
    pub(super) notes: VecDeque<String>,
    pub(super) last_sealed: Option<NaiveDateTime>,
    /// Whether it is looked at every few seconds.
    pub(super) polls: bool,
    /// When to look again.
    pub(super) next: u64,
    /// Whether an event touched it since it was last looked at.
    pub(super) was_hinted: bool,
    /// How the herd stood when it was last read.
    pub(super) known: Option<Known>,
    /// Whether it may be read for that while nothing else is to be done.
    pub(super) is_to_be_known: bool,
    settle: Settle,
    lock: Option<Lock>,
    /// On a network disk, where the lock holds off nobody on other machines.
    claim: Option<Claim>,
    fails: u32,
    not_before: u64,
    unannounced: Option<u64>,
    has_looked: bool,
    left: Vec<(usize, String)>,
}

impl Keeper {
    pub(super) fn new(path: PathBuf, settle_ms: u64) -> Self {
        Self {
            path,
            herd: None,
            since: None,
            trouble: None,
            unsealed: None,
            notes: VecDeque::new(),
            last_sealed: None,
            polls: false,
            next: 0,
            was_hinted: false,
            known: None,
            is_to_be_known: false,
            settle: Settle::new(settle_ms),
            lock: None,
            claim: None,
            fails: 0,
            not_before: 0,
            unannounced: None,
            has_looked: false,
            left: Vec::new(),
        }
    }

    /// How it is called in the log.
    pub(super) fn name(&self) -> String {
        self.herd.clone().unwrap_or_else(|| self.path.display().to_string())
    }

    /// Files that changed and are not dealt with.
    pub(super) fn waiting(&self) -> Vec<String> {
        self.settle.waiting().map(str::to_owned).collect()
    }

    /// Looks at the herd and keeps what is settled. Says whether it just came to be watched, so that events are
    /// to be asked for.
    pub(super) fn look(&mut self, at: Moment, writer: Option<&Writer>) -> bool {
        let was_watched = self.since.is_some() && self.trouble.is_none();
        let usual = if self.polls { POLL_MS } else { FULL_LOOK_MS };
        self.next = at.ms + usual;
        let was_hinted = std::mem::take(&mut self.was_hinted);
        self.is_to_be_known = self.known.is_none() && !self.is_far();
        match self.look_into(at, writer, was_hinted) {
            Ok(next) => {
                self.next = self.next.min(next.unwrap_or(u64::MAX));
                if self.trouble.take().is_some() || self.since.is_none() {
                    self.since = Some(at.now);
                    info!(herd = self.name(), folder = %self.path.display(), "watched");
                }
                !was_watched
            }
            Err(trouble) => {
                self.out(trouble);
                false
            }
        }
    }

    fn out(&mut self, trouble: Trouble) {
        if self.trouble.as_ref() != Some(&trouble) {
            warn!(herd = self.name(), "not watched: {trouble}; to do: {}", trouble.remedy);
        }
        self.trouble = Some(trouble);
    }

    /// The time of the next look, where it is to be sooner than usual.
    fn look_into(&mut self, at: Moment, writer: Option<&Writer>, was_hinted: bool) -> Result<Option<u64>, Trouble> {
        let herd = HerdFolder::open(&self.path)?;
        self.check_marker(&herd)?;
        let about = herd.about()?;
        self.check_same_herd(&about.herd)?;
        self.hold(&herd, at)?;
        if let Some(until) = self.wait_for_turn(&herd, at, writer.is_some())? {
            return Ok(Some(until));
        }
        let was_quiet = self.settle.waiting().next().is_none();
        let verdict = self.settle.see(&facts::of_ledgers(&herd)?, at.ms);
        self.mind_events(was_quiet && verdict != Verdict::Quiet, was_hinted, at.ms);
        match verdict {
            Verdict::Quiet => Ok(None),
            Verdict::Wait(until) => Ok(Some(until)),
            Verdict::Still if at.ms < self.not_before => Ok(Some(self.not_before)),
            Verdict::Still => {
                let today = day_in(&about.zone, at.now)?;
                let Some(writer) = writer else {
                    self.settle.handled();
                    return Ok(None);
                };
                let Writer { device, by, key } = writer;
                let desk = Desk { herd: &herd, device, by, key, now: at.now, today };
                Ok(Some(self.seal(&desk, at)))
            }
        }
    }

    /// A folder that was watched and has lost its marker is not this herd's any more, or not wholly there: a drive
    /// that is not mounted looks just so.
    fn check_marker(&mut self, herd: &HerdFolder) -> Result<(), Trouble> {
        if self.since.is_none() || herd.own_if_there(&[])?.is_some() {
            return Ok(());
        }
        self.lock = None;
        let what = "its folder .footfold is gone; nothing is written, and nothing counts as deleted";
        let remedy = "see that the drive is there and the folder whole; to begin anew without it, end the daemon and \
                      start it again";
        Err(Trouble::new(what, remedy).at(&self.path))
    }

    fn check_same_herd(&mut self, herd: &str) -> Result<(), Trouble> {
        let known = self.herd.get_or_insert_with(|| herd.to_owned());
        if known == herd {
            return Ok(());
        }
        let what = format!("the folder now holds herd {herd}, not {known}; nothing is written");
        Err(Trouble::new(what, "put the right folder in its place, or start the daemon again").at(&self.path))
    }

    /// One daemon a folder. The lock of a folder that was put in this one's place is another one.
    fn hold(&mut self, herd: &HerdFolder, at: Moment) -> Result<(), Trouble> {
        if let Some(lock) = &self.lock
            && lock.is_in(herd)?
        {
            return Ok(());
        }
        (self.lock, self.claim) = (None, None);
        let lock = Lock::watch(herd, at.now)?;
        self.claim = lock.claim(herd)?;
        self.lock = Some(lock);
        if self.claim.is_some() {
            self.polls = true;
            warn!(herd = self.name(), "{}", far::ADVICE);
            self.note(at.now, far::ADVICE);
        }
        Ok(())
    }

    /// On a network disk: until when it is not known that nobody else writes there.
    fn wait_for_turn(&mut self, herd: &HerdFolder, at: Moment, writes: bool) -> Result<Option<u64>, Trouble> {
        let Some(claim) = self.claim.as_mut().filter(|_| writes) else { return Ok(None) };
        match claim.look(herd, at.ms)? {
            Turn::Ours => Ok(None),
            Turn::Wait(until) => Ok(Some(until)),
            Turn::Theirs(who) => Err(far::theirs(herd, &who)),
        }
    }

    /// Whether events and locks of its disk cannot be relied on.
    pub(super) fn is_far(&self) -> bool {
        self.claim.is_some()
    }

    /// A change that only a look finds means that events do not come here: on network disks and some sticks.
    fn mind_events(&mut self, is_new: bool, was_hinted: bool, at: u64) {
        if was_hinted {
            self.unannounced = None;
        } else if is_new && self.has_looked && !self.polls {
            self.unannounced.get_or_insert(at);
        }
        self.has_looked = true;
        if self.unannounced.is_some_and(|since| at >= since + FULL_LOOK_MS / 2) && !self.polls {
            self.polls = true;
            warn!(herd = self.name(), "a change came without an event of the system: polled from now on");
        }
    }

    fn seal(&mut self, desk: &Desk, at: Moment) -> u64 {
        self.mind_clock(desk);
        match self.changed(desk.herd).and_then(|changed| tend(desk, &changed)) {
            Ok(sealed) => {
                self.settle.handled();
                (self.fails, self.not_before) = (0, 0);
                if self.unsealed.take().is_some() {
                    info!(herd = self.name(), "kept again");
                }
                self.tell(&sealed, desk.now);
                u64::MAX
            }
            Err(trouble) => self.failed(trouble, at),
        }
    }

    /// The ledger files that changed, or went.
    fn changed(&self, herd: &HerdFolder) -> Result<Vec<LedgerName>, Trouble> {
        let waiting: Vec<&str> = self.settle.waiting().collect();
        let mut names = [herd.ledgers()?.files, accepted::names(herd)?].concat();
        names.retain(|name| waiting.contains(&name.to_string().as_str()));
        names.sort();
        names.dedup();
        Ok(names)
    }

    fn failed(&mut self, trouble: Trouble, at: Moment) -> u64 {
        if self.unsealed.as_ref() != Some(&trouble) {
            warn!(herd = self.name(), "nothing was kept: {trouble}; to do: {}", trouble.remedy);
        }
        self.unsealed = Some(trouble);
        self.not_before = at.ms + (RETRY_MS << self.fails.min(5)).min(FULL_LOOK_MS);
        self.fails += 1;
        self.not_before
    }

    /// A clock that stands before the last seal: sealed as the clock says, and told.
    fn mind_clock(&mut self, desk: &Desk) {
        let last = self.last_sealed.or_else(|| last_seal(desk.herd, desk.device));
        if let Some(last) = last.filter(|last| desk.now < *last) {
            let (now, last) = (utc_text(desk.now), utc_text(last));
            let what = format!("the clock says {now}, before the last seal of {last}: sealed as it says");
            warn!(herd = self.name(), "{what}");
            self.note(desk.now, &what);
        }
        self.last_sealed = last;
    }

    fn tell(&mut self, sealed: &Sealed, now: NaiveDateTime) {
        let (herd, file) = (self.name(), sealed.file.as_ref().map(ToString::to_string).unwrap_or_default());
        for line in &sealed.kept {
            info!(herd, file, "kept: {}", line.body);
        }
        for doubt in &sealed.doubts {
            info!(herd, file, "kept, but look again: {}: {}", doubt.body, doubt.remark);
        }
        if !sealed.kept.is_empty() {
            self.last_sealed = Some(now);
        }
        let left: Vec<_> = sealed.refused.iter().map(|refused| (refused.number, refused.text.clone())).collect();
        if left != self.left {
            for refused in &sealed.refused {
                info!(herd, "left as typed, with a remark: line {}", refused.number);
                debug!(herd, "line {}: {}", refused.number, refused.text);
            }
            self.left = left;
        }
        for notice in &sealed.notices {
            info!(herd, "put right: {notice}");
            self.note(now, notice);
        }
    }

    fn note(&mut self, now: NaiveDateTime, what: &str) {
        self.notes.push_back(format!("{}: {what}", utc_text(now)));
        while self.notes.len() > REMEMBERED {
            self.notes.pop_front();
        }
    }
}

/// When a device last sealed here, by its accepted copy.
pub(super) fn last_seal(herd: &HerdFolder, device: &str) -> Option<NaiveDateTime> {
    let names = accepted::names(herd).ok()?;
    let newest = names.into_iter().filter(|name| name.device == device).max()?;
    last_sealed(&accepted::look(herd, &newest).ok()??)
}

/// Where a herd's ledgers lie.
pub(super) fn ledgers_of(path: &Path) -> PathBuf {
    path.join("ledgers")
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::*;
    use crate::seal::{NewHerd, begin_herd};

    fn at(ms: u64, day: u32) -> Moment {
        let day = NaiveDate::from_ymd_opt(2026, 3, day).unwrap();
        Moment { ms, now: day.and_hms_opt(9, 0, 0).unwrap() }
    }

    /// A herd begun on 14 March, and who writes there.
    fn herd(folder: &Path) -> Writer {
        let writer = Writer { device: "crush-laptop".into(), by: "kj".into(), key: "0".repeat(64) };
        let now = at(0, 14).now;
        let new = NewHerd {
            herd: "quillmere",
            zone: "Europe/London",
            device: &writer.device,
            key: &writer.key,
            by: "kj",
            now,
            today: now.date(),
            protocol: None,
        };
        begin_herd(folder, &new).unwrap();
        writer
    }

    /// A herd, and its keeper, which has not looked yet. The folder goes with the first.
    fn watched() -> (tempfile::TempDir, PathBuf, Writer, Keeper) {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("quillmere");
        let writer = herd(&folder);
        let keeper = Keeper::new(folder.clone(), 5000);
        (place, folder, writer, keeper)
    }

    fn ledger(folder: &Path) -> PathBuf {
        folder.join("ledgers/crush-laptop/2026.txt")
    }

    fn types(folder: &Path, line: &str) {
        let text = std::fs::read_to_string(ledger(folder)).unwrap();
        std::fs::write(ledger(folder), text + line).unwrap();
    }

    fn text(folder: &Path) -> String {
        std::fs::read_to_string(ledger(folder)).unwrap()
    }

    #[test]
    fn f44_clock_set_back_a_day_is_sealed_as_it_says_and_told() {
        let (_place, folder, writer, mut keeper) = watched();
        types(&folder, "417 score 3\n");
        keeper.look(at(0, 13), Some(&writer));
        assert!(text(&folder).ends_with("417 score 3\n"));
        keeper.look(at(5000, 13), Some(&writer));
        assert!(text(&folder).contains("2026-03-13 417 score 3 by kj | 2026-03-13T09:00:00Z "), "{}", text(&folder));
        assert!(keeper.notes[0].contains("before the last seal of 2026-03-14T09:00:00Z"), "{:?}", keeper.notes);
    }

    #[test]
    fn f42_after_a_sleep_of_weeks_each_line_is_kept_once_and_then_all_is_quiet() {
        let (_place, folder, writer, mut keeper) = watched();
        types(&folder, "417 score 3\n");
        keeper.look(at(0, 14), Some(&writer));
        let weeks = 10 * 86_400_000;
        for n in 0..20 {
            keeper.was_hinted = true;
            keeper.look(at(weeks + n * 5000, 24), Some(&writer));
        }
        assert_eq!(text(&folder).matches("2026-03-24 417 score 3 by kj | ").count(), 1, "{}", text(&folder));
        assert!(keeper.waiting().is_empty());
        assert_eq!(keeper.next, weeks + 19 * 5000 + FULL_LOOK_MS);
    }

    #[test]
    fn f36_a_change_that_no_event_announced_leads_to_polling() {
        let (_place, folder, writer, mut keeper) = watched();
        keeper.look(at(0, 14), Some(&writer));
        keeper.look(at(5000, 14), Some(&writer));
        types(&folder, "417 score 3\n");
        keeper.look(at(35_000, 14), Some(&writer));
        keeper.look(at(40_000, 14), Some(&writer));
        assert!(text(&folder).contains(" 417 score 3 by kj | "), "found by looking: {}", text(&folder));
        assert!(!keeper.polls);
        keeper.look(at(65_000, 14), Some(&writer));
        assert!(keeper.polls);
        keeper.look(at(70_000, 14), Some(&writer));
        assert_eq!(keeper.next, 70_000 + POLL_MS);
    }

    #[test]
    fn f33_a_folder_without_its_marker_is_not_written_to() {
        let (place, folder, writer, mut keeper) = watched();
        keeper.look(at(0, 14), Some(&writer));
        keeper.look(at(5000, 14), Some(&writer));
        let marker = place.path().join("elsewhere");
        std::fs::rename(folder.join(".footfold"), &marker).unwrap();
        types(&folder, "417 score 3\n");
        let typed = text(&folder);
        for n in 0..10 {
            keeper.look(at(10_000 + n * 30_000, 14), Some(&writer));
        }
        assert!(keeper.trouble.as_ref().unwrap().what.contains(".footfold is gone"));
        assert_eq!(text(&folder), typed);
        assert!(!folder.join(".footfold").exists());
        std::fs::rename(marker, folder.join(".footfold")).unwrap();
        keeper.look(at(400_000, 14), Some(&writer));
        keeper.look(at(405_000, 14), Some(&writer));
        assert!(keeper.trouble.is_none() && text(&folder).contains(" 417 score 3 by kj | "), "{}", text(&folder));
    }
}
