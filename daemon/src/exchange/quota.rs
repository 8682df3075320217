//! How much is taken of one device in a day, before a person looks at it.

use std::collections::BTreeMap;

use chrono::NaiveDate;

/// New bytes of one device that are taken in a day (`sync.md` §9).
pub const DAY_BYTES: u64 = 20_000_000;

/// What was taken today.
#[derive(Debug, Default)]
pub struct Quota {
    day: Option<NaiveDate>,
    taken: BTreeMap<(String, String), u64>,
}

impl Quota {
    /// Whether so many more bytes of a herd's device may be taken on this day.
    pub fn allows(&mut self, day: NaiveDate, herd: &str, device: &str, bytes: u64) -> bool {
        // A clock that is set back does not give the day's bytes anew.
        if self.day.is_none_or(|known| known < day) {
            self.day = Some(day);
            self.taken.clear();
        }
        let taken = self.taken.get(&(herd.to_owned(), device.to_owned())).copied().unwrap_or(0);
        taken + bytes <= DAY_BYTES
    }

    /// Notes what was taken.
    pub fn note(&mut self, herd: &str, device: &str, bytes: u64) {
        *self.taken.entry((herd.to_owned(), device.to_owned())).or_default() += bytes;
    }
}
