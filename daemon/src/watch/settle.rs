//! When a save is over: a file is still once its facts have not moved for the settling time.
//!
//! Pure: facts and the time, in milliseconds since some beginning, come in as values. Two equal reads prove nothing
//! (an editor may stand between emptying a file and writing it), so times of change count, not contents.

use std::collections::BTreeMap;

/// What a system says of a file without reading it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// Its length.
    pub length: u64,
    /// Which file it is: another one of the same name has another number.
    pub inode: u64,
    /// When its bytes changed, in nanoseconds since 1970.
    pub mtime: i128,
    /// When anything about it changed, in nanoseconds since 1970.
    pub ctime: i128,
}

/// What is to be done about a set of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing has changed since it was last dealt with.
    Quiet,
    /// Something changed and may change still: look again at this time.
    Wait(u64),
    /// Something changed, and all of it is still.
    Still,
}

#[derive(Clone, Copy, Debug)]
struct Seen {
    facts: Option<Facts>,
    since: u64,
    is_handled: bool,
}

/// The files of one herd.
#[derive(Debug)]
pub struct Settle {
    quiet_ms: u64,
    files: BTreeMap<String, Seen>,
}

impl Settle {
    /// Files that nobody has looked at yet.
    pub fn new(quiet_ms: u64) -> Self {
        Self { quiet_ms, files: BTreeMap::new() }
    }

    /// Takes in how the files stand now. A file that went is a change like any other.
    pub fn see(&mut self, now: &BTreeMap<String, Facts>, at: u64) -> Verdict {
        for (name, facts) in now {
            self.note(name, Some(*facts), at);
        }
        let gone: Vec<String> = self.files.keys().filter(|name| !now.contains_key(*name)).cloned().collect();
        for name in gone {
            self.note(&name, None, at);
        }
        let newest = self.files.values().filter(|seen| !seen.is_handled).map(|seen| seen.since).max();
        match newest.map(|since| since.saturating_add(self.quiet_ms)) {
            None => Verdict::Quiet,
            Some(until) if until <= at => Verdict::Still,
            Some(until) => Verdict::Wait(until),
        }
    }

    /// What was seen last is dealt with.
    pub fn handled(&mut self) {
        self.files.values_mut().for_each(|seen| seen.is_handled = true);
        self.files.retain(|_, seen| seen.facts.is_some());
    }

    /// The files that changed and are not dealt with.
    pub fn waiting(&self) -> impl Iterator<Item = &str> {
        self.files.iter().filter(|(_, seen)| !seen.is_handled).map(|(name, _)| name.as_str())
    }

    fn note(&mut self, name: &str, facts: Option<Facts>, at: u64) {
        match self.files.get_mut(name) {
            // A clock that went back must not make a file wait for ever.
            Some(seen) if seen.facts == facts => seen.since = seen.since.min(at),
            _ => {
                self.files.insert(name.to_owned(), Seen { facts, since: at, is_handled: false });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: &str = "crush-laptop/2026.txt";

    fn one(length: u64, ctime: i128) -> BTreeMap<String, Facts> {
        [(A.to_owned(), Facts { length, inode: 1, mtime: ctime, ctime })].into()
    }

    #[test]
    fn a_save_is_over_once_nothing_moved_for_the_settling_time() {
        let mut settle = Settle::new(5000);
        assert_eq!(settle.see(&one(10, 1), 0), Verdict::Wait(5000));
        assert_eq!(settle.see(&one(10, 1), 4999), Verdict::Wait(5000));
        assert_eq!(settle.see(&one(10, 1), 5000), Verdict::Still);
        settle.handled();
        assert_eq!(settle.see(&one(10, 1), 9000), Verdict::Quiet);
        assert_eq!(settle.waiting().count(), 0);
    }

    #[test]
    fn f10_a_file_that_is_empty_between_two_writes_waits_from_the_last_of_them() {
        let mut settle = Settle::new(5000);
        settle.see(&one(10, 1), 0);
        settle.see(&one(10, 1), 5000);
        settle.handled();
        assert_eq!(settle.see(&one(0, 2), 6000), Verdict::Wait(11_000));
        // Written again: the same length as before, but another time.
        assert_eq!(settle.see(&one(10, 3), 10_900), Verdict::Wait(15_900));
        assert_eq!(settle.see(&one(10, 3), 15_900), Verdict::Still);
    }

    #[test]
    fn a_file_that_keeps_changing_is_never_still() {
        let mut settle = Settle::new(5000);
        for n in 0..100 {
            let at = n * 4000;
            assert_eq!(settle.see(&one(n, n as i128), at), Verdict::Wait(at + 5000));
        }
    }

    #[test]
    fn a_file_that_went_waits_too_and_is_forgotten_once_dealt_with() {
        let mut settle = Settle::new(5000);
        settle.see(&one(10, 1), 0);
        settle.see(&one(10, 1), 5000);
        settle.handled();
        assert_eq!(settle.see(&BTreeMap::new(), 6000), Verdict::Wait(11_000));
        assert_eq!(settle.waiting().collect::<Vec<_>>(), [A]);
        assert_eq!(settle.see(&BTreeMap::new(), 11_000), Verdict::Still);
        settle.handled();
        assert_eq!(settle.see(&BTreeMap::new(), 12_000), Verdict::Quiet);
    }

    #[test]
    fn f42_a_sleep_of_weeks_is_one_late_look_and_no_burst() {
        let mut settle = Settle::new(5000);
        settle.see(&one(10, 1), 0);
        let weeks = 21 * 86_400_000;
        assert_eq!(settle.see(&one(10, 1), weeks), Verdict::Still);
        settle.handled();
        assert_eq!(settle.see(&one(10, 1), weeks), Verdict::Quiet);
        // Changed while it slept: still waits its time from when that was seen.
        assert_eq!(settle.see(&one(11, 2), 2 * weeks), Verdict::Wait(2 * weeks + 5000));
    }

    #[test]
    fn f44_a_timer_that_goes_back_does_not_make_a_file_wait_for_ever() {
        let mut settle = Settle::new(5000);
        settle.see(&one(10, 1), 86_400_000);
        assert_eq!(settle.see(&one(10, 1), 0), Verdict::Wait(5000));
        assert_eq!(settle.see(&one(10, 1), 5000), Verdict::Still);
    }
}
