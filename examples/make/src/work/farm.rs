//! The farm through the year: one day after the other, and the three desks where it is written down.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};

use crate::calendar::{FIRST_DAY, days_between, last_day};
use crate::chance::Chance;
use crate::deed::Entry;
use crate::life::herd::Herd;

/// Who trims, who keeps the herd, who helps with it, who is the vet.
pub(crate) const KJ: &str = "kj";
pub(crate) const AO: &str = "ao";
pub(crate) const TB: &str = "tb";
pub(crate) const MW: &str = "mw";

/// Where somebody types.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Desk {
    Crush,
    Office,
    Vet,
}

impl Desk {
    pub(crate) const ALL: [Self; 3] = [Self::Crush, Self::Office, Self::Vet];

    pub(crate) const fn device(self) -> &'static str {
        match self {
            Self::Crush => "crush-laptop",
            Self::Office => "farm-office",
            Self::Vet => "vet-tablet",
        }
    }

    pub(crate) const fn person(self) -> &'static str {
        match self {
            Self::Crush => KJ,
            Self::Office => AO,
            Self::Vet => MW,
        }
    }
}

/// One sitting as it is meant, before it is put into somebody's words.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub(crate) desk: Desk,
    /// Civil time.
    pub(crate) at: NaiveDateTime,
    pub(crate) entries: Vec<Entry>,
}

/// Everything that goes on.
pub(crate) struct Farm {
    pub(crate) day: NaiveDate,
    pub(crate) last: NaiveDate,
    pub(crate) herd: Herd,
    pub(crate) chance: Chance,
    /// Which painful feet are looked at again, and when.
    pub(crate) care: Chance,
    pub(crate) office: Vec<Entry>,
    /// Entries that come to be typed only on a later day.
    pub(crate) late: Vec<(NaiveDate, Desk, Entry)>,
    /// Cow and foot waiting for the vet.
    pub(crate) referrals: Vec<(usize, ledger_format::vocabulary::Foot)>,
    pub(crate) sheets: Vec<Sheet>,
    pub(crate) batches: u32,
    pub(crate) corrected: u32,
}

impl Farm {
    /// Lives through the whole story and gives what was written, in order of time.
    pub(crate) fn run(seed: u64, cows: u32, months: u32) -> Vec<Sheet> {
        let mut farm = Self {
            day: FIRST_DAY,
            last: last_day(months),
            herd: Herd::new(seed, cows.clamp(1, 5_000)),
            chance: Chance::new(seed, "work"),
            care: Chance::new(seed, "care"),
            office: Vec::new(),
            late: Vec::new(),
            referrals: Vec::new(),
            sheets: Vec::new(),
            batches: 0,
            corrected: 0,
        };
        farm.open_the_record();
        while farm.day < farm.last {
            farm.day = farm.day.succ_opt().unwrap_or(farm.last);
            farm.live_a_day();
        }
        farm.sheets.sort_by_key(|sheet| (sheet.at, sheet.desk));
        farm.sheets
    }

    fn live_a_day(&mut self) {
        let events = self.herd.live(self.day);
        self.register(&events);
        self.round();
        self.visit_of_the_trimmer();
        self.visit_of_the_vet();
        self.chores();
        self.slip();
        self.sit_in_the_office();
    }

    /// Days since the record began.
    pub(crate) fn age(&self) -> i64 {
        days_between(FIRST_DAY, self.day)
    }

    /// Whether one of this farm's few slips, planned for every so many days, falls on this one.
    pub(crate) fn is_nth_day(&self, every: i64, offset: i64) -> bool {
        self.age() % every == offset
    }

    /// Staff sit down on most days, and always after a round or when much has gathered.
    fn sit_in_the_office(&mut self) {
        let (ready, waiting) = std::mem::take(&mut self.late).into_iter().partition(|(day, ..)| *day <= self.day);
        self.late = waiting;
        let ready: Vec<(NaiveDate, Desk, Entry)> = ready;
        for (_, desk, entry) in ready {
            if desk == Desk::Office {
                self.office.push(entry);
            } else {
                let at = self.clock(19, 20);
                self.hand_in(desk, at, vec![entry]);
            }
        }
        let must = self.office.len() > 12 || self.day == self.last;
        if self.office.is_empty() || !must && !self.chance.permille(700) {
            return;
        }
        let entries = std::mem::take(&mut self.office);
        let at = if self.chance.permille(350) { self.clock(12, 30) } else { self.clock(17, 50) };
        self.hand_in(Desk::Office, at, entries);
    }

    /// About that time today.
    pub(crate) fn clock(&mut self, hour: u32, minute: u32) -> NaiveDateTime {
        let time = NaiveTime::from_hms_opt(hour, minute, 0).unwrap_or(NaiveTime::MIN);
        self.day.and_time(time) + TimeDelta::seconds(i64::from(self.chance.below(2_400)))
    }

    /// A sitting is over: its entries in order of day and person, then what was put right afterwards.
    pub(crate) fn hand_in(&mut self, desk: Desk, at: NaiveDateTime, mut entries: Vec<Entry>) {
        if entries.is_empty() {
            return;
        }
        // Two clocks of one device never show the same second.
        let newest = self.sheets.iter().filter(|sheet| sheet.desk == desk).map(|sheet| sheet.at).max();
        let at = newest.map_or(at, |newest| at.max(newest + TimeDelta::seconds(97)));
        entries.sort_by_key(|entry| (entry.day, entry.by != desk.person()));
        let witness = self.witness(desk, at.date());
        let correction = self.spoil(desk, &mut entries);
        entries.splice(0..0, witness);
        self.sheets.push(Sheet { desk, at, entries });
        if !correction.is_empty() {
            let minutes = i64::from(self.chance.between(6, 55));
            self.sheets.push(Sheet { desk, at: at + TimeDelta::minutes(minutes), entries: correction });
        }
    }
}
