//! Feet: lesion cases, blocks, dressings (`fold.md` §7 to §9).

use chrono::NaiveDate;

use crate::line::Finding;
use crate::vocabulary::{BlockKind, Claw, Feet, Foot, Lesion, Stage};

/// A lesion from first to last seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Case {
    /// Its code.
    pub lesion: Lesion,
    /// The foot.
    pub foot: Foot,
    /// The claw.
    pub claw: Option<Claw>,
    /// Newest stage given.
    pub stage: Option<Stage>,
    /// Newest zone given.
    pub zone: Option<u8>,
    /// Newest grade given.
    pub grade: Option<u8>,
    /// First seen.
    pub first: NaiveDate,
    /// Last seen.
    pub last: NaiveDate,
    /// Last seen, or looked at in a recheck or by the vet.
    pub looked: NaiveDate,
    /// When and why it closed.
    pub closed: Option<Closed>,
}

/// Why a case closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Closed {
    /// The foot was lifted, and nothing was found or it was called sound.
    Sound(NaiveDate),
    /// The foot was trimmed, and it was not recorded again.
    NotSeenAgain(NaiveDate),
}

impl Closed {
    /// The day.
    pub const fn day(self) -> NaiveDate {
        match self {
            Self::Sound(day) | Self::NotSeenAgain(day) => day,
        }
    }
}

impl Case {
    fn begin(finding: Finding, day: NaiveDate) -> Self {
        let Finding { lesion, stage, foot, claw, zone, grade } = finding;
        Self { lesion, foot, claw, stage, zone, grade, first: day, last: day, looked: day, closed: None }
    }

    /// Whether it is open.
    pub const fn is_open(&self) -> bool {
        self.closed.is_none()
    }

    /// Painful and in need of follow-up.
    pub const fn is_alarm(&self) -> bool {
        self.lesion.is_alarm(self.stage, self.grade)
    }

    fn is_of(&self, finding: Finding) -> bool {
        self.lesion == finding.lesion && self.foot == finding.foot && self.claw == finding.claw
    }

    fn see(&mut self, finding: Finding, day: NaiveDate) {
        self.closed = None;
        self.last = day;
        self.looked = day;
        self.stage = finding.stage.or(self.stage);
        self.zone = finding.zone.or(self.zone);
        self.grade = finding.grade.or(self.grade);
    }

    /// Takes from a second account of the same thing what the first left out, and the worse grade and stage.
    fn fill(&mut self, finding: Finding) {
        self.stage = self.stage.max(finding.stage);
        self.zone = self.zone.or(finding.zone);
        self.grade = self.grade.max(finding.grade);
    }
}

/// All lesion cases of an animal, the open ones apart from the closed ones, so that what is done to feet asks few.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Cases {
    open: Vec<Case>,
    /// In the order in which they closed.
    closed: Vec<Case>,
}

impl Cases {
    /// The closed ones, then the open ones.
    pub(super) fn iter(&self) -> impl DoubleEndedIterator<Item = &Case> {
        self.closed.iter().chain(&self.open)
    }

    pub(super) fn open(&self) -> &[Case] {
        &self.open
    }

    /// Records a finding: goes on with an open case, reopens one closed within the repeat window, or begins one.
    pub(super) fn see(&mut self, finding: Finding, day: NaiveDate, repeat_days: u16) {
        if let Some(case) = self.open.iter_mut().find(|case| case.is_of(finding)) {
            return case.see(finding, day);
        }
        let mut case = self.reopened(finding, day, repeat_days).unwrap_or_else(|| Case::begin(finding, day));
        case.see(finding, day);
        self.open.push(case);
    }

    /// The newest closed case of this finding, if it is still the same case on this day.
    fn reopened(&mut self, finding: Finding, day: NaiveDate, repeat_days: u16) -> Option<Case> {
        let age = |then: NaiveDate| (day - then).num_days();
        let repeat_days = i64::from(repeat_days);
        let within = |case: &Case| case.closed == Some(Closed::NotSeenAgain(day)) || age(case.last) <= repeat_days;
        let recent = self.closed.iter().enumerate().rev().take_while(|(_, case)| {
            case.closed.is_some_and(|closed| closed.day() == day || age(closed.day()) <= repeat_days)
        });
        let (at, _) = recent.into_iter().find(|(_, case)| case.is_of(finding)).filter(|(_, case)| within(case))?;
        Some(self.closed.remove(at))
    }

    /// Closes the open cases of these feet that were last seen before this day.
    pub(super) fn close(&mut self, feet: Feet, closed: Closed) {
        let ends = |case: &mut Case| feet.has(case.foot) && case.last < closed.day();
        let ended = self.open.extract_if(.., ends).map(|case| Case { closed: Some(closed), ..case });
        self.closed.extend(ended);
    }

    /// The open cases of these feet were looked at again.
    pub(super) fn look(&mut self, feet: Feet, day: NaiveDate) {
        for case in self.open.iter_mut().filter(|case| feet.has(case.foot)) {
            case.looked = case.looked.max(day);
        }
    }

    /// Adds a second account of a thing seen this day to its case.
    pub(super) fn fill(&mut self, finding: Finding) {
        let newest = self.closed.iter_mut().chain(&mut self.open).rev().find(|case| case.is_of(finding));
        if let Some(case) = newest {
            case.fill(finding);
        }
    }
}

/// A block on a claw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Block {
    /// The foot.
    pub foot: Foot,
    /// The claw it is on.
    pub claw: Claw,
    /// What it is made of.
    pub kind: Option<BlockKind>,
    /// Since when.
    pub since: NaiveDate,
}
